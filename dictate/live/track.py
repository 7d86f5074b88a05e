"""Sound as it comes, written to the exam's files: a new file after each gap, nothing dropped while the disk is full."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import RLock

from dictate.audio.frame import SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from dictate.errors import JournalError
from dictate.journal.events import Gap as GapEvent
from dictate.journal.exam import ExamFolder
from dictate.journal.sound import SoundWriter
from dictate.live.ledger import RETRY_S, Ledger

MOST_HELD_S = 300.0  # of sound in memory while it cannot be written: 19 MB (project's choice)
_SAME_MOMENT_S = 0.001  # times in the journal are rounded
_DISK_FULL = "the disk was full for too long"


@dataclass(slots=True)
class Stretch:
    """Sound without a gap, in one file. `samples` grows until `ended`."""

    path: Path
    start_s: float
    samples: int = 0
    ended: bool = False

    @property
    def end_s(self) -> float:
        """When it ends on the exam's clock, as far as it is written."""
        return self.start_s + self.samples / SAMPLE_RATE_HZ


class Track:
    """Writes frames and gaps in the order in which they came. One thread gives them; any may `retry`."""

    def __init__(
        self, folder: ExamFolder, ledger: Ledger, *, begun: Callable[[Stretch], None], ended: Callable[[Stretch], None],
        most_held_s: float = MOST_HELD_S,
    ) -> None:  # fmt: skip
        """Write into an exam's folder; `begun` and `ended` are told of each stretch that begins and ends."""
        self._folder, self._ledger, self._begun, self._ended = folder, ledger, begun, ended
        self._lock = RLock()
        self._most_held_s = most_held_s
        self._held: deque[Frame | Gap] = deque()
        self._held_s = 0.0
        self._given_up: Gap | None = None  # sound that there was no room for, after all that is held
        self._writer: SoundWriter | None = None
        self._stretch: Stretch | None = None
        self._next_try = 0.0  # on the monotonic clock
        self.failure: str | None = None  # why sound cannot be written now

    @property
    def held_s(self) -> float:
        """Seconds of sound that wait to be written."""
        return self._held_s

    def accept(self, event: Frame | Gap) -> None:
        """Write a frame or note a gap; keep it where that cannot be done now."""
        with self._lock:
            self._hold(event)
            self._write_held()

    def _hold(self, event: Frame | Gap) -> None:
        if isinstance(event, Frame):
            if self._given_up or self._held_s + event.end_s - event.start_s > self._most_held_s:
                return self._give_up(event.start_s, event.end_s)
            self._held_s += event.end_s - event.start_s
        elif self._given_up:
            return self._give_up(event.from_s, event.to_s)
        return self._held.append(event)

    def pause(self) -> None:
        """End the stretch: no sound comes for now. What was said before can then be recognised at once."""
        with self._lock:
            self._write_held(even_now=True)
            if not self._held:
                self._end_stretch()

    def retry(self) -> None:
        """Try again to write what waits, if it is time to."""
        if self.failure:
            with self._lock:
                self._write_held()

    def close(self) -> bool:
        """Write what waits and end; return whether all of it is written now."""
        self.pause()
        return not self._held

    def abandon(self) -> None:
        """Give up what still waits, noting the gap."""
        with self._lock:
            if self._held or self._given_up:
                first = self._held[0] if self._held else self._given_up
                last = self._given_up or self._held[-1]
                assert first is not None  # noqa: S101 - one of both is there
                from_s = first.start_s if isinstance(first, Frame) else first.from_s
                to_s = last.end_s if isinstance(last, Frame) else last.to_s
                self._held.clear()
                self._held_s, self._given_up = 0.0, None
                self._ledger.append(GapEvent(from_s=round(from_s, 3), to_s=round(to_s, 3), why=_DISK_FULL))
            self._end_stretch()

    def _give_up(self, from_s: float, to_s: float) -> None:
        self._given_up = Gap(self._given_up.from_s if self._given_up else from_s, to_s, _DISK_FULL)

    def _write_held(self, *, even_now: bool = False) -> None:
        if self.failure and not even_now and time.monotonic() < self._next_try:
            return
        try:
            while self._held:
                self._write(self._held[0])
                first = self._held.popleft()
                self._held_s -= first.end_s - first.start_s if isinstance(first, Frame) else 0.0
            self._held_s = 0.0 if not self._held else self._held_s
            if self._given_up:
                gap, self._given_up = self._given_up, None
                self._write(gap)
            self.failure = None
        except (OSError, JournalError) as failure:
            self.failure = failure.strerror or str(failure) if isinstance(failure, OSError) else str(failure)
            self._next_try = time.monotonic() + RETRY_S

    def _write(self, event: Frame | Gap) -> None:
        if isinstance(event, Gap):
            self._end_stretch()
            self._ledger.append(GapEvent(from_s=round(event.from_s, 3), to_s=round(event.to_s, 3), why=event.why))
            return
        if self._stretch is not None and abs(event.start_s - self._stretch.end_s) > _SAME_MOMENT_S:
            self._end_stretch()
        if self._writer is None or self._stretch is None:
            self._begin_stretch(event.start_s)
        assert self._writer is not None and self._stretch is not None  # noqa: S101 - begun just now
        before = self._writer.samples
        try:
            self._writer.append(event.samples)
        except OSError:
            if self._writer.samples == before:
                raise
            # it is in the file, only not yet for certain on the disk; the next frame tries again
        self._stretch.samples = self._writer.samples

    def _begin_stretch(self, start_s: float) -> None:
        with self._ledger.lock:
            if not self._ledger.retry():  # the journal must say when a file begins, and in order
                raise self._ledger.failure or JournalError("the journal cannot be written")
            self._writer = self._folder.begin_sound(self._ledger.journal, start_s=start_s)
        self._stretch = Stretch(self._writer.path, round(start_s, 4))
        self._begun(self._stretch)

    def _end_stretch(self) -> None:
        if self._writer is not None and self._stretch is not None:
            self._writer.close()
            self._stretch.ended = True
            self._ended(self._stretch)
        self._writer = self._stretch = None
