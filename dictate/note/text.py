"""The note as a clinical text that the examiner can read, check and sign."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import get_args

from dictate.contract import Coverage, Exam, Finding, Note, Section, SectionCoverage
from dictate.note.describe import clock, doubt_text, finding_name, quoted, side_text, value_words

CAUTION = "Draft from speech; to be checked and signed by the examiner. Not a diagnosis."
MARK = "[?]"  # stands beside every value that a person should look at
_WIDTH = 100
_PLAIN = ("absent", "normal", "negative", "present", "positive", "not_examined")
_COVERAGE: tuple[tuple[Coverage, str], ...] = (
    ("done", "Complete"), ("partial", "In part"), ("deferred", "Left out, as said"), ("skipped", "Not mentioned"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a section, unwrapped, with the doubts that stand below it."""

    text: str
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """One section of the exam with what was found."""

    section: Section
    title: str
    lines: tuple[Line, ...]


def text_of(
    note: Note, *, about: Sequence[str] = (), closing: Sequence[str] = (CAUTION,), signed: bool = False
) -> str:  # fmt: skip
    """Return the note as plain text, in the order of the exam; doubts stand where they belong, gaps at the end.

    Args:
        note: what was found.
        about: further lines below the title (whose exam it is, and when it was).
        closing: the last lines.
        signed: whether a person signed it, so that its doubts are no longer to be checked before that.
    """
    title, *head = head_lines(note, signed=signed)
    lines = [title, *about, *head]
    for part in parts_of(note):
        lines += ["", part.title]
        for line in part.lines:
            lines += _wrapped(line.text, indent=2)
            for doubt in line.doubts:
                lines += _wrapped(f"{MARK} {doubt}", indent=6)
    if not note.findings:
        lines += ["", "No findings were recorded."]
    coverage = [_wrapped(line, indent=2) for line in coverage_lines(note)]
    lines += ["", "Coverage of the exam plan", *(line for wrapped in coverage for line in wrapped)] if coverage else []
    if note.prompts:
        lines += ["", "To think of"]
        for prompt in note.prompts:
            lines += _wrapped(f"- {prompt.text} ({prompt.source})", indent=2)
    return "\n".join([*lines, "", *closing, ""])


def head_lines(note: Note, *, signed: bool = False) -> list[str]:
    """Return the title, the injured side, the length of the recording, and how much there is to check, or was left."""
    exam = note.exam
    injured = {"both": "both sides", None: "not said"}.get(exam.injured_side, exam.injured_side)
    lines = [f"{exam.region.capitalize()} examination", f"Injured side: {injured}"]
    if exam.seconds is not None:
        lines.append(f"Recording: {clock(exam.seconds)} min")
    doubtful = sum(1 for finding in note.findings if finding.doubts)
    if doubtful:
        what = "Signed with doubts left" if signed else "To check before signing"
        lines.append(f"{what}: {doubtful} of {len(note.findings)} findings, marked {MARK}")
    return lines


def parts_of(note: Note) -> list[Part]:
    """Return the sections that something was found in, in the order of the exam."""
    parts = []
    for section in section_order(note):
        findings = [finding for finding in note.findings if finding.section == section]
        if findings:
            parts.append(Part(section, section_title(section), tuple(_lines(findings, note.exam))))
    return parts


def section_order(note: Note) -> list[Section]:
    """Return the sections in the plan's order, then those that the plan does not list."""
    planned = [part.section for part in note.sections]
    every: tuple[Section, ...] = get_args(Section)
    return [*planned, *(section for section in every if section not in planned)]


def section_title(section: Section) -> str:
    """Return the name of a section as a heading."""
    return section.replace("_", " ").capitalize()


# -- findings --------------------------------------------------------------------------------------------------------


def _lines(findings: Sequence[Finding], exam: Exam) -> Iterator[Line]:
    """Yield the lines of one section: what is alike on one line, the sides of one thing on one line."""
    alike = Counter(_status_key(finding) for finding in findings if _is_plain(finding))
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        listed = _is_plain(finding) and alike[_status_key(finding)] > 1
        key = _status_key(finding) if listed else ("thing", finding_name(finding, exam.region))
        groups.setdefault(key, []).append(finding)
    for key, group in groups.items():
        text = _of_one_thing(group, exam) if key[0] == "thing" else _of_one_status(group, exam)
        doubts = dict.fromkeys(doubt_text(finding) for finding in group if finding.doubts)
        yield Line(text[:1].upper() + text[1:], tuple(doubts))


def _of_one_thing(group: Sequence[Finding], exam: Exam) -> str:
    """Return "Flexion: left 140°; right 110°"; each value that is doubted carries its mark."""
    sides: dict[str, list[str]] = {}
    for finding in group:
        mark = f" {MARK}" if finding.doubts else ""
        sides.setdefault(side_text(finding), []).append(value_words(finding) + mark)
    values = "; ".join(f"{side} {', '.join(words)}".strip() for side, words in sides.items())
    return f"{finding_name(group[0], exam.region)}: {values}"


def _of_one_status(group: Sequence[Finding], exam: Exam) -> str:
    """Return "Absent on the left: warmth, redness"; those of one group share their doubts, or have none."""
    mark = f" {MARK}" if group[0].doubts else ""
    names = ", ".join(dict.fromkeys(finding_name(finding, exam.region) for finding in group))
    return f"{_status(group[0])}{mark}: {names}"


def _status_key(finding: Finding) -> tuple[str, ...]:
    """Return what plain findings on one line share: side, status, and every word of their doubts."""
    return ("status", _status(finding), doubt_text(finding) if finding.doubts else "")


def _is_plain(finding: Finding) -> bool:
    """Whether nothing but a status was said."""
    said_more = (
        finding.degrees, finding.grade, finding.measure, finding.at_degrees, finding.severity, finding.end_feel,
    )  # fmt: skip
    return (
        finding.status in _PLAIN
        and all(value is None for value in said_more)
        and not (finding.limited_by or finding.with_ or finding.replaced)
    )


def _status(finding: Finding) -> str:
    side = {"left": "on the left", "right": "on the right", "both": "on both sides", "midline": "in the midline"}
    where = side.get(finding.side or "", side_text(finding))
    return f"{str(finding.status).replace('_', ' ')} {where}".strip()


# -- coverage --------------------------------------------------------------------------------------------------------


def coverage_lines(note: Note) -> list[str]:
    """Return how much of the exam plan was recorded, a line for each degree of it."""
    lines = []
    for state, title in _COVERAGE:
        parts = [_part(part) for part in note.sections if part.coverage == state]
        if parts:
            lines.append(f"{title}: {'; '.join(parts)}")
    return lines


def _part(part: SectionCoverage) -> str:
    name = part.section.replace("_", " ")
    notes = []
    if part.coverage == "partial" and part.missing:
        notes.append(f"without {', '.join(part.missing)}")
    if part.reason:
        notes.append(quoted(part.reason))
    return f"{name} ({'; '.join(notes)})" if notes else name


def _wrapped(text: str, *, indent: int) -> list[str]:
    first, later = " " * indent, " " * (indent + 2)
    return textwrap.wrap(text, _WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False)
