"""Put right a finding said before, once it is known which words of a correction are wrong and which are right."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.exchange import labels, put, recent
from dictate.language.mentions import Mention
from dictate.language.phrases import PhraseIndex
from dictate.language.repair import type_of
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import Token

_ENOUGH_WORDS = 2  # of a label, its head among them ("the bursa I called infrapatellar")
_TARGET_TYPES = ("structure", "test", "movement", "reflex", "sign", "pulse", "task")


def put_right(
    state: State,
    tokens: Sequence[Token],
    cue: Mention,
    pivot: Mention,
    old: Sequence[Mention],
    new: Sequence[Mention],
    end: int,
    index: PhraseIndex,
) -> State | None:
    """Return the state with what a correction names put right, or None where nothing said before is like it.

    Args:
        state: of the exam.
        tokens: of the utterance.
        cue: says that a correction comes.
        pivot: stands between wrong and right.
        old: what the words name as wrong.
        new: what they name instead.
        end: where the correction ends.
        index: the wordings of the lexicon.
    """
    said = " ".join(token.text for token in tokens[cue.end : pivot.start] if token.text)
    known = {label for mention in old for label in labels(mention)}
    told = [m for m in new if is_value(m) and not m.cue("negation")]
    right = next((m for m in told if not labels(m) & known), next(iter(told), None))  # "the scar's on the right"
    wrong = next((m for m in old if right is not None and type_of(m) == type_of(right)), None)
    wrong = wrong or next((m for m in old if is_value(m)), None)
    if right is not None and right.quantity:
        return _correct_measure(state, old, right, said) or _correct_number(state, wrong, right, said, old)
    if right is not None and right.cue("side") and not right.terms():
        return _correct_cue(state, "side", right, wrong, old, said)
    if right is not None and right.cue("status") and not right.terms() and not _name_something(new):
        return _correct_cue(state, "status", right, wrong, old, said)
    return _correct_term(state, tokens, cue, pivot, wrong, right, end, index, said)


def put_right_by_kind(state: State, right: Mention, said: str) -> State | None:
    """Return the state with the right value in the place of the last one of its kind, or None where there is none."""
    if right.quantity:
        return _correct_number(state, None, right, said)
    if right.cue("side") and not right.terms():
        return _correct_cue(state, "side", right, None, [], said)
    return _correct_like(state, right, said)


def is_value(mention: Mention) -> bool:
    """Whether a mention is what a correction may put in the place of something: a number, name, side or status."""
    return bool(mention.quantity or mention.terms(*_TARGET_TYPES) or mention.cue("side") or mention.cue("status"))


def _name_something(mentions: Sequence[Mention]) -> bool:
    """Whether any of the mentions names something."""
    return any(m.terms(*_TARGET_TYPES) for m in mentions)


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
