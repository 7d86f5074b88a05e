"""What is asked of the index, and the SQL for it. Whatever a person typed is only ever a bound value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal

from dictate.archive.errors import ArchiveError
from dictate.archive.rows import words_of
from dictate.contract import Region, Side

Wanted = Literal["unfinished", "unsigned", "signed", "changed", "damaged"]
# `unsigned` is what still waits for a signature: also what was changed since it was signed.
_STATES: dict[Wanted, str] = {
    "unfinished": "exam.state = 'unfinished'",
    "unsigned": "exam.state IN ('unsigned', 'changed')",
    "signed": "exam.state = 'signed'",
    "changed": "exam.state = 'changed'",
    "damaged": "exam.damaged IS NOT NULL",
}
MOST_WORDS, LONGEST_WORD = 32, 100
FINDING_BITS = 16  # a finding's row number is its exam's number and, in so many low bits, its place in the note


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """Which exams are wanted, the newest first; what is None does not matter.

    Dates are of this machine's calendar, both inclusive. `text` finds findings of which every word begins with one of
    its words in any order; `side` and, with `text`, `region` are of the same finding. Without `text`, `region` is of
    the exam. `side` left or right finds what was recorded of both sides as well.
    """

    since: date | None = None
    until: date | None = None
    region: Region | None = None
    text: str | None = None
    side: Side | None = None
    patient: str | None = None  # the whole pseudonym
    state: Wanted | None = None
    open_doubts: bool = False
    limit: int | None = None
    offset: int = 0


@dataclass(frozen=True, slots=True)
class Statement:
    """A statement with its values."""

    sql: str
    values: tuple[object, ...]


def statement(query: Query, *, full_text: bool, count: bool = False) -> Statement:
    """Return the SELECT of a query over the tables of the index; `count` asks only how many there are."""
    where: list[str] = []
    values: list[object] = []
    if query.since is not None:
        where.append("exam.at >= ?")
        values.append(_moment(query.since))
    if query.until is not None:
        where.append("exam.at < ?")
        values.append(_moment(query.until + timedelta(days=1)))
    if query.patient is not None:
        where.append("exam.patient = ?")
        values.append(query.patient)
    if query.state is not None:
        where.append(_STATES[query.state])
    if query.open_doubts:
        where.append("exam.doubts > 0")
    if query.region is not None and query.text is None:
        where.append("exam.region = ?")
        values.append(query.region)
    if query.text is not None or query.side is not None:
        found = found_findings(query, full_text=full_text)
        where.append(f"exam.number IN (SELECT id >> {FINDING_BITS} FROM ({found.sql}))")  # noqa: S608  no value in it
        values += found.values
    chosen = "count(*)" if count else "exam.*"
    sql = f"SELECT {chosen} FROM exam{' WHERE ' + ' AND '.join(where) if where else ''}"  # noqa: S608  no value in it
    if not count:
        sql += " ORDER BY exam.at DESC, exam.exam DESC"
        if query.limit is not None or query.offset:
            sql += " LIMIT ? OFFSET ?"
            values += [-1 if query.limit is None else query.limit, query.offset]
    return Statement(sql, tuple(map(_bindable, values)))


def found_findings(query: Query, *, full_text: bool) -> Statement:
    """Return the SELECT of the row numbers (`id`) of the findings that a query's text, side and region are about."""
    words = words_of(query.text or "")
    if len(words) > MOST_WORDS or any(len(word) > LONGEST_WORD for word in words):
        raise ArchiveError(f"a search takes {MOST_WORDS} words at most, of {LONGEST_WORD} letters; give fewer")
    if query.text is not None and not words:
        return Statement("SELECT id FROM finding WHERE 0", ())
    sides = _sides(query)
    region = query.region if query.text is not None else None
    if full_text and words:
        parts = [_column("words", [f"{_quoted(word)} *" for word in words], " AND ")]
        if sides:
            parts.append(_column("side", [_quoted(side) for side in sides], " OR "))
        if region is not None:
            parts.append(_column("region", [_quoted(region)], " OR "))
        return Statement("SELECT rowid AS id FROM finding_text WHERE finding_text MATCH ?", (" AND ".join(parts),))
    where = ["(' ' || words) LIKE ? ESCAPE '\\'" for _ in words]
    values: list[object] = [f"% {_escaped(word)}%" for word in words]
    if sides:
        where.append(f"side IN ({', '.join('?' for _ in sides)})")
        values += sides
    if region is not None:
        where.append("region = ?")
        values.append(region)
    found = f"SELECT id FROM finding WHERE {' AND '.join(where)}"  # noqa: S608  no value in it
    return Statement(found, tuple(map(_bindable, values)))


def matcher(query: Query) -> Callable[[str, str, str], bool]:
    """Return what tells whether a finding (its words, side and region) is one that the SELECT would find."""
    wanted, sides = words_of(query.text or ""), _sides(query)

    def matches(words: str, side: str, region: str) -> bool:
        if (sides and side not in sides) or (query.region is not None and region != query.region):
            return False
        there = f" {words}"
        return all(f" {word}" in there for word in wanted)

    return matches


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


def _moment(day: date) -> str:
    """Return the start of a day of this machine's calendar, as the index writes times."""
    return moment_text(datetime.combine(day, time()).astimezone())


def moment_text(moment: datetime) -> str:
    """Return a time as the index keeps it: UTC, always of the same length, so that it sorts as text."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _escaped(word: str) -> str:
    return word.replace("\\", r"\\").replace("%", r"\%").replace("_", r"\_")
