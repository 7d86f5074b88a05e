"""What speaks against a frame being a finding: words nobody knows around it, other talk right before it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from dictate.language.draft import Draft
from dictate.language.mentions import Mention
from dictate.language.repair import Repaired
from dictate.language.segment import Frame
from dictate.language.state import Context
from dictate.language.talk import is_part
from dictate.language.tokens import Token
from dictate.language.unread import unknown_subject

_BESIDE = 2  # words on either side of a finding's own
_THIS_PATIENT = frozenset({"here", "this", "his", "hers", "ours"})
_KNOWN_STEERING = frozenset({"filler", "resume", "pressing", "own_hand"})
_OTHER_TALK = frozenset({"teaching", "history", "imaging", "patient", "condition"})


def understood(repaired: Repaired, start: int, end: int, shortest: int) -> float:
    """Return the share of the words around a frame, up to the breaks on either side, that the lexicon knows.

    A finding is nearly all terms and values; talk about something else uses many words that are neither.
    """
    tokens = repaired.tokens
    while start > 0 and not tokens[start - 1].break_after:
        start -= 1
    while end < len(tokens) and not tokens[end - 1].break_after:
        end += 1
    places = [place for place in range(start, end) if tokens[place].norm]
    if len(places) < shortest:
        return 1.0
    steering = [m for m in repaired.talk if m.cues() & _KNOWN_STEERING]
    content = [m for m in repaired.content if not is_part(m)]
    known = {place for m in (*content, *steering) for place in range(m.start, m.end)}
    return sum(1 for place in places if place in known) / len(places)


def after_other_talk(context: Context, utterance: int) -> bool:
    """Whether talk that is not of this patient now stands right before, in this utterance."""
    kind, place = context.last_talk
    return kind in _OTHER_TALK and utterance - place <= (1 if kind == "imaging" else 0)


_POINTS_AT_THEM = frozenset({"his", "her", "hers", "he", "she", "here", "him", "this", "today", "it's", "that's"})
_MAY_STAND_BEFORE = frozenset(
    {"so", "and", "is", "it", "on", "in", "well", "okay", "now", "then", "one", "but", "does"}
)


def turns_here(tokens: Sequence[Token], frame: Frame, context: Context) -> bool:
    """Whether "here" or "his is" turns from what a test is, as just taught, to what it is in this patient."""
    start = frame.items[0].start
    if not context.topic.bare:
        return False
    if any(token.norm in _THIS_PATIENT for token in tokens[max(0, start - 3) : start + 1]):
        return True
    judged = [item for item in frame.items if item.is_value()]
    verdict = bool(judged) and all(item.value in ("positive", "negative", "equivocal") for item in judged)
    if not verdict or any(item.kind != "test" for item in context.topic.items):
        return False
    place, before = start, []
    while place > 0 and not tokens[place - 1].break_after:
        place -= 1
        before.append(tokens[place].norm)
    return bool(_POINTS_AT_THEM & set(before)) and set(before) <= _POINTS_AT_THEM | _MAY_STAND_BEFORE


_BEFORE_A_VERDICT = frozenset({"it", "is", "it's", "that's", "so", "and", "well", "ok", "okay", "that"})
_TURNS_TO_THEM = frozenset({"hers", "his", "today"})
_IN_THEM = (
    ("in", "him"), ("in", "her"), ("on", "him"), ("on", "her"), ("in", "this"), ("here", "it's"), ("here", "it"),
)  # fmt: skip


def announced_test(frame: Frame, context: Context, tokens: Sequence[Token]) -> bool:
    """Whether a result with a side follows talk about the test announced last ("Now Lachman. … Left, negative").

    Or one that is said to be of this patient: "Belly press: if the elbow falls back it's positive. Hers is negative."

    Nobody named it again, so that what is read is doubted.
    """
    test = len(context.topic.items) == 1 and context.topic.items[0].kind == "test"
    kinds = {item.kind for item in frame.items}
    verdicts = ("positive", "negative", "equivocal", "not_examined")
    judged = any(i.value in verdicts for i in frame.items if i.kind == "status")
    judged = judged or any(item.quantity and item.quantity.is_grade for item in frame.items)
    start = frame.items[0].start
    near = [token.norm for token in tokens[max(0, start - 4) : frame.items[-1].end + 1]]
    opens, closes = start, frame.items[-1].end
    while opens and not tokens[opens - 1].break_after:
        opens -= 1
    alone = bool(tokens[closes - 1].break_after) or closes == len(tokens)
    alone = alone and {token.norm for token in tokens[opens:start]} <= _BEFORE_A_VERDICT
    theirs = (
        alone
        or bool(_TURNS_TO_THEM & set(near))
        or _is_somebodys(tokens, start)
        or any(pair in _IN_THEM for pair in pairwise(near))
    )
    theirs = theirs and context.topic.bare
    return test and judged and ("side" in kinds or theirs) and not any(item.is_target() for item in frame.items)


_MEASURED_IN_THEM = frozenset(
    {"gives", "gets", "goes", "reaches", "comes", "has", "bends", "give", "get", "go", "reach", "come", "bend", "i've",
     "got", "going", "getting"}
)  # fmt: skip


def announced_movement(frame: Frame, context: Context, tokens: Sequence[Token]) -> bool:
    """Whether an angle follows talk about the movement announced last ("For flexion you'd hope for one thirty-five. On
    the right I've one thirty-eight."): said with a side, or as what somebody gets."""
    topic = context.topic
    numbers = [item.quantity for item in frame.items if item.quantity]
    angles = [q for q in numbers if q.value >= _LEAST_ANGLE and not q.is_grade and q.unit in (None, "deg")]
    angle = bool(numbers) and len(angles) == len(numbers)
    if not (topic.bare and len(topic.items) == 1 and topic.items[0].kind == "movement" and angle):
        return False
    start = frame.items[0].start
    near = {token.norm for token in tokens[max(0, start - 4) : frame.items[-1].end]}
    theirs = bool(near & _MEASURED_IN_THEM) or any(item.kind == "side" for item in frame.items)
    return theirs and not any(item.is_target() for item in frame.items)


_LEAST_ANGLE = 5


def _is_somebodys(tokens: Sequence[Token], start: int) -> bool:
    """Whether a result is said of a person by name: "Wanda's is positive, with crepitus"."""
    return start > 1 and tokens[start - 1].norm == "is" and tokens[start - 2].text.endswith("'s")


def is_past(tokens: Sequence[Token], frame: Frame) -> bool:
    """Whether a frame is told as of another day ("was", "were")."""
    start, end = max(0, frame.items[0].start - 2), frame.items[-1].end
    return any(token.norm in ("was", "were") for token in tokens[start:end])


def doubt_subject(repaired: Repaired, frame: Frame, drafts: Sequence[Draft], empty: frozenset[str]) -> None:
    """Doubt values that were taken for what was named before, where the words before them name something unknown."""
    mentions = [m for m in (*repaired.content, *repaired.talk) if not _only_outcome(m)]
    known = frozenset(place for m in mentions for place in range(m.start, m.end))
    strange = unknown_subject(repaired.tokens, known, frame.items[0].start, empty=empty)
    if not strange:
        return
    detail = f"{strange!r} was not understood; taken for what was named before"
    for draft in drafts:
        draft.doubts.append(("incomplete", detail, None))


def doubt_stranger(repaired: Repaired, frame: Frame, drafts: Sequence[Draft], plain: frozenset[str]) -> None:
    """Doubt findings in or right beside whose words one stands that nobody knows: it may turn what they mean.

    Of findings in which no word was strange one in six was wrong on talk seen for the first time, beside a strange word
    one in three. `plain` are the words that change nothing.
    """
    tokens = repaired.tokens
    start, end = frame.items[0].start, frame.items[-1].end
    first = _within_reach(tokens, start, -1)
    last = _within_reach(tokens, end - 1, 1)
    known = {place for m in (*repaired.content, *repaired.talk) for place in range(m.start, m.end)}
    strange = [
        tokens[place].text for place in range(first, last + 1)
        if tokens[place].norm and tokens[place].norm not in plain and place not in known
    ]  # fmt: skip
    if not strange:
        return
    detail = f"{' '.join(strange)!r} beside it was not understood"
    for draft in drafts:
        if not draft.doubts:
            draft.doubts.append(("incomplete", detail, None))


def _within_reach(tokens: Sequence[Token], place: int, step: int) -> int:
    """Return the farthest place from `place` that belongs to it: a few words on, and never past a break."""
    for _ in range(_BESIDE):
        edge = place if step > 0 else place - 1
        if not 0 <= place + step < len(tokens) or tokens[edge].break_after:
            break
        place += step
    return place


def _only_outcome(mention: Mention) -> bool:
    """Whether the words are known as the result of some test only ("extensor" of a plantar reflex)."""
    return bool(mention.senses) and all(sense.shape in ("positive", "negative") for sense in mention.senses)


def is_loose(draft: Draft) -> bool:
    """Whether a draft is a sign that can come along with many things, without a place or a number ("they're sore")."""
    companion = draft.kind == "sign" and draft.term is not None and draft.term.companion
    return companion and draft.structure is None and draft.grade is None
