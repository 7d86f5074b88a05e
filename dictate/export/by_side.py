"""Findings as rows with a column for each side: what a reader compares at a glance."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from dictate.contract import Finding, Note, Section
from dictate.note.describe import doubt_text, finding_name, side_text, value_words
from dictate.note.text import MARK


@dataclass(slots=True)
class SideRow:
    """One thing that was examined. `other` has what belongs to neither side, or whose side was not said."""

    name: str
    right: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    other: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)

    def add(self, finding: Finding) -> None:
        """Put a finding into the columns of its side; one of both sides stands in both."""
        value = (value_words(finding) or "recorded, without a result") + (f" {MARK}" if finding.doubts else "")
        if finding.side in ("right", "both"):
            self.right.append(value)
        if finding.side in ("left", "both"):
            self.left.append(value)
        if finding.side in (None, "midline"):
            side = side_text(finding)
            self.other.append(f"{side}: {value}" if side else value)
        doubt = doubt_text(finding) if finding.doubts else ""
        if doubt and doubt not in self.doubts:
            self.doubts.append(doubt)


def rows_by_side(note: Note, sections: Iterable[Section]) -> list[tuple[Section, Sequence[SideRow]]]:
    """Return the rows of each section that has findings, in the order given."""
    result: list[tuple[Section, Sequence[SideRow]]] = []
    for section in sections:
        rows: dict[str, SideRow] = {}
        for finding in note.findings:
            if finding.section == section:
                name = finding_name(finding, note.exam.region)
                rows.setdefault(name, SideRow(name[:1].upper() + name[1:])).add(finding)
        if rows:
            result.append((section, list(rows.values())))
    return result
