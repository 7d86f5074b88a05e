"""Look along a row of tokens: the word at a place, the words from it on, whether something ends before it."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.tokens import NO_BREAK, Token


def word_at(tokens: Sequence[Token], position: int) -> str:
    """Return the word at a place as the lexicon spells it; empty outside the tokens."""
    return tokens[position].norm if 0 <= position < len(tokens) else ""


def norms_at(tokens: Sequence[Token], position: int, count: int) -> tuple[str, ...]:
    """Return the words from a place on: `count` of them, fewer at the end."""
    return tuple(token.norm for token in tokens[position : position + count])


def norms_between(tokens: Sequence[Token], start: int, end: int) -> list[str]:
    """Return the words between two places, end exclusive."""
    return [token.norm for token in tokens[max(0, start) : end]]


def breaks_before(tokens: Sequence[Token], position: int) -> bool:
    """Whether something ends between the token before this position and this one."""
    return position >= len(tokens) or tokens[position - 1].break_after not in (NO_BREAK,) or position == 0
