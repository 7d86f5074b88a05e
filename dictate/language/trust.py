"""What speaks against a frame being a finding: words nobody knows around it, other talk right before it."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.draft import Draft
from dictate.language.mentions import Mention
from dictate.language.repair import Repaired
from dictate.language.segment import Frame
from dictate.language.state import Context
from dictate.language.tokens import Token
from dictate.language.unread import unknown_subject

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
    steering = [m for m in repaired.talk if m.cue("filler") or m.cue("resume") or m.cue("pressing")]
    content = [m for m in repaired.content if not _is_part(m)]
    known = {place for m in (*content, *steering) for place in range(m.start, m.end)}
    return sum(1 for place in places if place in known) / len(places)


def _is_part(mention: Mention) -> bool:
    """Whether the words are a part of an amount ("half"), which talk about anything is full of."""
    sense = mention.cue("status")
    return sense is not None and sense.cue is not None and sense.cue.amount and sense.cue.value == "reduced"


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
    if any(token.norm == "here" for token in tokens[max(0, start - 3) : start + 1]):
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


def _only_outcome(mention: Mention) -> bool:
    """Whether the words are known as the result of some test only ("extensor" of a plantar reflex)."""
    return bool(mention.senses) and all(sense.shape in ("positive", "negative") for sense in mention.senses)


def is_loose(draft: Draft) -> bool:
    """Whether a draft is a sign that can come along with many things, without a place or a number ("they're sore")."""
    companion = draft.kind == "sign" and draft.term is not None and draft.term.companion
    return companion and draft.structure is None and draft.grade is None
