"""Sides: what was recorded on one side only, and what was recorded without a side."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.contract import OPPOSITE, Finding, Prompt, Region, Section
from dictate.note.asked import Asked, listed, named, section_name

_COMPARED: tuple[Section, ...] = (
    "active_motion", "passive_motion", "resisted_motion", "neurological", "vascular", "special_tests", "measurement",
)  # fmt: skip
_SPINE: frozenset[Region] = frozenset({"cervical", "thoracic", "lumbar"})  # a finding there may well have no side
_MOST_NAMED = 6


def comparison_prompts(asked: Asked) -> list[Prompt]:
    """Return the prompts about sides."""
    return [*_without_side(asked), *_one_side(asked)]


def _without_side(asked: Asked) -> Iterator[Prompt]:
    if asked.exam.region in _SPINE:
        return
    sideless = [
        (index, finding) for index, finding in asked.examined()
        if finding.side is None and not _needs_none(asked, index, finding)
    ]  # fmt: skip
    if sideless:
        names = _named([finding for _, finding in sideless])
        yield asked.texts.make("no_side", findings=[index for index, _ in sideless], findings_named=names)
    sides = {finding.side for finding in asked.findings} & set(OPPOSITE)
    if asked.exam.injured_side is None and len(sides) == 2:
        yield asked.texts.make("injured_side_unknown")


def _needs_none(asked: Asked, index: int, finding: Finding) -> bool:
    """Gait and squat are of the whole person; so is whatever lies outside the limb examined."""
    term = asked.terms[index]
    return finding.region in _SPINE or (term is not None and term.sideless)


def _one_side(asked: Asked) -> Iterator[Prompt]:
    compared = [(i, f) for i, f in asked.examined() if f.section in _COMPARED]
    sides = {finding.side for _, finding in compared} - {None, "midline"}
    if len(sides) == 1 and sides <= set(OPPOSITE):
        indexes = [index for index, finding in compared if finding.side in sides]
        yield asked.texts.make("one_side_only", findings=indexes, side=next(iter(sides)))
        return
    for side in OPPOSITE:
        lacking = [
            (index, finding) for index, finding in compared
            if finding.side == side and not _compared(finding, [other for _, other in compared])
        ]  # fmt: skip
        if lacking:
            parts = [
                f"{section_name(section)} ({_named(found)})" for section in _COMPARED
                if (found := [finding for _, finding in lacking if finding.section == section])
            ]  # fmt: skip
            yield asked.texts.make(
                "one_side_of_some", findings=[index for index, _ in lacking], side=side, findings_named="; ".join(parts)
            )


def _compared(finding: Finding, others: list[Finding]) -> bool:
    """Whether the same was recorded of the other side. A test is compared whichever structure it spoke for."""
    sides = (OPPOSITE[str(finding.side)], "both")
    return any(
        other.side in sides
        and (other.section, other.finding, other.region) == (finding.section, finding.finding, finding.region)
        and (other.structure == finding.structure or finding.section == "special_tests")
        for other in others
    )


def _named(findings: list[Finding]) -> str:
    names = list(dict.fromkeys(named(finding) for finding in findings))
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return listed(names[:_MOST_NAMED]) + more
