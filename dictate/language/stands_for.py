"""One statement that stands for several: a full range its movements, a bundle its halves, a joint its screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.contract import Section, Status
from dictate.language.draft import Draft
from dictate.language.item import label_of
from dictate.language.parts import Parts
from dictate.language.quantity import grade_of
from dictate.language.resolve import Resolver, Sentence
from dictate.language.state import Context

_SPLIT_STATUS = {"neurovascular status": ("neurological status", "vascular status")}


def expand(
    drafts: Sequence[Draft], parts: Parts, context: Context, sentence: Sentence, resolver: Resolver
) -> list[Draft]:
    """Return the drafts that a frame's drafts stand for: a range its movements, a bundle its two halves."""
    screens = [] if drafts else _screens(parts, context, sentence, resolver)
    rest = None if screens else _remainder(parts, context)
    if rest is not None:
        return [rest]
    drafts = screens or _others(drafts, parts, context)
    out: list[Draft] = []
    region = sentence.region or context.region
    joints = {item.value for item in parts.frame.items if item.kind == "region"}
    elsewhere = joints if len(joints) == 1 and not joints & resolver.near(context.region) else frozenset()
    for draft in drafts:
        if draft.finding == "range of motion" and elsewhere and draft.region is None:
            out.append(replace(draft, region=next(iter(elsewhere))))  # type: ignore[arg-type]
        elif draft.finding in _SPLIT_STATUS:
            halves: tuple[tuple[str, Section], ...] = (
                ("neurological status", "neurological"),
                ("vascular status", "vascular"),
            )
            out += [replace(draft, finding=name, section=section) for name, section in halves]
        elif draft.finding == "range of motion" and draft.status == "normal" and resolver.full_range(region):
            named = {i.value for i in parts.frame.items if i.kind == "region"}
            if region == context.region and not named - {region} and context.section != "adjacent_joints":
                out += [replace(draft, finding=m, kind="movement", term=None) for m in resolver.full_range(region)]
            else:
                out.append(draft)
        else:
            out.append(draft)
    return out


def _others(drafts: Sequence[Draft], parts: Parts, context: Context) -> list[Draft]:
    """ "… the AC is tender, the others are fine": keep of the list what has not had its own finding."""
    if "rest" not in parts.kinds or not parts.inherited:
        return list(drafts)
    done = {label_of(item) for item in context.listed}
    return [draft for draft in drafts if (draft.structure or draft.finding) not in done]


def _screens(parts: Parts, context: Context, sentence: Sentence, resolver: Resolver) -> list[Draft]:
    """Return the quick screens of joints named with a status ("hip and ankle screened, full and pain free").

    The joint may be named earlier in the sentence: "hips I have checked, full both sides".
    """
    regions = list(dict.fromkeys(item.value for item in parts.frame.items if item.kind == "region"))
    full = any(sense.cue and sense.cue.amount for item in parts.statuses for sense in item.senses)
    if not regions and full and sentence.region and sentence.region not in resolver.near(context.region):
        regions = [sentence.region]
    status, _ = parts.status()
    others = [region for region in regions if region != context.region]
    if status not in ("normal", "reduced", "negative") or not others or (parts.targets and not parts.inherited):
        return []
    value: Status = "reduced" if status == "reduced" else "normal"
    sides = _sides_of_regions(parts)
    return [
        Draft(
            finding="range of motion",
            kind="attribute",
            status=value,
            region=region,  # type: ignore[arg-type]
            section="adjacent_joints",
            side=sides.get(region, parts.side),
            side_said=bool(sides.get(region, parts.side)),
            start=parts.start,
            end=parts.end,
        )
        for region in regions
    ]


def _sides_of_regions(parts: Parts) -> dict[str, str]:
    """Return the side of each region named: the one said before it, else the one that closes the list."""
    side = ""
    out: dict[str, str] = {}
    for item in parts.frame.items:
        if item.kind == "side" and not item.role:
            side = item.value
        elif item.kind == "region":
            out.setdefault(item.value, side)
    bound = any(out.values())  # "neck and right shoulder": the side is the shoulder's
    return {region: said or ("" if bound else parts.side) for region, said in out.items()}


_NAMED = ("structure", "test", "movement", "measure", "task", "attribute")


def _remainder(parts: Parts, context: Context) -> Draft | None:
    """Return "the rest of the exam is normal", recorded as said and never expanded."""
    status, _ = parts.status()
    named = not parts.inherited and parts.of(*_NAMED)
    summary = "section" in parts.kinds and status in ("normal", "negative") and not named
    grade = parts.grade_quantity or next((q for q in parts.quantities if q.value == 5 and not q.unit), None)
    if "rest" not in parts.kinds and not summary:
        return None
    if grade and not [t for t in parts.targets if not parts.inherited]:
        draft = Draft(
            finding="strength", kind="attribute", grade=grade_of("MRC", grade), start=parts.start, end=parts.end
        )
        draft.side, draft.side_said = parts.side, bool(parts.side)
        return draft
    if status is None or parts.quantities or (parts.targets and not parts.inherited and not parts.of("attribute")):
        return None
    if parts.inherited and parts.of("structure", "test", "movement", "level") and "section" not in parts.kinds:
        return None  # the rest of a list just named
    section = next((i.value for i in parts.frame.items if i.kind == "section"), None) or context.section or "inspection"
    draft = Draft(finding=section.replace("_", " "), kind="section", status=status, section=section)  # type: ignore[arg-type]
    draft.status = {"negative": "normal", "absent": "normal"}.get(status, status)  # type: ignore[assignment]
    draft.start, draft.end = parts.start, parts.end
    draft.side, draft.side_said = parts.side, bool(parts.side)
    return draft
