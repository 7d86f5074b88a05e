"""Corrections that point: "that's his left", "so that's C7, not C6", "thirty-five, not forty-five"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.contract import OPPOSITE
from dictate.language.exchange import blanked, labels, last_turned, put, recent, sentence_start, statement_start
from dictate.language.mentions import Mention
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import Token
from dictate.lexicon.word_lists import CorrectionWords

_NOT_BEFORE = 3  # words between what is right and "not" with what is wrong ("C7 dermatome, not C6")
_TURNS_WITHIN = 2  # utterances after the finding
_ENOUGH_WORDS = 2  # before a side that is pointed at


def this_not_that(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], words: CorrectionWords
) -> tuple[State, Sequence[Token]] | None:
    """ "So that's C7, not C6", "it's the right, not the left": the last statement that had the one has the other."""
    for wrong in content:
        denied = wrong.start - 1 if tokens[wrong.start - 1].norm == "not" else wrong.start - 2
        if denied < 1 or tokens[denied].norm != "not" or tokens[wrong.start - 1].norm not in ("not", "the", "a"):
            continue
        right = next((m for m in content if m.start < denied <= m.end + _NOT_BEFORE and _alike(m, wrong)), None)
        if right is None and (instead := _said_instead(content, wrong)) is not None:
            put_right = _put_right(state, tokens, content, wrong, instead)
            if put_right is not None:
                return put_right
        if right is None and (instead := _level_instead(tokens, content, wrong, words.pointers)) is not None:
            for place, entry in recent(state)[:_NOT_BEFORE]:
                changed = _exchanged(entry, wrong, instead)
                if changed is not None and state.utterances - entry.utterance <= _TURNS_WITHIN:
                    begin = statement_start(tokens, wrong.start)
                    return put(state, place, changed), blanked(tokens, begin, instead.end)
        start = statement_start(tokens, right.start) if right is not None else 0
        if right is not None and (right.quantity or right.cue("status")) and _alike(right, wrong):
            put_right = _put_right(state, tokens, content, wrong, right)
            if put_right is not None:
                return put_right
            continue
        pointed = right is not None and any(t.norm in words.pointers for t in tokens[start : right.start])
        if right is None or not pointed:
            continue
        for place, entry in recent(state)[:_NOT_BEFORE]:
            changed = _exchanged(entry, wrong, right)
            if changed is not None and state.utterances - entry.utterance <= _TURNS_WITHIN:
                return put(state, place, changed), blanked(tokens, start, wrong.end)
    return None


def _said_instead(content: Sequence[Mention], wrong: Mention) -> Mention | None:
    """Return the number or amount that stands right behind the one that is denied ("not ten, it was fifteen")."""
    behind = [m for m in content if wrong.end <= m.start <= wrong.end + _NOT_BEFORE and _alike(m, wrong)]
    return next((m for m in behind if m.quantity or m.cue("severity")), None)


def _level_instead(
    tokens: Sequence[Token], content: Sequence[Mention], wrong: Mention, pointers: frozenset[str]
) -> Mention | None:  # fmt: skip
    """Return the level that is pointed at right behind one that is denied ("that wasn't L4, it's the L5 process")."""
    behind = (m for m in content if wrong.end <= m.start <= wrong.end + _NOT_BEFORE and _alike(m, wrong) and m.levels)
    level = next(behind, None)
    pointed = level is not None and any(t.norm in pointers for t in tokens[wrong.end : level.start])
    return level if pointed else None


def _alike(one: Mention, other: Mention) -> bool:
    """Whether two mentions name things of one kind: levels, sides or places, and not the same."""
    if one.levels and other.levels:
        return one.levels != other.levels
    if one.quantity and other.quantity:
        return one.quantity.text() != other.quantity.text()
    for kind in ("side", "severity", "status"):
        values = [sense.cue.value for m in (one, other) if (sense := m.cue(kind)) and sense.cue]
        if len(values) == 2:
            return values[0] != values[1]
    return bool(one.terms("structure") and other.terms("structure")) and not labels(one) & labels(other)


def _put_right(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], wrong: Mention, right: Mention
) -> tuple[State, Sequence[Token]] | None:
    """ "Great toe extension, right, I had the arm on the wrong bone: thirty-five, not forty-five." """
    begin = sentence_start(tokens, right.start)
    while begin > 0 and not any(m.terms() for m in content if begin <= m.start < right.start):
        begin = sentence_start(tokens, begin - 1)  # what the number is of may be named in the sentence before
    named = {label for m in content if begin <= m.start < right.start for label in labels(m)}
    sides = {s.cue.value for m in content if begin <= m.start < right.start and (s := m.cue("side")) and s.cue}
    for place, entry in recent(state):
        finding = entry.finding
        if not named & {finding.finding, finding.structure} or (sides and finding.side not in sides):
            continue
        changed = _with_right(entry, wrong, right)
        if changed is not None:
            return put(state, place, changed), blanked(tokens, begin, max(wrong.end, right.end))
    return None


def _with_right(entry: Entry, wrong: Mention, right: Mention) -> Entry | None:
    """Return the entry with the right number or amount, or None where it has not the wrong one."""
    said = entry.finding.said
    if right.quantity is not None:
        field = _field_with(entry, wrong)
        number = right.quantity
        return change(entry, *_with_number(entry, field, number.value, number.text()), said=said) if field else None
    for field in ("severity", "status"):
        old, new = wrong.cue(field), right.cue(field)
        if old and new and old.cue and new.cue and getattr(entry.finding, field) == old.cue.value:
            return change(entry, field, new.cue.value, said=said)
    return None


def _field_with(entry: Entry, wrong: Mention) -> str | None:
    """Return which field of a finding has the number that is said to be wrong."""
    finding, number = entry.finding, wrong.quantity
    if number is None:
        return None
    if finding.degrees is not None and abs(finding.degrees) == number.value:
        return "degrees"
    if finding.measure is not None and finding.measure.value == number.value:
        return "measure"
    return "grade" if finding.grade is not None and finding.grade.value == number.text() else None


def _with_number(entry: Entry, field: str, value: float, text: str) -> tuple[str, object]:
    finding = entry.finding
    if field == "measure" and finding.measure is not None:
        return field, finding.measure.model_copy(update={"value": value})
    if field == "grade" and finding.grade is not None:
        return field, finding.grade.model_copy(update={"value": text})
    return field, -value if (finding.degrees or 0) < 0 else value


def _exchanged(entry: Entry, wrong: Mention, right: Mention) -> Entry | None:
    """Return the entry with the one named in place of the other, or None where it had not the other."""
    finding, doubt = entry.finding, "changed by what was said afterwards"
    structure = finding.structure or ""
    if wrong.levels and right.levels:
        level, _, rest = structure.partition(" ")
        if level != wrong.levels[0]:
            return None
        return change(entry, "structure", f"{right.levels[0]} {rest}".strip(), said=structure, doubt=doubt)
    if (old := wrong.cue("side")) and (new := right.cue("side")) and old.cue and new.cue:
        same = finding.side == old.cue.value
        return change(entry, "side", new.cue.value, said=finding.said, doubt=doubt) if same else None
    if structure in labels(wrong) and labels(right):
        return change(entry, "structure", sorted(labels(right))[0], said=structure, doubt=doubt)
    return None


def other_side(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], words: CorrectionWords
) -> tuple[State, Sequence[Token]] | None:
    """ "That's his left you've got": somebody sees that the last statement was of the other side."""
    last = state.entries[-1] if state.entries else None
    if last is None or state.utterances - last.utterance > _TURNS_WITHIN:
        return None
    for mention in content:
        sense = mention.cue("side")
        side = sense.cue.value if sense and sense.cue else None
        start = statement_start(tokens, mention.start)
        end = next((p + 1 for p in range(mention.end - 1, len(tokens)) if tokens[p].break_after), len(tokens))
        behind = {token.norm for token in tokens[mention.end : end]}
        pointed = mention.end - 1 >= start + _ENOUGH_WORDS and points_at_side(tokens, mention.end - 1, words)
        alone = not any(m.terms() or m.quantity or m.cue("status") for m in content if start <= m.start < end)
        wrong = side in OPPOSITE and last.finding.side == OPPOSITE.get(side or "")
        here = _last_of_side(tokens, content, OPPOSITE.get(side or "", ""), start)
        if pointed and alone and here is not None:  # "positive left, no, I'm on the right hand, positive right"
            judged = next((m.start for m in content if m.end == here.start and m.cue("status")), here.start)
            return state, blanked(tokens, judged, end)
        if not (pointed and alone and wrong) or "done" in behind:
            continue
        turned = last_turned(state, side or "", doubt="another side was named for it afterwards")
        return turned, blanked(tokens, start, end)
    return None


def side_answered(tokens: Sequence[Token], start: int, words: CorrectionWords) -> int | None:
    """Return where the side stands that a sentence from `start` on answers a question with ("On the right, aye")."""
    place = start
    while place < len(tokens) and tokens[place].norm in words.before_answered_side:
        place += 1
    if place >= len(tokens) or tokens[place].norm not in OPPOSITE:
        return None
    ended = bool(tokens[place].break_after) or place + 1 == len(tokens)
    ended = ended or tokens[place + 1].norm in words.after_answered_side
    return place if ended else None


def answered_side(
    state: State, tokens: Sequence[Token], words: CorrectionWords
) -> tuple[State, Sequence[Token]] | None:  # fmt: skip
    """ "… wasted on the left." "What's that?" "On the right, aye": who was asked puts the side right."""
    last = state.entries[-1] if state.entries else None
    place = side_answered(tokens, 0, words)
    if last is None or place is None or last.finding.side != OPPOSITE.get(tokens[place].norm):
        return None
    asked = state.utterances - state.challenged[1] <= _TURNS_WITHIN and last.utterance >= state.utterances - 1
    if not asked:
        return None
    turned = last_turned(state, tokens[place].norm, doubt="another side was answered when it was asked about")
    return turned, blanked(tokens, 0, place + 1)


def _last_of_side(tokens: Sequence[Token], content: Sequence[Mention], side: str, end: int) -> Mention | None:
    """Return the last mention of a side that the same sentence has before a place."""
    begin = sentence_start(tokens, max(end - 1, 0))
    said = [m for m in content if begin <= m.start < end and (sense := m.cue("side")) and sense.cue]
    return said[-1] if said and said[-1].cue("side").cue.value == side else None  # type: ignore[union-attr]


def points_at_side(tokens: Sequence[Token], place: int, words: CorrectionWords) -> bool:
    """Whether a side stands here that is pointed at: "that's his left", "I'm on the left arm"."""
    before = [token.norm for token in tokens[place - 2 : place]]
    side = tokens[place].norm in OPPOSITE
    if before == ["on", "the"] and place > 2 and tokens[place - 3].text in ("i'm", "you're"):
        return side  # "no, I'm on the left arm"
    return side and before[-1] in words.owners and before[0] in words.pointers | words.before_pointed_side
