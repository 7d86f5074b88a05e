"""Findings and doubts as the page shows them."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.contract import Finding
from dictate.note.describe import finding_name, side_text, value_words
from dictate.review.queue import REASONS

FIELD_WORDS = {
    "side": "side", "degrees": "angle", "grade": "grade", "measure": "measure", "at_degrees": "position",
    "status": "result", "severity": "severity", "end_feel": "end feel", "structure": "structure",
    "finding": "finding", "section": "section", "region": "region", "limited_by": "limited by", "with_": "with",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Words:
    """A finding in plain words, in the three parts that a reader looks for."""

    name: str
    value: str
    side: str

    @property
    def line(self) -> str:
        """All of it on one line."""
        about = f"{self.name[:1].upper()}{self.name[1:]}"
        return ", ".join(part for part in (f"{about}: {self.value}" if self.value else about, self.side) if part)


def words_of_finding(finding: Finding, region: str) -> Words:
    """Return a finding in plain words; `region` is the one examined.

    >>> finding = Finding(section="active_motion", region="knee", side="right", finding="flexion", degrees=105)
    >>> words_of_finding(finding, "knee").line
    'Flexion: 105°, right'
    """
    return Words(finding_name(finding, region), value_words(finding), side_text(finding) or "")


def differences(one: Finding, other: Finding) -> list[str]:
    """Return the fields in which two findings differ, by name; what says where they came from does not count."""
    return [name for name in FIELD_WORDS if getattr(one, name) != getattr(other, name)]


def doubts_of(finding: Finding) -> list[dict[str, object]]:
    """Return the doubts for the page, each reason in plain words."""
    return [
        {
            "reason": doubt.reason,
            "words": REASONS[doubt.reason],
            "detail": doubt.detail,
            "suggestion": doubt.suggestion,
        }
        for doubt in finding.doubts
    ]
