"""Which kinds of term a place in a sentence asks for, by what stands right before and after it.

"… negative" asks for a test, "the patellar tendon is …" for a sign, "resisted …" for a movement: there a word that only
sounds like such a term is far more likely to be it than elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.mentions import Mention
from dictate.language.quantity import LEAST_ANGLE
from dictate.language.tokens import QUESTION, STOP, Token

Kinds = frozenset[str]  # kinds of term in the lexicon

_NONE: Kinds = frozenset()
_TEST: Kinds = frozenset({"test"})
_STRUCTURE: Kinds = frozenset({"structure"})
_SIGN: Kinds = frozenset({"sign"})
_MOVEMENT: Kinds = frozenset({"movement"})
_GRADED: Kinds = frozenset({"structure", "test", "reflex", "pulse", "movement"})
_FARTHEST = 4  # words between a place and what it is told by
_BEING = frozenset({"is", "are", "was", "were", "be", "feel", "look", "seem", "that's", "it's"})
_BETWEEN = _BEING | {"on", "the", "a", "an", "not", "very", "bit", "quite", "also", "both", "all", "still", "too"}
_WHERE = frozenset({"at", "over", "along", "on", "in", "around", "to", "of", "the", "his", "her", "your", "both"})


def kinds_wanted(tokens: Sequence[Token], content: Sequence[Mention], start: int, end: int) -> Kinds:
    """Return the kinds of term that tokens `start` to `end` (exclusive) may name; empty when nothing tells."""
    before = next((m for m in reversed(content) if m.end <= start), None)
    after = next((m for m in content if m.start >= end and not m.cue("side")), None)
    wanted = _NONE
    if after is not None and after.start - end <= _FARTHEST and not _stops(tokens, end - 1, after.start - 1):
        wanted |= _by_what_follows(after, _words(tokens, end, after.start) - _sides(tokens, content, end))
    if before is not None and start - before.end <= _FARTHEST and not _stops(tokens, before.end - 1, start - 1):
        closes = end == len(tokens) or bool(tokens[end - 1].break_after)
        wanted |= _by_what_precedes(before, _words(tokens, before.end, start), closes=closes)
    return wanted


def _by_what_follows(after: Mention, between: frozenset[str]) -> Kinds:
    status = after.cue("status")
    if status is not None and status.cue is not None and status.cue.value in ("positive", "negative"):
        return _TEST
    if after.shaped("positive") or after.shaped("negative"):  # "stable" is the result of some tests
        return _TEST
    if after.shaped("adjective") or after.shaped("absent"):
        return _STRUCTURE
    if between <= _WHERE and between and after.terms("structure"):
        return _SIGN
    if not between <= _BETWEEN:
        return _NONE
    if after.quantity is not None:
        if after.quantity.is_grade:
            return _GRADED
        angle = after.quantity.unit == "deg" or (not after.quantity.unit and after.quantity.value >= LEAST_ANGLE)
        return _MOVEMENT if angle else _NONE
    if status is not None and status.cue is not None:
        return _GRADED
    return _NONE


def _by_what_precedes(before: Mention, between: frozenset[str], *, closes: bool) -> Kinds:
    if between <= _BETWEEN and (between & _BEING or closes) and before.terms("structure"):
        return _SIGN
    if between:
        return _NONE
    if before.cue("modality"):
        return _MOVEMENT
    if before.cue("negation") or before.cue("severity"):
        return _SIGN
    return _NONE


def _sides(tokens: Sequence[Token], content: Sequence[Mention], start: int) -> frozenset[str]:
    """Return the words that say a side right after `start`: "vary stress on the left is stable"."""
    side = next((m for m in content if m.start >= start), None)
    return _words(tokens, side.start, side.end) if side is not None and side.cue("side") else frozenset()


def _words(tokens: Sequence[Token], start: int, end: int) -> frozenset[str]:
    return frozenset(token.norm for token in tokens[start:end] if token.norm)


def _stops(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a sentence ends after one of these tokens, `end` included."""
    return any(token.break_after in (STOP, QUESTION) for token in tokens[max(0, start) : end + 1])
