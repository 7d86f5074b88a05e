"""The labels that a finding may be written with, for the form and to refuse misspelt ones."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from dictate.contract import Finding
from dictate.errors import DictateError
from dictate.lexicon.load import Lexicon

_OF_STRUCTURES = frozenset({"structure", "reflex", "pulse"})  # kinds whose label stands in `structure`
# Findings that the reader makes without a term of that name (docs/scribe.md).
_MADE = frozenset({
    "strength", "reflex", "reflexes", "pulse", "pulses", "range of motion", "sensation", "light touch", "pin prick",
    "neurological status", "vascular status", "pain", "girth", "palpation", "inspection",
})  # fmt: skip
_LEVEL = re.compile(r"[CTLS]\d{1,2}( (dermatome|myotome|level|.+))?")
_NEAR = 60


class UnknownLabel(DictateError):
    """A label that is in no lexicon."""


@dataclass(frozen=True)
class Labels:
    """All labels of a lexicon by the field that they stand in."""

    findings: tuple[str, ...]
    structures: tuple[str, ...]
    companions: tuple[str, ...]
    limiters: tuple[str, ...]
    end_feels: tuple[str, ...]
    scales: dict[str, tuple[str, ...]]  # name to values, in order

    @classmethod
    def of(cls, lexicon: Lexicon) -> Labels:
        """Return the labels of a lexicon."""
        structures = {term.label for term in lexicon.terms if term.kind in _OF_STRUCTURES}
        structures |= {label for term in lexicon.terms for label in term.places.values()}
        findings = {term.label for term in lexicon.terms if term.kind not in _OF_STRUCTURES} | _MADE
        scales = lexicon.reference["scales"].get("scale", [])
        return cls(
            findings=tuple(sorted(findings)),
            structures=tuple(sorted(structures)),
            companions=tuple(sorted({term.label for term in lexicon.terms if term.companion})),
            limiters=_values(lexicon, "limiter"),
            end_feels=_values(lexicon, "end_feel"),
            scales={scale["name"]: tuple(entry["value"] for entry in scale["values"]) for scale in scales},
        )

    def check(self, finding: Finding, *, also: Iterable[str] = ()) -> None:
        """Raise UnknownLabel for a name that nothing in the lexicon is called.

        Args:
            finding: as somebody wrote it.
            also: labels that are right because they stood there before.
        """
        known = set(also)
        if finding.finding not in self.findings and finding.finding not in known:
            raise UnknownLabel(_unknown("finding", finding.finding, self.findings))
        name = finding.structure
        if name and name not in self.structures and name not in known and not _LEVEL.fullmatch(name):
            raise UnknownLabel(_unknown("structure", name, self.structures))
        if finding.grade and finding.grade.scale not in self.scales and finding.grade.scale not in known:
            raise UnknownLabel(_unknown("scale", finding.grade.scale, tuple(self.scales)))


def _values(lexicon: Lexicon, kind: str) -> tuple[str, ...]:
    return tuple(sorted({cue.value for cue in lexicon.cues if cue.type == kind and cue.value}))


def _unknown(field: str, name: str, known: tuple[str, ...]) -> str:
    best = process.extractOne(name, known, scorer=fuzz.WRatio, score_cutoff=_NEAR)
    perhaps = f"; did you mean {best[0]!r}?" if best else "; choose one from the list"
    return f"{field}: the lexicon has no {name[:80]!r}{perhaps}"
