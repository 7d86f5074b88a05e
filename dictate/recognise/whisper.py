"""Whisper, one call an utterance: favour the terms of the exam, doubt what was favoured, invent nothing."""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dictate.audio.endpoint import Endpointer, EndpointOptions, SpokenSpan
from dictate.audio.frame import SAMPLE_RATE_HZ, Frame
from dictate.recognise.decoder import LONG_WINDOW_S, Decoder, Encoded, Reading
from dictate.recognise.events import Hypothesis, Partial, Utterance, Word
from dictate.recognise.invented import before_repeating, why_invented
from dictate.recognise.weights import check_complete, check_embedded, embedded_model_dir

_log = logging.getLogger(__name__)

_BEAMS = 5  # with one, a fixed list of terms lost 12 of 243 rare words and 5 of 125 numbers; docs/engines.md
_HYPOTHESES = 3
_SURE = 0.5  # words that are all this likely without favouring are read the same without it
_VOICED = 0.3  # below this chance of silence somebody most likely spoke: leaving it out is worth a warning
_SECOND_BEAMS = 1  # the second reading is only compared
_PARTIAL_AFTER_S = 0.4  # of an utterance, its lead-in among them: less holds no word
_PARTIAL_LONGEST_S = 12.0  # of sound in a partial: what fits into the short window
_REST = 1.2  # a partial is followed by at least so many times what it cost: on a slow machine utterances come first
_PAUSING_S = 0.15  # of silence: no partial begins, for the utterance may be about to end
_BEHIND_S = 0.35  # lagging more than this, a partial would only make the lag longer


@dataclass(frozen=True, slots=True)
class _Early:
    """An utterance that was read before its pause was over: of which sound, and with which terms favoured."""

    start_s: float
    samples: int
    terms: tuple[str, ...]
    utterance: Utterance | None

    def fits(self, span: SpokenSpan, terms: tuple[str, ...]) -> bool:
        return (self.start_s, self.samples, self.terms) == (span.start_s, len(span.samples), terms)


class WhisperRecogniser:
    """The embedded default. It gives whole utterances after each pause, and on request partials of those that go on.

    Where every word is likely without favouring, that probability is its confidence. Where one is not, the confidences
    are those under favouring, which tell right words from wrong ones better, and the utterance is read again without
    favouring: a term that is heard only because it was favoured shows as a difference between the readings.
    """

    def __init__(
        self, model_dir: str | Path | None = None, *, endpoint: EndpointOptions | None = None,
        partials_every_s: float | None = None, lag_s: Callable[[], float] = lambda: 0.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        """Load the weights in `model_dir`, or the embedded ones.

        Args:
            model_dir: folder of whisper weights converted for CTranslate2.
            endpoint: when speech begins and ends.
            partials_every_s: seconds of speech from one partial to the next; None for none. They change no utterance.
            lag_s: tells how many seconds of sound wait already; where they do, partials are left out.
            clock: in seconds; it tells what partials cost.

        Raises:
            RecogniserError: the weights cannot be used.
        """
        if model_dir is None:
            folder = embedded_model_dir()
            check_embedded(folder)
        else:
            folder = Path(model_dir)
            check_complete(folder)
        self._decoder = Decoder(folder)
        self._endpoint = endpoint
        self._endpointer = Endpointer(endpoint)
        self._terms: tuple[str, ...] = ()
        self._prompt: list[int] = []
        self._partials_every_s, self._lag_s, self._clock = partials_every_s, lag_s, clock
        self._partial_at_s = -math.inf  # when the last one was made, in the recording's time
        self._partial_cost_s = 0.0
        self._partial_text = ""
        self._early: _Early | None = None

    def favour(self, terms: Sequence[str]) -> None:
        """Favour these terms, most specific first, from the next utterance on; as many as the prompt holds."""
        if tuple(terms) != self._terms:
            self._terms = tuple(terms)
            self._prompt = self._decoder.prompt(self._terms)

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        """Take the next frame; yield each utterance that ended in it, now and then the words of one that goes on."""
        for span in self._endpointer.accept(frame):
            yield from self._utterance(span)
            self._partial_text = ""
        if self._partials_every_s is not None and self._lag_s() <= _BEHIND_S:
            if self._endpointer.silent_s > _PAUSING_S:
                yield from self._beforehand()
            elif frame.end_s - self._partial_at_s >= max(self._partials_every_s, _REST * self._partial_cost_s):
                yield from self._partial(now_s=frame.end_s)

    def flush(self) -> Iterator[Partial | Utterance]:
        """End the recording; yield the utterance that was still open."""
        ended, self._endpointer = self._endpointer, Endpointer(self._endpoint)
        for span in ended.flush():
            yield from self._utterance(span)

    def _partial(self, *, now_s: float) -> Iterator[Partial]:
        """Yield the words of the speech that goes on, if they changed: the best guess at once, in one cheap pass."""
        span = self._endpointer.pending()
        if span is None or span.end_s - span.start_s < _PARTIAL_AFTER_S:
            return
        self._partial_at_s = now_s
        every_s = self._partials_every_s or 0.0
        samples = span.samples[-round(_PARTIAL_LONGEST_S * SAMPLE_RATE_HZ) :]
        began = self._clock()
        reading = self._decoder.read(self._decoder.encode(samples), prompt=self._prompt, beams=1)
        self._partial_cost_s = self._clock() - began
        reading = replace(reading, text=before_repeating(reading.text))  # a word cut short: "knee, left left left left"
        if why_invented(reading, terms=self._terms) or reading.text == self._partial_text:
            self._partial_at_s -= every_s / 2  # there is nothing to show; look again soon
            return
        self._partial_text = reading.text
        texts = ["…", *reading.text.split()] if len(samples) < len(span.samples) else reading.text.split()
        certainty = min(1.0, math.exp(reading.average_logprob))
        words = [Word(text=t, start_s=span.start_s, end_s=span.end_s, confidence=certainty) for t in texts]
        yield Partial(words=tuple(words))

    def _beforehand(self) -> Iterator[Partial]:
        """Read an utterance in the pause that most likely ends it, so that it is there when the pause is long enough.

        It is read as at its end, from the same sound; when the speech goes on after all, this was a partial.
        """
        span = self._endpointer.settled()
        if span is None or (self._early is not None and self._early.fits(span, self._terms)):
            return
        utterance = self._read(span)
        self._early = _Early(span.start_s, len(span.samples), self._terms, utterance)
        if utterance is not None and utterance.text != self._partial_text:
            self._partial_text = utterance.text
            yield Partial(words=utterance.words)

    def _utterance(self, span: SpokenSpan) -> Iterator[Utterance]:
        early, self._early = self._early, None
        read = early.utterance if early is not None and early.fits(span, self._terms) else self._read(span)
        if read is not None:
            yield replace(read, endpoint_s=span.endpoint_s)

    def _read(self, span: SpokenSpan) -> Utterance | None:
        """Return the words of a span, None when nobody said any."""
        sound = self._decoder.encode(span.samples)
        reading = self._decoder.read(sound, prompt=self._prompt, beams=_BEAMS, hypotheses=_HYPOTHESES)
        reason = why_invented(reading, terms=self._terms if self._prompt else ())
        favoured = bool(self._prompt)
        if reason:
            sound, reading, reason = self._read_afresh(span)
            favoured = False
        if reason:
            voiced = reading.no_speech_probability < _VOICED
            level = logging.WARNING if voiced else logging.INFO
            _log.log(level, "left out %.1f to %.1f s (%s): %r", span.start_s, span.end_s, reason, reading.text)
            return None
        aligned = self._decoder.align(sound, reading)
        words = self._decoder.words(aligned, start_s=span.start_s)
        if not words:
            return None
        second: tuple[Hypothesis, ...] = ()
        if favoured and min(word.confidence for word in words) < _SURE:
            second = self._second_reading(sound, reading)
            words = self._decoder.words(aligned, start_s=span.start_s, prompt=self._prompt)
        return Utterance(
            words=words,
            alternatives=(*second, *reading.others),
            endpoint_s=span.endpoint_s,
            heard_to_s=round(span.end_s, 4),
        )

    def _read_afresh(self, span: SpokenSpan) -> tuple[Encoded, Reading, str | None]:
        """Read once more without favouring and in whisper's full window: real speech that ran away is mostly saved."""
        sound = self._decoder.encode(span.samples, window_s=LONG_WINDOW_S)
        reading = self._decoder.read(sound, beams=_BEAMS, hypotheses=_HYPOTHESES)
        return sound, reading, why_invented(reading)

    def _second_reading(self, sound: Encoded, reading: Reading) -> tuple[Hypothesis, ...]:
        """Return how the same sound reads without favouring, if that differs and can have been said."""
        plain = self._decoder.read(sound, beams=_SECOND_BEAMS)
        if plain.text == reading.text or why_invented(plain):
            return ()
        return (Hypothesis(text=plain.text, score=plain.average_logprob),)
