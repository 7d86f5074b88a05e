"""Corrections that come late, or from a second voice: "I said lateral meniscus, I meant the ligament", "scrap that"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.language.admitted import admits, admitted
from dictate.language.exchange import blanked, labels, put, recent, sentence_start, statement_start
from dictate.language.mentions import Mention, MentionFinder
from dictate.language.phrases import PhraseIndex
from dictate.language.pointed import (
    POINTS,
    answered_side,
    other_side,
    points_at_side,
    side_answered,
    this_not_that,
)
from dictate.language.repair import type_of
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, Token

_ENOUGH_WORDS = 2  # of a label, its head among them ("the bursa I called infrapatellar")
_HEAD_WORDS = 8  # before "I said", "I gave you"
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
    turned = this_not_that(state, tokens, content) or other_side(state, tokens, content)
    turned = turned or answered_side(state, tokens) or admitted(state, tokens, content)
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
    asked = any(token.break_after == QUESTION for token in tokens[cue.end : pivot.start if pivot else end])
    if (pivot is None or asked) and sense and sense.cue and sense.cue.value == "direct":
        return _correct_directly(state, tokens, content, cue, end)
    if pivot is None:
        return state, tokens
    if any(token.norm == "wrong" for token in tokens[cue.end : pivot.start]):
        return state, tokens  # "I gave you the wrong knees": what is right is said in full, see `challenge`
    begin = max(sentence_start(tokens, cue.start), cue.start - _HEAD_WORDS)
    head = [m for m in content if begin <= m.start and m.end <= cue.start]  # "the abduction on the right, I said four"
    old = [*head, *(m for m in content if cue.end <= m.start and m.end <= pivot.start)]
    new = [m for m in content if pivot.end <= m.start < end and not _is_pronoun(tokens, m)]
    corrected = _apply(state, tokens, cue, pivot, old, new, end, index)
    if corrected is None:
        return state, tokens
    start = min([statement_start(tokens, cue.start), *(m.start for m in head)])
    opening = sentence_start(tokens, start)
    if not any(_is_value(m) for m in content if opening <= m.start < start):
        start = opening  # "one more thing: …"
    return corrected, blanked(tokens, start, end)


def corrected_from(
    tokens: Sequence[Token], index: PhraseIndex, starts: Sequence[int], numbers: frozenset[str]
) -> list[int]:
    """Return where an utterance begins to correct what it said before: a sentence of those that begin at `starts`, or a
    clause that says so ("…, squat full, and one correction, that effusion is moderate"). `numbers` are number words."""
    told = [
        place for place in range(1, len(tokens))
        if tokens[place - 1].break_after == COMMA and _announces_correction(tokens, place)
    ]  # fmt: skip
    if len(starts) < _ENOUGH_SENTENCES:
        return told
    cues = [start for start, _, senses in index.matches(tokens) if any(s.cue and s.cue.type == "late" for s in senses)]
    cues += [p for p in range(2, len(tokens)) if points_at_side(tokens, p) or _denies_after(tokens, p)]
    cues += [p for p in starts if p and tokens[p - 1].break_after == QUESTION and side_answered(tokens, p) is not None]
    spans = list(pairwise([*starts, len(tokens)]))
    cues += [start for start, end in spans if admits(tokens, start, end, numbers)]
    return sorted({*told, *(start for start, end in spans if start and any(start <= c < end for c in cues))})


_ENOUGH_SENTENCES = 2


def _announces_correction(tokens: Sequence[Token], place: int) -> bool:
    """Whether a clause opens with "one correction", "and a correction before we go": set off, and of what was said."""
    words = [token.norm for token in tokens[place : place + _ANNOUNCING_WORDS]]
    first = words[1:] if words[:1] in (["and"], ["oh"], ["but"]) else words
    return first[:2] in (["one", "correction"], ["a", "correction"])


_ANNOUNCING_WORDS = 3


def _denies_after(tokens: Sequence[Token], place: int) -> bool:
    """Whether ", not …" stands here behind "that's": it may correct what was said before."""
    near = [token.norm for token in tokens[max(0, place - 6) : place]]
    if tokens[place].norm == "not" and near[-1:] and place + 1 < len(tokens):
        verdicts = {near[-1], tokens[place + 1].norm}
        if verdicts == {"positive", "negative"} and tokens[place - 1].break_after == COMMA:
            return True  # "so Mill's is positive, not negative"
    pointed = bool((POINTS | {"that"}) & set(near))  # "that quads was four, not four plus" too
    return tokens[place].norm == "not" and tokens[place - 1].break_after == COMMA and pointed


def _opens(tokens: Sequence[Token], place: int) -> bool:
    """Whether a statement begins here, "no" and "and" not counted as its beginning."""
    return place == 0 or bool(tokens[place - 1].break_after) or tokens[place - 1].norm in ("no", "sorry", "think")


def _is_pronoun(tokens: Sequence[Token], mention: Mention) -> bool:
    return mention.end - mention.start == 1 and tokens[mention.start].norm == "one"


def _correct_directly(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], cue: Mention, end: int
) -> tuple[State, Sequence[Token]]:
    """ "I make that one twenty", "did you mean valgus?": the right value stands right behind the cue."""
    start = statement_start(tokens, cue.start)
    if tokens[sentence_start(tokens, cue.start)].norm in _WONDERING:
        return state, tokens  # "how would you know you're on the line and not down on the tibia?"
    if any(m.end <= cue.start and m.quantity and m.start >= sentence_start(tokens, cue.start) for m in content):
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
    return (corrected, blanked(tokens, start, end)) if corrected is not None else (state, tokens)


_WONDERING = frozenset({"how", "what", "why", "where", "when", "which", "whether", "if"})


def _correct_like(state: State, right: Mention, said: str) -> State | None:
    """Put the term in the place of the last one of its kind."""
    kinds = {sense.term.kind: sense.term.label for sense in right.terms() if sense.term}
    for place, entry in recent(state)[:3]:
        if (
            entry.kind in kinds
            and entry.kind in ("test", "movement", "sign")
            and entry.finding.finding != kinds[entry.kind]
        ):
            doubt = "changed by another speaker's question"
            return put(state, place, change(entry, "finding", kinds[entry.kind], said=said, doubt=doubt))
        if "structure" in kinds and entry.finding.structure and entry.finding.structure != kinds["structure"]:
            return put(state, place, change(entry, "structure", kinds["structure"], said=said))
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
        if labels(before[0]) & said:
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
    known = {label for mention in old for label in labels(mention)}
    told = [m for m in new if _is_value(m) and not m.cue("negation")]
    right = next((m for m in told if not labels(m) & known), next(iter(told), None))  # "the scar's on the right"
    wrong = next((m for m in old if right is not None and type_of(m) == type_of(right)), None)
    wrong = wrong or next((m for m in old if _is_value(m)), None)
    if right is not None and right.quantity:
        return _correct_measure(state, old, right, said) or _correct_number(state, wrong, right, said, old)
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
    named = {label for mention in old for label in labels(mention)}
    sides = {sense.cue.value for mention in old if (sense := mention.cue("side")) and sense.cue}
    for place, entry in recent(state):
        measure = entry.finding.measure
        if measure is None or not named & {entry.finding.finding, entry.finding.structure} or right.quantity is None:
            continue
        if sides and entry.finding.side not in sides:
            continue
        corrected = measure.model_copy(update={"value": right.quantity.value})
        return put(state, place, change(entry, "measure", corrected, said=said))
    return None


def _correct_number(
    state: State, wrong: Mention | None, right: Mention, said: str, old: Sequence[Mention] = ()
) -> State | None:
    value = right.quantity.value if right.quantity else 0.0
    for place, entry in _named_first(recent(state), old):
        degrees = entry.finding.degrees
        grade = entry.finding.grade
        said_wrong = wrong.quantity.text() if wrong and wrong.quantity else None
        if degrees is None and grade is not None and grade.value == said_wrong and right.quantity:
            corrected = grade.model_copy(update={"value": right.quantity.text()})
            return put(state, place, change(entry, "grade", corrected, said=said))
        if degrees is None or (right.quantity is not None and right.quantity.is_grade):
            continue  # a grade corrects no angle
        if wrong and wrong.quantity and abs(degrees) != wrong.quantity.value:
            continue
        if wrong is None and not _plausible(entry, value):
            continue
        if wrong and wrong.terms() and entry.finding.finding not in labels(wrong):
            continue
        signed = -value if degrees < 0 else value
        return put(state, place, change(entry, "degrees", signed, said=said))
    return None


def _named_first(entries: Sequence[tuple[int, Entry]], old: Sequence[Mention]) -> Sequence[tuple[int, Entry]]:
    """Return the entries that the words name, by what and on which side; all of them when they name none."""
    names = {label for mention in old for label in labels(mention)}
    sides = {sense.cue.value for mention in old if (sense := mention.cue("side")) and sense.cue}
    of_side = [(place, entry) for place, entry in entries if not sides or entry.finding.side in sides]
    placed = [(place, entry) for place, entry in of_side if entry.finding.structure in names]
    return placed or [(place, entry) for place, entry in of_side if entry.finding.finding in names] or entries


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
    named = {label for m in old for label in labels(m)}
    regions = {sense.value for m in old if (sense := m.shaped("region"))}
    for place, entry in recent(state):
        if regions and entry.finding.region not in regions:
            continue
        if named and not named & {entry.finding.finding, entry.finding.structure}:
            continue
        before = getattr(entry.finding, field)
        if wrong_value and before != wrong_value:
            continue
        if before is None or before == value:
            continue
        return put(state, place, change(entry, field, value, said=said))
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
    wrongly = labels(wrong) if wrong else set()
    for place, entry in recent(state):
        for field in ("structure", "finding"):
            stored = getattr(entry.finding, field)
            if stored is None:
                continue
            if stored not in wrongly and not _loosely(stored, [*wrong_words, *head]):
                continue
            value = _right_label(right, right_words, stored, field, index, kind=entry.kind)
            if value is None or value == stored:
                continue
            if entry.kind != "test":
                return put(state, place, change(entry, field, value, said=said))
            for near, other in recent(state):  # "stable at zero, opens at thirty" is one test, said as two findings
                if other.utterance == entry.utterance and getattr(other.finding, field) == stored:
                    state = put(state, near, change(other, field, value, said=said))
            return state
    return None


def _loosely(label: str, words: Sequence[str]) -> bool:
    """Whether the words name this label, in any order and with others among them."""
    wanted = set(label.split())
    named = wanted & set(words)
    head = label.split()[-1] if wanted else ""
    return bool(wanted) and (named == wanted or (head in named and len(named) >= _ENOUGH_WORDS))


def _right_label(
    right: Mention | None, words: Sequence[str], stored: str, field: str, index: PhraseIndex, *, kind: str
) -> str | None:
    if right is not None:
        terms = [s.term for s in right.terms() if s.term and (s.term.kind == "structure") == (field == "structure")]
        terms.sort(key=lambda term: term.kind != kind)  # "valgus" in place of a test is a test, too
        if terms:
            return terms[0].label
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
