"""The note: the one shape that every way into the program ends in, and that every reader of it starts from."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

SCHEMA = 1

Region = Literal[
    "knee", "hip", "ankle", "foot", "shoulder", "elbow", "wrist", "hand", "cervical", "thoracic", "lumbar", "sacroiliac"
]
Side = Literal["left", "right", "both", "midline"]
OneSide = Literal["left", "right"]
OPPOSITE: dict[str, OneSide] = {"left": "right", "right": "left"}
Section = Literal[
    "introduction", "history", "inspection", "palpation", "active_motion", "passive_motion", "resisted_motion",
    "neurological", "vascular", "adjacent_joints", "referred_pain", "special_tests", "function", "measurement",
]  # fmt: skip
Status = Literal[
    "present", "absent", "normal", "reduced", "increased", "positive", "negative", "equivocal", "not_examined"
]
Severity = Literal["trace", "mild", "moderate", "severe"]
DoubtReason = Literal[
    "heard_unclearly", "readings_disagree", "sounds_like", "out_of_range", "wrong_region", "level_mismatch",
    "side_assumed", "side_conflict", "slip_repaired", "conflicts", "incomplete",
]  # fmt: skip
PromptKind = Literal["coverage", "order", "side", "plausibility", "safety", "decision_rule", "comparison"]
Coverage = Literal["done", "partial", "deferred", "skipped"]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", populate_by_name=True)


class Grade(_Shape):
    """A grade on a named scale; the value is text, as the scale writes it ("4-", "2+")."""

    scale: str
    value: str


class Measure(_Shape):
    """A length (cm, mm), a time (s) or a count (1)."""

    value: float
    unit: Literal["cm", "mm", "s", "1"]
    comparator: Literal["<", ">"] | None = None


class Doubt(_Shape):
    """Why a person should look at a finding; `suggestion` is what may have been meant, never applied by itself."""

    reason: DoubtReason
    detail: str
    suggestion: str | None = None


class Replaced(_Shape):
    """What a slip of the tongue first put into a field."""

    field: str
    value: str | float | None
    said: str


class Finding(_Shape):
    """One finding. Joint angles are degrees, neutral-zero: extension short of neutral is negative."""

    section: Section
    region: Region
    side: Side | None = None
    structure: str | None = None
    finding: str
    status: Status | None = None
    degrees: float | None = None
    grade: Grade | None = None
    measure: Measure | None = None
    at_degrees: float | None = None
    severity: Severity | None = None
    end_feel: str | None = None
    limited_by: list[str] = Field(default_factory=list)
    with_: list[str] = Field(default_factory=list, alias="with")
    confidence: float = Field(default=1.0, ge=0, le=1)
    doubts: list[Doubt] = Field(default_factory=list)
    said: str = ""
    time: tuple[float, float] | None = None
    replaced: list[Replaced] = Field(default_factory=list)


class SectionCoverage(_Shape):
    """How much of one section of the exam plan was recorded."""

    section: Section
    coverage: Coverage
    sides: list[OneSide] = Field(default_factory=list)
    missing: list[str] = Field(default_factory=list)
    reason: str | None = None


class Prompt(_Shape):
    """What a person should think of; never a diagnosis. `findings` are indexes into the note's findings."""

    kind: PromptKind
    text: str
    source: str
    findings: list[int] = Field(default_factory=list)


class Exam(_Shape):
    """What the exam as a whole is about; `seconds` is the length of the recording."""

    region: Region
    injured_side: Literal["left", "right", "both"] | None = None
    source: Literal["text", "file", "live"] = "text"
    seconds: float | None = None


class Note(_Shape):
    """The whole note. `schema` changes only when its shape does."""

    schema_: int = Field(default=SCHEMA, alias="schema")
    exam: Exam
    findings: list[Finding] = Field(default_factory=list)
    sections: list[SectionCoverage] = Field(default_factory=list)
    prompts: list[Prompt] = Field(default_factory=list)

    def to_json(self, *, indent: int | None = 2) -> str:
        """Return the note as the contract's JSON."""
        return self.model_dump_json(by_alias=True, indent=indent)
