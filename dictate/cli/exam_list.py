"""The review page's list of exams, out of the index of the archive."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate.archive.folder import open_data
from dictate.archive.index import Index
from dictate.archive.query import Query
from dictate.archive.rows import ExamRow
from dictate.archive.vault import Vault
from dictate.review.exams import Listed


class IndexedExams:
    """Lists exams out of the index, brought up to date each time. Sealed and damaged ones are among them, marked."""

    def __init__(self, data: Path, *, vault: Vault | None = None, lexicon_dir: Path | None = None) -> None:
        self._data = data
        self._vault = vault
        self._lexicon_dir = lexicon_dir

    def exams(self) -> Sequence[Listed]:
        """Return the exams, newest first."""
        return [listed(row) for row in self.rows(Query())]

    def rows(self, query: Query) -> list[ExamRow]:
        """Return the exams that are asked for, newest first."""
        if not open_data(self._data):
            return []
        with Index(self._data, opener=self._vault, lexicon_dir=self._lexicon_dir) as index:
            index.refresh()
            return index.search(query)


def listed(row: ExamRow) -> Listed:
    """Return a row as the review page lists it."""
    return Listed(
        row.exam, opened_at=row.at, region=row.region, patient=row.patient, utterances=row.utterances,
        decisions=row.decisions, closed=row.state != "unfinished", signed_by=row.signed_by,
        trouble=row.damaged or ("it is sealed; unseal it to review it" if row.sealed else None),
    )  # fmt: skip
