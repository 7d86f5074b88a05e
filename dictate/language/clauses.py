"""Cut an utterance into clauses, and find where a clause begins to speak and where its sentence ends."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.tokens import COMMA, NO_BREAK, Token

OPENERS = frozenset({"and", "so", "but", "now", "then", "ok", "okay", "right", "please", "just", "well", "also"})


def clauses(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Cut tokens at every break."""
    out = []
    start = 0
    for position, token in enumerate(tokens):
        if token.break_after != NO_BREAK or position == len(tokens) - 1:
            out.append((start, position + 1))
            start = position + 1
    return out


def after_openers(tokens: Sequence[Token], start: int, end: int) -> int:
    """Return the first place of a clause that is not a word such as "and", "so", "now"."""
    place = start
    while place < end - 1 and tokens[place].norm in OPENERS:
        place += 1
    return place


def sentence_end(tokens: Sequence[Token], end: int) -> int:
    """Return where the sentence ends, commas passed over."""
    while end < len(tokens) and tokens[end - 1].break_after in (NO_BREAK, COMMA):
        end += 1
    return end
