"""Change findings that were already written down, keeping what they replace."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as dc_replace

from dictate.contract import Doubt, Finding, Replaced
from dictate.language.build_tests import TWO_DIRECTIONS
from dictate.language.item import label_of
from dictate.language.mentions import Mention
from dictate.language.parts import Parts
from dictate.language.repair import Replacement
from dictate.language.resolve import absolute_side, seen_and_felt
from dictate.language.state import Entry, State
from dictate.language.tokens import COMMA, NO_BREAK, Token

_REVISED = ("side", "status", "degrees", "grade", "measure", "at_degrees", "severity", "end_feel")
# How many findings back a repair that opens an utterance can reach.
_REACH = 6


def note_replacements(state: State, first: int, replacements: Sequence[Replacement]) -> State:
    """Write into the findings of this utterance what their self-repairs replaced."""
    entries = list(state.entries)
    for found in replacements:
        for place in range(first, len(entries)):
            entry = entries[place]
            if not entry.span[0] <= found.repair.start < entry.span[1]:
                continue
            field, value = _field(entry.finding, found)
            if not field:
                continue
            note = Replaced(field=field, value=value, said=_said(found))
            doubts = list(entry.finding.doubts)
            if not found.plain:
                doubts.append(Doubt(reason="slip_repaired", detail=f"changed from {value} by a correction further on"))
            update = {"replaced": [*entry.finding.replaced, note], "doubts": doubts}
            entries[place] = entry.with_finding(entry.finding.model_copy(update=update))
    return dc_replace(state, entries=tuple(entries))


def _said(found: Replacement) -> str:
    if found.reparandum.quantity:
        return found.reparandum.quantity.text()
    sense = found.reparandum.senses[0] if found.reparandum.senses else None
    if sense and sense.cue:
        return sense.cue.value or ""
    return sense.term.label if sense and sense.term else " ".join(found.reparandum.levels)


def _field(finding: Finding, found: Replacement) -> tuple[str, str | float | None]:
    old = found.reparandum
    if found.type == "quantity" and old.quantity:
        if finding.degrees is not None:
            value = old.quantity.to_value if old.quantity.to_value is not None else old.quantity.value
            return "degrees", -value if finding.degrees < 0 else value
        if finding.grade is not None:
            return "grade", old.quantity.text()
        if finding.measure is not None:
            return "measure", old.quantity.value
        return ("at_degrees", old.quantity.value) if finding.at_degrees is not None else ("", None)
    if found.type in ("side", "status", "severity", "end_feel"):
        sense = old.cue(found.type)
        return found.type, sense.cue.value if sense and sense.cue else None
    label = _label(old, finding, found.type)
    if found.type in ("structure", "level", "place"):
        return "structure", label or " ".join(old.levels)
    if found.type in ("test", "sign", "attribute", "task", "measure"):
        return "finding", label
    if found.type in ("movement", "reflex", "pulse"):
        field = "finding" if finding.finding == _label(found.repair, finding, found.type) else "structure"
        return field, label
    return "", None


def _label(mention: Mention, finding: Finding, kind: str) -> str:
    terms = [s for s in mention.senses if s.term]
    senses = [s for s in terms if s.term and s.term.kind == kind] or terms
    if kind in ("sign", "test", "attribute"):
        senses = terms
    wanted = set(finding.finding.split())
    senses.sort(key=lambda s: -len(wanted & set(s.term.label.split())) if s.term else 0)  # the one most like the repair
    home = next((s for s in senses if s.term and finding.region in s.term.regions), senses[0] if senses else None)
    return home.term.label if home and home.term else ""


NO_PLACE = "where it is tender was"  # how the doubt begins that a tenderness has no place; "not said" follows


@dataclass(frozen=True, slots=True)
class Revision:
    """What a statement may change: the findings before it, up to a number of entries.

    `opens` tells a correction that opens an utterance ("no, sorry, left") from a thing done once more ("let me redo
    that"), which only changes what is found again.
    """

    before: int
    opens: bool


def revise_last(entries: Sequence[Entry], new: Entry, revision: Revision) -> list[Entry]:
    """Return the entries with `new` put in the place of what it corrects, or added when it corrects nothing."""
    out = list(entries)
    for place in range(revision.before - 1, max(revision.before - 1 - _REACH, -1), -1):
        old = out[place]
        if old.finding.finding != new.finding.finding:
            continue
        if old.finding.structure != new.finding.structure and new.finding.structure is not None:
            continue
        if not revision.opens and new.finding.side != old.finding.side:
            continue
        out[place] = _revised(old, new)
        return out
    return [*out, new]


# How many findings back editing words find what a contrary value takes the place of.
_EDITED_BACK = 8
_CHALLENGED_BACK = 60  # of a finding that somebody doubted in so many words


# How many utterances after somebody doubted a finding a contrary one takes its place.
_ANSWERED_WITHIN = 4


def instead_of_contrary(
    entries: Sequence[Entry], new: Entry, editing: Sequence[int], challenged: tuple[int, int]
) -> list[Entry] | None:
    """Return the entries with `new` in the place of what it contradicts, where editing words stand between the two.

    "Hamstrings five, hmm, try again for me, no, hamstrings four plus": both cannot be true, and the speaker said that
    something was wrong. `editing` are the places of such words in this utterance; `challenged` tells how many findings
    there were when somebody last doubted one ("I make that thirty", "are you sure?"), and in which utterance.
    """
    denied = new.finding.structure is not None and new.finding.status == "present"  # perhaps elsewhere, and everywhere
    if not denied and not any(doubt.reason == "conflicts" for doubt in new.finding.doubts):
        return None
    known, when = challenged
    doubted = new.utterance - when <= _ANSWERED_WITHIN
    reach = _CHALLENGED_BACK if doubted else _EDITED_BACK
    for place in range(len(entries) - 1, max(len(entries) - 1 - reach, -1), -1):
        old = entries[place]
        asked = doubted and place < known
        if new.utterance - old.utterance > 1 and not asked:
            return None
        if not (_was_denied_of_all(old, new) if denied else _of_the_same(old.finding, new.finding)):
            continue
        after = old.span[1] if old.utterance == new.utterance else 0
        if not asked and not any(after <= word < new.span[1] for word in editing):
            return None
        changed = _revised(old, new)
        if denied:
            changed = change(changed, "structure", new.finding.structure, said=old.finding.said)
        doubt = Doubt(reason="slip_repaired", detail=f"said instead of {old.finding.said!r}", suggestion=None)
        doubts = [*changed.finding.doubts, doubt]
        out = list(entries)
        out[place] = changed.with_finding(changed.finding.model_copy(update={"doubts": doubts}))
        return out
    return None


_EDITING_WORDS = 4  # at most, between what may be taken back and what was said instead


def perhaps_taken_back(
    entries: Sequence[Entry], new: Entry, tokens: Sequence[Token], editing: Sequence[int]
) -> list[Entry]:
    """Return the entries, the last one doubted where editing words of the same sentence stand between it and `new`.

    "Lachman positive, sorry, anterior drawer negative": said to who was hurt, or because the Lachman was none.
    """
    out = list(entries)
    if not out or out[-1].utterance != new.utterance or out[-1].kind != new.kind:
        return out
    start, end = out[-1].span[1], new.span[0]
    stopped = any(token.break_after not in (NO_BREAK, COMMA) for token in tokens[max(start - 1, 0) : end])
    edited = any(start <= place < end and tokens[place].norm != "no" for place in editing)  # "no redness" denies
    if end - start <= _EDITING_WORDS and not stopped and edited:
        old = out[-1].finding
        doubt = Doubt(reason="readings_disagree", detail="what was said next may take its place", suggestion=None)
        out[-1] = out[-1].with_finding(old.model_copy(update={"doubts": [*old.doubts, doubt]}))
    return out


def _was_denied_of_all(old: Entry, new: Entry) -> bool:
    """Whether a sign was denied without a place, which is now found in one: "no swelling, tell a lie, slight swelling
    over the MCL"."""
    named = ("region", "side", "finding")
    same = all(getattr(old.finding, name) == getattr(new.finding, name) for name in named)
    return same and old.kind == "sign" and old.finding.status == "absent" and old.finding.structure is None


def _of_the_same(one: Finding, other: Finding) -> bool:
    """Whether two findings are about the same thing in the same place, whatever was found there."""
    named = ("region", "side", "structure", "finding", "at_degrees")
    return seen_and_felt(one, other) and all(getattr(one, name) == getattr(other, name) for name in named)


def _revised(old: Entry, new: Entry) -> Entry:
    """Return the old entry with every value that the new one states, and a record of what they replace."""
    update: dict[str, object] = {}
    notes = list(old.finding.replaced)
    for field in _REVISED:
        before, after = getattr(old.finding, field), getattr(new.finding, field)
        if after is None or after == before or (field == "side" and not new.side_said):
            continue
        update[field] = after
        notes.append(Replaced(field=field, value=value_text(before), said=old.finding.said))
    if update.get("status") in ("absent", "negative"):
        update["severity"] = None  # of what is not there
    if ("degrees" in update or "grade" in update) and not _both_graded(old.finding, new.finding):
        update.setdefault("status", new.finding.status)
    doubts = [d for d in new.finding.doubts if d.reason not in ("side_assumed", "conflicts")]
    if "side" not in update:
        doubts += [d for d in old.finding.doubts if d.reason == "side_assumed"]
    if old.finding.structure:
        doubts = [d for d in doubts if not (d.detail or "").startswith(NO_PLACE)]  # it is that of what is corrected
    if old.utterance < new.utterance - 1:
        doubts.append(Doubt(reason="slip_repaired", detail="corrected later in the exam"))
    update.update(replaced=notes, doubts=doubts, said=f"{old.finding.said} … {new.finding.said}".strip(" …"))
    return old.with_finding(old.finding.model_copy(update=update))


def _both_graded(old: Finding, new: Finding) -> bool:
    """Whether a grade only takes the place of another: what was positive at one is so at two."""
    grades = [grade.value for grade in (old.grade, new.grade) if grade is not None]
    return len(grades) == 2 and not any(grade.startswith("0") for grade in grades) and new.status is None


def value_text(value: object) -> str | float | None:
    """Return a value the way `replaced` holds it."""
    if value is None or isinstance(value, str | int | float):
        return value
    return str(getattr(value, "value", value))


def change(entry: Entry, field: str, value: object, *, said: str, doubt: str | None = None) -> Entry:
    """Return an entry with one field changed and the change recorded."""
    before = getattr(entry.finding, field)
    if before == value:
        return entry
    note = Replaced(field=field, value=value_text(before), said=said)
    doubts = [
        d for d in entry.finding.doubts if not (field == "side" and d.reason in ("side_assumed", "side_conflict"))
    ]
    doubts = [d for d in doubts if not (field == "structure" and d.reason in ("wrong_region", "sounds_like"))]
    if doubt:
        doubts.append(Doubt(reason="slip_repaired", detail=doubt))
    update = {field: value, "replaced": [*entry.finding.replaced, note], "doubts": doubts}
    return entry.with_finding(entry.finding.model_copy(update=update))


def revise_context(state: State, parts: Parts) -> State:
    """Apply a correction that names only a side or a structure ("no, sorry, left") to the last statement."""
    if not state.entries:
        return state
    frame = state.entries[-1].frame
    side = absolute_side(parts.side, state.context)
    named = parts.of("structure", "test") if not parts.inherited else ()
    entries = list(state.entries)
    for place, entry in enumerate(entries):
        if entry.frame != frame:
            continue
        if side:
            entry = change(entry, "side", side, said=entry.finding.said)
        for item in named:
            if item.kind == "structure" and entry.finding.structure:
                entry = change(entry, "structure", label_of(item), said=entry.finding.structure)
            elif item.kind == "test" and entry.kind == "test":
                entry = change(entry, "finding", label_of(item), said=entry.finding.finding)
        entries[place] = entry
    context = state.context
    if side in ("left", "right"):
        context = dc_replace(context, last_side=side)
    return dc_replace(state, entries=tuple(entries), context=context)


def _denied_after_grade(old: Finding, new: Finding) -> bool:
    """Whether "none posteriorly" after "grade one anteriorly" is of another direction: both cannot be true of one."""
    graded = old.grade is not None and old.grade.value.strip("+-") not in ("0", "")
    return graded and new.status in ("negative", "absent") and new.grade is None


def _other_direction_of_last(entries: Sequence[Entry], new: Entry) -> list[Entry] | None:
    """Return the entries with a test's grade doubted that was denied right after it, else None: one finding, since the
    note has no place for the direction."""
    old = entries[-1] if entries else None
    if old is None or old.kind != "test" or not _denied_after_grade(old.finding, new.finding):
        return None
    named = ("region", "side", "finding")
    if any(getattr(old.finding, name) != getattr(new.finding, name) for name in named):
        return None
    if new.utterance - old.utterance > 1:
        return None
    doubts = [*old.finding.doubts, Doubt(reason="incomplete", detail=TWO_DIRECTIONS, suggestion=None)]
    said = f"{old.finding.said} … {new.finding.said}".strip(" …")
    return [*entries[:-1], old.with_finding(old.finding.model_copy(update={"doubts": doubts, "said": said}))]


# How many findings and utterances back an end feel finds the movement that it was felt in.
_FELT_BACK = 4
_FELT_UTTERANCES = 3


def _end_feel_of_last(entries: Sequence[Entry], new: Entry) -> list[Entry] | None:
    """Return the entries with an end feel put on the movement it was felt in ("passive flexion one ten." … "The end
    feel in flexion is soft tissue."), else None."""
    finding = new.finding
    other = (finding.degrees, finding.grade, finding.status, finding.at_degrees, finding.structure)
    if new.kind != "movement" or finding.end_feel is None or any(value is not None for value in other):
        return None
    for place in range(len(entries) - 1, max(len(entries) - 1 - _FELT_BACK, -1), -1):
        old = entries[place]
        if new.utterance - old.utterance > _FELT_UTTERANCES:
            return None
        if (old.finding.finding, old.finding.region) != (finding.finding, finding.region):
            continue
        stated = finding.section in (old.finding.section, "active_motion")  # what is felt is felt passively
        if not stated or old.finding.end_feel is not None or old.finding.side != finding.side:
            return None
        if old.finding.degrees is None:
            return None
        felt = old.finding.model_copy(update={"end_feel": finding.end_feel})
        return [*entries[:place], old.with_finding(felt), *entries[place + 1 :]]
    return None


def _verdict_on_both(entries: Sequence[Entry], new: Entry) -> list[Entry] | None:
    """Return the entries with a verdict put on both sides ("straight leg raise left seventy, right eighty, both
    negative"), else None."""
    said, pair = new.finding, list(entries[-2:])
    alike = all((e.finding.finding, e.sentence) == (said.finding, new.sentence) for e in pair)
    sides = {entry.finding.side for entry in pair}
    if new.kind != "test" or said.side != "both" or said.status is None or not alike or sides != {"left", "right"}:
        return None
    open_ = all(entry.finding.status is None and entry.finding.degrees is not None for entry in pair)
    if not open_ or said.degrees is not None or new.utterance != pair[0].utterance:
        return None
    judged = [e.with_finding(e.finding.model_copy(update={"status": said.status})) for e in pair]
    return [*entries[:-2], *judged]


_MERGED = ("structure", "status", "degrees", "grade", "measure", "at_degrees", "severity", "end_feel")


def _of_the_rest(old: Finding, new: Finding) -> bool:
    """Whether a strength is that of all else: "weak supination, everything else five"."""
    return new.finding == "strength" and new.structure is None and old.structure is not None


def merge_with_last(entries: Sequence[Entry], new: Entry) -> list[Entry] | None:
    """Return the entries with `new` merged into one of the same sentence that it only adds to, else None.

    "Lachman positive, grade two" is one finding, and so is "swelling, mild swelling on the left".
    """
    added = _end_feel_of_last(entries, new) or _other_direction_of_last(entries, new) or _verdict_on_both(entries, new)
    if added is not None:
        return added
    for place in range(len(entries) - 1, -1, -1):
        old = entries[place]
        if (old.utterance, old.sentence) != (new.utterance, new.sentence):
            return None
        if old.finding.finding != new.finding.finding or old.finding.section != new.finding.section:
            continue
        elsewhere = old.finding.region != new.finding.region and new.finding.finding in ("strength", "range of motion")
        if elsewhere or _denied_after_grade(old.finding, new.finding) or _of_the_rest(old.finding, new.finding):
            continue
        if new.side_said and old.side_said and old.finding.side != new.finding.side:
            continue
        announced = old.finding.side in ("left", "right") and not any(
            doubt.reason == "side_assumed" for doubt in old.finding.doubts
        )
        if new.side_said and announced and old.finding.side != new.finding.side:
            continue  # "sulcus one centimetre, on the left one centimetre too"
        pairs = [(getattr(old.finding, name), getattr(new.finding, name)) for name in _MERGED]
        if any(before is not None and after is not None and before != after for before, after in pairs):
            continue
        if not any(before is not None and before == after for before, after in pairs) and new.finding.structure:
            continue
        update: dict[str, object] = {
            name: after
            for name, (before, after) in zip(_MERGED, pairs, strict=True)
            if before is None and after is not None
        }
        if update.get("status") == "reduced" and old.finding.degrees is not None and new.finding.limited_by:
            del update["status"]  # "zero to ninety-five, flexion limited by pain": the number says how far
        for name in ("with_", "limited_by"):
            before, after = getattr(old.finding, name), getattr(new.finding, name)
            update[name] = [*before, *[label for label in after if label not in before]]
        if new.side_said and not old.side_said:
            update["side"] = new.finding.side
            update["doubts"] = [doubt for doubt in old.finding.doubts if doubt.reason != "side_assumed"]
        out = list(entries)
        out[place] = dc_replace(
            old.with_finding(old.finding.model_copy(update=update)), side_said=old.side_said or new.side_said
        )
        return out
    return None
