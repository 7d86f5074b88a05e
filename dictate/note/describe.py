"""Findings in plain words: the values as a clinician writes them."""

from __future__ import annotations

import re

from dictate.contract import DoubtReason, Finding, Grade, Measure, Replaced

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


# -- whole findings --------------------------------------------------------------------------------------------------

# Sections in which a finding without a side leaves the reader guessing.
_SIDED = frozenset({"palpation", "active_motion", "passive_motion", "resisted_motion", "special_tests", "measurement"})
_SPINE = frozenset({"cervical", "thoracic", "lumbar", "sacroiliac"})
_SEEN_AS: dict[DoubtReason, str] = {
    "heard_unclearly": "heard unclearly",
    "readings_disagree": "two readings",
    "sounds_like": "taken from words that sound like it",
    "out_of_range": "no joint does that",
    "wrong_region": "belongs to another region",
    "level_mismatch": "the level does not fit",
    "side_assumed": "side assumed",
    "side_conflict": "the side does not fit",
    "slip_repaired": "changed by a correction",
    "conflicts": "contradicts another finding",
    "incomplete": "incomplete",
}


def clock(seconds: float) -> str:
    """Return a place in a recording as minutes and seconds.

    >>> clock(162.4)
    '2:42'
    """
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


_SCOTTISH = re.compile(r"\bmc([a-z])(?=[a-z]{2})")  # labels are lower case; a reader expects McMurray


def finding_name(finding: Finding, region: str) -> str:
    """Return what a finding is about, its region named where it is not the one examined."""
    names = [finding.structure, finding.finding]
    if finding.structure and finding.finding in finding.structure:  # "patellar reflex" says "reflex" already
        names = [finding.structure]
    if finding.structure and finding.section == "special_tests":  # a test first, then what it spoke for
        names = [finding.finding, f"({finding.structure})"]
    if finding.region != region:
        names.insert(0, finding.region)
    return _SCOTTISH.sub(lambda found: f"Mc{found[1].upper()}", " ".join(name for name in names if name))


def side_text(finding: Finding) -> str:
    """Return the side, spelled out; that it was not said where a reader needs it."""
    if finding.side == "both":
        return "both sides"
    if finding.side is None:
        return "side not said" if finding.section in _SIDED and finding.region not in _SPINE else ""
    return finding.side


def value_words(finding: Finding) -> str:
    """Return all that was said of a finding but its side: "105° with pain, limited by stiffness (first said: 115)"."""
    words = _status_words(finding)
    if finding.degrees is not None:
        words.append(degrees_text(finding))
    if finding.measure is not None:
        words.append(measure_text(finding.measure))
    if finding.grade is not None:
        words.append(grade_text(finding.grade, finding=finding.finding))
    if finding.at_degrees is not None:
        words.append(f"at {number_text(finding.at_degrees)}°")
    if finding.end_feel:
        words.append(f"{finding.end_feel} end feel")
    if finding.with_:
        words.append(f"with {' and '.join(finding.with_)}")
    if finding.limited_by:
        words.append(f"limited by {' and '.join(finding.limited_by)}")
    text = ", ".join(words).replace(", at ", " at ").replace(", with ", " with ")
    return text + "".join(f" (first said: {_replaced(entry)})" for entry in finding.replaced)


def _status_words(finding: Finding) -> list[str]:
    """Return status and severity as one: a severity says already that the thing is there."""
    if finding.severity and finding.status in ("present", None):
        return [finding.severity]
    status = finding.status.replace("_", " ") if finding.status else None
    return [" ".join(word for word in (status, finding.severity and f"({finding.severity})") if word)] if status else []


def _replaced(entry: Replaced) -> str:
    value = entry.value
    return f"{value:g}" if isinstance(value, float) else str(value) if value is not None else entry.said


def doubt_text(finding: Finding) -> str:
    """Return why a person should look, what may have been meant, the words it came from, and where to hear them."""
    details: dict[DoubtReason, dict[str, None]] = {}  # a reason is named once, however many details it has
    for doubt in finding.doubts:
        details.setdefault(doubt.reason, {})[doubt.detail] = None
    reasons = "; ".join(f"{_SEEN_AS[reason]} ({'; '.join(several)})" for reason, several in details.items())
    suggestions = list(dict.fromkeys(doubt.suggestion for doubt in finding.doubts if doubt.suggestion))
    perhaps = f" Perhaps: {' or '.join(suggestions)}." if suggestions else ""
    place = f" at {clock(finding.time[0])}" if finding.time else ""
    side = f"{finding.side}: " if finding.side else ""
    return f"{side}{reasons}.{perhaps} Said{place}: {quoted(finding.said)}"


def quoted(words: str) -> str:
    """Return words in quotation marks."""
    return f"\N{LEFT DOUBLE QUOTATION MARK}{words}\N{RIGHT DOUBLE QUOTATION MARK}"
