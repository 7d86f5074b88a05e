"""One program at a time listens to an exam."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from dictate.errors import JournalError


class ExamLock:
    """Held on an exam's folder while it runs; the system lets go of it when the process ends, however it ends."""

    def __init__(self, folder: Path) -> None:
        """Take the lock. Raises JournalError if the exam runs already."""
        self._handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._handle)
            raise JournalError(f"exam {folder.name} is running in another window; end it there first") from error

    def release(self) -> None:
        """Let go; a second time does nothing."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def is_running(folder: Path) -> bool:
    """Return whether a program listens to an exam now."""
    try:
        lock = ExamLock(folder)
    except JournalError:
        return True
    lock.release()
    return False
