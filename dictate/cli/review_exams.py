"""The list of exams from the archive's index: quick with thousands of them, and it knows what is left to check."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock

from dictate.archive.errors import ArchiveError
from dictate.archive.index import Index
from dictate.archive.query import Query
from dictate.archive.query import Wanted as WantedState
from dictate.archive.rows import ExamRow
from dictate.journal.exam import lexicon_digest
from dictate.review.exams import AT_ONCE, Listed, Part, State, Wanted

_STATES: dict[State, WantedState] = {
    "to_sign": "unsigned", "signed": "signed", "changed": "changed", "unfinished": "unfinished", "damaged": "damaged",
}  # fmt: skip


class IndexedExams:
    """Asks the index anew each time, since exams come and are decided about while the page is open.

    The index itself stays open, with what it knows of every exam. One question at a time.
    """

    def __init__(self, data: Path, *, lexicon_dir: Path | None = None) -> None:
        self._data, self._lexicon_dir = data, lexicon_dir
        self._lexicon = lexicon_digest(lexicon_dir)  # of what this run reads with, whatever is learned meanwhile
        self._index: Index | None = None
        self._lock = Lock()

    def part(self, wanted: Wanted) -> Part:
        """Return the newest exams that are wanted and can be opened as they are: sealed ones are only counted.

        Raises:
            ArchiveError: more words are looked for than a search takes, or the index cannot be used.
        """
        query = Query(
            since=wanted.since, until=wanted.until, region=wanted.region, text=wanted.text, side=wanted.side,
            patient=wanted.patient, state=_STATES.get(wanted.state) if wanted.state else None,
            open_doubts=wanted.state == "to_check", readable=True, after=wanted.after, limit=AT_ONCE,
        )  # fmt: skip
        with self._refreshed() as index:
            if index is None:
                return Part()
            page = index.page(query)
            return Part(tuple(map(_listed, page.rows)), page.further, index.sealed())

    def corrected(self) -> list[str]:
        """Return the ids of the exams in which a person put a name right, the newest first."""
        with self._refreshed() as index:
            rows = index.each(Query(readable=True, corrected=True)) if index else ()
            return [row.exam for row in rows if row.damaged is None]

    def close(self) -> None:
        """Let go of the index."""
        with self._lock:
            self._let_go()

    @contextmanager
    def _refreshed(self) -> Iterator[Index | None]:
        with self._lock:
            if self._index is not None and not self._index.is_current():
                self._let_go()
            if self._index is None and self._data.is_dir():
                self._index = Index(self._data, lexicon_dir=self._lexicon_dir, lexicon=self._lexicon)
            try:
                if self._index is not None:
                    self._index.refresh()
                yield self._index
            except ArchiveError:
                self._let_go()  # what cannot be used is opened, and so made, anew
                raise

    def _let_go(self) -> None:
        if self._index is not None:
            self._index.close()
        self._index = None


def _listed(row: ExamRow) -> Listed:
    return Listed(
        row.exam, opened_at=row.at, region=row.region, patient=row.patient, decisions=row.decisions,
        closed=row.state != "unfinished", signed_by=row.signed_by, trouble=row.damaged, doubts=row.doubts,
        changed=row.state == "changed", matches=row.matches,
    )  # fmt: skip
