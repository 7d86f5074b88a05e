"""Running exams for tests, heard by the recogniser whose words are in the sound."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from dictate.contract import Note
from dictate.errors import MicrophoneLost
from dictate.interface import interpret
from dictate.live.session import Resumption, Session
from tests.live.fake_recogniser import LINES, hearing, spoken

RECORD = "record of this exam"  # the source of prompts about missing sound
WITHIN_S = 60.0  # a machine that is busy with other tests is slow; nothing here is about time


def session(source: object, data: Path, *, resumed: Resumption | None = None, read_back: bool = False) -> Session:
    return Session(source, data=data, hearing=hearing(), resumed=resumed, read_back=read_back)  # type: ignore[arg-type]


def until(true: Callable[[], object], what: str) -> None:
    """Wait until something is so."""
    deadline = time.monotonic() + WITHIN_S
    while not true():
        assert time.monotonic() < deadline, f"not within {WITHIN_S:g} s: {what}"
        time.sleep(0.02)


def content(note: Note) -> object:
    """Return what two notes of the same words share: all but source, length, times, sound and its clarity."""
    found = note.model_dump(exclude={"exam": {"source", "seconds"}})
    found["prompts"] = [prompt for prompt in found["prompts"] if prompt["source"] != RECORD]  # of sound, not of words
    for finding in found["findings"]:
        finding["time"] = finding["confidence"] = None
    return found


def typed(lines: Sequence[int]) -> object:
    """Return the content of the note that the same lines give as a transcript."""
    return content(interpret([LINES[line] for line in lines]))


class StepSource:
    """A source that a test feeds by hand: lines, missing sound, and the loss of the microphone."""

    def __init__(self) -> None:
        self._steps: list[np.ndarray | float | Exception] = []
        self._news = threading.Condition()
        self._closed = False
        self._at = 0
        self.lost = False
        self.waiting_s = 0.0

    def say(self, *lines: int) -> None:
        self._put(spoken(lines))

    def miss(self, seconds: float) -> None:
        self._put(seconds)

    def lose(self) -> None:
        self._put(MicrophoneLost("the microphone is unplugged"))

    def close(self) -> None:
        with self._news:
            self._closed = True
            self._news.notify_all()

    def __iter__(self) -> Iterator[Frame | Gap]:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._steps or self._closed)
                if not self._steps:
                    return
                step = self._steps.pop(0)
            if isinstance(step, Exception):
                raise step
            if isinstance(step, float):
                start_s = self._at / SAMPLE_RATE_HZ
                self._at += round(step * SAMPLE_RATE_HZ)
                yield Gap(start_s, self._at / SAMPLE_RATE_HZ, "missing in a test")
                continue
            for first in range(0, len(step), FRAME_SAMPLES):
                samples = step[first : first + FRAME_SAMPLES]
                yield Frame(samples, self._at / SAMPLE_RATE_HZ)
                self._at += len(samples)

    def _put(self, step: np.ndarray | float | Exception) -> None:
        with self._news:
            self._steps.append(step)
            self._news.notify_all()
