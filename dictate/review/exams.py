"""The exams that there are to review: what may be asked of their list, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, Protocol

from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Region, Side

AT_ONCE = 50  # exams shown in one part of the list
State = Literal["to_sign", "to_check", "signed", "changed", "unfinished", "damaged"]


class Wanted(BaseModel):
    """Which exams are looked for, the newest first; what is not given does not matter.

    `text` are words of one finding, or how they begin; `side` and `region` are then of that finding. `after` is the
    last exam that was shown: the list goes on behind it.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    text: str | None = Field(default=None, max_length=400)
    since: date | None = None
    until: date | None = None
    region: Region | None = None
    side: Side | None = None
    patient: str | None = Field(default=None, max_length=40)
    state: State | None = None
    after: str | None = Field(default=None, max_length=40)


@dataclass(frozen=True, slots=True)
class Listed:
    """One exam in a list. `trouble` says why it cannot be read whole; the rest is then what could be read."""

    exam: str
    opened_at: datetime
    region: str | None = None
    patient: str | None = None
    decisions: int = 0
    closed: bool = False
    signed_by: str | None = None
    trouble: str | None = None
    doubts: int = 0  # findings still to check
    changed: bool = False  # since it was signed, no addendum yet
    matches: tuple[str, ...] = ()  # findings that were looked for by their words


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the list: `further` older exams are like that as well, `sealed` ones are not listed at all."""

    exams: tuple[Listed, ...] = ()
    further: int = 0
    sealed: int = 0


class ExamList(Protocol):
    """Whatever knows which exams there are."""

    def part(self, wanted: Wanted) -> Part:
        """Return the newest exams of those that are wanted, `AT_ONCE` at most."""

    def corrected(self) -> list[str]:
        """Return the ids of the exams in which a person put a name right."""
