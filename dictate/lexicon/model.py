"""The closed format of lexicon files: every key that a TOML file may hold, checked on load."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from dictate.contract import Region, Section, Side, Status

Kind = Literal["structure", "sign", "attribute", "movement", "test", "reflex", "pulse", "task", "measure"]


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Sourced(_Closed):
    """A number or a range of numbers with the place it is from."""

    value: float | tuple[float, float]
    source: str


class Accuracy(_Closed):
    """Published accuracy of a test, in percent."""

    sensitivity: float | None = None
    specificity: float | None = None
    of: str | None = None
    source: str


class Term(_Closed):
    """One thing that can be said, with the label under which the note stores it.

    `forms` are wordings (lower case; a possessive 's and a plural s are understood without saying). Which other keys
    make sense depends on `kind`; docs/lexicon.md has a worked example of each.
    """

    kind: Kind
    label: str
    forms: tuple[str, ...] = ()
    heard_as: tuple[str, ...] = ()  # mishearings: a match carries the doubt `sounds_like`
    regions: tuple[Region, ...] = ()  # empty: belongs to every region
    sections: tuple[Section, ...] = ()  # where it may stand; the first is the default
    side: Side | None = None  # `midline` for what lies there
    sideless: bool = False  # no side is taken from the context (gait, squat)
    # structure
    part: (
        Literal[
            "bone",
            "ligament",
            "tendon",
            "muscle",
            "joint",
            "bursa",
            "nerve",
            "artery",
            "meniscus",
            "fascia",
            "skin",
            "area",
        ]
        | None
    ) = None
    digit: str | None = None  # "great toe": movements said of it bear that name ("great toe extension")
    # sign and attribute: other shapes of the same thing
    adjectives: tuple[str, ...] = ()  # "tender", "swollen"
    verbs: tuple[str, ...] = ()  # "hurts", "clicks"
    absent_forms: tuple[str, ...] = ()  # "non-tender"
    adjectives_heard_as: tuple[str, ...] = ()  # mishearings of those two, doubted like `heard_as`
    absent_heard_as: tuple[str, ...] = ()
    normal_forms: tuple[str, ...] = ()  # "walks normally"
    reduced_forms: tuple[str, ...] = ()
    increased_forms: tuple[str, ...] = ()
    companion: bool = False  # a sign that can come along with a movement, test or task: written to its `with`
    needs_support: bool = False  # its bare name makes no finding without an amount, a verb or a status ("valgus")
    # movement
    verbs_to: tuple[str, ...] = ()  # "flexes to", "bends to": a number follows
    asked_forms: tuple[str, ...] = ()  # how a patient is asked to do it: announces the movement, states nothing
    reaches: tuple[str, ...] = ()  # structures that its end is told by, beside the spinal levels (hand behind the back)
    lack_forms: tuple[str, ...] = ()  # "lacks", "short of full extension": the number is short of neutral
    over_forms: tuple[str, ...] = ()  # "hyperextends": the number is beyond neutral
    signed: bool = False  # extension of knee and elbow: short of neutral is negative
    typical_deg: Sourced | None = None
    ask_deg: Sourced | None = None  # outside: a plausibility prompt
    plausible_deg: Sourced | None = None  # outside: the doubt `out_of_range`
    # test
    positive_forms: tuple[str, ...] = ()  # "opens up"
    negative_forms: tuple[str, ...] = ()  # "stable", "firm end point"
    places: dict[str, str] = Field(default_factory=dict)  # "medial" -> structure label "medial meniscus"
    usual_at_deg: tuple[float, ...] = ()  # angles that are a position of the test, not a result
    angle_is_result: bool = False  # straight leg raise
    tissue: str | None = None
    positive_is: str | None = None
    accuracy: tuple[Accuracy, ...] = ()
    caution: str | None = None
    # scales, levels, measures
    stands_for: tuple[str, ...] = ()  # "joint lines": the labels of the terms of this kind that it names together
    said_of: dict[str, Status] = Field(default_factory=dict)  # words that mean something else of this ("brisk" refill)
    scale: str | None = None  # scale of a bare grade said of it
    levels: tuple[str, ...] = ()  # levels that at least one tradition gives it
    level_source: str | None = None
    units: tuple[Literal["cm", "mm", "s", "1"], ...] = ()
    plausible_measure: Sourced | None = None
    source: str | None = None

    @model_validator(mode="after")
    def _has_a_way_to_be_said(self) -> Term:
        if not (self.forms or self.adjectives or self.verbs or self.verbs_to or self.absent_forms or self.normal_forms):
            raise ValueError(f"{self.kind} {self.label!r} has no forms: nobody could say it")
        return self


class PlanItem(_Closed):
    """One thing that a section of the plan asks for: recorded if any finding matches one of `any_of`.

    Each entry of `any_of` is "finding", "finding @ structure" or "@ structure" (labels).
    """

    label: str
    any_of: tuple[str, ...]
    both_sides: bool = False


class PlanSection(_Closed):
    """One section of a region's exam plan."""

    section: Section
    items: tuple[PlanItem, ...] = ()
    source: str = "common practice"


class RegionFile(_Closed):
    """A region: its names, what full range means there, its neighbours, and its exam plan in order."""

    region: Region
    forms: tuple[str, ...]
    full_range: tuple[str, ...] = ()  # movements that "full range" stands for; empty: `range of motion`
    neighbours: tuple[Region, ...] = ()
    belongs_to: tuple[Region, ...] = ()  # regions examined as one with it (foot with ankle)
    unpaired: bool = False  # a joint of the trunk: its range has no side unless one is said
    midline: bool = False  # some of its structures lie in the midline
    levels: tuple[str, ...] = ()  # spinal levels whose dermatomes and myotomes are examined with it
    plan: tuple[PlanSection, ...] = ()
