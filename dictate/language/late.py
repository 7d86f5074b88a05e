"""Corrections that come late, or from a second voice: "I said lateral meniscus, I meant the ligament", "scrap that"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.contract import OPPOSITE
from dictate.language.mentions import Mention, MentionFinder
from dictate.language.phrases import PhraseIndex
from dictate.language.repair import type_of
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, Token

# How many findings back a named mistake is looked for: the whole exam may be meant, the last one first.
_ENOUGH_WORDS = 2  # of a label, its head among them ("the bursa I called infrapatellar")
_REACH = 400
_HEAD_WORDS = 4  # before "I said", "I gave you"
_TARGET_TYPES = ("structure", "test", "movement", "reflex", "sign", "pulse", "task")


def withdraw(state: State) -> State:
    """Return the state without the last statement's findings ("disregard that")."""
    if not state.entries:
        return state
    frame = state.entries[-1].frame
    kept = tuple(entry for entry in state.entries if entry.frame != frame)
    return replace(state, entries=kept)


def correct(
    state: State, tokens: Sequence[Token], finder: MentionFinder, index: PhraseIndex, *, regions: frozenset[str]
) -> tuple[State, Sequence[Token]]:
    """Carry out a late correction found in the tokens; return the state and the tokens that are left to read."""
    content, talk = finder.find(tokens, regions=regions)
    turned = _this_not_that(state, tokens, content) or _other_side(state, tokens, content)
    if turned is not None:
        return turned
    cue = next((m for m in talk if m.cue("late")), None) or _ought(tokens, content, talk)
    cue = cue or _made(state, tokens, content, talk)
    if cue is None or not state.entries:
        return state, tokens
    if tokens[cue.start].norm == "you" and not _opens(tokens, cue.start):
        return state, tokens  # "step off two fingers and you are on the pillar" tells where that is
    end = _statement_end(tokens, cue.end)
    pivot = _pivot(talk, content, cue, end) or _asked_back(tokens, content, cue, end)
    sense = cue.cue("late")
    if pivot is None and sense and sense.cue and sense.cue.value == "direct":
        return _correct_directly(state, tokens, content, cue, end)
    if pivot is None:
        return state, tokens
    if any(token.norm == "wrong" for token in tokens[cue.end : pivot.start]):
        return state, tokens  # "I gave you the wrong knees": what is right is said in full, see `challenge`
    head = [m for m in content if cue.start - _HEAD_WORDS <= m.start and m.end <= cue.start]  # "the hip I gave you"
    old = [*head, *(m for m in content if cue.end <= m.start and m.end <= pivot.start)]
    new = [m for m in content if pivot.end <= m.start < end and not _is_pronoun(tokens, m)]
    corrected = _apply(state, tokens, cue, pivot, old, new, end, index)
    if corrected is None:
        return state, tokens
    start = _statement_start(tokens, cue.start)
    return corrected, _blanked(tokens, start, end)


def corrected_from(tokens: Sequence[Token], index: PhraseIndex, starts: Sequence[int]) -> list[int]:
    """Return which sentences of an utterance, of those that begin at `starts`, may correct what it said before."""
    if len(starts) < _ENOUGH_SENTENCES:
        return []
    cues = [start for start, _, senses in index.matches(tokens) if any(s.cue and s.cue.type == "late" for s in senses)]
    cues += [p for p in range(2, len(tokens)) if _points_at_side(tokens, p) or _denies_after(tokens, p)]
    return [start for start, end in pairwise([*starts, len(tokens)]) if start and any(start <= c < end for c in cues)]


_ENOUGH_SENTENCES = 2


def _denies_after(tokens: Sequence[Token], place: int) -> bool:
    """Whether ", not …" stands here behind "that's": it may correct what was said before."""
    near = [token.norm for token in tokens[max(0, place - 6) : place]]
    return tokens[place].norm == "not" and tokens[place - 1].break_after == COMMA and bool(_POINTS & set(near))


def _points_at_side(tokens: Sequence[Token], place: int) -> bool:
    words = [token.norm for token in tokens[place - 2 : place]]
    side = tokens[place].norm in OPPOSITE
    if words == ["on", "the"] and place > 2 and tokens[place - 3].text in ("i'm", "you're"):
        return side  # "no, I'm on the left arm"
    return side and words[-1] in _OWNED and words[0] in (*_POINTS, "is", "actually")


def _opens(tokens: Sequence[Token], place: int) -> bool:
    """Whether a statement begins here, "no" and "and" not counted as its beginning."""
    return place == 0 or bool(tokens[place - 1].break_after) or tokens[place - 1].norm in ("no", "sorry", "think")


_OWNED = frozenset({"his", "her", "their", "your", "my", "the"})
_NOT_BEFORE = 3  # words between what is right and "not" with what is wrong ("C7 dermatome, not C6")


def _this_not_that(
    state: State, tokens: Sequence[Token], content: Sequence[Mention]
) -> tuple[State, Sequence[Token]] | None:
    """ "So that's C7, not C6", "it's the right, not the left": the last statement that had the one has the other."""
    for wrong in content:
        denied = wrong.start - 1 if tokens[wrong.start - 1].norm == "not" else wrong.start - 2
        if denied < 1 or tokens[denied].norm != "not" or tokens[wrong.start - 1].norm not in ("not", "the", "a"):
            continue
        right = next((m for m in content if m.start < denied <= m.end + _NOT_BEFORE and _alike(m, wrong)), None)
        start = _statement_start(tokens, right.start) if right is not None else 0
        if right is not None and right.quantity and wrong.quantity:
            put_right = _number_put_right(state, tokens, content, wrong, right)
            if put_right is not None:
                return put_right
            continue
        pointed = right is not None and any(t.norm in _POINTS for t in tokens[start : right.start])
        if right is None or not pointed:
            continue
        for place, entry in _recent(state)[:_NOT_BEFORE]:
            changed = _exchanged(entry, wrong, right)
            if changed is not None and state.utterances - entry.utterance <= _TURNS_WITHIN:
                return _put(state, place, changed), _blanked(tokens, start, wrong.end)
    return None


def _alike(one: Mention, other: Mention) -> bool:
    """Whether two mentions name things of one kind: levels, sides or places, and not the same."""
    if one.levels and other.levels:
        return one.levels != other.levels
    if one.quantity and other.quantity:
        return one.quantity.text() != other.quantity.text()
    sides = [sense.cue.value for m in (one, other) if (sense := m.cue("side")) and sense.cue]
    if len(sides) == 2:
        return sides[0] != sides[1]
    return bool(one.terms("structure") and other.terms("structure")) and not _labels(one) & _labels(other)


def _number_put_right(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], wrong: Mention, right: Mention
) -> tuple[State, Sequence[Token]] | None:
    """ "Great toe extension, right, I had the arm on the wrong bone: thirty-five, not forty-five." """
    begin = _sentence_start(tokens, right.start)
    while begin > 0 and not any(m.terms() for m in content if begin <= m.start < right.start):
        begin = _sentence_start(tokens, begin - 1)  # what the number is of may be named in the sentence before
    named = {label for m in content if begin <= m.start < right.start for label in _labels(m)}
    sides = {s.cue.value for m in content if begin <= m.start < right.start and (s := m.cue("side")) and s.cue}
    for place, entry in _recent(state):
        finding = entry.finding
        if not named & {finding.finding, finding.structure} or (sides and finding.side not in sides):
            continue
        field = _field_with(entry, wrong)
        if field is None or right.quantity is None:
            continue
        changed = change(
            entry, *_with_number(entry, field, right.quantity.value, right.quantity.text()), said=finding.said
        )
        return _put(state, place, changed), _blanked(tokens, begin, wrong.end)
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
    if structure in _labels(wrong) and _labels(right):
        return change(entry, "structure", sorted(_labels(right))[0], said=structure, doubt=doubt)
    return None


_POINTS = frozenset({"that's", "it's", "this"})
_TURNS_WITHIN = 2  # utterances after the finding


def _other_side(
    state: State, tokens: Sequence[Token], content: Sequence[Mention]
) -> tuple[State, Sequence[Token]] | None:
    """ "That's his left you've got": somebody sees that the last statement was of the other side."""
    last = state.entries[-1] if state.entries else None
    if last is None or state.utterances - last.utterance > _TURNS_WITHIN:
        return None
    for mention in content:
        sense = mention.cue("side")
        side = sense.cue.value if sense and sense.cue else None
        start = _statement_start(tokens, mention.start)
        end = next((p + 1 for p in range(mention.end - 1, len(tokens)) if tokens[p].break_after), len(tokens))
        behind = {token.norm for token in tokens[mention.end : end]}
        pointed = mention.end - 1 >= start + _ENOUGH_WORDS and _points_at_side(tokens, mention.end - 1)
        alone = not any(m.terms() or m.quantity or m.cue("status") for m in content if start <= m.start < end)
        wrong = side in OPPOSITE and last.finding.side == OPPOSITE.get(side or "")
        here = _last_of_side(tokens, content, OPPOSITE.get(side or "", ""), start)
        if pointed and alone and here is not None:  # "positive left, no, I'm on the right hand, positive right"
            judged = next((m.start for m in content if m.end == here.start and m.cue("status")), here.start)
            return state, _blanked(tokens, judged, end)
        if not (pointed and alone and wrong) or "done" in behind:
            continue
        doubt = "another side was named for it afterwards"
        entries = [
            change(entry, "side", side, said=entry.finding.said, doubt=doubt) if entry.frame == last.frame else entry
            for entry in state.entries
        ]
        return replace(state, entries=tuple(entries)), _blanked(tokens, start, end)
    return None


def _last_of_side(tokens: Sequence[Token], content: Sequence[Mention], side: str, end: int) -> Mention | None:
    """Return the last mention of a side that the same sentence has before a place."""
    begin = _sentence_start(tokens, max(end - 1, 0))
    said = [m for m in content if begin <= m.start < end and (sense := m.cue("side")) and sense.cue]
    return said[-1] if said and said[-1].cue("side").cue.value == side else None  # type: ignore[union-attr]


def _is_pronoun(tokens: Sequence[Token], mention: Mention) -> bool:
    return mention.end - mention.start == 1 and tokens[mention.start].norm == "one"


def _correct_directly(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], cue: Mention, end: int
) -> tuple[State, Sequence[Token]]:
    """ "I make that one twenty", "did you mean valgus?": the right value stands right behind the cue."""
    start = _statement_start(tokens, cue.start)
    if tokens[_sentence_start(tokens, cue.start)].norm in _WONDERING:
        return state, tokens  # "how would you know you're on the line and not down on the tibia?"
    if any(m.end <= cue.start and m.quantity and m.start >= _sentence_start(tokens, cue.start) for m in content):
        return state, tokens  # "four plus, no, I'd make that five" repairs what this sentence says
    inside = [m for m in content if start <= m.start < end and _is_value(m) and not m.cue("negation")]
    right = next((m for m in inside if m.start >= cue.end), None) or next((m for m in inside if m.cue("side")), None)
    if right is None:
        return state, tokens
    said = " ".join(token.text for token in tokens[right.start : right.end])
    corrected: State | None = None
    if right.quantity:
        corrected = _correct_number(state, None, right, said)
    elif right.cue("side") and not right.terms():
        corrected = _correct_cue(state, "side", right, None, [], said)
    else:
        corrected = _correct_like(state, right, said)
    return (corrected, _blanked(tokens, start, end)) if corrected is not None else (state, tokens)


_WONDERING = frozenset({"how", "what", "why", "where", "when", "which", "whether", "if"})


def _correct_like(state: State, right: Mention, said: str) -> State | None:
    """Put the term in the place of the last one of its kind."""
    kinds = {sense.term.kind: sense.term.label for sense in right.terms() if sense.term}
    for place, entry in _recent(state)[:3]:
        if (
            entry.kind in kinds
            and entry.kind in ("test", "movement", "sign")
            and entry.finding.finding != kinds[entry.kind]
        ):
            doubt = "changed by another speaker's question"
            return _put(state, place, change(entry, "finding", kinds[entry.kind], said=said, doubt=doubt))
        if "structure" in kinds and entry.finding.structure and entry.finding.structure != kinds["structure"]:
            return _put(state, place, change(entry, "structure", kinds["structure"], said=said))
    return None


def _ought(tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention]) -> Mention | None:
    """ "That flexion should be one twenty": a correction, where something said before is pointed at."""
    for mention in talk:
        if not mention.cue("late_target") or tokens[mention.start].norm != "should":
            continue
        term = next((m for m in reversed(content) if m.end <= mention.start and m.terms()), None)
        if term is not None and mention.start - term.end <= 1:
            pointed = {token.norm for token in tokens[max(0, term.start - 2) : term.start]}
            if pointed & {"that", "my", "earlier", "first"}:
                return Mention(term.start, term.start)
    return None


def _made(state: State, tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention]) -> Mention | None:
    """ "Back to Gillet's, make that positive": a correction of something that was said of in an earlier utterance."""
    for mention in talk:
        words = {token.norm for token in tokens[mention.start : mention.end]}
        if not mention.cue("late_target") or not words & {"make", "change", "correct"}:
            continue
        before = [m for m in content if m.end <= mention.start]
        if len(before) != 1 or not before[0].terms() or mention.start - before[0].end > 1:
            continue
        said = {label for entry in state.entries for label in (entry.finding.finding, entry.finding.structure)}
        if _labels(before[0]) & said:
            return Mention(before[0].start, before[0].start)
    return None


def _statement_end(tokens: Sequence[Token], start: int) -> int:
    """The correction may run over one full stop: "You said left there. It's the right." """
    stops = 0
    for place in range(start, len(tokens)):
        if tokens[place].break_after not in (NO_BREAK, ","):
            stops += 1
            if stops == 2:
                return place + 1
    return len(tokens)


def _statement_start(tokens: Sequence[Token], start: int) -> int:
    place = start
    while place > 0 and tokens[place - 1].break_after == NO_BREAK:
        place -= 1
    return place


def _sentence_start(tokens: Sequence[Token], start: int) -> int:
    place = start
    while place > 0 and tokens[place - 1].break_after in (NO_BREAK, COMMA):
        place -= 1
    return place


def _pivot(talk: Sequence[Mention], content: Sequence[Mention], cue: Mention, end: int) -> Mention | None:
    """Return what stands between wrong and right: "it's", "I meant", "sorry"."""
    options = [m for m in talk if cue.end <= m.start < end and (m.cue("late_target") or m.cue("repair"))]
    for option in options:
        before = any(cue.end <= m.start and m.end <= option.start for m in content) or option.start > cue.end
        after = any(option.end <= m.start < end for m in content)
        if before and after:
            return option
    return None


def _asked_back(tokens: Sequence[Token], content: Sequence[Mention], cue: Mention, end: int) -> Mention | None:
    """ "Did I say four there? Five.": the question mark stands between wrong and right."""
    if tokens[cue.start].norm != "did":
        return None
    stop = next((place for place in range(cue.end, end) if tokens[place].break_after == QUESTION), None)
    if stop is None or not any(stop < m.start < end and _is_value(m) for m in content):
        return None
    return Mention(stop + 1, stop + 1)


def _apply(
    state: State,
    tokens: Sequence[Token],
    cue: Mention,
    pivot: Mention,
    old: Sequence[Mention],
    new: Sequence[Mention],
    end: int,
    index: PhraseIndex,
) -> State | None:
    said = " ".join(token.text for token in tokens[cue.end : pivot.start] if token.text)
    right = next((m for m in new if _is_value(m)), None)
    wrong = next((m for m in old if right is not None and type_of(m) == type_of(right)), None)
    wrong = wrong or next((m for m in old if _is_value(m)), None)
    if right is not None and right.quantity:
        return _correct_measure(state, old, right, said) or _correct_number(state, wrong, right, said)
    if right is not None and right.cue("side") and not right.terms():
        return _correct_cue(state, "side", right, wrong, old, said)
    if right is not None and right.cue("status") and not right.terms() and not new_terms(new):
        return _correct_cue(state, "status", right, wrong, old, said)
    return _correct_term(state, tokens, cue, pivot, wrong, right, end, index, said)


def new_terms(mentions: Sequence[Mention]) -> bool:
    """Whether any of the mentions names something."""
    return any(m.terms(*_TARGET_TYPES) for m in mentions)


def _is_value(mention: Mention) -> bool:
    return bool(mention.quantity or mention.terms(*_TARGET_TYPES) or mention.cue("side") or mention.cue("status"))


def _correct_measure(state: State, old: Sequence[Mention], right: Mention, said: str) -> State | None:
    """ "Calf girth, I read the tape wrong on the left, it's thirty-five and a half": what was measured is named."""
    named = {label for mention in old for label in _labels(mention)}
    sides = {sense.cue.value for mention in old if (sense := mention.cue("side")) and sense.cue}
    for place, entry in _recent(state):
        measure = entry.finding.measure
        if measure is None or not named & {entry.finding.finding, entry.finding.structure} or right.quantity is None:
            continue
        if sides and entry.finding.side not in sides:
            continue
        corrected = measure.model_copy(update={"value": right.quantity.value})
        return _put(state, place, change(entry, "measure", corrected, said=said))
    return None


def _correct_number(state: State, wrong: Mention | None, right: Mention, said: str) -> State | None:
    value = right.quantity.value if right.quantity else 0.0
    for place, entry in _recent(state):
        degrees = entry.finding.degrees
        grade = entry.finding.grade
        said_wrong = wrong.quantity.text() if wrong and wrong.quantity else None
        if degrees is None and grade is not None and grade.value == said_wrong and right.quantity:
            corrected = grade.model_copy(update={"value": right.quantity.text()})
            return _put(state, place, change(entry, "grade", corrected, said=said))
        if degrees is None or (right.quantity is not None and right.quantity.is_grade):
            continue  # a grade corrects no angle
        if wrong and wrong.quantity and abs(degrees) != wrong.quantity.value:
            continue
        if wrong is None and not _plausible(entry, value):
            continue
        if wrong and wrong.terms() and entry.finding.finding not in _labels(wrong):
            continue
        signed = -value if degrees < 0 else value
        return _put(state, place, change(entry, "degrees", signed, said=said))
    return None


def _plausible(entry: Entry, value: float) -> bool:
    limits = entry.term.plausible_deg.value if entry.term and entry.term.plausible_deg else None
    return not isinstance(limits, tuple) or limits[0] <= value <= limits[1]


def _correct_cue(
    state: State, field: str, right: Mention, wrong: Mention | None, old: Sequence[Mention], said: str
) -> State | None:
    sense = right.cue(field)
    value = sense.cue.value if sense and sense.cue else None
    wrong_sense = wrong.cue(field) if wrong else None
    wrong_value = wrong_sense.cue.value if wrong_sense and wrong_sense.cue else None
    named = {label for m in old for label in _labels(m)}
    regions = {sense.value for m in old if (sense := m.shaped("region"))}
    for place, entry in _recent(state):
        if regions and entry.finding.region not in regions:
            continue
        if named and not named & {entry.finding.finding, entry.finding.structure}:
            continue
        before = getattr(entry.finding, field)
        if wrong_value and before != wrong_value:
            continue
        if before is None or before == value:
            continue
        return _put(state, place, change(entry, field, value, said=said))
    return None


def _correct_term(
    state: State,
    tokens: Sequence[Token],
    cue: Mention,
    pivot: Mention,
    wrong: Mention | None,
    right: Mention | None,
    end: int,
    index: PhraseIndex,
    said: str,
) -> State | None:
    head = [token.norm for token in tokens[max(0, cue.start - 3) : cue.start]]
    wrong_words = [token.norm for token in tokens[cue.end : pivot.start]]
    right_words = [token.norm for token in tokens[pivot.end : end]]
    labels = _labels(wrong) if wrong else set()
    for place, entry in _recent(state):
        for field in ("structure", "finding"):
            stored = getattr(entry.finding, field)
            if stored is None:
                continue
            if stored not in labels and not _loosely(stored, [*wrong_words, *head]):
                continue
            value = _right_label(right, right_words, stored, field, index)
            if value is None or value == stored:
                continue
            return _put(state, place, change(entry, field, value, said=said))
    return None


def _loosely(label: str, words: Sequence[str]) -> bool:
    """Whether the words name this label, in any order and with others among them."""
    wanted = set(label.split())
    named = wanted & set(words)
    head = label.split()[-1] if wanted else ""
    return bool(wanted) and (named == wanted or (head in named and len(named) >= _ENOUGH_WORDS))


def _right_label(
    right: Mention | None, words: Sequence[str], stored: str, field: str, index: PhraseIndex
) -> str | None:
    if right is not None:
        labels = [
            s.term.label for s in right.terms() if s.term and (s.term.kind == "structure") == (field == "structure")
        ]
        if labels:
            return labels[0]
    last = stored.split()[-1]  # "the prepatellar one": the head noun is that of the old label
    for start in range(len(words)):
        for stop in range(len(words), start, -1):
            senses = index.lookup([*words[start:stop], last])
            label = next((s.term.label for s in senses if s.term and s.shape == "name"), None)
            if label:
                return label
    if right is not None and right.cue("place"):
        sense = right.cue("place")
        _, _, rest = stored.partition(" ")
        return f"{sense.cue.value} {rest}" if sense and sense.cue and rest else None
    return None


def _labels(mention: Mention) -> set[str]:
    return {sense.term.label for sense in mention.terms() if sense.term}


def _recent(state: State) -> list[tuple[int, Entry]]:
    return list(enumerate(state.entries))[::-1][:_REACH]


def _put(state: State, place: int, entry: Entry) -> State:
    entries = list(state.entries)
    entries[place] = entry
    return replace(state, entries=tuple(entries))


def _blanked(tokens: Sequence[Token], start: int, end: int) -> list[Token]:
    return [
        replace(token, norm="", text="", break_after=NO_BREAK) if start <= place < end else token
        for place, token in enumerate(tokens)
    ]
