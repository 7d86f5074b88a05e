"""What makes a number a grade: "a four", "four minus", "out of five", "two B", "for plus"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dictate.language.number_words import NumberWords
from dictate.language.token_row import breaks_before, word_at
from dictate.language.tokens import COMMA, NO_BREAK, Token

GOES_ON_AFTER_GRADE = frozenset(
    {"left", "right", "on", "and", "but", "both", "with", "at", "to", "out", "over", "then"}
)
SHARES_OF_TIME = (7, 12, 52)  # "3/7", "2/12", "6/52": days, months and weeks as they are written in notes
_HIGHEST = 5
_BEHIND_A_LETTER = frozenset({"left", "right", "on", "and", "but", "both"})


class GradeMarks:
    """Reads the words around a number that grades are said with."""

    def __init__(self, numbers: NumberWords, words: Mapping[str, Any]) -> None:
        """Read by `lexicon/common/words.toml`."""
        self._numbers = numbers
        self._misheard: Mapping[str, int] = words["misheard_numbers"]
        self._lettered = frozenset(words["lettered_tests"])

    def is_a_grade(self, tokens: Sequence[Token], position: int) -> bool:
        """Whether "a" before a number up to five makes it a grade: "eversion's a four", "quads a good five"."""
        before = [token.norm for token in tokens[max(0, position - 2) : position]]
        article = before[-1:] == ["a"] or (before[:1] == ["a"] and before[-1:] in (["good"], ["solid"], ["weak"]))
        number = self._numbers.number(tokens, position) if article else None
        if number is None or number[0] > _HIGHEST or number[1] - position > 1:
            return False
        return breaks_before(tokens, number[1]) or word_at(tokens, number[1]) in GOES_ON_AFTER_GRADE

    def is_low(self, tokens: Sequence[Token], position: int) -> bool:
        """Whether a grade from two to five stands alone here; "a great one" is said of many things."""
        if breaks_before(tokens, position):
            return False
        number = self._numbers.number(tokens, position) or self.low_misheard(tokens, position)
        ends = number is not None and (
            breaks_before(tokens, number[1]) or word_at(tokens, number[1]) in GOES_ON_AFTER_GRADE
        )
        return ends and number is not None and 2 <= number[0] <= _HIGHEST

    def low_misheard(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        """Return (value, end) of a grade up to five that was heard as an everyday word, or None."""
        digit = self._misheard.get(word_at(tokens, position))
        return (float(digit), position + 1) if digit is not None and digit <= _HIGHEST else None

    def misheard_digit(self, tokens: Sequence[Token], position: int) -> int | None:
        """Return the digit of a grade that was heard as a word ("for plus"), else None."""
        digit = self._misheard.get(word_at(tokens, position))
        follows = word_at(tokens, position + 1)
        if digit is None or breaks_before(tokens, position + 1):
            return None
        if follows in ("plus", "minus"):
            after = self._numbers.number(tokens, position + 2)
            if after and not breaks_before(tokens, position + 2):
                return None  # "to plus five" is a sign, not a grade
        elif not (follows == "out" and word_at(tokens, position + 2) == "of"):
            return None
        return digit

    def plus_minus(self, tokens: Sequence[Token], end: int) -> tuple[str, int]:
        """Return "+" or "-" said behind a number, and where it ends; empty: neither."""
        if word_at(tokens, end) not in ("plus", "minus", "+"):
            return "", end
        if breaks_before(tokens, end) and not self._left_over(tokens, end):
            return "", end
        after = self._numbers.number(tokens, end + 1)
        joined = after and not breaks_before(tokens, end + 1) and word_at(tokens, end + 1) not in ("a", "over")
        if after and joined and word_at(tokens, after[1]) != "out":
            return "", end  # "two plus three"
        return ("-" if tokens[end].norm == "minus" else "+"), end + 1

    def _left_over(self, tokens: Sequence[Token], place: int) -> bool:
        """Whether "plus" behind a comma belongs to the number before it, for no number follows: "triceps two, plus"."""
        return tokens[place - 1].break_after == COMMA and self._numbers.number(tokens, place + 1) is None

    def out_of(self, tokens: Sequence[Token], end: int) -> tuple[float | None, int]:
        """Return the denominator said behind a number, and where it ends; None: none."""
        if end >= len(tokens) or tokens[end - 1].break_after not in (NO_BREAK, COMMA):
            return None, end
        paused = bool(tokens[end - 1].break_after)
        if word_at(tokens, end) == "out" and word_at(tokens, end + 1) == "of":  # "four minus, out of five"
            number = self._numbers.number(tokens, end + 2)
        elif paused:
            number = None
        elif word_at(tokens, end) == "over":
            number = self._numbers.number(tokens, end + 1)
        elif word_at(tokens, end) == "by":  # "four by five"
            fifth = self._numbers.number(tokens, end + 1)
            number = fifth if fifth and fifth[0] == _HIGHEST else None
        else:
            number = None
        if number and number[0] in (3, 4, 5, 6, 9, 10, 100):
            return number
        if number and word_at(tokens, end) == "over" and number[0] in SHARES_OF_TIME:
            return number
        return None, end

    def letter(self, tokens: Sequence[Token], start: int, end: int, value: float) -> tuple[str, int]:
        """Return the letter behind a grade ("two B"), and where it ends; empty: none."""
        if value > 3 or breaks_before(tokens, end) or word_at(tokens, end) not in ("a", "b"):
            return "", end
        ends = breaks_before(tokens, end + 1) or word_at(tokens, end + 1) in _BEHIND_A_LETTER
        ends = ends or word_at(tokens, start - 1) in self._lettered
        if word_at(tokens, end) == "b" or ends:
            return tokens[end].norm.upper(), end + 1
        return "", end
