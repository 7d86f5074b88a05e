"""Turn a frame into drafts of findings: one file per kind of target does the work, this one chooses among them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from dictate.contract import Section
from dictate.language import build_motion, build_neuro, build_signs, build_tests
from dictate.language.draft import Draft
from dictate.language.item import label_of
from dictate.language.parts import Parts


def build(parts: Parts, *, section: str | None) -> list[Draft]:
    """Return the drafts that a frame states; none when it states nothing.

    `section` is where the exam stands: a bare "five" is a strength only while strength is being tested.
    """
    drafts = _choose(parts, section)
    for draft in drafts:
        draft.start, draft.end = parts.start, parts.end
        if not (draft.term and draft.term.sideless and _side_of_joint(parts)) and not _beside_midline(draft, parts):
            draft.side = draft.side or parts.side
        draft.side_said = draft.side_said or bool(parts.side)
        if draft.modality is None:
            draft.modality = parts.modality
        _mark_mishearings(draft, parts)
        _ungrade_denied(draft)
    return [*drafts, *_done_passively(drafts, parts)]


def _done_passively(drafts: list[Draft], parts: Parts) -> list[Draft]:
    """Return the second finding of each movement that was found alike "actively and passively"."""
    said = [item.value for item in parts.frame.items if item.kind == "modality"]
    if set(said) != {"active_motion", "passive_motion"} or len(said) != 2 or len(parts.quantities) > 1:
        return []
    moved = [draft for draft in drafts if draft.kind == "movement" and draft.modality == said[0]]
    ways: dict[str, Section] = {"active_motion": "passive_motion", "passive_motion": "active_motion"}
    return [
        replace(draft, modality=ways[said[0]], section=ways.get(draft.section or ""), doubts=[*draft.doubts])
        for draft in moved
    ]  # fmt: skip


_GRADED_SIGNS = frozenset({"tenderness", "effusion", "edema", "pain"})


def _ungrade_denied(draft: Draft) -> None:
    """Take the grade from a sign that is denied: "on the right one, lateral malleolus isn't tender" counts nothing.

    A test that is negative and graded at once keeps both, with a doubt: a hard end point may be both.
    """
    grade = draft.grade
    if draft.kind == "test" and draft.status == "negative" and grade is not None and not grade.value.startswith("0"):
        draft.doubts.append(("incomplete", f"negative, and graded {grade.value!r}", None))
    if draft.status != "absent" or grade is None or grade.scale not in _GRADED_SIGNS or grade.value.startswith("0"):
        return
    draft.grade = None
    draft.doubts.append(("incomplete", f"denied, with {grade.value!r} beside it", None))


def _choose(parts: Parts, section: str | None) -> list[Draft]:
    if parts.of("test"):
        return build_tests.tests(parts)
    if parts.of("task"):
        return build_tests.tasks(parts)
    if parts.of("reflex"):
        return build_neuro.reflexes(parts)
    if parts.of("measure") or build_signs.is_girth(parts, section):
        return build_signs.measures(parts)
    if parts.of("pulse"):
        return build_neuro.pulses(parts)
    if build_motion.is_strength(parts, section):
        return build_motion.strengths(parts)
    if build_neuro.is_sensation(parts):
        return build_neuro.sensations(parts)
    ranged = build_motion.is_range(parts) and (section != "special_tests" or bool(parts.targets or parts.modality))
    if parts.of("movement") or ranged:
        return build_motion.motions(parts)
    if parts.of("sign"):
        return build_signs.signs(parts, section)
    if parts.of("attribute"):
        return build_signs.attributes(parts)
    if parts.of("structure"):
        return build_signs.structures(parts, section)
    return []


def _side_of_joint(parts: Parts) -> bool:
    """Whether the side said is that of a joint named with it ("examination of the right knee: gait normal")."""
    return any(
        one.kind == "side" and other.kind == "region" for one, other in pairwise(parts.frame.items)
    )  # fmt: skip


def _beside_midline(draft: Draft, parts: Parts) -> bool:
    """Whether the side said is only that of what is listed behind the midline ("the coccyx and the left SI joint")."""
    term = draft.structure_term
    if term is None or term.side != "midline":
        return False
    items = parts.frame.items
    own = next((place for place, item in enumerate(items) if label_of(item) == draft.structure), len(items))
    return any(
        place > own and one.kind == "side" and other.kind == "structure" and one.end == other.start
        for place, (one, other) in enumerate(pairwise(items))
    )


def _mark_mishearings(draft: Draft, parts: Parts) -> None:
    for item in parts.frame.items:
        if not (item.mention.restored or item.mention.heard or (item.quantity and item.quantity.misheard)):
            continue
        if item.is_target() and item.kind in ("structure", "test", "movement", "reflex", "pulse", "sign", "task"):
            own = {draft.finding, draft.structure or ""}
            if label_of(item) not in own and not any(item.mention.restored in (name or "") for name in own):
                continue
        meant = item.mention.restored or label_of(item) or item.value or (item.quantity.text() if item.quantity else "")
        draft.doubts.append(("sounds_like", f"heard words that sound like {meant.replace('_', ' ')!r}", None))
