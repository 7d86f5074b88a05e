"""Findings in plain words: the values as a clinician writes them."""

from __future__ import annotations

from dictate.note.model import Finding, Grade, Measure

_SELF_NAMING = frozenset({"MRC"})  # scales that are named before the value
_OUT_OF = {"MRC": "5", "pain": "10"}
# Scales that are plain from what is graded: an effusion of 1+ needs no name, a Lachman of 2 does.
_PLAIN_FOR = {"reflex": "reflex", "pulse": "pulse", "effusion": "effusion", "tenderness": "tenderness", "pain": "pain"}


def number_text(value: float) -> str:
    """Return a number without needless decimals, with a true minus sign."""
    return f"{value:g}".replace("-", "\N{MINUS SIGN}")


def degrees_text(finding: Finding) -> str:
    """Return the joint angle; a hyperextension carries its plus sign, as an angle short of neutral its minus."""
    if finding.degrees is None:
        return ""
    sign = "+" if finding.finding == "extension" and finding.degrees > 0 else ""
    return f"{sign}{number_text(finding.degrees)}°"


def grade_text(grade: Grade, *, finding: str = "") -> str:
    """Return a grade, its scale named unless what is graded makes it plain.

    >>> grade_text(Grade(scale="MRC", value="4-"))
    'MRC 4-/5'
    >>> grade_text(Grade(scale="effusion", value="1+"), finding="effusion")
    '1+'
    >>> grade_text(Grade(scale="laxity", value="2"), finding="lachman test")
    'laxity grade 2'
    """
    out_of = f"/{_OUT_OF[grade.scale]}" if grade.scale in _OUT_OF else ""
    if grade.scale in _SELF_NAMING:
        return f"{grade.scale} {grade.value}{out_of}"
    if _PLAIN_FOR.get(grade.scale) == finding:
        return f"{grade.value}{out_of}"
    return f"{grade.scale} grade {grade.value}{out_of}"


def measure_text(measure: Measure) -> str:
    """Return a length, time or count with its unit."""
    unit = "" if measure.unit == "1" else f" {measure.unit}"
    comparator = f"{measure.comparator} " if measure.comparator else ""
    return f"{comparator}{measure.value:g}{unit}"


def value_text(finding: Finding, field: str) -> str:
    """Return one field of a finding in plain words, for a doubt's detail or suggestion."""
    value = getattr(finding, field)
    if value is None:
        return "not said"
    if field in ("degrees", "at_degrees"):
        return f"{value:g}"
    if isinstance(value, Grade):
        return grade_text(value, finding=finding.finding)
    if isinstance(value, Measure):
        return measure_text(value)
    return str(value).replace("_", " ")
