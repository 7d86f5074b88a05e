"""Give a draft what its frame did not say: region, section and side from the context, with a doubt where due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from dictate.contract import OPPOSITE, Doubt, DoubtReason, Finding, Region, Section, Side
from dictate.language.draft import Draft
from dictate.language.state import Context, Entry, Topic
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import RegionFile, Term

_OUTSIDE_ALLOWED = frozenset(
    {"adjacent_joints", "referred_pain", "neurological", "vascular", "resisted_motion", "function"}
)
# A passive angle this much below the active one contradicts it (degrees; the project's choice).
_PASSIVE_BELOW_ACTIVE_DEG = 5


@dataclass(frozen=True, slots=True)
class Sentence:
    """What the sentence around a draft says for all its frames: a leading side, a region named."""

    side: str = ""
    region: str = ""
    sides_named: frozenset[str] = frozenset()
    long: bool = False  # it has lost its punctuation
    topic: Topic | None = None  # what was named in it last


class Resolver:
    """Turns drafts into findings, by the lexicon."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._regions: Mapping[str, RegionFile] = lexicon.regions
        self._labels = {
            region: sorted({t.label for t in lexicon.terms if t.kind == "structure" and region in t.regions})
            for region in lexicon.regions
        }
        scales = lexicon.reference.get("scales", {}).get("scale", [])
        self._scales = {scale["name"]: frozenset(value["value"] for value in scale["values"]) for scale in scales}
        self._movements = {
            (term.label, region): term for term in lexicon.terms if term.kind == "movement" for region in term.regions
        }

    def near(self, region: str) -> frozenset[str]:
        """Return the regions that are examined together with this one, itself included."""
        group = {region}
        for name, entry in self._regions.items():
            if region in entry.belongs_to or name in self._belongs(region):
                group.add(name)
        return frozenset(group)

    def around(self, region: str) -> frozenset[str]:
        """Return the regions next to those that are examined together with this one."""
        near = self.near(region)
        entries = [self._regions[name] for name in near if name in self._regions]
        return frozenset(name for entry in entries for name in entry.neighbours) - near

    def _belongs(self, region: str) -> tuple[str, ...]:
        entry = self._regions.get(region)
        return entry.belongs_to if entry else ()

    def full_range(self, region: str) -> tuple[str, ...]:
        """Return the movements that "full range" stands for in a region."""
        entry = self._regions.get(region)
        return entry.full_range if entry else ()

    def finding(
        self, draft: Draft, context: Context, sentence: Sentence, *, said: str, earlier: Sequence[Entry]
    ) -> tuple[Finding, Term | None]:
        """Return the finding of a draft and the term it rests on."""
        region = self._region(draft, context, sentence)
        term = draft.term or self._movements.get((draft.finding, region))
        section = self._section(draft, term, context, region, sentence)
        side, side_doubt = self._side(draft, term, context, sentence)
        if _is_comparison(draft, context, earlier):
            side_doubt = [doubt for doubt in side_doubt if doubt.reason != "side_conflict"]
        doubts = [
            Doubt(reason=reason, detail=detail, suggestion=suggestion) for reason, detail, suggestion in draft.doubts
        ]
        doubts += side_doubt
        finding = Finding(
            section=section,
            region=region,
            side=side,
            structure=draft.structure,
            finding=draft.finding,
            status=draft.status,
            degrees=draft.degrees,
            grade=draft.grade,
            measure=draft.measure,
            at_degrees=draft.at_degrees,
            severity=draft.severity,
            end_feel=draft.end_feel,
            limited_by=draft.limited_by,
            with_=draft.with_,
            said=said,
            replaced=draft.replaced,
        )
        finding = self._compared(finding, draft, earlier)
        doubts += self._region_doubt(draft, context, sentence, section, region)
        doubts += _range_doubt(finding, term)
        doubts += self._grade_doubt(finding)
        doubts += _level_doubt(draft, term)
        doubts += _conflict_doubt(finding, earlier)
        if draft.finding in ("neurological status", "vascular status"):
            doubts.append(Doubt(reason="incomplete", detail="a summary, which covers no single test", suggestion=None))
        unique = {(doubt.reason, doubt.detail): doubt for doubt in doubts}
        return finding.model_copy(update={"doubts": list(unique.values())}), term

    def _grade_doubt(self, finding: Finding) -> list[Doubt]:
        grade = finding.grade
        allowed = self._scales.get(grade.scale) if grade else None
        if grade is None or not allowed or grade.value in allowed or "-" in grade.value[1:-1]:
            return []
        detail = f"{grade.value} is no grade of the scale {grade.scale}, which has {', '.join(sorted(allowed))}"
        return [Doubt(reason="out_of_range", detail=detail, suggestion=None)]

    # -- region and section --------------------------------------------------------------------------------------------

    def _region(self, draft: Draft, context: Context, sentence: Sentence) -> Region:
        if draft.region:
            return draft.region
        anchors = [term for term in (draft.structure_term, draft.term) if term is not None and term.regions]
        for term in anchors:
            if sentence.region in term.regions:
                return sentence.region
            if context.region in term.regions:
                return context.region
            close = [region for region in term.regions if region in self.near(context.region)]
            return close[0] if close else term.regions[0]
        if sentence.region and (draft.kind in ("attribute", "sign", "measure", "movement")):
            return sentence.region  # type: ignore[return-value]
        return context.region

    def _section(self, draft: Draft, term: Term | None, context: Context, region: str, sentence: Sentence) -> Section:
        if draft.kind == "section" and context.section:
            return context.section
        outside = region not in self.near(context.region)
        moved = draft.kind in ("movement", "attribute")
        screened = outside and (sentence.region == region or context.section == "adjacent_joints")
        if screened and (moved or context.section in (None, "adjacent_joints")):
            return "adjacent_joints"
        if draft.modality and moved and draft.finding not in ("sensation", "strength"):
            return draft.modality
        if draft.section:
            return draft.section
        allowed = term.sections if term and term.sections else ()
        if draft.finding == "strength":
            allowed = ("resisted_motion", "neurological", "adjacent_joints")
            if draft.structure and draft.structure.endswith("myotome"):
                return "neurological"
        if context.section and (context.section in allowed or (not allowed and draft.kind != "movement")):
            return context.section
        if context.section == "adjacent_joints" and draft.kind in ("movement", "attribute", "test", "sign"):
            return "adjacent_joints"
        if draft.kind == "movement":
            return "active_motion"
        if allowed:
            return allowed[0]
        return {"test": "special_tests", "task": "function", "reflex": "neurological", "pulse": "vascular"}.get(
            draft.kind, "palpation"
        )  # type: ignore[return-value]

    # -- side -------------------------------------------------------------------------------------------------------

    def _side(
        self, draft: Draft, term: Term | None, context: Context, sentence: Sentence
    ) -> tuple[Side | None, list[Doubt]]:
        said = absolute_side(draft.side, context)
        around = self._regions.get(context.region)
        if said == "midline" and not (around is not None and around.midline):
            said = ""
        terms = [t for t in (draft.structure_term, draft.term, term) if t is not None]
        if said:
            return said, _side_conflict(said, draft, context, sentence)  # type: ignore[return-value]
        if draft.side == "uninjured" and context.side in OPPOSITE:
            detail = f"the good side is taken for the one that is not being examined, the {OPPOSITE[context.side]}"
            return OPPOSITE[context.side], [Doubt(reason="side_assumed", detail=detail, suggestion=None)]
        examined = context.side or context.side_before
        if draft.side == "injured" and examined in OPPOSITE:
            detail = f"the bad side is taken for the one being examined, the {examined}"
            return examined, [Doubt(reason="side_assumed", detail=detail, suggestion=None)]  # type: ignore[return-value]
        if draft.side in ("other", "injured", "uninjured"):
            detail = f"which side the {draft.side} one is was not said"
            return None, [Doubt(reason="side_assumed", detail=detail, suggestion=None)]
        if any(t.side == "midline" for t in terms):
            return "midline", []
        elsewhere = sentence.region if sentence.region not in self.near(context.region) else ""
        screened = draft.kind in ("movement", "attribute") and not any(t.regions for t in terms)
        moved = self._regions.get(draft.region or (elsewhere if screened else ""))
        if any(t.sideless for t in terms) or (moved is not None and moved.unpaired):
            return None, []
        carried = absolute_side(sentence.side, context)
        if carried:
            turned = OPPOSITE.get(carried) == (context.side or context.side_before)
            detail = f"{carried} was said further back, in a line without punctuation"
            doubt = Doubt(reason="side_assumed", detail=detail, suggestion=None)
            return carried, [doubt] if sentence.long and turned else []  # type: ignore[return-value]
        if context.side:
            return context.side, []  # type: ignore[return-value]
        if context.last_side:
            detail = f"no side was said; {context.last_side} is taken from the finding before"
            return context.last_side, [Doubt(reason="side_assumed", detail=detail, suggestion=None)]  # type: ignore[return-value]
        limb = moved if moved is not None else around
        if limb is None or limb.unpaired:
            return None, []
        return None, [Doubt(reason="side_assumed", detail="no side was said so far", suggestion=None)]

    # -- values and doubts ------------------------------------------------------------------------------------------

    def _compared(self, finding: Finding, draft: Draft, earlier: Sequence[Entry]) -> Finding:
        relative = draft.relative
        if relative is None:
            return finding
        other = relative.side
        this: str | None
        if other in ("left", "right") and not relative.of_the_other:
            this, other = other, OPPOSITE[other]
        elif other in ("left", "right"):
            this = OPPOSITE[other]
        else:
            this, other = finding.side, OPPOSITE.get(finding.side or "", "")
        base = next(
            (
                e.finding
                for e in reversed(earlier)
                if e.finding.finding == finding.finding
                and e.finding.side in (other, "both")
                and e.finding.degrees is not None
            ),
            None,
        )
        if base is None or base.degrees is None:
            doubt = Doubt(reason="incomplete", detail="compared with a side that was not measured", suggestion=None)
            status = "reduced" if relative.less else "increased"
            return finding.model_copy(update={"side": this, "status": status, "doubts": [doubt]})
        degrees = base.degrees - relative.amount if relative.less else base.degrees + relative.amount
        return finding.model_copy(update={"side": this, "degrees": degrees})

    def _region_doubt(
        self, draft: Draft, context: Context, sentence: Sentence, section: str, region: str
    ) -> list[Doubt]:
        term = draft.structure_term or draft.term
        if draft.structure_term and draft.kind in ("sign", "attribute") and context.region_said:
            own = frozenset(draft.term.regions) if draft.term else frozenset()
            if own and not own & (self.near(context.region) | {region, sentence.region, context.region}):
                term, region = draft.term, sorted(own)[0]  # "patellar tracking" at the heel
        if term is None or not term.regions or not context.region_said or region in self.near(context.region):
            return []
        if region in (sentence.region, context.region) or section in _OUTSIDE_ALLOWED:
            return []
        around = self._regions.get(context.region)
        if term.part == "muscle" and around is not None and region in around.neighbours:
            return []  # a muscle passes from one region to the next
        name = draft.structure or draft.finding
        best = process.extractOne(name, self._labels.get(context.region, []), scorer=fuzz.WRatio, score_cutoff=55)
        detail = f"{name} belongs to the {region}; the {context.region} is being examined"
        return [Doubt(reason="wrong_region", detail=detail, suggestion=best[0] if best else None)]


def absolute_side(word: str, context: Context) -> str:
    """Return left, right, both or midline for a side word, or "" when it cannot be told."""
    if word in ("left", "right", "both", "midline"):
        return word
    injured = context.injured if context.injured in OPPOSITE else ""
    if word == "injured":
        return injured
    if word == "uninjured":
        return OPPOSITE.get(injured, "")
    if word == "other":
        return OPPOSITE.get(context.last_side or context.side, "")
    if word == "same":
        return context.last_side or context.side
    return ""


def _side_conflict(said: str, draft: Draft, context: Context, sentence: Sentence) -> list[Doubt]:
    if context.side in OPPOSITE and said == OPPOSITE[context.side] and draft.side in OPPOSITE:
        if context.side in sentence.sides_named:
            return []
        detail = f"the {context.side} side is being examined, and {said} was said"
        return [Doubt(reason="side_conflict", detail=detail, suggestion=context.side)]
    return []


def _is_comparison(draft: Draft, context: Context, earlier: Sequence[Entry]) -> bool:
    """Whether the like was found on the side being examined, so that the other side is told for comparison."""
    return any(
        (entry.finding.finding, entry.finding.structure) == (draft.finding, draft.structure)
        and entry.finding.side in (context.side, "both")
        for entry in earlier
    )


def _range_doubt(finding: Finding, term: Term | None) -> list[Doubt]:
    if finding.degrees is None or term is None or term.plausible_deg is None:
        return _unlikely_angle(finding)
    limits = term.plausible_deg.value
    low, high = limits if isinstance(limits, tuple) else (0.0, limits)
    if low <= finding.degrees <= high:
        return []
    detail = f"{finding.degrees:g} degrees is outside {low:g} to {high:g} ({term.plausible_deg.source})"
    return [Doubt(reason="out_of_range", detail=detail, suggestion=_nearby_number(finding.degrees, low, high))]


def _unlikely_angle(finding: Finding) -> list[Doubt]:
    if finding.degrees is not None and not -180 <= finding.degrees <= 210:
        return [
            Doubt(reason="out_of_range", detail=f"{finding.degrees:g} degrees: no joint does that", suggestion=None)
        ]
    return []


def _nearby_number(value: float, low: float, high: float) -> str | None:
    """Return a number that may have been meant: a nought too many, or "fifty" for "fifteen"."""
    for candidate in (value / 10, value - 100, value - 35, value + 35):
        if low <= candidate <= high and float(candidate).is_integer():
            return f"{candidate:g}"
    return None


def _level_doubt(draft: Draft, term: Term | None) -> list[Doubt]:
    anchor = draft.structure_term if draft.finding == "strength" else term
    if not draft.levels or anchor is None or not anchor.levels:
        return []
    wrong = [level for level in draft.levels if level not in anchor.levels]
    if not wrong:
        return []
    usual = ", ".join(anchor.levels)
    detail = f"{anchor.label} was named with {', '.join(wrong)}; the references give {usual}"
    return [Doubt(reason="level_mismatch", detail=detail, suggestion=usual)]


_CONTRARY = (
    frozenset({"present", "absent"}),
    frozenset({"positive", "negative"}),
    frozenset({"normal", "reduced"}),
    frozenset({"normal", "absent"}),
    frozenset({"normal", "increased"}),
    frozenset({"reduced", "increased"}),
)


def _conflict_doubt(finding: Finding, earlier: Sequence[Entry]) -> list[Doubt]:
    for entry in reversed(earlier):
        other = entry.finding
        if (other.region, other.structure, other.finding) != (finding.region, finding.structure, finding.finding):
            continue
        if not _sides_meet(other.side, finding.side) or other.at_degrees != finding.at_degrees:
            continue
        if finding.degrees is not None and other.degrees is not None:
            if (other.section, finding.section) == ("active_motion", "passive_motion"):
                if finding.finding != "extension" and finding.degrees < other.degrees - _PASSIVE_BELOW_ACTIVE_DEG:
                    return [_conflict(f"passive {finding.degrees:g} is below active {other.degrees:g}")]
            elif other.section == finding.section and other.degrees != finding.degrees:
                return [_conflict(f"{other.degrees:g} degrees was said before")]
        if not seen_and_felt(other, finding):
            continue
        if other.status and finding.status and frozenset({other.status, finding.status}) in _CONTRARY:
            return [_conflict(f"{other.status} was said before")]
        if other.severity and finding.severity and other.severity != finding.severity:
            return [_conflict(f"{other.severity} was said before")]
        if other.grade and finding.grade and other.grade != finding.grade:
            return [_conflict(f"grade {other.grade.value} was said before")]
    return []


def seen_and_felt(one: Finding, other: Finding) -> bool:
    """Whether two findings are of one section, or the same sign was looked at and felt: an effusion is both."""
    return one.section == other.section or {one.section, other.section} == {"inspection", "palpation"}


def _sides_meet(left: Side | None, right: Side | None) -> bool:
    return left == right or "both" in (left, right)


def _conflict(detail: str) -> Doubt:
    reason: DoubtReason = "conflicts"
    return Doubt(reason=reason, detail=detail, suggestion=None)
