"""Take out marks that a recogniser put where the speaker only drew breath: "four. Plus", "posterior, drawer"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.phrases import PhraseIndex
from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, STOP, Token
from dictate.lexicon.word_lists import SmallWords

_VALUE_WITHIN = 6  # words behind a movement
_LEANS_BACK = frozenset({"plus", "minus"})
_LEVEL_LETTERS = frozenset({"c", "t", "l", "s"})
_LONGEST_HALF = 3  # words of a term on either side of the stop
_NAMES = frozenset({"structure", "sign", "test", "movement", "reflex", "pulse", "measure", "task"})


def mended(tokens: Sequence[Token], index: PhraseIndex, numbers: frozenset[str], words: SmallWords) -> list[Token]:
    """Return the tokens without the stops and commas that cut a phrase in two."""
    out = list(tokens)
    for place in range(len(out) - 1):
        mark = out[place].break_after
        listed = out[place].norm.isdigit() or out[place].norm in numbers  # "ninety, ninety-five"
        owned = place > 0 and out[place - 1].norm in words.owners  # "she was on her side, flexion five"
        cut = mark == COMMA and not (listed or owned or out[place].heads) and _halves_a_name(out, place, index)
        if cut or (mark == STOP and _cuts(out, place, index, numbers, words)):
            out[place] = replace(out[place], break_after=NO_BREAK)
    return _resisted(_asked(out, words.alternatives), index, words)


def _asked(tokens: Sequence[Token], alternatives: frozenset[str]) -> list[Token]:
    """Return the tokens with a question mark behind "medial or lateral.": only who asks names both and nothing else."""
    out = list(tokens)
    for place in range(len(out) - 2):
        named = " ".join(token.norm for token in out[place : place + 3])
        opens = place == 0 or out[place - 1].break_after in (STOP, QUESTION)
        if opens and named in alternatives and out[place + 2].break_after == STOP:
            out[place + 2] = replace(out[place + 2], break_after=QUESTION)
    return out


def _resisted(tokens: Sequence[Token], index: PhraseIndex, words: SmallWords) -> list[Token]:
    """Return the tokens with "resist" as "resisted" where a movement and its value follow: "resist any flexion, four".

    Nobody is told the grade of what they are only asked to do.
    """
    out = list(tokens)
    for place, token in enumerate(tokens):
        if token.norm != "resist" or token.break_after:
            continue
        for start in range(place + 1, min(place + 4, len(tokens))):
            named = next((n for n in (2, 1) if any(s.term and s.term.kind == "movement" for s in
                          index.lookup([t.norm for t in tokens[start : start + n]]))), 0)  # fmt: skip
            if named and _valued(tokens[start + named : start + named + _VALUE_WITHIN], words.resisted_values):
                out[place] = replace(token, norm="resisted")
            if named or tokens[start].norm not in words.before_resisted or tokens[start].break_after:
                break
    return out


def _valued(tokens: Sequence[Token], values: frozenset[str]) -> bool:
    """Whether words up to the end of a sentence say how strong or painful something is."""
    for token in tokens:
        if token.norm.isdigit() or token.norm in values:
            return True
        if token.break_after == STOP:
            return False
    return False


def _cuts(
    tokens: Sequence[Token], place: int, index: PhraseIndex, numbers: frozenset[str], words: SmallWords
) -> bool:  # fmt: skip
    last, following = tokens[place].norm, tokens[place + 1].norm
    counted = last.isdigit() or last in numbers
    graded = last == "a" and place > 0 and (tokens[place - 1].norm.isdigit() or tokens[place - 1].norm in numbers)
    if graded:
        return False  # "Lachman one A."
    if last in words.never_last or following == "by" or (counted and following in _LEANS_BACK):
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
