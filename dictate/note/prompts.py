"""What a person should think of: order, comparison, sides, plausibility, coverage, rules and red flags. Never a diagnosis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term
from dictate.note.model import Exam, Finding, Prompt, SectionCoverage


@dataclass(frozen=True, kw_only=True)
class Asked:
    """All that prompts are made from."""

    findings: Sequence[Finding]
    terms: Sequence[Term | None]  # of each finding
    exam: Exam
    sections: Sequence[SectionCoverage]
    lexicon: Lexicon
    age: float | None = None
    sex: str | None = None
    introduced: frozenset[str] = frozenset()
    introduced_late: frozenset[str] = frozenset()


def prompts(asked: Asked) -> list[Prompt]:
    """Return the prompts."""
    return []
