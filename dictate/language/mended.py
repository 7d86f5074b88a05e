"""Take out marks that a recogniser put where the speaker only drew breath: "four. Plus", "posterior, drawer"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.phrases import PhraseIndex
from dictate.language.tokens import COMMA, NO_BREAK, STOP, Token

# Words that end no sentence.
_NEVER_LAST = frozenset({"the", "a", "an", "and", "or", "but", "your", "my", "their", "than", "into", "onto", "very"})
_LEANS_BACK = frozenset({"plus", "minus"})
_LEVEL_LETTERS = frozenset({"c", "t", "l", "s"})
_LONGEST_HALF = 3  # words of a term on either side of the stop
_NAMES = frozenset({"structure", "sign", "test", "movement", "reflex", "pulse", "measure", "task"})


def mended(tokens: Sequence[Token], index: PhraseIndex, numbers: frozenset[str]) -> list[Token]:
    """Return the tokens without the stops and commas that cut a phrase in two."""
    out = list(tokens)
    for place in range(len(out) - 1):
        mark = out[place].break_after
        listed = out[place].norm.isdigit() or out[place].norm in numbers  # "ninety, ninety-five"
        cut = mark == COMMA and not listed and _halves_a_name(out, place, index)
        if cut or (mark == STOP and _cuts(out, place, index, numbers)):
            out[place] = replace(out[place], break_after=NO_BREAK)
    return out


def _cuts(tokens: Sequence[Token], place: int, index: PhraseIndex, numbers: frozenset[str]) -> bool:
    last, following = tokens[place].norm, tokens[place + 1].norm
    counted = last.isdigit() or last in numbers
    graded = last == "a" and place > 0 and (tokens[place - 1].norm.isdigit() or tokens[place - 1].norm in numbers)
    if graded:
        return False  # "Lachman one A."
    if last in _NEVER_LAST or following == "by" or (counted and following in _LEANS_BACK):
        return True
    if last in _LEVEL_LETTERS and (following.isdigit() or following in numbers):
        return True
    return _halves_a_name(tokens, place, index)


def _halves_a_name(tokens: Sequence[Token], place: int, index: PhraseIndex) -> bool:
    """Whether the words around a mark are one name, the first half of which names nothing by itself."""
    lefts = []
    for start in range(place, max(place - _LONGEST_HALF, -1), -1):
        if any(token.break_after for token in tokens[start:place]):
            break
        lefts.append([token.norm for token in tokens[start : place + 1]])
        if any(not (sense.cue and sense.cue.type == "place") for sense in index.lookup(lefts[-1])):
            return False  # "right knee. Extension five", "right side. Flexion four"
    for left in lefts:
        for behind in range(1, _LONGEST_HALF + 1):
            right = [token.norm for token in tokens[place + 1 : place + 1 + behind]]
            senses = index.lookup([*left, *right])
            if any(s.term and s.term.kind in _NAMES and s.shape == "name" for s in senses):
                return True
            if any(token.break_after for token in tokens[place + 1 : place + 1 + behind]):
                break
    return False
