"""The journal of a running exam, which goes on also while the disk is full: what cannot be written yet is kept."""

from __future__ import annotations

import time
from collections import deque
from threading import RLock

from dictate.errors import JournalError
from dictate.journal.events import Event
from dictate.journal.journal import Journal

RETRY_S = 1.0


class Ledger:
    """Appends events in order. One that cannot be written waits in memory, and so do all after it."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self.lock = RLock()
        self._waiting: deque[Event] = deque()
        self._failure: JournalError | None = None
        self._next_try = 0.0  # on the monotonic clock

    @property
    def failure(self) -> JournalError | None:
        """Why something waits; None while everything is written."""
        return self._failure

    def events(self) -> tuple[Event, ...]:
        """Return all events of the exam, those that wait at the end."""
        with self.lock:
            return (*self.journal.events, *self._waiting)

    def append(self, event: Event) -> None:
        """Write an event, or keep it until that is possible."""
        with self.lock:
            self._waiting.append(event)
            if self._failure is None or time.monotonic() >= self._next_try:
                self.retry()

    def retry(self, *, even_now: bool = True) -> bool:
        """Write what waits; return whether nothing waits any more. `even_now` also if that failed just before."""
        with self.lock:
            if not even_now and time.monotonic() < self._next_try:
                return not self._waiting
            while self._waiting:
                try:
                    self.journal.append(self._waiting[0])
                except JournalError as failure:
                    self._failure = failure
                    self._next_try = time.monotonic() + RETRY_S
                    return False
                self._waiting.popleft()
            self._failure = None
            return True
