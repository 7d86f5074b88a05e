"""What of the region's exam plan was recorded: one line for each of its sections, in the plan's order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

from dictate.contract import Coverage, Finding, OneSide, Region, Section, SectionCoverage
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import PlanItem, PlanSection, RegionFile

SIDES: tuple[OneSide, OneSide] = ("left", "right")
# Sections of an exam that look beyond its region, or at the whole limb.
BEYOND: frozenset[Section] = frozenset({"adjacent_joints", "referred_pain", "neurological", "vascular"})
# What the same thing is called wherever it is recorded: an effusion seen at inspection need not be asked for again. A
# flexion or a strength is another thing in each of its sections, and so are the sections beyond the region.
_INTERCHANGEABLE: frozenset[Section] = frozenset(
    {"inspection", "palpation", "special_tests", "function", "measurement"}
)


@dataclass(frozen=True)
class Told:
    """What was said of the exam itself, beside the findings."""

    deferred: Mapping[Section, str | None] = field(default_factory=dict)
    introduced: frozenset[str] = frozenset()
    visited: frozenset[Section] = frozenset()


def coverage(findings: Sequence[Finding], *, region: Region, lexicon: Lexicon, told: Told) -> list[SectionCoverage]:
    """Return how much of each section of the region's plan was recorded; nothing for a region without a plan."""
    plan = lexicon.regions.get(region)
    if plan is None:
        return []
    mine = [finding for finding in findings if _belongs(finding, plan)]
    return [_section(section, mine, lexicon, told) for section in plan.plan]


def _belongs(finding: Finding, plan: RegionFile) -> bool:
    return finding.section in BEYOND or finding.region in (plan.region, *plan.belongs_to)


def _section(plan: PlanSection, findings: Sequence[Finding], lexicon: Lexicon, told: Told) -> SectionCoverage:
    section = plan.section
    if section == "introduction":
        return _introduction(lexicon, told)
    examined = [f for f in findings if f.section == section and f.status != "not_examined"]
    spoken_of = section in told.visited or any(f.section == section for f in findings)  # tests left out among them
    elsewhere = [f for f in findings if f.status != "not_examined" and {f.section, section} <= _INTERCHANGEABLE]
    missing = [text for item in plan.items if (text := _missing(item, examined + elsewhere)) is not None]
    reason = told.deferred.get(section)
    state: Coverage
    if not examined and section in told.deferred:
        state = "deferred"
    elif not examined and not spoken_of:
        state = "skipped"
    else:
        state = "partial" if missing else "done"
    return SectionCoverage(section=section, coverage=state, sides=_sides(examined), missing=missing, reason=reason)


def _introduction(lexicon: Lexicon, told: Told) -> SectionCoverage:
    """The introduction leaves no findings: it is covered by what the examiner was heard to say."""
    asked = list(dict.fromkeys(cue.value for cue in lexicon.cues if cue.type == "introduce" and cue.value))
    missing = [part for part in asked if part not in told.introduced]
    state: Coverage = "done" if not missing else "partial"
    if len(missing) == len(asked):
        state = "deferred" if "introduction" in told.deferred else "skipped"
        if state == "skipped" and "introduction" in told.visited:
            state = "partial"
    return SectionCoverage(
        section="introduction", coverage=state, missing=missing, reason=told.deferred.get("introduction")
    )


def _missing(item: PlanItem, findings: Iterable[Finding]) -> str | None:
    """Return the label of a plan item that was not recorded, with the side that lacks it; None when it was."""
    found = [finding for finding in findings if any(fits(pattern, finding) for pattern in item.any_of)]
    if not found:
        return item.label
    if not item.both_sides or any(finding.side in ("both", "midline") for finding in found):
        return None
    sides = _sides(found)
    if not sides:
        return f"{item.label} (side not said)"
    lacking = [side for side in SIDES if side not in sides]
    return f"{item.label} ({lacking[0]})" if lacking else None


def fits(pattern: str, finding: Finding) -> bool:
    """Whether a finding is what a plan asks for: "finding", "finding @ structure" or "@ structure".

    >>> fits("@ patella", Finding(section="palpation", region="knee", finding="tenderness", structure="patella"))
    True
    """
    name, structure = _parts(pattern)
    return (not name or finding.finding == name) and (not structure or finding.structure == structure)


@cache
def _parts(pattern: str) -> tuple[str, str]:
    name, _, structure = pattern.partition("@")
    return name.strip(), structure.strip()


def _sides(findings: Iterable[Finding]) -> list[OneSide]:
    named = {finding.side for finding in findings}
    return [side for side in SIDES if side in named or "both" in named]
