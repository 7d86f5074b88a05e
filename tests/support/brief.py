"""Findings in one short line each, for tests of one way of saying something."""

from __future__ import annotations

from dictate.contract import Finding
from tests.support.reading import findings


def brief(finding: Finding) -> str:
    """Return side, structure, finding and values of a finding, as "right flexion 105"."""
    parts: list[object] = [finding.side, finding.structure, finding.finding, finding.status, finding.severity]
    if finding.degrees is not None:
        parts.append(f"{finding.degrees:g}")
    if finding.grade:
        parts.append(f"{finding.grade.scale} {finding.grade.value}")
    if finding.measure:
        parts.append(f"{finding.measure.comparator or ''}{finding.measure.value:g} {finding.measure.unit}")
    if finding.at_degrees is not None:
        parts.append(f"at {finding.at_degrees:g}")
    parts += [f"with {label}" for label in finding.with_] + [f"limited by {label}" for label in finding.limited_by]
    return " ".join(str(part) for part in parts if part is not None)


def said(text: str) -> list[str]:
    """Return what a text gives, in short."""
    return [brief(finding) for finding in findings(text)]


def doubts(text: str) -> list[list[str]]:
    """Return the reasons for doubt of each finding of a text."""
    return [[doubt.reason for doubt in finding.doubts] for finding in findings(text)]
