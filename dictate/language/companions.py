"""What comes along with the finding just said: a click or pain behind it, its end feel, where a test was positive."""

from __future__ import annotations

from dataclasses import replace

from dictate.contract import Finding
from dictate.language.draft import Draft
from dictate.language.item import label_of
from dictate.language.parts import Parts
from dictate.language.resolve import absolute_side
from dictate.language.state import Entry, State


def end_feel_of_last(state: State, parts: Parts, sentence: int) -> State:
    """Keep the end feel that is said beside what only comes along: "opens a little, painful, soft end point"."""
    last = state.entries[-1] if state.entries else None
    if last is None or not parts.end_feel or last.finding.end_feel or last.kind not in ("test", "movement"):
        return state
    if (last.utterance, last.sentence) != (state.utterances, sentence):
        return state
    felt = last.with_finding(last.finding.model_copy(update={"end_feel": parts.end_feel}))
    return replace(state, entries=(*state.entries[:-1], felt))


def end_point_of_last_test(state: State, parts: Parts) -> State | None:
    """Keep the end point that a statement of its own gives the test before: "Lachman negative. Nice firm end point."

    What was said of the test stands, whatever an end point by itself would suggest.
    """
    last = state.entries[-1] if state.entries else None
    if last is None or last.kind != "test" or last.finding.end_feel or not parts.end_feel:
        return None
    others = parts.statuses or parts.quantities or parts.positions or parts.companions or parts.limiters
    tests = [label_of(item) for item in parts.of("test")]
    same = tests == [last.finding.finding] and not [item for item in parts.targets if item.kind != "test"]
    judged = last.finding.status in ("positive", "negative") or last.finding.grade is not None
    side = absolute_side(parts.side, state.context)
    if others or not (same and judged) or side not in ("", None, last.finding.side):
        return None
    if state.utterances - last.utterance > _FELT_UTTERANCES:
        return None
    felt = last.with_finding(last.finding.model_copy(update={"end_feel": parts.end_feel}))
    return replace(state, entries=(*state.entries[:-1], felt))


_FELT_UTTERANCES = 1


def end_feel_of_all(state: State, parts: Parts, sentence: int) -> State:
    """ "Flexion one hundred, abduction seventy-five, rotation fifteen, all three with a capsular end feel"."""
    every = any(item.kind == "every" for item in parts.frame.items)
    if not every or not parts.end_feel or not parts.of("movement"):
        return state
    entries = [
        entry.with_finding(entry.finding.model_copy(update={"end_feel": parts.end_feel}))
        if (entry.utterance, entry.sentence) == (state.utterances, sentence)
        and entry.kind == "movement"
        and entry.finding.end_feel is None
        else entry
        for entry in state.entries
    ]
    return replace(state, entries=tuple(entries))


def companions_of_last(state: State, drafts: list[Draft], sentence: int) -> tuple[State, list[Draft]]:
    """Let a click or pain that follows its test or movement in the same sentence come along with it.

    "Pain free" by itself adds nothing to what it follows.
    """
    drafts = _pain_of_last(state, drafts, sentence)
    if len(drafts) == 1 and drafts[0].grade and drafts[0].grade.scale == "effusion" and drafts[0].status is None:
        graded = _effusion_graded(state, drafts[0], sentence)
        if graded is not None:
            return graded, []
    kept = [
        d for d in drafts if not (d.finding == "pain" and d.status == "absent" and d.structure is None and d.adjective)
    ]
    last = state.entries[-1] if state.entries else None
    if not kept or last is None or (last.utterance, last.sentence) != (state.utterances, sentence):
        return state, kept
    state, kept = _pain_at_end(state, kept, last)
    if not kept:
        return state, kept
    if all(_hurts_what_was_loaded(d, last) for d in kept):
        along = [*last.finding.with_, *({"pain"} - set(last.finding.with_))]
        hurting = last.with_finding(last.finding.model_copy(update={"with_": along}))
        return replace(state, entries=(*state.entries[:-1], hurting)), []
    alone = all(d.kind == "sign" and d.term and d.term.companion and d.structure is None for d in kept)
    hosts = last.kind in ("test", "movement", "task") or last.finding.finding == "strength"
    if not alone or not hosts or any(d.status != "present" or d.grade for d in kept):
        return state, kept
    entries = list(state.entries)
    for place, entry in enumerate(entries):
        if entry.frame == last.frame:
            along = [d.finding for d in kept if d.finding not in entry.finding.with_ + entry.finding.limited_by]
            field = "limited_by" if entry.finding.status == "not_examined" else "with_"
            update = {field: [*getattr(entry.finding, field), *along]}
            entries[place] = entry.with_finding(entry.finding.model_copy(update=update))
    return replace(state, entries=tuple(entries)), []


def _hurts_what_was_loaded(draft: Draft, last: Entry) -> bool:
    """ "Quads are four plus and it hurts": what hurts is the muscle that was just loaded."""
    hurts = draft.adjective and draft.status == "present" and (draft.finding == "pain" or draft.term is None)
    return hurts and last.finding.finding == "strength" and draft.structure == last.finding.structure is not None


def _pain_at_end(state: State, drafts: list[Draft], last: Entry) -> tuple[State, list[Draft]]:
    """ "Zero to one fifteen, painful at the end of flexion": the pain comes along with the flexion just measured."""
    entries, left = list(state.entries), []
    for draft in drafts:
        of = [
            place
            for place, entry in enumerate(entries)
            if entry.frame == last.frame and _measured_of(entry.finding, draft.structure)
        ]
        said = draft.finding == "pain" and (draft.adjective or draft.structure) and draft.status == "present"
        if not of or not said or (draft.side and entries[of[0]].side_said):
            left.append(draft)
            continue
        side = absolute_side(draft.side, state.context)
        finding = entries[of[0]].finding
        if side in ("left", "right", "both"):  # "plantar flexion four plus, painful, right"
            doubts = [doubt for doubt in finding.doubts if doubt.reason != "side_assumed"]
            finding = finding.model_copy(update={"side": side, "doubts": doubts})
            entries[of[0]] = replace(entries[of[0]], side_said=True)
        along = [label for label in finding.with_ if label != "pain"]
        entries[of[0]] = entries[of[0]].with_finding(finding.model_copy(update={"with_": [*along, "pain"]}))
    return replace(state, entries=tuple(entries)), left


def _measured_of(finding: Finding, movement: str | None) -> bool:
    """Whether a finding is how far this movement went, or how strong it was."""
    moved = finding.finding == movement and finding.degrees is not None
    return moved or (finding.finding == "strength" and finding.structure == movement and finding.grade is not None)


def _pain_of_last(state: State, drafts: list[Draft], sentence: int) -> list[Draft]:
    """ "Flexion and extension full, no pain": the pain denied is that of each movement just named."""
    last = state.entries[-1] if state.entries else None
    if last is None or (last.utterance, last.sentence) != (state.utterances, sentence) or len(drafts) != 1:
        return drafts
    draft = drafts[0]
    if draft.finding != "pain" or draft.status != "absent" or draft.structure or draft.adjective:
        return drafts
    hosts = [
        e for e in state.entries if e.frame == last.frame and (e.kind == "movement" or e.finding.finding == "strength")
    ]
    return [
        replace(
            draft,
            structure=e.finding.structure if e.finding.finding == "strength" else e.finding.finding,
            structure_term=e.term if e.kind == "movement" else None,
            section=e.finding.section,
        )
        for e in hosts
    ] or drafts


def _effusion_graded(state: State, draft: Draft, sentence: int) -> State | None:
    """ "Moderate effusion, two plus on the stroke test": the grade is that of the effusion just named."""
    last = state.entries[-1] if state.entries else None
    if (
        last is None
        or last.finding.finding != "effusion"
        or (last.utterance, last.sentence) != (state.utterances, sentence)
    ):
        return None
    graded = last.with_finding(last.finding.model_copy(update={"grade": draft.grade}))
    return replace(state, entries=(*state.entries[:-1], graded))


def amend_last_test(state: State, parts: Parts) -> State | None:
    """ "Medial, with a click" right after a test says where it was positive and what came along."""
    last = state.entries[-1] if state.entries else None
    own = [item for item in parts.targets if not parts.inherited and item.kind != "sign"]
    if last is None or last.kind != "test" or last.term is None or own or parts.statuses or parts.quantities:
        return None
    place = next((last.term.places[place] for place in parts.places if place in last.term.places), None)
    if place is None or last.finding.structure or state.utterances - last.utterance > 2:
        return None
    signs = [label_of(item) for item in parts.of("sign") if item.kind == "sign" and not item.negated]
    along = [*last.finding.with_, *[label for label in (*parts.companions, *signs) if label not in last.finding.with_]]
    changed = last.with_finding(last.finding.model_copy(update={"structure": place, "with_": along}))
    return replace(state, entries=(*state.entries[:-1], changed))
