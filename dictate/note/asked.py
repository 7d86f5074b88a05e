"""What prompts are made from, and the few questions that all of them ask of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from dictate.contract import Exam, Finding, Section, SectionCoverage
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term
from dictate.note.prompt_texts import PromptTexts, prompt_texts


@dataclass(frozen=True, kw_only=True)
class Asked:
    """An exam as prompts see it. `terms` are the lexicon's entries of the findings, where they have one."""

    findings: Sequence[Finding]
    terms: Sequence[Term | None]
    exam: Exam
    sections: Sequence[SectionCoverage]
    lexicon: Lexicon
    age: float | None = None
    sex: str | None = None
    introduced: frozenset[str] = frozenset()
    introduced_late: frozenset[str] = frozenset()
    passed_over: int = 0
    unheard: Sequence[tuple[float, float]] = ()  # where sound is missing, in seconds
    unread: Sequence[tuple[str, tuple[int, ...]]] = ()  # words that no finding took, findings near them

    @cached_property
    def texts(self) -> PromptTexts:
        """The wordings."""
        return prompt_texts(self.lexicon)

    def examined(self) -> list[tuple[int, Finding]]:
        """Return the findings that were examined, each with its place in the note."""
        return [(index, finding) for index, finding in enumerate(self.findings) if finding.status != "not_examined"]


def section_name(section: Section) -> str:
    """Return a section's name in plain words."""
    return section.replace("_", " ")


def listed(names: Iterable[str]) -> str:
    """Return names as a list in a sentence, each once.

    >>> listed(["flexion", "extension", "flexion"])
    'flexion, extension'
    """
    return ", ".join(dict.fromkeys(names))


def named(finding: Finding) -> str:
    """Return what a finding is about, in a few words."""
    return f"{finding.structure} {finding.finding}" if finding.structure else finding.finding
