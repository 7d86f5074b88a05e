"""Read numbers with what stands around them: "more than thirty degrees", "minus five", "four minus out of five"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from typing import Any

from dictate.language.counted_things import CountedThings
from dictate.language.grade_marks import GradeMarks
from dictate.language.number_words import NumberWords
from dictate.language.quantity import Comparator, Quantity, Unit
from dictate.language.token_row import breaks_before, norms_at, word_at
from dictate.language.tokens import Token

_LIKE_GRADE = "great"
_CM_AN_INCH = 2.54


class NumberReader:
    """Finds quantities in tokens, by the number words of `lexicon/common/words.toml`."""

    def __init__(self, words: Mapping[str, Any], *, known: frozenset[str] = frozenset()) -> None:
        self._numbers = NumberWords(words)
        self._grades = GradeMarks(self._numbers, words)
        self._things = CountedThings(words, known=known)
        self._roman: Mapping[str, int] = words["roman"]
        self._unit_names = {name: unit for unit, names in words["unit_names"].items() for name in names}
        self._about = frozenset({*words["about"], "a"})
        self._passed_over = self._about | {"or"}  # "more than about", "at least a", "more than or"
        less: list[tuple[tuple[str, ...], Comparator]] = [(tuple(said.split()), "<") for said in words["less_than"]]
        more: list[tuple[tuple[str, ...], Comparator]] = [(tuple(said.split()), ">") for said in words["more_than"]]
        self._comparators = (*less, *more)

    def quantities(self, tokens: Sequence[Token], *, named: AbstractSet[int] = frozenset()) -> list[Quantity]:
        """Return all quantities, in order, none overlapping. `named` are the places where terms of several words begin:
        in "extension ten side flexion" the ten counts no sides."""
        found = []
        position = 0
        while position < len(tokens):
            quantity = self._quantity(tokens, position)
            if quantity and quantity.end not in named and self._things.counts(tokens, quantity):
                position = quantity.end
            elif quantity:
                found.append(quantity)
                position = quantity.end
            else:
                position += 1
        return found

    def _quantity(self, tokens: Sequence[Token], start: int) -> Quantity | None:
        position = start
        comparator: Comparator | None = None
        for phrase, mark in self._comparators:
            if not comparator and norms_at(tokens, position, len(phrase)) == phrase:
                comparator = mark
                position += len(phrase)
        while comparator and position < len(tokens) and tokens[position].norm in self._passed_over:
            if self._numbers.number(tokens, position):
                break
            position += 1
        sign = 0
        word = tokens[position].norm if position < len(tokens) else ""
        if word in ("minus", "negative", "plus") and self._numbers.number(tokens, position + 1):
            sign = 1 if word == "plus" else -1
            position += 1
        graded = False
        if word in ("grade", "graded", "grading") and not comparator:
            position += 1
            while position < len(tokens) and tokens[position].norm in ("a", "as", "about", "is", "at", "it"):
                position += 1
            graded = True
            roman = self._roman.get(tokens[position].norm) if position < len(tokens) else None
            if roman:
                return self._finished(tokens, start, position + 1, float(roman), sign, comparator, graded=True)
        misheard = word == _LIKE_GRADE and self._grades.is_low(tokens, position + 1)
        if misheard and not comparator:  # "posterior drawer, great two"
            graded, position = True, position + 1
        graded = graded or self._grades.is_a_grade(tokens, position)
        number = self._numbers.number(tokens, position)
        if number is None and graded and breaks_before(tokens, position + 1):  # "grade to, sorry, grade one"
            number = self._grades.low_misheard(tokens, position)
            misheard = number is not None
        if number is None:
            digit = self._grades.misheard_digit(tokens, position) if position == start else None
            if digit is None:
                return None
            return self._finished(tokens, position, position + 1, float(digit), 0, None, graded=False, misheard=True)
        value, end = number
        return self._finished(tokens, start, end, value, sign, comparator, graded=graded, misheard=misheard)

    def _finished(
        self,
        tokens: Sequence[Token],
        start: int,
        end: int,
        value: float,
        sign: int,
        comparator: Comparator | None,
        *,
        graded: bool,
        misheard: bool = False,
    ) -> Quantity:
        plus_minus, end = self._grades.plus_minus(tokens, end)
        letter, end = ("", end) if plus_minus else self._grades.letter(tokens, start, end, value)
        out_of, end = self._grades.out_of(tokens, end)
        to_value = third = None
        if not breaks_before(tokens, end) and word_at(tokens, end) in ("to", "through", "till", "until"):
            joined = end + 1
            if word_at(tokens, joined) in self._about and not self._numbers.number(tokens, joined):
                joined += 1
            minus = word_at(tokens, joined) in ("minus",)
            second = self._numbers.number(tokens, joined + minus)
            if second:
                to_value, end = (-second[0] if minus else second[0]), second[1]
                if not out_of:
                    out_of, end = self._grades.out_of(tokens, end)
                if not breaks_before(tokens, end) and word_at(tokens, end) == "to":
                    last = self._numbers.number(tokens, end + 1)
                    if last:
                        third, end = last
        misheard = misheard or any(token.norm in self._numbers.bent for token in tokens[start:end])
        unit, factor, end = self._unit(tokens, end)
        if (
            unit
            and to_value is None
            and not breaks_before(tokens, end)
            and norms_at(tokens, end, 3) == ("and", "a", "half")
        ):
            value, end = value + 0.5, end + 3  # "two centimetres and a half"
        return Quantity(
            start=start,
            end=end,
            value=value * factor,
            to_value=to_value,
            third_value=third,
            sign=sign,
            plus_minus=plus_minus,
            out_of=out_of,
            unit=unit,
            comparator=comparator,
            letter=letter,
            graded=graded,
            misheard=misheard,
        )

    def _unit(self, tokens: Sequence[Token], end: int) -> tuple[Unit | None, float, int]:
        if breaks_before(tokens, end):
            return None, 1, end
        word = tokens[end].text if end < len(tokens) else ""
        if word == "s" and not breaks_before(tokens, end + 1) and self._numbers.number(tokens, end + 1):
            return None, 1, end  # "L four L five S one"
        unit = self._unit_names.get(word) or self._unit_names.get(word_at(tokens, end))
        if unit:
            return unit, 1, end + 1
        if word in ("inch", "inches"):
            return "cm", _CM_AN_INCH, end + 1
        return None, 1, end
