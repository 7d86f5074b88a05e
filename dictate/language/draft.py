"""A finding in the making: what one frame says, before the running context fills in side, section and region."""

from __future__ import annotations

from dataclasses import dataclass, field

from dictate.contract import DoubtReason, Grade, Measure, Region, Replaced, Section, Severity, Status
from dictate.lexicon.model import Term


@dataclass(frozen=True, slots=True)
class Relative:
    """A value said by comparison: `amount` less or more than what was found on `side`."""

    amount: float
    less: bool
    side: str
    of_the_other: bool = True  # "less than the left"; else `side` is the one that is less ("less on the left")


@dataclass(kw_only=True)
class Draft:
    """One finding as a frame states it. `side` as said: left, right, both, midline, injured, uninjured, other."""

    finding: str
    kind: str
    term: Term | None = None
    structure: str | None = None
    structure_term: Term | None = None
    modality: Section | None = None
    section: Section | None = None
    region: Region | None = None
    side: str = ""
    side_said: bool = False
    status: Status | None = None
    degrees: float | None = None
    grade: Grade | None = None
    measure: Measure | None = None
    at_degrees: float | None = None
    severity: Severity | None = None
    end_feel: str | None = None
    limited_by: list[str] = field(default_factory=list)
    with_: list[str] = field(default_factory=list)
    doubts: list[tuple[DoubtReason, str, str | None]] = field(default_factory=list)
    replaced: list[Replaced] = field(default_factory=list)
    relative: Relative | None = None
    levels: tuple[str, ...] = ()  # levels said beside a reflex, muscle or area
    reach: bool = False  # how far up the back a hand reaches: the level stands in `structure`
    adjective: bool = False  # said as an adjective ("pain free"), not as a noun ("no pain")
    start: int = 0
    end: int = 0

    def has_value(self) -> bool:
        """Whether anything at all was said of it."""
        return (
            bool(
                self.status
                or self.grade
                or self.measure
                or self.limited_by
                or self.with_
                or self.end_feel
                or self.relative
            )
            or self.degrees is not None
            or self.reach
        )
