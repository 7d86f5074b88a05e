"""The closed format of cue files: words that give terms their value, or that tell what kind of talk a clause is."""

from __future__ import annotations

from typing import Literal

from dictate.contract import Section
from dictate.lexicon.model import _Closed

CueType = Literal[
    "status",
    "negation",
    "nothing",
    "double",
    "hedge",
    "severity",
    "neutral",
    "side",
    "place",
    "modality",
    "end_feel_head",
    "end_feel",
    "limiter_head",
    "limiter_tail",
    "limiter",
    "with",
    "at",
    "position",
    "every",
    "rest",
    "except",
    "ellipsis",
    "but",
    "and",
    "compare",
    "lack",
    "over",
    "presence",
    "talk",
    "resume",
    "repair",
    "withdraw",
    "late",
    "late_target",
    "challenge",
    "filler",
    "own_hand",
    "pressing",
    "introduce",
    "pronoun",
]


class Cue(_Closed):
    """Wordings of one cue. `weak` forms count only with support from what stands around them.

    `verbs` and `objects` stand for every verb with every object behind it ("press" "the"), weak all of them.
    """

    type: CueType
    value: str | None = None
    forms: tuple[str, ...]
    heard_as: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()
    verbs: tuple[str, ...] = ()
    objects: tuple[str, ...] = ()
    scope: Literal["clause", "sentence"] | None = None
    strength: bool = False
    amount: bool = False
    faint: bool = False
    unable: bool = False
    symmetrical: bool = False


class SectionForms(_Closed):
    """How a section of the exam is announced."""

    section: Section
    forms: tuple[str, ...]
    heard_as: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()


class DeferForms(_Closed):
    """How a section or test is said to be left out."""

    forms: tuple[str, ...]
