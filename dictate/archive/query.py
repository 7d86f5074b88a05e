"""What is asked of the index, and the SQL for it. Whatever a person typed is only ever a bound value."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal

from dictate.archive.errors import ArchiveError
from dictate.archive.rows import words_of
from dictate.contract import Region, Side

Wanted = Literal["unfinished", "unsigned", "signed", "changed", "damaged"]
# `unsigned` is what still waits for a signature: also what was changed since it was signed.
_STATES: dict[Wanted, str] = {
    "unfinished": "state = 'unfinished'",
    "unsigned": "state IN ('unsigned', 'changed')",
    "signed": "state = 'signed'",
    "changed": "state = 'changed'",
    "damaged": "damaged IS NOT NULL",
}
MOST_WORDS, LONGEST_WORD = 32, 100
MOST_MATCHES = 5  # findings shown for one exam
FINDING_BITS = 16  # a finding's row number is its exam's number and, in so many low bits, its place in the note
MOST_FINDINGS = (1 << FINDING_BITS) - 1
_FIRST_DAY, _LAST_DAY = date(1970, 1, 3), date(9999, 12, 28)
_SIDE_BITS: dict[str, int] = {"left": 1, "right": 2, "both": 4, "midline": 8}


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """Which exams are wanted, the newest first; what is None does not matter.

    Dates are of this machine's calendar, both inclusive. `text` finds findings of which every word begins with one of
    its words in any order; `side` and, with `text`, `region` are of the same finding. Without `text`, `region` is of
    the exam. `side` left or right finds what was recorded of both sides as well. `after` goes on in the list behind an
    exam: unlike a number of rows to leave out, it stays right when exams come or go meanwhile.
    """

    since: date | None = None
    until: date | None = None
    region: Region | None = None
    text: str | None = None
    side: Side | None = None
    patient: str | None = None  # the whole pseudonym
    state: Wanted | None = None
    open_doubts: bool = False
    readable: bool = False  # without those that are sealed
    corrected: bool = False  # only those in which a person put a name right
    after: str | None = None  # the id of an exam
    limit: int | None = None


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement with its values."""

    sql: str
    values: tuple[object, ...]


def numbers_statement(query: Query, *, full_text: bool) -> Statement:
    """Return the SELECT of the numbers of the exams that are asked for, the newest first, whatever the limit."""
    where: list[str] = []
    values: list[object] = []
    if query.since is not None:
        where.append("at >= ?")
        values.append(_moment(query.since))
    if query.until is not None:
        where.append("at < ?")
        values.append(_moment(query.until, days_later=1))
    if query.patient is not None:
        where.append("patient = ?")
        values.append(query.patient)
    if query.state is not None:
        where.append(_STATES[query.state])
    if query.open_doubts:
        where.append("doubts > 0")
    if query.readable:
        where.append("NOT sealed")
    if query.corrected:
        where.append("names_corrected > 0")
    if query.after is not None:
        where.append("(at, exam) < (SELECT at, exam FROM exam WHERE exam = ?)")
        values.append(query.after)
    if query.text is not None:
        found = _found_findings(query, full_text=full_text)
        where.append(f"number IN (SELECT id >> {FINDING_BITS} FROM ({found.sql}))")  # noqa: S608  no value in it
        values += found.values
    else:
        if query.region is not None:
            where.append("region = ?")
            values.append(query.region)
        if query.side is not None:
            where.append("sides & ?")
            values.append(side_bits(_sides(query)))
    sql = f"SELECT number FROM exam{' WHERE ' + ' AND '.join(where) if where else ''}"  # noqa: S608  no value in it
    return Statement(f"{sql} ORDER BY at DESC, exam DESC", tuple(map(_bindable, values)))


def matches_statement(query: Query) -> Statement:
    """Return the SELECT of the texts of the first findings that were found; its first two values are an exam's span."""
    wanted = _conditions(query)
    sql = f"SELECT text FROM finding WHERE id BETWEEN ? AND ? AND {wanted.sql} ORDER BY id LIMIT {MOST_MATCHES}"  # noqa: S608
    return Statement(sql, wanted.values)


def span(number: int) -> tuple[int, int]:
    """Return the first and last row number that the findings of an exam can have."""
    return number << FINDING_BITS, (number << FINDING_BITS) + MOST_FINDINGS


def side_bits(sides: Iterable[str]) -> int:
    """Return the sides of findings as the index keeps them of a whole exam."""
    bits = 0
    for side in sides:
        bits |= _SIDE_BITS.get(side, 0)
    return bits


def _found_findings(query: Query, *, full_text: bool) -> Statement:
    """Return the SELECT of the row numbers (`id`) of the findings that a query's text, side and region are about."""
    words = words_of(query.text or "")
    if len(words) > MOST_WORDS or any(len(word) > LONGEST_WORD for word in words):
        raise ArchiveError(f"a search takes {MOST_WORDS} words at most, of {LONGEST_WORD} letters; give fewer")
    if not words:
        return Statement("SELECT id FROM finding WHERE 0", ())
    if not full_text:
        wanted = _conditions(query)
        return Statement(f"SELECT id FROM finding WHERE {wanted.sql}", wanted.values)  # noqa: S608  no value in it
    parts = [_column("words", [f"{_quoted(word)} *" for word in words], " AND ")]
    if query.side is not None:
        parts.append(_column("side", [_quoted(side) for side in _sides(query)], " OR "))
    if query.region is not None:
        parts.append(_column("region", [_quoted(query.region)], " OR "))
    return Statement("SELECT rowid AS id FROM finding_text WHERE finding_text MATCH ?", (" AND ".join(parts),))


def _conditions(query: Query) -> Statement:
    """Return what a finding has to be, in plain SQL."""
    words = words_of(query.text or "")
    where = ["instr(' ' || words, ?)" for _ in words]  # both in lower case already; LIKE takes twice the time
    values: list[object] = [f" {word}" for word in words]
    if query.side is not None:
        sides = _sides(query)
        where.append(f"side IN ({', '.join('?' for _ in sides)})")
        values += sides
    if query.region is not None:
        where.append("region = ?")
        values.append(query.region)
    return Statement(" AND ".join(where), tuple(map(_bindable, values)))


def _sides(query: Query) -> tuple[str, ...]:
    if query.side is None:
        return ()
    return ("midline",) if query.side == "midline" else tuple(sorted({query.side, "both"}))


def _bindable(value: object) -> object:
    """Return a value that SQLite takes: half a character, which a terminal may send, is no text."""
    return value.encode("utf-8", "replace").decode() if isinstance(value, str) else value


def _column(name: str, phrases: list[str], joined_by: str) -> str:
    return f"{name} : ({joined_by.join(phrases)})"


def _quoted(text: str) -> str:
    """Return a phrase of the full-text search: in quotes no sign has a meaning, and no quote is left in it."""
    return f'"{" ".join(words_of(text))}"'


def _moment(day: date, *, days_later: int = 0) -> str:
    """Return the start of a day of this machine's calendar, as the index writes times.

    A day that is further off than any exam is moved to where it can be reckoned with.
    """
    near = min(max(day, _FIRST_DAY), _LAST_DAY) + timedelta(days=days_later)
    return moment_text(datetime.combine(near, time()).astimezone())


def moment_text(moment: datetime) -> str:
    """Return a time as the index keeps it: UTC, always of the same length, so that it sorts as text."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
