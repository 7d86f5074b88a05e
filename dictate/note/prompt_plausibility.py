"""Plausibility: values that occur but are unusual. What no joint does is a doubt of the finding, not a prompt."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.contract import Finding, Prompt
from dictate.note.asked import Asked, named
from dictate.note.describe import degrees_text, measure_text, number_text


def plausibility_prompts(asked: Asked) -> list[Prompt]:
    """Return the prompts about unusual values, in the order of the findings."""
    found: list[Prompt] = []
    for index, finding in asked.examined():
        found += [*_angle(asked, index, finding), *_measure(asked, index, finding), *_position(asked, index, finding)]
    return found


def _where(finding: Finding) -> str:
    return f"{finding.side} {named(finding)}" if finding.side else named(finding)


def _angle(asked: Asked, index: int, finding: Finding) -> Iterator[Prompt]:
    term = asked.terms[index]
    if finding.degrees is None or term is None or term.ask_deg is None or term.label != finding.finding:
        return
    if any(doubt.reason == "out_of_range" for doubt in finding.doubts) or not isinstance(term.ask_deg.value, tuple):
        return
    low, high = term.ask_deg.value
    if not low <= finding.degrees <= high:
        yield asked.texts.make(
            "unusual_angle", findings=[index], finding=_where(finding), degrees=degrees_text(finding),
            low=number_text(low), high=f"{number_text(high)}°", source=term.ask_deg.source,
        )  # fmt: skip


def _measure(asked: Asked, index: int, finding: Finding) -> Iterator[Prompt]:
    measure = finding.measure
    if measure is None:
        return
    limits = [
        entry for entry in asked.texts.measure_limit if entry.finding == finding.finding and entry.unit == measure.unit
    ]
    limit = next((entry for entry in limits if entry.fits(age=asked.age, sex=asked.sex)), None)
    if limit is None or measure.comparator == "<":
        return
    if measure.value > limit.above or (measure.comparator == ">" and measure.value >= limit.above):
        yield asked.texts.make(
            "unusual_measure", findings=[index], finding=_where(finding), measure=measure_text(measure),
            limit=f"{limit.above:g}", unit=limit.unit, whom=limit.whom, source=limit.source,
        )  # fmt: skip


def _position(asked: Asked, index: int, finding: Finding) -> Iterator[Prompt]:
    for position in asked.texts.position:
        fits = finding.region == position.region and finding.finding in position.findings
        if fits and finding.at_degrees is not None and finding.at_degrees < position.from_deg:
            yield asked.texts.make(
                "wrong_position", findings=[index], finding=_where(finding), at=f"{number_text(finding.at_degrees)}°",
                why=position.why, source=position.source,
            )  # fmt: skip
