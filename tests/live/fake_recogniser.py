"""A recogniser whose words are written into the sound: each burst's level is the number of a line.

The tests that use it are about everything but recognition. It runs in the recogniser's own process, like a real one.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame, Samples
from dictate.journal.sound import wav_of
from dictate.live.worker import HearingOptions
from dictate.recognise.events import Partial, Utterance, Word

FACTORY = "tests.live.fake_recogniser:open_fake"
LINES = (
    "Right knee.", "Inspection, moderate swelling.", "No bruising.", "Palpation, medial joint line tender.",
    "Lateral joint line non-tender.", "Active motion, flexion one hundred and five.", "Extension zero.",
    "Strength, quadriceps four out of five.", "Special tests, lachman positive.", "Posterior drawer negative.",
)  # fmt: skip
POISON = len(LINES)  # a burst of this level ends the recogniser's process, every time
_STEP = 1 / 64  # of level, from one line to the next
_BURST, _PAUSE = 3, 5  # frames


def spoken(lines: Sequence[int], *, pause_frames: int = _PAUSE) -> Samples:
    """Return the sound of some lines, each a burst and a pause: 0.8 s a line."""
    parts = []
    for line in lines:
        parts += [np.full(_BURST * FRAME_SAMPLES, (line + 1) * _STEP), np.zeros(pause_frames * FRAME_SAMPLES)]
    return np.concatenate(parts).astype(np.float32)


def recording(path: Path, lines: Sequence[int], *, pause_frames: int = _PAUSE) -> Path:
    """Write the sound of some lines as a WAV file."""
    path.write_bytes(wav_of(spoken(lines, pause_frames=pause_frames)))
    return path


def hearing() -> HearingOptions:
    """Return the options that open this recogniser."""
    return HearingOptions(factory=FACTORY)


def open_fake(options: HearingOptions, lag_s: Callable[[], float]) -> FakeRecogniser:
    return FakeRecogniser()


class FakeRecogniser:
    """Ends an utterance two silent frames after a burst."""

    def __init__(self) -> None:
        self._line: int | None = None
        self._start_s = 0.0
        self._quiet = 0
        self.favoured: list[tuple[str, ...]] = []

    def favour(self, terms: Sequence[str]) -> None:
        self.favoured.append(tuple(terms))

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        level = float(np.max(np.abs(frame.samples), initial=0.0))
        if level > _STEP / 2:
            if self._line is None:
                self._start_s = frame.start_s
            self._line, self._quiet = round(level / _STEP) - 1, 0
            if self._line == POISON:
                os.kill(os.getpid(), signal.SIGKILL)
            yield Partial(words=self._words(frame.end_s)[:1])
        elif self._line is not None:
            self._quiet += 1
            if self._quiet == 2:
                yield from self.flush(end_s=frame.end_s)

    def flush(self, end_s: float | None = None) -> Iterator[Partial | Utterance]:
        if self._line is not None:
            end_s = end_s or self._start_s + _BURST * FRAME_SAMPLES / SAMPLE_RATE_HZ
            words = self._words(end_s)
            self._line = None
            yield Utterance(words=words, endpoint_s=end_s, heard_to_s=round(end_s, 4))

    def _words(self, end_s: float) -> tuple[Word, ...]:
        texts = LINES[self._line or 0].split()
        length_s = (end_s - self._start_s) / len(texts)
        return tuple(
            Word(
                text=text,
                start_s=round(self._start_s + place * length_s, 3),
                end_s=round(self._start_s + (place + 1) * length_s, 3),
                confidence=0.98,
            )
            for place, text in enumerate(texts)
        )
