"""The closed format of the reference files in lexicon/common: spinal levels, grading scales, rules, red flags."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from pydantic import BaseModel, Field, ValidationError, field_validator, model_validator

from dictate.contract import OneSide, Region, Section, Severity, Status
from dictate.errors import LexiconError
from dictate.lexicon.model import _Closed

_Model = TypeVar("_Model", bound=BaseModel)


def _listed(value: object) -> object:
    """Let data write one value where a list is meant."""
    return (value,) if isinstance(value, str) else value


class Level(_Closed):
    """What the references give one spinal level. A level is doubted only outside everything that is listed here."""

    name: str = Field(pattern=r"^[CTLS]\d{1,2}$")
    key_muscle: str | None = None  # of the neurological classification of spinal cord injury
    myotome: tuple[str, ...] = ()  # movement and muscle labels, all traditions together
    key_point: str | None = None
    areas: tuple[str, ...] = ()  # structure labels whose skin at least one chart gives it
    reflexes: tuple[str, ...] = ()  # reflex labels, all traditions together
    nerves: str | None = None
    source: str


class LevelsFile(_Closed):
    """`levels.toml`."""

    level: tuple[Level, ...]

    def giving(self, label: str) -> tuple[str, ...]:
        """Return the levels that at least one tradition gives a reflex, muscle, movement or area; empty: not listed."""
        return tuple(entry.name for entry in self.level if label in (*entry.myotome, *entry.areas, *entry.reflexes))


class ScaleValue(_Closed):
    """One value that may be said on a scale; `status` only where every user of the scale means the same by it."""

    value: str
    meaning: str
    status: Literal["absent", "normal", "reduced", "increased"] | None = None
    ask: bool = False  # rare enough on this scale to be asked about


class Scale(_Closed):
    """A grading scale under the name that `grade.scale` stores."""

    name: str
    of: str
    values: tuple[ScaleValue, ...]
    variants: tuple[str, ...] = ()  # other scales that go by the same name, which no number tells apart
    note: str | None = None
    source: str

    def value(self, text: str) -> ScaleValue | None:
        """Return the entry of a value as the note writes it ("4-"), or None when the scale has no such value."""
        return next((entry for entry in self.values if entry.value == text), None)


class ScalesFile(_Closed):
    """`scales.toml`."""

    scale: tuple[Scale, ...]

    def named(self, name: str) -> Scale | None:
        """Return a scale by the name that the note stores."""
        return next((scale for scale in self.scale if scale.name == name), None)


class Match(_Closed):
    """A pattern over one finding; a key that is left out matches anything, except `region`.

    Without `region` the finding must be of the region examined or of a region of the rule; "any" matches every region.
    """

    finding: tuple[str, ...]
    structure: tuple[str, ...] = ()
    status: tuple[Status, ...] = ()
    region: tuple[Region | Literal["any"], ...] = ()
    section: tuple[Section, ...] = ()
    severity: tuple[Severity, ...] = ()
    grade: tuple[str, ...] = ()  # values, on whichever scale
    scale: str | None = None
    degrees_below: float | None = None
    degrees_from: float | None = None
    at_degrees: float | None = None
    comes_with: tuple[str, ...] = ()  # any of these in the finding's `with`
    limited_by: tuple[str, ...] = ()  # any of these
    end_feel: tuple[str, ...] = ()

    _lists = field_validator(
        "finding", "structure", "status", "region", "section", "severity", "grade", "comes_with", "limited_by",
        "end_feel", mode="before",
    )(_listed)  # fmt: skip


class Criterion(_Closed):
    """One criterion of a rule: met, not met, or (nothing recorded that decides it) not known."""

    label: str
    met_by: tuple[Match, ...] = ()
    not_met_by: tuple[Match, ...] = ()
    age_from: float | None = None  # years; met at this age and above
    age_below: float | None = None  # years; met below this age
    asked: bool = False  # only the history tells: always not known from the findings

    @model_validator(mode="after")
    def _can_be_decided(self) -> Criterion:
        aged = self.age_from is not None or self.age_below is not None
        if self.asked == bool(self.met_by or aged):
            raise ValueError(f"criterion {self.label!r} needs met_by, an age, or asked = true (and not both)")
        return self


class Way(_Closed):
    """One way to meet a rule: at least so many of these criteria (of all, when none are named)."""

    at_least: int = Field(ge=1)
    of: tuple[str, ...] = ()


class Rule(_Closed):
    """A decision rule or cluster of tests, shown when the exam recorded enough to apply it."""

    name: str
    regions: tuple[Region, ...]
    criterion: tuple[Criterion, ...]
    ways: tuple[Way, ...]
    needs: tuple[str, ...] = ()  # criteria that must be known and met beside a way ("malleolar pain and any of …")
    recorded: int = Field(default=1, ge=1)  # this many criteria decided by findings (an age alone shows nothing)
    same_side: bool = False
    text: str  # shown when it is met
    text_not_met: str | None = None  # shown when it is decided and not met; None: nothing is shown
    by_count: dict[str, str] = Field(default_factory=dict)  # number of criteria met -> published figures
    cautions: tuple[str, ...] = ()
    source: str

    @model_validator(mode="after")
    def _names_its_criteria(self) -> Rule:
        known = {criterion.label for criterion in self.criterion}
        named = {label for way in self.ways for label in way.of} | set(self.needs)
        if named - known:
            raise ValueError(f"rule {self.name!r} names criteria that it does not have: {sorted(named - known)}")
        return self


class RulesFile(_Closed):
    """`rules.toml`."""

    rule: tuple[Rule, ...]


class Group(_Closed):
    """Things recorded of which any one counts; with a `side`, only on that side (a finding of both is on each)."""

    any_of: tuple[Match, ...]
    side: OneSide | None = None


class RedFlag(_Closed):
    """Things that, recorded together, ask a person to think of something that cannot wait."""

    name: str
    regions: tuple[Region, ...] = ()  # of the exam; empty: every region
    groups: tuple[Group, ...]
    at_least: int | None = None  # of the groups; None: every group
    age_from: float | None = None  # years, both ends included; a flag with an age waits until the age is known
    age_to: float | None = None
    same_side: bool = False
    text: str  # "Think of …"
    cautions: tuple[str, ...] = ()
    source: str


class RedFlagsFile(_Closed):
    """`red_flags.toml`."""

    flag: tuple[RedFlag, ...]


@dataclass(frozen=True)
class Reference:
    """The reference files as typed data."""

    levels: LevelsFile
    scales: ScalesFile
    rules: tuple[Rule, ...]
    red_flags: tuple[RedFlag, ...]


def reference_of(content: Mapping[str, Mapping[str, Any]]) -> Reference:
    """Return the reference data of a lexicon (`Lexicon.reference`), every key checked.

    Raises:
        LexiconError: a key or value that the format does not know; the text names file and place.
    """
    return Reference(
        levels=checked_file(LevelsFile, content, "levels"),
        scales=checked_file(ScalesFile, content, "scales"),
        rules=checked_file(RulesFile, content, "rules").rule,
        red_flags=checked_file(RedFlagsFile, content, "red_flags").flag,
    )


def checked_file(model: type[_Model], content: Mapping[str, Mapping[str, Any]], name: str) -> _Model:
    """Return one file of lexicon/common as its model. Raises LexiconError if it is missing or against its format."""
    if name not in content:
        raise LexiconError(f"lexicon/common/{name}.toml is missing; restore it")
    try:
        return model.model_validate(content[name])
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise LexiconError(f"lexicon/common/{name}.toml: {where}: {first['msg']}") from error
