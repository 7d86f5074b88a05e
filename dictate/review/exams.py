"""The exams that there are to review. Anything that can list them will do; here a look into the folders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from dictate.errors import JournalError
from dictate.journal.events import Edited, HeardUtterance, Opened, Signed
from dictate.journal.exam import ExamFolder, exam_ids
from dictate.journal.journal import read_journal
from dictate.journal.replay import ending_of, opened_of


@dataclass(frozen=True, slots=True)
class Listed:
    """One exam in a list. `trouble` says why it cannot be read whole; the rest is then what could be read."""

    exam: str
    opened_at: datetime | None = None
    region: str | None = None
    patient: str | None = None
    utterances: int = 0
    decisions: int = 0
    closed: bool = False
    signed_by: str | None = None
    trouble: str | None = None
    doubts: int | None = None  # findings still to check; None where nobody read the words
    changed: bool = False  # since it was signed, no addendum yet


class ExamList(Protocol):
    """Whatever knows which exams there are."""

    def exams(self) -> Sequence[Listed]:
        """Return the exams, newest first."""


class FolderScan:
    """Lists exams by reading their journals, which says nothing of their findings but is quick."""

    def __init__(self, data: Path) -> None:
        self._data = data

    def exams(self) -> Sequence[Listed]:
        """Return the exams, newest first."""
        return [_listed(ExamFolder.of(self._data, exam)) for exam in reversed(self._ids())]

    def _ids(self) -> list[str]:
        return [exam for exam in exam_ids(self._data) if self._has_journal(exam)]

    def _has_journal(self, exam: str) -> bool:
        try:
            ExamFolder.of(self._data, exam)
        except JournalError:  # a folder without a journal is no exam yet: it was cut off while it was made
            return False
        return True


def _listed(folder: ExamFolder) -> Listed:
    try:
        reading = read_journal(folder.journal_path)
        opened: Opened = opened_of(reading.events)
    except JournalError as error:
        return Listed(folder.exam, trouble=str(error))
    signatures = [event for event in reading.events if isinstance(event, Signed)]
    return Listed(
        folder.exam,
        opened_at=opened.at,
        region=opened.region,
        patient=opened.patient,
        utterances=sum(isinstance(event, HeardUtterance) for event in reading.events),
        decisions=sum(isinstance(event, Edited) for event in reading.events),
        closed=ending_of(reading.events) is not None,
        signed_by=signatures[-1].name if signatures else None,
        trouble=f"line {reading.broken_line} of its journal {reading.why}" if reading.broken_line else None,
    )
