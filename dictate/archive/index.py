"""The index of exams: an SQLite file that is only ever derived from the exams' folders, and can be made anew from them.

It is kept for speed alone. What differs from the folders is read again when it is opened; what cannot be used is
thrown away.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Container, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from dictate.archive.errors import ArchiveError
from dictate.archive.look import journals_that_differ
from dictate.archive.query import (
    FINDING_BITS,
    MOST_FINDINGS,
    Query,
    Statement,
    matches_statement,
    moment_text,
    numbers_statement,
    side_bits,
    span,
)
from dictate.archive.removed import removed_exams
from dictate.archive.rows import SEALED, Entry, ExamRow, FindingText, entry_of, words_of
from dictate.journal.exam import exams_folder, is_exam_id, lexicon_digest

if TYPE_CHECKING:
    from dictate.language.reader import Reader

INDEX_NAME = "index.sqlite"
VERSION = 1  # of what stands in the tables: raised when the same exam would be kept otherwise; see `_meta`
READ_AT_ONCE = 200  # exams read between two commits
_NO_NOTE = "no note"  # stands where the digest of a lexicon does
_UNREAD = (-2, -2)  # no journal has such a size; one that is not there has -1
MADE_AT_ONCE = 100  # rows of a long list that are made before the first of them is shown
_BUSY_S = 10.0

_TABLES = """
CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE exam (
  number INTEGER PRIMARY KEY, exam TEXT NOT NULL UNIQUE, at TEXT NOT NULL, state TEXT NOT NULL, region TEXT,
  injured_side TEXT, source TEXT, patient TEXT, age REAL, sex TEXT, utterances INTEGER NOT NULL,
  decisions INTEGER NOT NULL, findings INTEGER NOT NULL, doubts INTEGER NOT NULL, seconds REAL, sound INTEGER NOT NULL,
  ended TEXT, signed_by TEXT, signed_at TEXT, damaged TEXT, sealed INTEGER NOT NULL, size INTEGER NOT NULL,
  mtime_ns INTEGER NOT NULL, chain TEXT NOT NULL, lexicon TEXT NOT NULL, purging INTEGER NOT NULL,
  names_corrected INTEGER NOT NULL, sides INTEGER NOT NULL
);
CREATE INDEX exam_at ON exam (at DESC, exam DESC, sealed);
CREATE INDEX exam_patient ON exam (patient, at);
CREATE INDEX exam_stamp ON exam (exam, size, mtime_ns, lexicon, sealed);
CREATE TABLE finding (
  id INTEGER PRIMARY KEY, region TEXT NOT NULL, side TEXT NOT NULL, text TEXT NOT NULL, words TEXT NOT NULL
);
"""
# Its content stands in `finding`. It is written beside it, not by triggers: those could not be used with a schema that
# is not trusted, and a file is not.
_FULL_TEXT = """
CREATE VIRTUAL TABLE finding_text USING fts5 (words, side, region, content = 'finding', content_rowid = 'id');
"""
_ADD_TEXT = """
INSERT INTO finding_text (rowid, words, side, region)
SELECT id, words, side, region FROM finding WHERE id BETWEEN ? AND ?
"""
# Source: the FTS5 manual, "External Content Tables".
_REMOVE_TEXT = """
INSERT INTO finding_text (finding_text, rowid, words, side, region)
SELECT 'delete', id, words, side, region FROM finding WHERE id BETWEEN ? AND ?
"""
_STAMPS = f"""
SELECT exam, iif(read, size, {_UNREAD[0]}), iif(read, mtime_ns, {_UNREAD[1]}) FROM (
  SELECT exam, size, mtime_ns, (? OR lexicon IN ('', ?)) AND NOT (sealed AND ?) AS read FROM exam
)
"""  # noqa: S608  no value in it
# Those of a row, in its order, then those of the index alone.
_COLUMNS = (
    "exam", "at", "state", "region", "injured_side", "source", "patient", "age", "sex", "utterances", "decisions",
    "findings", "doubts", "seconds", "sound", "ended", "signed_by", "signed_at", "damaged", "sealed", "size",
    "mtime_ns", "chain", "lexicon", "purging", "names_corrected", "sides",
)  # fmt: skip

_ROW_END = 1 + _COLUMNS.index("size")
_MOMENTS = tuple(ExamRow._fields.index(name) for name in ("at", "ended", "signed_at"))
_TRUTHS = tuple(ExamRow._fields.index(name) for name in ("sound", "sealed"))


class Page(NamedTuple):
    """Some exams of a list, and how many older ones there are of those that were asked for."""

    rows: tuple[ExamRow, ...]
    further: int


class Opener(Protocol):
    """What opens sealed files: see `dictate.archive.vault`."""

    def read(self, path: Path) -> bytes:
        """Return the content of a sealed file."""

    def write(self, path: Path, content: bytes) -> None:
        """Write content to a sealed file, whole or not at all."""


class Index:
    """The exams of one data folder. A context manager; `search` sees the folders as they were at the last `refresh`."""

    def __init__(
        self, data: Path, *, opener: Opener | None = None, lexicon_dir: Path | None = None,
        lexicon: str | None = None, full_text: bool = True,
    ) -> None:  # fmt: skip
        """Open the index, made anew if there is none that can be used.

        Args:
            data: the data folder.
            opener: opens sealed exams; the index is then held in memory, and kept sealed as well.
            lexicon_dir: laid over the built-in lexicon, to read unsigned notes with.
            lexicon: the digest of all that notes are read with, where it is known; else its files are read for it.
            full_text: use SQLite's full-text search where it is built in; without it a search is slower.

        Raises:
            ArchiveError: the folder cannot be written to.
        """
        self.data = data
        self.path = data / (INDEX_NAME + (SEALED if opener else ""))
        self._opener = opener
        self._lexicon_dir = lexicon_dir
        self._lexicon = lexicon_digest(lexicon_dir) if lexicon is None else lexicon
        self._changed = False
        self._stamps: tuple[int, bool, dict[str, tuple[int, int]]] | None = None  # as they were last read
        self.full_text = full_text and _has_full_text()
        self._base = self._opened_sealed(opener) if opener else self._opened()
        kept = self.path.stat() if self.path.exists() else None
        self._file = (kept.st_dev, kept.st_ino) if kept else None

    def __enter__(self) -> Index:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file; a sealed index is written if it changed."""
        if self._opener is not None and self._changed:
            self._opener.write(self.path, self._base.serialize())
            self._changed = False
        self._base.close()

    # -- finding exams -----------------------------------------------------------------------------------------------

    def search(self, query: Query = Query()) -> list[ExamRow]:  # noqa: B008  frozen
        """Return the exams that are asked for, the newest first; damaged ones are among them, marked."""
        return list(self.each(query))

    def page(self, query: Query) -> Page:
        """Return the exams that are asked for, with how many there are beyond the query's limit."""
        if query.text is None and query.limit is not None:  # cheap to ask twice; a search for text is made once
            wanted = numbers_statement(query, full_text=self.full_text)
            with self._told():
                counted = self._base.execute(f"SELECT count(*) FROM ({wanted.sql})", wanted.values)  # noqa: S608
                number = int(counted.fetchone()[0])
                shown = self._numbers(query, limit=query.limit)
        else:
            numbers = self._numbers(query)
            shown, number = numbers[: query.limit], len(numbers)
        return Page(tuple(self._rows(query, shown)), number - len(shown))

    def each(self, query: Query) -> Iterator[ExamRow]:
        """Yield the exams that are asked for; the first of many before all of them are made."""
        yield from self._rows(query, self._numbers(query)[: query.limit])

    def _numbers(self, query: Query, *, limit: int = -1) -> list[int]:
        """Return the numbers of the exams in order."""
        wanted = numbers_statement(query, full_text=self.full_text)
        with self._told():
            numbers = self._base.execute(f"{wanted.sql} LIMIT ?", (*wanted.values, limit))
            return [number for (number,) in numbers]

    def _rows(self, query: Query, numbers: list[int]) -> Iterator[ExamRow]:
        found = matches_statement(query) if words_of(query.text or "") else None
        for start in range(0, len(numbers), MADE_AT_ONCE):
            some = numbers[start : start + MADE_AT_ONCE]
            sql = f"SELECT * FROM exam WHERE number IN ({', '.join('?' * len(some))})"  # noqa: S608  no value in it
            with self._told():
                records = {record["number"]: record for record in self._base.execute(sql, some)}
                matches = {number: self._matches(found, number) for number in some} if found else {}
            for number in some:
                if number in records:  # else another process took it out meanwhile
                    yield _row(records[number], matches.get(number, ()))

    def _matches(self, found: Statement, number: int) -> tuple[str, ...]:
        """Return the texts of the first findings of an exam that a search for text found."""
        return tuple(text for (text,) in self._base.execute(found.sql, (*span(number), *found.values)))

    def sealed(self) -> int:
        """Return how many exams are sealed and cannot be read with what was given."""
        with self._told():
            return int(self._base.execute("SELECT count(*) FROM exam WHERE sealed").fetchone()[0])

    def row(self, exam: str) -> ExamRow | None:
        """Return what is known of one exam; None if there is no such one."""
        with self._told():
            record = self._base.execute("SELECT * FROM exam WHERE exam = ?", (exam,)).fetchone()
        return _row(record, ()) if record is not None else None

    def current(self, exams: Container[str]) -> Iterator[tuple[ExamRow, bool]]:
        """Yield the rows of exams, each with whether a purge is to be completed.

        Those that nothing can be due for are left out: without sound, damage or a seal, and ended.

        Args:
            exams: those that are wanted, as their journals did not change since they were read.
        """
        sql = """
        SELECT * FROM exam WHERE sound OR purging OR sealed OR damaged IS NOT NULL OR state = 'unfinished'
        """
        with self._told():
            records = self._base.execute(sql).fetchall()
        for record in records:
            if record["exam"] in exams:
                yield _row(record, ()), bool(record["purging"])

    def purge_completed(self, exam: str) -> None:
        """Note that the sound which a journal says was removed is gone."""
        with self._writing():
            self._base.execute("UPDATE exam SET purging = 0 WHERE exam = ?", (exam,))

    # -- keeping up with the folders ---------------------------------------------------------------------------------

    def refresh(self, *, everything: bool = False) -> int:
        """Read the exams that changed since they were last read; return how many. `everything` reads all anew."""
        known = self.known()
        look = journals_that_differ(self.data, dict.fromkeys(known, _UNREAD) if everything else known)
        stale = look.differ
        if look.gone:
            with self._writing():
                self._remove(look.gone)
        for start in range(0, len(stale), READ_AT_ONCE):
            self.put(self.entry(exam) for exam in stale[start : start + READ_AT_ONCE])
        return len(stale) + len(look.gone)

    def update(self, exam: str) -> None:
        """Read one exam anew: after its journal was written to."""
        there = is_exam_id(exam) and os.path.lexists(exams_folder(self.data) / exam)
        if there and exam not in removed_exams(self.data):
            self.put([self.entry(exam)])
        else:
            self.forget(exam)

    def entry(self, exam: str) -> Entry:
        """Return what the index would keep of an exam, read from its folder."""
        decrypt = self._opener.read if self._opener else None
        return entry_of(exams_folder(self.data) / exam, self._reader, lexicon=self._lexicon, decrypt=decrypt)

    def put(self, entries: Iterable[Entry]) -> None:
        """Keep what was read of exams, in place of what was kept of them before."""
        prepared = list(entries)
        with self._writing():
            self._remove([entry.row.exam for entry in prepared])
            for entry in prepared:
                sql = f"INSERT INTO exam ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))})"  # noqa: S608
                number = self._base.execute(sql, _record(entry)).lastrowid or 0
                self._base.executemany(
                    "INSERT INTO finding (id, region, side, text, words) VALUES (?, ?, ?, ?, ?)",
                    _finding_records(number, entry.findings[:MOST_FINDINGS]),
                )
                if self.full_text:
                    self._base.execute(_ADD_TEXT, span(number))

    def put_facts(self, entries: Iterable[Entry]) -> None:
        """Keep what the journals tell without a note; the next `refresh` reads these exams all the same."""
        self.put(replace(entry, lexicon=_NO_NOTE) for entry in entries)

    def forget(self, exam: str) -> None:
        """Take an exam out for good: nothing of it is left in the file."""
        with self._writing():
            self._remove([exam])
            if self.full_text:
                self._base.execute("INSERT INTO finding_text (finding_text) VALUES ('optimize')")
        with self._told():
            self._base.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def _remove(self, exams: Sequence[str]) -> None:
        for exam in exams:
            record = self._base.execute("SELECT number FROM exam WHERE exam = ?", (exam,)).fetchone()
            if record is None:
                continue
            findings = span(record[0])
            if self.full_text:
                self._base.execute(_REMOVE_TEXT, findings)
            self._base.execute("DELETE FROM finding WHERE id BETWEEN ? AND ?", findings)
            self._base.execute("DELETE FROM exam WHERE number = ?", (record[0],))

    def known(self, *, any_lexicon: bool = False) -> dict[str, tuple[int, int]]:
        """Return size and time of each journal when it was read.

        Args:
            any_lexicon: also of what another lexicon may read otherwise; else these differ from every journal.
        """
        with self._told():
            version = self._base.execute("PRAGMA data_version").fetchone()[0]  # another process changes it by writing
            if self._stamps is None or self._stamps[:2] != (version, any_lexicon):
                records = self._base.execute(_STAMPS, (any_lexicon, self._lexicon, self._opener is not None))
                records.row_factory = None  # plain tuples: they are thousands
                stamps = {exam: (size, mtime_ns) for exam, size, mtime_ns in records}
                self._stamps = (version, any_lexicon, stamps)
            return self._stamps[2]

    def _reader(self) -> Reader:
        from dictate.interface import reader_of

        return reader_of(self._lexicon_dir)

    def is_current(self) -> bool:
        """Whether the file is still the one that was opened: another command may have removed it, or made it anew."""
        try:
            now = self.path.stat()
        except OSError:
            return False
        return self._file == (now.st_dev, now.st_ino)

    # -- the file ----------------------------------------------------------------------------------------------------

    def _opened(self) -> sqlite3.Connection:
        """Return the index on disk, made anew where it cannot be used."""
        for attempt in (1, 2):
            try:
                base = self._connected(self.path)
                if self._usable(base) and attempt == 1:
                    return base
                if not _is_empty(base):
                    base.close()
                    _remove_index(self.path)
                    base = self._connected(self.path)
                _make_tables(base, full_text=self.full_text)
                return base
            except sqlite3.DatabaseError as error:
                if attempt == 2 or (isinstance(error, sqlite3.OperationalError) and not _is_damage(error)):
                    raise ArchiveError(_unusable(self.path, error)) from error
                _remove_index(self.path)
        raise AssertionError("the second attempt returns or raises")

    def _opened_sealed(self, opener: Opener) -> sqlite3.Connection:
        """Return the sealed index, in memory only; empty where there is none that can be used."""
        base = _settled(sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False))
        if self.path.is_file():
            with suppress(ArchiveError, sqlite3.DatabaseError):
                base.deserialize(opener.read(self.path))
                if self._usable(base):
                    return base
            base.close()
            base = _settled(sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False))
        _make_tables(base, full_text=self.full_text)
        self._changed = True
        return base

    def _connected(self, path: Path) -> sqlite3.Connection:
        if path.is_symlink():
            raise ArchiveError(f"{path} is a link; remove it: the index is made anew")
        try:
            os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600))  # so it is private
            path.chmod(0o600)
        except OSError as error:
            raise ArchiveError(_unusable(path, error)) from error
        base = _settled(sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False))
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = NORMAL")  # a power cut may lose the last change: it is read anew then
        return base

    def _usable(self, base: sqlite3.Connection) -> bool:
        """Whether an index has the tables of this version."""
        if _is_empty(base):
            return False
        kept = dict(base.execute("SELECT key, value FROM meta").fetchall()) if _has_meta(base) else {}
        there = {name for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        wanted = {"exam", "finding"} | ({"finding_text"} if self.full_text else set())
        return kept == _meta(full_text=self.full_text) and wanted <= there

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with self._told():
            self._base.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self._base.execute("ROLLBACK")
                raise
            self._base.execute("COMMIT")
        self._changed, self._stamps = True, None

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise ArchiveError(_unusable(self.path, error)) from error


def _meta(*, full_text: bool) -> dict[str, str]:
    """Return what an index must say of itself to be used; another one is made anew, as it is only derived."""
    tables = hashlib.sha256((_TABLES + _FULL_TEXT).encode()).hexdigest()
    return {"version": str(VERSION), "tables": tables, "full_text": str(int(full_text))}


def _make_tables(base: sqlite3.Connection, *, full_text: bool) -> None:
    """Make the tables, unless another process did so meanwhile."""
    base.execute("BEGIN IMMEDIATE")
    if _is_empty(base):
        for sql in (_TABLES + (_FULL_TEXT if full_text else "")).split(";"):
            base.execute(sql)
        base.executemany("INSERT INTO meta VALUES (?, ?)", _meta(full_text=full_text).items())
    base.execute("COMMIT")


def _settled(base: sqlite3.Connection) -> sqlite3.Connection:
    base.row_factory = sqlite3.Row
    base.execute("PRAGMA secure_delete = ON")  # what was taken out is overwritten
    base.execute("PRAGMA trusted_schema = OFF")
    return base


def _is_empty(base: sqlite3.Connection) -> bool:
    return int(base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]) == 0


def _has_meta(base: sqlite3.Connection) -> bool:
    return base.execute("SELECT 1 FROM sqlite_master WHERE name = 'meta'").fetchone() is not None


@cache
def _has_full_text() -> bool:
    with sqlite3.connect(":memory:") as base:
        try:
            base.execute("CREATE VIRTUAL TABLE probe USING fts5 (words)")
        except sqlite3.OperationalError:
            return False
    return True


def _is_damage(error: sqlite3.Error) -> bool:
    """Whether the file is no index (any more), as against one that is busy or cannot be written."""
    words = str(error)
    return any(sign in words for sign in ("malformed", "not a database", "no such", "disk image", "corrupt"))


def _unusable(path: Path, error: Exception) -> str:
    why = getattr(error, "strerror", None) or str(error)
    return f"the index {path} cannot be used ({why}); `dictate archive index` makes it anew from the exams"


def _remove_index(path: Path) -> None:
    for name in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal"))):
        name.unlink(missing_ok=True)


def remove_index(data: Path) -> None:
    """Remove the index on disk; it is made anew when it is needed."""
    _remove_index(data / INDEX_NAME)


def rebuild(data: Path, *, opener: Opener | None = None, lexicon_dir: Path | None = None) -> int:
    """Make the index anew from the exams' folders, and return how many exams it has."""
    _remove_index(data / (INDEX_NAME + (SEALED if opener else "")))
    with Index(data, opener=opener, lexicon_dir=lexicon_dir) as index:
        return index.refresh(everything=True)


def _record(entry: Entry) -> tuple[object, ...]:
    row = entry.row
    values: dict[str, Any] = {name: getattr(row, name) for name in _COLUMNS if hasattr(row, name)}
    values |= {name: moment_text(values[name]) for name in ("at", "ended", "signed_at") if values[name] is not None}
    values |= {
        "size": entry.stamp.size, "mtime_ns": entry.stamp.mtime_ns, "chain": entry.chain, "lexicon": entry.lexicon,
        "purging": entry.purging, "names_corrected": entry.names_corrected,
        "sides": side_bits(finding.side for finding in entry.findings),
    }  # fmt: skip
    return tuple(values[name] for name in _COLUMNS)


def _finding_records(number: int, findings: Iterable[FindingText]) -> Iterator[tuple[object, ...]]:
    for place, finding in enumerate(findings):
        yield (number << FINDING_BITS) + place, finding.region, finding.side, finding.text, finding.words


def _row(record: sqlite3.Row, matches: tuple[str, ...]) -> ExamRow:
    fields: list[Any] = [*record[1:_ROW_END], matches]  # the first is the number; those of the index come last
    for place in _MOMENTS:
        if fields[place] is not None:
            fields[place] = datetime.fromisoformat(fields[place])  # its Z makes it UTC
    for place in _TRUTHS:
        fields[place] = bool(fields[place])
    return ExamRow._make(fields)
