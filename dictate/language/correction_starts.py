"""Where an utterance begins to correct what it said before: it is read in pieces, each after what it corrects."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from dictate.language.admitted import admits
from dictate.language.phrases import PhraseIndex
from dictate.language.pointed import points_at_side, side_answered
from dictate.language.tokens import COMMA, QUESTION, Token
from dictate.lexicon.word_lists import CorrectionWords

_ENOUGH_SENTENCES = 2
_ANNOUNCING_WORDS = 3


def corrected_from(
    tokens: Sequence[Token], index: PhraseIndex, starts: Sequence[int], numbers: frozenset[str], words: CorrectionWords
) -> list[int]:
    """Return where an utterance begins to correct what it said before: a sentence of those that begin at `starts`, or a
    clause that says so ("…, squat full, and one correction, that effusion is moderate"). `numbers` are number words."""
    told = [
        place for place in range(1, len(tokens))
        if tokens[place - 1].break_after == COMMA and _announces_correction(tokens, place, words)
    ]  # fmt: skip
    if len(starts) < _ENOUGH_SENTENCES:
        return told
    cues = [start for start, _, senses in index.matches(tokens) if any(s.cue and s.cue.type == "late" for s in senses)]
    cues += [p for p in range(2, len(tokens)) if points_at_side(tokens, p, words) or _denies_after(tokens, p, words)]
    asked = [p for p in starts if p and tokens[p - 1].break_after == QUESTION]
    cues += [p for p in asked if side_answered(tokens, p, words) is not None]
    spans = list(pairwise([*starts, len(tokens)]))
    cues += [start for start, end in spans if admits(tokens, start, end, numbers, words)]
    return sorted({*told, *(start for start, end in spans if start and any(start <= c < end for c in cues))})


def _announces_correction(tokens: Sequence[Token], place: int, words: CorrectionWords) -> bool:
    """Whether a clause opens with "one correction", "and a correction before we go": set off, and of what was said."""
    opening = [token.norm for token in tokens[place : place + _ANNOUNCING_WORDS]]
    first = opening[1:] if opening[0] in words.before_announcement else opening
    return " ".join(first[:2]) in words.announcements


def _denies_after(tokens: Sequence[Token], place: int, words: CorrectionWords) -> bool:
    """Whether ", not …" stands here behind "that's": it may correct what was said before."""
    near = [token.norm for token in tokens[max(0, place - 6) : place]]
    if tokens[place].norm == "not" and near[-1:] and place + 1 < len(tokens):
        verdicts = {near[-1], tokens[place + 1].norm}
        if verdicts == {"positive", "negative"} and tokens[place - 1].break_after == COMMA:
            return True  # "so Mill's is positive, not negative"
    pointed = bool((words.pointers | {"that"}) & set(near))  # "that quads was four, not four plus" too
    return tokens[place].norm == "not" and tokens[place - 1].break_after == COMMA and pointed
