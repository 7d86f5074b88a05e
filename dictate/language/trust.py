"""What speaks against a frame being a finding: words in it and around it that nobody knows."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.draft import Draft
from dictate.language.mentions import Mention
from dictate.language.repair import Repaired
from dictate.language.segment import Frame
from dictate.language.talk import is_part
from dictate.language.tokens import Token
from dictate.language.unread import unknown_subject

_BESIDE = 2  # words on either side of a finding's own
_KNOWN_STEERING = frozenset({"filler", "resume", "pressing", "own_hand"})


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
