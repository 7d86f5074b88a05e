"""The list of exams from the archive's index: quick with thousands of them, and it knows what is left to check."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate.archive.index import Index
from dictate.archive.rows import ExamRow
from dictate.review.exams import Listed


class IndexedExams:
    """Asks the index anew each time: exams come and are decided about while the page is open."""

    def __init__(self, data: Path, *, lexicon_dir: Path | None = None) -> None:
        self._data, self._lexicon_dir = data, lexicon_dir

    def exams(self) -> Sequence[Listed]:
        """Return the exams that can be opened as they are, newest first: sealed ones are not among them."""
        if not self._data.is_dir():
            return []
        with Index(self._data, lexicon_dir=self._lexicon_dir) as index:
            index.refresh()
            return [_listed(row) for row in index.search() if not row.sealed]


def _listed(row: ExamRow) -> Listed:
    return Listed(
        row.exam, opened_at=row.at, region=row.region, patient=row.patient, utterances=row.utterances,
        decisions=row.decisions, closed=row.state != "unfinished", signed_by=row.signed_by, trouble=row.damaged,
        doubts=row.doubts, changed=row.state == "changed",
    )  # fmt: skip
