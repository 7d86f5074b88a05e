"""Prompts from decision rules and red flags: what was recorded together, held against the data of the lexicon.

A criterion is met, not met or not known. What nobody recorded is not known, and never counts as "no".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dictate.contract import Finding, Prompt
from dictate.lexicon.reference_model import Criterion, Match, RedFlag, Reference, Rule, Way

Indexed = tuple[int, Finding]
_BOTH_SIDES = (None, "both", "midline")


def prompts_from_rules(
    findings: Sequence[Finding], *, region: str, reference: Reference, age: float | None = None
) -> list[Prompt]:
    """Return the safety prompts, then the decision rules, that the findings of one exam give rise to.

    Args:
        findings: of the whole note; the prompts point into this list.
        region: the region that is examined.
        reference: the checked data of `rules.toml` and `red_flags.toml`.
        age: of the patient in years, None when unknown.
    """
    indexed = list(enumerate(findings))
    prompts: list[Prompt] = []
    for flag in reference.red_flags:
        if _applies(flag, region):
            prompts += _flagged(flag, indexed, region, age)
    for rule in reference.rules:
        if _applies(rule, region):
            prompts += _ruled(rule, indexed, region, age)
    return prompts


def _applies(entry: Rule | RedFlag, region: str) -> bool:
    return not entry.regions or region in entry.regions


# -- matching ------------------------------------------------------------------------------------------------------


def matches(match: Match, finding: Finding, *, regions: frozenset[str]) -> bool:
    """Whether a finding fits a pattern. `regions` are those that a pattern without a region accepts."""
    if finding.finding not in match.finding:  # first: it is what most findings of an exam do not fit
        return False
    if finding.status == "not_examined" and "not_examined" not in match.status:
        return False
    grade = finding.grade
    listed: tuple[tuple[Sequence[str], object], ...] = (
        (match.structure, finding.structure), (match.status, finding.status), (match.section, finding.section),
        (match.severity, finding.severity), (match.grade, grade.value if grade else None),
        (match.end_feel, finding.end_feel), ((match.scale,) if match.scale else (), grade.scale if grade else None),
    )  # fmt: skip
    return (
        all(not wanted or value in wanted for wanted, value in listed)
        and _region_fits(match, finding, regions)
        and _number_fits(match, finding)
        and (not match.comes_with or not set(match.comes_with).isdisjoint(finding.with_))
        and (not match.limited_by or not set(match.limited_by).isdisjoint(finding.limited_by))
    )


def _region_fits(match: Match, finding: Finding, regions: frozenset[str]) -> bool:
    return "any" in match.region or finding.region in (match.region or regions)


def _number_fits(match: Match, finding: Finding) -> bool:
    if match.at_degrees is not None and finding.at_degrees != match.at_degrees:
        return False
    if match.degrees_below is None and match.degrees_from is None:
        return True
    if finding.degrees is None:
        return False
    below = match.degrees_below is None or finding.degrees < match.degrees_below
    return below and (match.degrees_from is None or finding.degrees >= match.degrees_from)


def _found(patterns: Iterable[Match], findings: Iterable[Indexed], regions: frozenset[str]) -> list[int]:
    wanted = tuple(patterns)
    named = {name for match in wanted for name in match.finding}  # a set: most findings are called otherwise
    return [
        index for index, finding in findings
        if finding.finding in named and any(matches(match, finding, regions=regions) for match in wanted)
    ]  # fmt: skip


def _sides(patterns: Iterable[Match], findings: Sequence[Indexed], regions: frozenset[str]) -> list[str]:
    """Return the sides that any of the patterns found something on."""
    named = {findings[index][1].side for index in _found(patterns, findings, regions)}
    return [side for side in ("left", "right") if side in named or "both" in named]


def _on(side: str | None, findings: Sequence[Indexed]) -> list[Indexed]:
    """Return the findings of one side, with those of both or of no side; all of them when no side is asked for."""
    return [pair for pair in findings if side is None or pair[1].side == side or pair[1].side in _BOTH_SIDES]


def _certainly_on(side: str | None, findings: Sequence[Indexed]) -> Sequence[Indexed]:
    """Return the findings that were said to be on this side; all of them when no side is asked for."""
    return [pair for pair in findings if side is None or pair[1].side in (side, "both")]


# -- red flags -----------------------------------------------------------------------------------------------------


def _flagged(flag: RedFlag, findings: Sequence[Indexed], region: str, age: float | None) -> list[Prompt]:
    if not _of_age(flag, age):
        return []
    regions = frozenset((region, *flag.regions))
    patterns = [match for group in flag.groups for match in group.any_of]
    sides: list[str | None] = list(_sides(patterns, findings, regions)) if flag.same_side else []
    prompts: list[Prompt] = []
    for side in sides or [None]:
        here = _on(side, findings)
        found = [_found(group.any_of, _certainly_on(group.side, here), regions) for group in flag.groups]
        if sum(map(bool, found)) < (flag.at_least or len(flag.groups)):
            continue
        where = f" ({side})" if side else ""
        text = " ".join([f"{flag.name}{where}: {flag.text}", *flag.cautions])
        indexes = sorted({index for part in found for index in part})
        prompts.append(Prompt(kind="safety", text=text, source=flag.source, findings=indexes))
    return prompts


def _of_age(flag: RedFlag, age: float | None) -> bool:
    """Whether the age fits. A flag of childhood is not raised over a patient whose age nobody gave."""
    if flag.age_from is None and flag.age_to is None:
        return True
    return age is not None and (flag.age_from or 0) <= age <= (age if flag.age_to is None else flag.age_to)


# -- decision rules ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Answer:
    """What the exam says of one criterion: met True, False, or None for not known; which findings say so."""

    label: str
    met: bool | None
    findings: tuple[int, ...] = ()


def answer(criterion: Criterion, findings: Sequence[Indexed], *, regions: frozenset[str], age: float | None) -> Answer:
    """Return what is known of a criterion. One thing that meets it outweighs others that do not."""
    yes = _found(criterion.met_by, findings, regions)
    if yes:
        return Answer(criterion.label, True, tuple(yes))
    no = _found(criterion.not_met_by, findings, regions)
    if no:
        return Answer(criterion.label, False, tuple(no))
    if age is not None and criterion.age_from is not None:
        return Answer(criterion.label, age >= criterion.age_from)
    if age is not None and criterion.age_below is not None:
        return Answer(criterion.label, age < criterion.age_below)
    return Answer(criterion.label, None)


def decided(way: Way, answers: Sequence[Answer]) -> bool | None:
    """Return whether enough criteria are met; None while the unknown ones could still tip it."""
    asked = [entry for entry in answers if not way.of or entry.label in way.of]
    met = sum(entry.met is True for entry in asked)
    open_ones = sum(entry.met is None for entry in asked)
    if met >= way.at_least:
        return True
    return None if met + open_ones >= way.at_least else False


def outcome(rule: Rule, answers: Sequence[Answer]) -> bool | None:
    """Return whether a rule is met: every needed criterion, and any one of its ways; None when that is not known."""
    needed = [entry.met for entry in answers if entry.label in rule.needs]
    if False in needed:
        return False
    counted = [entry for entry in answers if entry.label not in rule.needs]
    ways = [decided(way, counted) for way in rule.ways]
    if True in ways:
        return None if None in needed else True
    return None if None in ways else False


def _ruled(rule: Rule, findings: Sequence[Indexed], region: str, age: float | None) -> list[Prompt]:
    regions = frozenset((region, *rule.regions))
    patterns = [match for criterion in rule.criterion for match in (*criterion.met_by, *criterion.not_met_by)]
    sides: list[str | None] = list(_sides(patterns, findings, regions)) if rule.same_side else []
    prompts: list[Prompt] = []
    for side in sides or [None]:
        here = _on(side, findings)
        answers = [answer(criterion, here, regions=regions, age=age) for criterion in rule.criterion]
        if sum(bool(entry.findings) for entry in answers) < rule.recorded:
            continue
        met = outcome(rule, answers)
        text = rule.text if met else rule.text_not_met
        if met is None or text is None:
            continue
        indexes = sorted({index for entry in answers for index in entry.findings})
        prompts.append(
            Prompt(kind="decision_rule", text=_text(rule, text, answers, side), source=rule.source, findings=indexes)
        )
    return prompts


def _text(rule: Rule, text: str, answers: Sequence[Answer], side: str | None) -> str:
    """Return the outcome with the criteria behind it, the published figures, and the cautions."""
    parts = [f"{rule.name}{f' ({side})' if side else ''}: {text}"]
    for heading, value in (("Met", True), ("Not met", False), ("Not known", None)):
        labels = [entry.label for entry in answers if entry.met is value]
        if labels:
            parts.append(f"{heading}: {'; '.join(labels)}.")
    figures = rule.by_count.get(str(sum(entry.met is True for entry in answers)))
    if figures:
        parts.append(figures)
    return " ".join([*parts, *rule.cautions])
