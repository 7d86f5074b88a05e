"""Doubts that only the whole list of findings can raise."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.contract import Doubt, Finding
from dictate.language.resolve import seen_and_felt

PASSIVE_BELOW_ACTIVE_DEG = 5.0  # project's choice: less than this is measurement error at any joint
# 2+ is normal on two of the three scales in use, 3+ on the other: they may mean the same (project's choice).
_PULSES_THAT_MAY_BE_EQUAL = frozenset({"2+", "3+"})


def checked(findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings with the doubts added that they raise about each other."""
    added: dict[int, Doubt] = {}
    contradicting = [(place, finding) for place, finding in enumerate(findings) if _contradicts(finding)]
    for place, finding in enumerate(findings):
        doubt = _passive_below_active(finding, findings) or _pulse_scale(finding, findings)
        doubt = doubt or _contradicted_later(place, finding, contradicting)
        if doubt and doubt.reason not in {own.reason for own in finding.doubts}:
            added[place] = doubt
    return [
        finding.model_copy(update={"doubts": [*finding.doubts, added[place]]}) if place in added else finding
        for place, finding in enumerate(findings)
    ]


_CONTRADICTS = " was said before"  # how the language room ends the doubt of the later of two


def _contradicts(finding: Finding) -> bool:
    return any(doubt.reason == "conflicts" and _CONTRADICTS in doubt.detail for doubt in finding.doubts)


def _contradicted_later(place: int, finding: Finding, contradicting: Sequence[tuple[int, Finding]]) -> Doubt | None:
    """What a later finding contradicts is as open as that one: nobody knows which of the two holds."""
    named = (finding.region, finding.structure, finding.finding, finding.at_degrees)
    for later, other in contradicting:
        like = later > place and named == (other.region, other.structure, other.finding, other.at_degrees)
        like = like and seen_and_felt(finding, other)
        meets = finding.side == other.side or "both" in (finding.side, other.side)
        if like and meets and finding != other:
            return Doubt(reason="conflicts", detail=f"contradicted later: {other.said}", suggestion=None)
    return None


def _passive_below_active(finding: Finding, findings: Sequence[Finding]) -> Doubt | None:
    """A joint that moves further by itself than when it is moved: one of the two was misread."""
    if finding.section != "passive_motion" or finding.degrees is None:
        return None
    for other in findings:
        if other.section != "active_motion" or other.degrees is None or other.at_degrees != finding.at_degrees:
            continue
        same = (other.region, other.side, other.structure, other.finding) == (
            finding.region, finding.side, finding.structure, finding.finding,
        )  # fmt: skip
        impossible = any(doubt.reason == "out_of_range" for doubt in other.doubts)  # then that one is at fault
        if same and not impossible and finding.degrees < other.degrees - PASSIVE_BELOW_ACTIVE_DEG:
            detail = f"passive {finding.degrees:g} degrees is less than active {other.degrees:g}"
            return Doubt(reason="conflicts", detail=detail, suggestion=None)
    return None


def _pulse_scale(finding: Finding, findings: Sequence[Finding]) -> Doubt | None:
    """2+ on one side and 3+ on the other: a difference, or two habits of grading a normal pulse."""
    grade = finding.grade
    if grade is None or grade.scale != "pulse" or finding.side not in ("left", "right"):
        return None
    for other in findings:
        opposite = other.side in ("left", "right") and other.side != finding.side
        if other.grade is None or other.grade.scale != "pulse" or other.structure != finding.structure or not opposite:
            continue
        if {grade.value, other.grade.value} == _PULSES_THAT_MAY_BE_EQUAL:
            detail = f"{grade.value} here, {other.grade.value} on the other side: scales differ in what is normal"
            return Doubt(reason="readings_disagree", detail=detail, suggestion=None)
    return None
