"""Doubt findings whose small words do not agree with them: a "not" was probably lost, or heard where none was said.

A recogniser drops and adds "not" more easily than any other word that matters. What it leaves standing tells: "sore
at all" and "there is any bruising" belong to denials, "can't see some mild swelling" to what can be seen. Nothing is
changed: nobody can tell what was said.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from dictate.language.draft import Draft
from dictate.language.repair import Repaired
from dictate.language.segment import Frame
from dictate.language.tokens import Token

_NEAR = 3  # words behind a finding's own
_DENYING = frozenset({"no", "not", "nor", "neither", "none", "without", "never", "nothing", "hardly", "barely", "if"})
_PERCEIVED = frozenset({"see", "feel", "find"})
_THERE = frozenset({"some", "a", "an"})
_AMOUNTS = frozenset({"small", "slight", "mild", "moderate", "bit", "little", "trace", "large", "marked"})


def doubt_lost_not(repaired: Repaired, frame: Frame, drafts: Sequence[Draft]) -> None:
    """Doubt the drafts of a frame that affirm with the words of a denial, or deny with those of a finding."""
    words = _clause(repaired.tokens, frame.items[0].start, frame.items[-1].end)
    affirms = not _DENYING & set(words)
    for draft in drafts:
        if draft.status in ("present", "positive") and affirms and _belongs_to_denial(words):
            draft.doubts.append(("incomplete", "said as one denies; a 'not' may have been lost", "absent"))
        elif draft.status in ("absent", "negative") and _belongs_to_finding(words):
            draft.doubts.append(
                ("incomplete", "said as of something found; 'can' may have been heard as 'can't'", None)
            )


def _clause(tokens: Sequence[Token], start: int, end: int) -> list[str]:
    """Return the words of a frame, with those before it and some behind, up to the breaks on either side."""
    while start > 0 and not tokens[start - 1].break_after:
        start -= 1
    last = min(len(tokens), end + _NEAR)
    end = next((place for place in range(end, last) if tokens[place - 1].break_after), last)
    return [token.norm for token in tokens[start:end]]


def _belongs_to_denial(words: Sequence[str]) -> bool:
    pairs = list(pairwise(words))
    return ("at", "all") in pairs or any(before in ("is", "are") and word == "any" for before, word in pairs)


def _belongs_to_finding(words: Sequence[str]) -> bool:
    """Whether an amount of something was perceived: "can't feel a small effusion"."""
    for place, word in enumerate(words):
        if word in _PERCEIVED and words[max(0, place - 2) : place] == ["can", "not"]:
            return any(
                a in _THERE and b in _AMOUNTS for a, b in zip(words[place + 1 :], words[place + 2 :], strict=False)
            )
    return False
