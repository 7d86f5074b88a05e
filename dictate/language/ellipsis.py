"""What is said by pointing at what was said before: "same on the left", "other side normal", a side ending a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.contract import OPPOSITE, Doubt, DoubtReason, Finding, Severity, Status
from dictate.language.draft import Draft
from dictate.language.item import Item, label_of, term_of
from dictate.language.mentions import Mention
from dictate.language.parts import Parts
from dictate.language.resolve import Sentence, absolute_side
from dictate.language.state import Entry, State

# How many findings back "same on the left" can reach.
_LONGEST_GROUP = 8
# What is doubtful in a value is so in its copy.
_COPIED_DOUBTS = frozenset({"out_of_range", "incomplete", "readings_disagree", "sounds_like", "level_mismatch"})
_UNREMARKABLE = (None, "normal", "negative", "absent")
_NORMAL_BY_KIND: dict[str, Status] = {"test": "negative", "sign": "absent"}


def copy(state: State, parts: Parts, sentence: int) -> State | None:
    """Return the state with the last group copied to another side, or None when the frame does not ask for it."""
    own = [item for item in parts.targets if not parts.inherited]
    ellipsis = next((item for item in parts.frame.items if item.kind == "ellipsis"), None)
    symmetrical = any(s.cue and s.cue.symmetrical for i in parts.frame.items if i.kind == "side" for s in i.senses)
    if ellipsis is not None and ellipsis.value == "as" and not (parts.quantities or parts.statuses):
        return _as_on(state, parts, own, absolute_side(parts.side, state.context), sentence)
    if ellipsis is not None and own and not (parts.quantities or parts.outcomes or parts.statuses):
        return _same_of(state, own, absolute_side(parts.side, state.context), sentence)
    if own or parts.quantities or parts.outcomes:
        return None
    status, _ = parts.status()
    if ellipsis is None and status is None and symmetrical and not parts.inherited:
        return None
    if ellipsis is None and status is None and symmetrical:
        return _make_both(state, sentence if "every" in parts.kinds else None)
    side = absolute_side(parts.side, state.context)
    if ellipsis is not None:
        if ellipsis.senses and ellipsis.senses[0].weak and parts.side not in ("left", "right"):
            return None
        copied = _copied(state, side, sentence, "else" if status in ("normal", "negative") else None)
        return _amounting(copied, state, parts.severity) if parts.severity else copied
    if parts.side in ("other", "uninjured", "injured") and status in ("normal", "negative"):
        return _copied(state, side, sentence, "always")
    return None


def _amounting(copied: State, before: State, severity: Severity) -> State:
    """Give what was copied its own amount: "moderate varus on the right, a slight one on the left also"."""
    known = len(before.entries)
    own = [e.with_finding(e.finding.model_copy(update={"severity": severity})) for e in copied.entries[known:]]
    return replace(copied, entries=(*copied.entries[:known], *own))


def _as_on(state: State, parts: Parts, own: list[Item], side: str, sentence: int) -> State | None:
    """ "Abduction the same as the right": what was found of it there is found on the other side too."""
    if side not in OPPOSITE:
        return None
    if not own:
        group = _group(state, sentence)
        found = group[-1].finding.side if group else None
        if found in (side, OPPOSITE[side]):  # of the one, or of the other: "quads five, same as the left"
            return _copied(state, OPPOSITE[found], sentence, None)
        return None
    added = []
    for item in own:
        meant = (e for e in reversed(state.entries) if label_of(item) in (e.finding.finding, e.finding.structure))
        entry = next((e for e in meant if e.finding.side in (side, "both")), None)
        if entry is None:
            return None
        moved = parts.modality if entry.kind == "movement" and parts.modality else entry.finding.section
        change: dict[str, object] = {"side": OPPOSITE[side], "section": moved, "replaced": [], "said": ""}
        finding = entry.finding.model_copy(update=change)
        added.append(
            replace(
                entry, finding=finding, frame=state.frames, utterance=state.utterances, sentence=sentence,
                side_said=True, span=(0, 0),
            )
        )  # fmt: skip
    return replace(state, entries=(*state.entries, *added))


def _group(state: State, sentence: int) -> list[Entry]:
    """Return the findings that "the same" points at: this sentence's, else the run before it on one side."""
    entries = list(state.entries)
    if not entries:
        return []
    last = entries[-1]
    group: list[Entry] = []
    here = (state.utterances, sentence)
    in_sentence = (last.utterance, last.sentence) == here
    for entry in reversed(entries):
        if entry.finding.section != last.finding.section or entry.finding.side != last.finding.side:
            break
        if in_sentence and (entry.utterance, entry.sentence) != here:
            break
        if len(group) == _LONGEST_GROUP or last.utterance - entry.utterance > 1:
            break
        group.append(entry)
    return group[::-1]


def _copied(state: State, side: str, sentence: int, normal: str | None) -> State:
    """Copy the last group to a side; `normal` makes normal of "always" each of it, of "else" what was not ("same, all
    normal")."""
    group = _group(state, sentence)
    if not group:
        return state
    if not side:
        base = group[-1].finding.side
        side = OPPOSITE.get(base or "", "")
    if not side or all(entry.finding.side == side for entry in group):
        return state
    last_sentence = (group[-1].utterance, group[-1].sentence)
    added = []
    for entry in group:
        finding = entry.finding.model_copy(update={"side": side, "replaced": [], "doubts": []})
        if normal == "always" or (normal and finding.status not in _UNREMARKABLE):
            finding = _as_normal(finding, entry)
        doubts = [doubt for doubt in entry.finding.doubts if not normal and doubt.reason in _COPIED_DOUBTS]
        if (entry.utterance, entry.sentence) != last_sentence and entry.utterance != group[-1].utterance:
            doubts.append(
                Doubt(reason="readings_disagree", detail="copied from more than the last statement", suggestion=None)
            )
        if any(doubt.reason == "side_assumed" for doubt in entry.finding.doubts):
            doubts.append(
                Doubt(reason="side_assumed", detail="copied from a finding whose side was assumed", suggestion=None)
            )
        finding = finding.model_copy(update={"doubts": doubts})
        added.append(
            replace(
                entry,
                finding=finding,
                frame=state.frames,
                utterance=state.utterances,
                sentence=sentence,
                side_said=True,
                span=(0, 0),
            )
        )
    context = replace(state.context, last_side=side if side in ("left", "right") else state.context.last_side)
    return replace(state, entries=state.entries + tuple(added), context=context)


def _as_normal(finding: Finding, entry: Entry) -> Finding:
    status = _NORMAL_BY_KIND.get(entry.kind, "normal")
    blank: dict[str, object] = {
        "degrees": None,
        "grade": None,
        "measure": None,
        "severity": None,
        "with_": [],
        "limited_by": [],
        "end_feel": None,
    }
    return finding.model_copy(update={**blank, "status": status})


def _make_both(state: State, sentence: int | None) -> State:
    """ "Symmetrical" after a finding makes it one of both sides; "all symmetrical" does so with the whole sentence."""
    if not state.entries:
        return state
    frame = state.entries[-1].frame
    here = (state.utterances, sentence)
    entries = []
    for entry in state.entries:
        meant = entry.frame == frame or ((entry.utterance, entry.sentence) == here and not entry.side_said)
        both = entry.finding.model_copy(update={"side": "both"})
        entries.append(entry.with_finding(both) if meant else entry)
    return replace(state, entries=tuple(entries))


def in_order_of_sides(state: State, parts: Parts) -> list[Parts]:
    """Return "hamstrings four and five" as one statement a side, in the order in which the sides came just before."""
    numbers = [quantity for quantity in parts.quantities if quantity.to_value is None]
    movements = [item for item in parts.targets if item.kind in ("movement", "structure", "reflex", "pulse", "test")]
    if len(numbers) != 2 or len(movements) != 1 or parts.side or parts.positions or "and" not in parts.kinds:
        return []
    before = state.entries[-2:]
    sides = [entry.finding.side for entry in before]
    valued = all(e.finding.degrees is not None or e.finding.grade or e.finding.measure for e in before)
    if (
        sorted(str(side) for side in sides) != ["left", "right"]
        or not valued
        or not _like(before[0].finding, before[1].finding)
    ):
        return []
    if state.utterances - before[0].utterance > 1:
        return []
    return [replace(parts, quantities=(number,), side=str(side)) for number, side in zip(numbers, sides, strict=True)]


def measure_of_other_side(state: State, parts: Parts, sentence: int) -> State | None:
    """ "Girth fifty-one right, fifty-two left": a number with a side, of what was just measured on the other side."""
    last = state.entries[-1] if state.entries else None
    numbers = [quantity for quantity in parts.quantities if quantity.to_value is None and not quantity.is_grade]
    own = [item for item in parts.targets if not parts.inherited]
    if last is None or last.finding.measure is None or own or len(numbers) != 1 or parts.statuses:
        return None
    side = absolute_side(parts.side, state.context)
    near = state.utterances - last.utterance <= 1
    if not near or side not in ("left", "right") or last.finding.side in (side, "both", None):
        return None
    if numbers[0].unit not in (None, last.finding.measure.unit):
        return None
    measure = last.finding.measure.model_copy(
        update={"value": numbers[0].value, "comparator": numbers[0].comparator}
    )  # fmt: skip
    finding = last.finding.model_copy(update={"side": side, "measure": measure, "replaced": [], "doubts": []})
    added = replace(
        last, finding=finding, frame=state.frames, utterance=state.utterances, sentence=sentence, side_said=True,
        span=(parts.start, parts.end),
    )  # fmt: skip
    context = replace(state.context, last_side=side)
    return replace(state, entries=(*state.entries, added), context=context)


def positions_of_last(state: State, parts: Parts, sentence: int) -> State | None:
    """ "Collaterals stable, that's valgus and varus at zero and thirty": the positions of what was just judged."""
    said = any(item.is_value() for item in parts.frame.items)
    named = {label_of(item) for item in parts.targets if item.kind == "test"}
    if said or not parts.positions or not named or any(item.kind != "test" for item in parts.targets):
        return None
    judged = [
        place
        for place, entry in enumerate(state.entries)
        if (entry.utterance, entry.sentence) == (state.utterances, sentence) and entry.finding.finding in named
    ]
    findings = [state.entries[place].finding for place in judged]
    if {finding.finding for finding in findings} != named:
        return None
    if any(finding.at_degrees is not None or not finding.status for finding in findings):
        return None
    entries: list[Entry] = []
    for place, entry in enumerate(state.entries):
        each = parts.positions if place in judged else (None,)
        entries += [
            entry.with_finding(entry.finding.model_copy(update={"at_degrees": at})) if at is not None else entry
            for at in each
        ]
    return replace(state, entries=tuple(entries))


def at_both(state: State, parts: Parts, drafts: list[Draft], number: int, mentions: Sequence[Mention]) -> list[Draft]:
    """ "Opens at thirty, varus solid at both": the two positions that were just tested in, else a doubt."""
    said = any(parts.start <= m.start <= parts.end and _both_positions(m) for m in mentions)
    tests = [draft for draft in drafts if draft.kind == "test" and draft.at_degrees is None]
    if not said or not tests:
        return drafts
    here = [e.finding.at_degrees for e in state.entries if (e.utterance, e.sentence) == (state.utterances, number)]
    if not any(here):  # "Valgus stable at zero, opens at thirty. Varus stable at both."
        last = state.entries[-1] if state.entries else None
        before = (last.utterance, last.sentence) if last and last.kind == "test" else None
        here = [e.finding.at_degrees for e in state.entries if (e.utterance, e.sentence) == before]
    angles = list(dict.fromkeys(angle for angle in here if angle is not None))
    if len(angles) == 2:
        return [d for d in drafts if d not in tests] + [replace(d, at_degrees=angle) for d in tests for angle in angles]
    for draft in tests:
        draft.doubts.append(("incomplete", "which two positions are meant was not said", None))
    return drafts


def _both_positions(mention: Mention) -> bool:
    sense = mention.cue("neutral")
    return sense is not None and sense.cue is not None and sense.cue.value == "both_positions"


def keep_position(state: State, parts: Parts, drafts: list[Draft], number: int) -> None:
    """Give the other side the position that was said of the first: "ER at ninety abducted: R 115, L 100".

    Where the first was tested in more than one, which one is meant is doubted.
    """
    last = state.entries[-1] if state.entries else None
    if last is None or (last.utterance, last.sentence) != (state.utterances, number) or parts.positions:
        return
    positions = [entry.finding.at_degrees for entry in state.entries if entry.frame == last.frame]
    for draft in drafts:
        turned = parts.side in ("left", "right") and last.finding.side != parts.side
        if not turned or draft.finding != last.finding.finding or draft.at_degrees is not None:
            continue
        if len(positions) == 1:
            draft.at_degrees = positions[0]
        elif any(position is not None for position in positions):
            draft.doubts.append(("incomplete", "in which position was not said", None))


def spread_side_back(state: State, parts: Parts, sentence: Sentence, number: int) -> State:
    """Give a side said at the end of a list to the members before it that had none of their own."""
    side = absolute_side(parts.side, state.context)
    trailing = parts.frame.items[-1].kind == "side"
    if not side or sentence.side or not trailing or sentence.long:
        return state
    entries = list(state.entries)
    # "No swelling, carrying angle normal on both sides": in the exam of one side only the like is of both.
    like = entries[-1].kind if side == "both" and state.context.side in OPPOSITE else ""
    for place in range(len(entries) - 1, -1, -1):
        entry = entries[place]
        if (entry.utterance, entry.sentence) != (state.utterances, number):
            break
        if entry.frame == state.frames - 1:
            continue
        if like and entry.kind != like:
            break
        if entry.side_said or _like(entry.finding, state.entries[-1].finding):
            break  # "flexion one ten, one twenty-five on the right": the first is of another side
        if entry.term is not None and (entry.term.sideless or entry.finding.side == "midline"):
            continue
        doubts = [doubt for doubt in entry.finding.doubts if doubt.reason != "side_assumed"]
        entries[place] = entry.with_finding(entry.finding.model_copy(update={"side": side, "doubts": doubts}))
    return replace(state, entries=tuple(entries))


def except_from_last(state: State, parts: Parts, drafts: list[Draft], sentence: int) -> tuple[State, list[Draft]]:
    """Let an exception override its like in the list before it; one without a value is left open."""
    last = state.entries[-1] if state.entries else None
    if last is None:
        return state, drafts
    if not drafts:
        doubt: tuple[DoubtReason, str, str | None] = (
            "incomplete",
            "an exception was made, but not what was found there",
            None,
        )
        finding = last.finding.finding
        kind = last.kind
        for item in parts.of("structure", "level", "movement", "test"):
            draft = Draft(finding=finding, kind=kind, structure=label_of(item), structure_term=term_of(item))
            if item.kind in ("movement", "test") and finding != "strength":
                draft.finding, draft.structure, draft.term = label_of(item), None, term_of(item)
            draft.start, draft.end, draft.doubts, draft.side = parts.start, parts.end, [doubt], parts.side
            drafts.append(draft)
    overridden = {(d.finding, d.structure): absolute_side(d.side, state.context) for d in drafts}
    kept = []
    for entry in state.entries:
        what = (entry.finding.finding, entry.finding.structure)
        here = (entry.utterance, entry.sentence) == (state.utterances, sentence) and what in overridden
        other = OPPOSITE.get(overridden[what]) if here and entry.finding.side == "both" else None
        if other:  # "all five on both sides except the left triceps": the right one is as the others
            kept.append(entry.with_finding(entry.finding.model_copy(update={"side": other})))
        elif not here or _of_other_side(entry.finding.side, overridden[what]):
            kept.append(entry)
    return replace(state, entries=tuple(kept)), drafts


def _of_other_side(one: str | None, other: str) -> bool:
    """Whether two sides are left and right."""
    return bool(one) and OPPOSITE.get(other) == one


def _like(one: Finding, other: Finding) -> bool:
    return (one.finding, one.structure, one.section) == (other.finding, other.structure, other.section)


def _same_of(state: State, own: list[Item], side: str, sentence: int) -> State | None:
    """ "Ankle jerks the same": what was found of the last thing of this kind is found of these too."""
    last = state.entries[-1] if state.entries else None
    if last is None:
        return None
    placed = last.finding.structure is not None and (last.kind == "sign" or last.finding.finding == "strength")
    strong = last.finding.finding == "strength"  # "hip flexion five both sides, knee extension the same"
    moved = placed and all(item.kind == "structure" or (strong and item.kind == "movement") for item in own)
    if not moved and any(item.kind != last.kind for item in own):
        return None
    group = [entry for entry in state.entries if entry.frame == last.frame]
    if moved:  # what was found there, on each side that was spoken of
        group = [e for e in state.entries[-2:] if e.utterance == last.utterance and _like(e.finding, last.finding)]
    if side:
        group = group[-1:]
    added = []
    for item in own:
        term = term_of(item)
        for entry in group:
            of_place = item.kind in ("reflex", "pulse", "structure") or moved
            change: dict[str, object] = {"structure" if of_place else "finding": label_of(item), "replaced": []}
            if side:
                change["side"] = side
            if item.kind == "sign":
                change["severity"] = None  # "marked swelling, bruising there as well": the amount is of the first
            if last.kind == "test" and label_of(item) != last.finding.finding:
                # the result is the same; what was felt is only known of the first
                change |= {"end_feel": None, "with_": [], "measure": None}
            finding = entry.finding.model_copy(update=change)
            added.append(
                replace(
                    entry,
                    finding=finding,
                    term=term,
                    frame=state.frames,
                    utterance=state.utterances,
                    sentence=sentence,
                    span=(0, 0),
                )
            )
    topic = replace(state.context.topic, items=tuple(own), bare=False)
    return replace(state, entries=state.entries + tuple(added), context=replace(state.context, topic=topic))


def none_of_the_sign(state: State, drafts: Sequence[Draft]) -> list[Draft]:
    """Return the drafts, "none" said of what is resisted as none of the sign just found: "pain on resisted abduction,
    none on resisted adduction". A strength is never absent.
    """
    last = state.entries[-1] if state.entries else None
    if last is None or last.kind != "sign" or last.utterance != state.utterances:
        return list(drafts)
    sign = last.finding
    return [
        replace(draft, finding=sign.finding, kind="sign", term=last.term, section=sign.section)
        if (draft.finding, draft.status, draft.grade) == ("strength", "absent", None)
        else draft
        for draft in drafts
    ]
