"""Where an utterance starts and ends: speech between pauses, in bounded memory."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from dictate.audio.frame import SAMPLE_RATE_HZ, Frame, Samples
from dictate.audio.voice import WINDOW_SAMPLES, VoiceDetector

_WINDOW_S = WINDOW_SAMPLES / SAMPLE_RATE_HZ


@dataclass(frozen=True, slots=True, kw_only=True)
class EndpointOptions:
    """When speech counts as begun and as ended. Measured: docs/engines.md."""

    start_probability: float = 0.5  # a window at or above this begins or continues speech
    stop_probability: float = 0.35  # a window below this counts towards the pause
    pause_s: float = 0.6  # a pause this long ends an utterance; shorter ones part "flexion" from "one thirty"
    lead_in_s: float = 0.25  # sound kept before the first window of speech: soft consonants come before it
    lead_out_s: float = 0.3  # sound kept after the last one
    min_speech_s: float = 0.1  # less speech than this in all is a click or a knock
    max_utterance_s: float = 25.0  # longer speech is cut; with its padding it must stay within a recogniser's 30 s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpokenSpan:
    """The padded sound of one utterance."""

    samples: Samples
    start_s: float  # of the first sample, from the start of the recording
    endpoint_s: float  # when speech was judged to have stopped

    @property
    def end_s(self) -> float:
        """Seconds from the start of the recording to just after the last sample."""
        return self.start_s + len(self.samples) / SAMPLE_RATE_HZ


class Endpointer:
    """Cuts a stream of frames into spans of speech. One instance hears one recording, in order."""

    def __init__(self, options: EndpointOptions | None = None) -> None:
        self._options = options or EndpointOptions()
        self._lead_out = round(self._options.lead_out_s / _WINDOW_S)  # windows
        self._detector = VoiceDetector()
        self._rest = np.zeros(0, dtype=np.float32)  # less than a window, kept for the next frame
        self._windows: list[Samples] = []  # the lead-in, and then the utterance so far
        self._probabilities: list[float] = []
        self._first_window = 0  # number of self._windows[0], from the start of the recording
        self._start_s = 0.0  # of the recording's first frame
        self._started = False  # a frame was seen
        self._last_speech: int | None = None  # index into self._windows; None outside speech

    def pending(self) -> SpokenSpan | None:
        """Return the speech that goes on, so far, or None outside speech. Its start stays the same until it ends."""
        return None if self._last_speech is None else self._span(len(self._windows))

    @property
    def silent_s(self) -> float:
        """Seconds since the last speech of what goes on; 0 outside speech."""
        return 0.0 if self._last_speech is None else (len(self._windows) - 1 - self._last_speech) * _WINDOW_S

    def settled(self) -> SpokenSpan | None:
        """Return the span that comes next if nobody speaks until the pause is over, once its sound is all there.

        It differs from the one that comes in its `endpoint_s` only. None while that cannot be told.
        """
        if self._last_speech is None:
            return None
        end = self._padded_end(self._last_speech + 1)
        complete = end == self._last_speech + 1 + self._lead_out
        return self._span(end) if complete and self._spoke_enough(self._last_speech + 1) else None

    def accept(self, frame: Frame) -> Iterator[SpokenSpan]:
        """Take the next frame; yield each span that ended in it."""
        if not self._started:
            self._start_s, self._started = frame.start_s, True
        sound = np.concatenate([self._rest, frame.samples])
        whole = len(sound) // WINDOW_SAMPLES * WINDOW_SAMPLES
        self._rest = sound[whole:].copy()
        windows = sound[:whole].reshape(-1, WINDOW_SAMPLES)
        for window, probability in zip(windows, self._detector.probabilities(windows), strict=True):
            span = self._step(window, float(probability))
            if span is not None:
                yield span

    def flush(self) -> Iterator[SpokenSpan]:
        """End the recording; yield the span that was still open, if any."""
        if len(self._rest):
            last = np.zeros((1, WINDOW_SAMPLES), dtype=np.float32)
            last[0, : len(self._rest)] = self._rest
            self._rest = np.zeros(0, dtype=np.float32)
            span = self._step(last[0], float(self._detector.probabilities(last)[0]))
            if span is not None:
                yield span
        if self._last_speech is not None:
            span = self._close(len(self._windows))
            if span is not None:
                yield span

    def _step(self, window: Samples, probability: float) -> SpokenSpan | None:
        self._windows.append(window.copy())  # a copy, or the whole frame would stay in memory
        self._probabilities.append(probability)
        newest = len(self._windows) - 1
        if self._last_speech is None:
            if probability >= self._options.start_probability:
                self._last_speech = newest
            else:
                self._forget(len(self._windows) - round(self._options.lead_in_s / _WINDOW_S))
            return None
        if probability >= self._options.stop_probability:
            self._last_speech = newest
        if (newest - self._last_speech) * _WINDOW_S >= self._options.pause_s:
            return self._close(self._last_speech + 1)
        if len(self._windows) * _WINDOW_S >= self._options.max_utterance_s:
            return self._cut()
        return None

    def _close(self, speech_end: int) -> SpokenSpan | None:
        """Return the utterance whose speech ends before window `speech_end`, and keep a lead-in for the next one."""
        padded_end = self._padded_end(speech_end)
        span = self._span(padded_end) if self._spoke_enough(speech_end) else None
        self._last_speech = None
        self._forget(max(padded_end, len(self._windows) - round(self._options.lead_in_s / _WINDOW_S)))
        return span

    def _padded_end(self, speech_end: int) -> int:
        return min(len(self._windows), speech_end + self._lead_out)

    def _spoke_enough(self, speech_end: int) -> bool:
        """Whether what was heard before window `speech_end` is more than a click or a knock."""
        spoken = sum(probability >= self._options.start_probability for probability in self._probabilities[:speech_end])
        return spoken * _WINDOW_S >= self._options.min_speech_s

    def _cut(self) -> SpokenSpan:
        """Return the part of over-long speech up to its weakest point; the rest stays as the start of the next span."""
        cut = weakest_window(self._windows, self._probabilities)
        span = self._span(cut)
        self._forget(cut)
        self._last_speech = len(self._windows) - 1
        return span

    def _span(self, end: int) -> SpokenSpan:
        return SpokenSpan(
            samples=np.concatenate(self._windows[:end]),
            start_s=self._start_s + self._first_window * _WINDOW_S,
            endpoint_s=self._start_s + (self._first_window + len(self._windows)) * _WINDOW_S,
        )

    def _forget(self, count: int) -> None:
        """Drop the oldest `count` windows; none when it is not positive."""
        if count > 0:
            del self._windows[:count]
            del self._probabilities[:count]
            self._first_window += count


def weakest_window(windows: list[Samples], probabilities: list[float]) -> int:
    """Return where to cut speech that has no pause: a window of the second half, in the likeliest gap between words.

    That is where a fifth of a second is least like speech; where all of it is speech, the quietest.
    """
    reach = round(0.1 / _WINDOW_S)  # windows to each side
    half = len(windows) // 2
    kernel = np.ones(2 * reach + 1) / (2 * reach + 1)
    level = np.sqrt(np.array([np.mean(window**2) for window in windows]))
    doubt = np.convolve(np.asarray(probabilities), kernel, mode="same")
    quiet = np.convolve(level / (level.max() or 1.0), kernel, mode="same")
    return half + int(np.argmin((doubt + quiet)[half : len(windows) - reach]))
