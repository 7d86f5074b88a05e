"""What lasts so long is reported or planned: "pain for six weeks", "no throwing x 3/52"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.token_row import norms_between
from dictate.language.tokens import Token
from dictate.lexicon.general_model import GeneralWords

_TIMES = frozenset({"x", "for", "in", "at", "after", "until", "till"})
_FRACTIONS = frozenset({"52", "12", "7"})  # "3/52" is written for three weeks, "/12" for months, "/7" for days


def lasting(tokens: Sequence[Token], start: int, end: int, words: GeneralWords) -> list[tuple[int, int, str]]:
    """ "Left leg pain for six weeks": what lasts is reported, not found."""
    for place in range(start, end):
        written = norms_between(tokens, place + 1, min(end, place + 4))
        if tokens[place].norm in _TIMES and len(written) == 3 and written[1] == "over" and written[2] in _FRACTIONS:
            return [(start, end, "plan")]  # "no throwing x 3/52"
        if tokens[place].norm == "for" and any(
            word in words.lasting_times for word in norms_between(tokens, place + 2, min(end, place + 5))
        ):
            return [(start, end, "history")]
    return []
