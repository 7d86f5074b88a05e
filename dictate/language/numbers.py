"""Read numbers as clinicians say or write them: "one fifteen", "a hundred and five", "four minus out of five"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import Any, Literal

from dictate.language.tokens import COMMA, NO_BREAK, Token

Unit = Literal["deg", "cm", "mm", "s", "1"]
Comparator = Literal["<", ">"]

_DIGITS = re.compile(r"\d+(?:\.\d+)?")
_LESS = (("less", "than"), ("under",), ("below",), ("within",), ("fewer", "than"), ("no", "more", "than"))
_MORE = (("more", "than"), ("over",), ("above",), ("greater", "than"), ("at", "least"), ("beyond",))
_ABOUT = ("about", "around", "roughly", "approximately", "nearly", "almost", "maybe", "good", "just", "only", "say")
_PRONOUN_BEFORE_ONE = frozenset(
    [
        "the",
        "this",
        "that",
        "other",
        "inner",
        "outer",
        "which",
        "each",
        "either",
        "another",
        "every",
        "any",
        "no",
        "good",
        "bad",
        "next",
        "last",
        "first",
        "same",
        "only",
        "some",
        "sore",
        "small",
        "large",
        "tiny",
        "slight",
        "mild",
        "moderate",
        "smaller",
        "larger",
        "injured",
        "big",
        "on",
        "have",
        "had",
        "has",
        "with",
        "in",
        "is",
        "was",
    ]
)
_LARGEST_ANGLE = 180  # that is dictated of a joint
_NUMBERED = frozenset({"week", "day", "month", "year", "number", "room", "bed", "page", "session", "visit", "player"})
_ORDERS = frozenset({"first", "last", "other", "next"})
_MOST_COUNTED = 6
_SIDES_BEFORE_ONE = frozenset({"left", "right", "medial", "lateral", "upper", "lower"})
_GOES_ON_AFTER_GRADE = frozenset(
    {"left", "right", "on", "and", "but", "both", "with", "at", "to", "out", "over", "then"}
)
_HIGHEST_GRADE = 5
_LIKE_GRADE = "great"
_DEFINED_AS = frozenset({"a", "an", "the", "to", "where", "when", "what", "no", "your", "for", "this", "that"})
_CM_AN_INCH = 2.54
_LENGTHS = frozenset({"centimetre", "centimeter", "cm", "millimetre", "millimeter", "mm"})
_GROUPS = frozenset({"the", "us", "them", "you", "my", "our", "these", "those"})
_SHARES_OF_TIME = (7, 12, 52)  # "3/7", "2/12", "6/52": days, months and weeks as they are written in notes
_TIMES = frozenset({"hour", "day", "night", "week", "month", "year"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A number with what stands around it. `start` and `end` are token positions, end exclusive.

    `value` and `to_value` (of a range) are as said; `sign` is -1 for "minus", +1 for "plus" before the number, 0 for
    neither; `plus_minus` is "+" or "-" said after it, as grades are; `out_of` is the denominator said; `letter` is the
    end point letter of a Lachman ("2B").
    """

    start: int
    end: int
    value: float
    to_value: float | None = None
    third_value: float | None = None  # of a neutral-zero string such as 5-0-140
    sign: int = 0
    plus_minus: str = ""
    out_of: float | None = None
    unit: Unit | None = None
    comparator: Comparator | None = None
    letter: str = ""
    graded: bool = False  # "grade two"
    misheard: bool = False
    also: float | None = None  # the other reading of an ambiguous number ("one, fifteen")

    @property
    def is_grade(self) -> bool:
        """Whether it was said the way grades are."""
        return bool(self.plus_minus or self.out_of or self.graded or self.letter)

    def text(self) -> str:
        """Return the number as scales write it: "4-", "2", "4-5"."""
        value = f"{self.value:g}{self.plus_minus}"
        return value if self.to_value is None else f"{value}-{self.to_value:g}"


class NumberReader:
    """Finds quantities in tokens, by the number words of `lexicon/common/words.toml`."""

    def __init__(self, words: Mapping[str, Any], *, known: frozenset[str] = frozenset()) -> None:
        self._known = known
        self._units: Mapping[str, int] = words["units"]
        self._bent: Mapping[str, int] = words["misheard_tens"]
        self._tens: Mapping[str, int] = {**words["tens"], **self._bent}
        self._roman: Mapping[str, int] = words["roman"]
        self._misheard: Mapping[str, int] = words["misheard_numbers"]
        self._counted = frozenset(words["counted_things"])
        self._lettered = frozenset(words["lettered_tests"])
        self._injuries = frozenset(words["graded_injuries"])
        self._unit_names = {name: unit for unit, names in words["unit_names"].items() for name in names}

    def quantities(self, tokens: Sequence[Token], *, named: AbstractSet[int] = frozenset()) -> list[Quantity]:
        """Return all quantities, in order, none overlapping. `named` are the places where terms of several words begin:
        in "extension ten side flexion" the ten counts no sides."""
        found = []
        position = 0
        while position < len(tokens):
            quantity = self._quantity(tokens, position)
            if quantity and quantity.end not in named and self._counts_things(tokens, quantity):
                position = quantity.end
            elif quantity:
                found.append(quantity)
                position = quantity.end
            else:
                position += 1
        return found

    def _counts_things(self, tokens: Sequence[Token], quantity: Quantity) -> bool:
        """Whether the number counts things ("two tests") or is no number ("the other one", "one of")."""
        if quantity.graded and self._injuries & {token.norm for token in tokens[quantity.end : quantity.end + 4]}:
            return True  # "grade two lateral sprain" grades an injury, and nothing that was tested
        if quantity.out_of in (6, 100) and not quantity.plus_minus:
            return True  # "three out of six" counts tests
        if quantity.out_of in _SHARES_OF_TIME or _how_often(tokens, quantity.end):
            return True  # "six fifty-seconds" of a year, "ten a day"
        before_word = tokens[quantity.start - 1].norm if quantity.start else ""
        following_word = "" if _broken(tokens, quantity.end) else _word(tokens, quantity.end)
        if quantity.comparator and not quantity.unit and following_word in self._counted:
            return True  # "more than a hundred tests"
        if before_word in _ORDERS and quantity.value <= _MOST_COUNTED and not quantity.unit:
            return True  # "the first two are negative"
        if quantity.unit or quantity.is_grade or quantity.to_value is not None or quantity.comparator or quantity.sign:
            return False
        before = before_word
        if before in _NUMBERED and not tokens[quantity.start - 1].break_after:
            return True  # "that's week sixteen", "player number 54"
        if (
            quantity.end - quantity.start == 1
            and tokens[quantity.start].norm == "one"
            and before in _PRONOUN_BEFORE_ONE
        ):
            return True
        if _broken(tokens, quantity.end):
            return False
        if (
            quantity.value == 1
            and quantity.end - quantity.start == 1
            and before in _SIDES_BEFORE_ONE
            and _word(tokens, quantity.end) not in _GOES_ON_AFTER_GRADE
        ):
            return True  # "left jerk reduced, right one normal"
        opens = quantity.start == 0 or bool(tokens[quantity.start - 1].break_after)
        if quantity.value == 1 and (
            tokens[quantity.end].norm == "of" or (opens and tokens[quantity.end].norm in ("is", "was"))
        ):
            return True
        following = tokens[quantity.end]
        if following.norm in ("full", "whole") and _word(tokens, quantity.end + 1) in self._counted:
            return True  # "one full minute"
        if following.norm == "of" and _word(tokens, quantity.end + 1) in _GROUPS:
            return True  # "with two of the team"
        led = opens or before in ("and", "so", "with")
        if led and following.norm in ("positive", "negative") and quantity.value <= _MOST_COUNTED:
            return True  # "three positive on the right: …" counts tests
        if tokens[quantity.end - 1].text.endswith("'s") and following.norm in _DEFINED_AS:
            return True  # "two's what most have"
        if following.norm in ("is", "are", "was") and _word(tokens, quantity.end + 1) in _DEFINED_AS:
            return True  # "three is an operation"
        if following.norm == "out":
            return True  # "two out of the four"
        plural = following.text != following.norm and following.norm not in self._known
        return following.norm in self._counted or plural

    # -- one quantity ------------------------------------------------------------------------------------------------

    def _quantity(self, tokens: Sequence[Token], start: int) -> Quantity | None:
        position = start
        comparator: Comparator | None = None
        for words, mark in ((_LESS, "<"), (_MORE, ">")):
            for phrase in words:
                if _norms(tokens, position, len(phrase)) == phrase and not comparator:
                    comparator = "<" if mark == "<" else ">"
                    position += len(phrase)
        while comparator and position < len(tokens) and tokens[position].norm in (*_ABOUT, "a", "or"):
            if self._number(tokens, position):
                break
            position += 1
        sign = 0
        word = tokens[position].norm if position < len(tokens) else ""
        if word in ("minus", "negative", "plus") and self._number(tokens, position + 1):
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
        misheard = word == _LIKE_GRADE and self._is_low(tokens, position + 1)
        if misheard and not comparator:  # "posterior drawer, great two"
            graded, position = True, position + 1
        graded = graded or self._is_a_grade(tokens, position)
        number = self._number(tokens, position)
        if number is None and graded and _broken(tokens, position + 1):  # "grade to, sorry, grade one"
            number = self._low_misheard(tokens, position)
            misheard = number is not None
        if number is None:
            return self._misheard_grade(tokens, position) if position == start else None
        value, end = number
        return self._finished(tokens, start, end, value, sign, comparator, graded=graded, misheard=misheard)

    def _is_low(self, tokens: Sequence[Token], position: int) -> bool:
        """Whether a grade from two to five stands alone here; "a great one" is said of many things."""
        if _broken(tokens, position):
            return False
        number = self._number(tokens, position) or self._low_misheard(tokens, position)
        ends = number is not None and (_broken(tokens, number[1]) or _word(tokens, number[1]) in _GOES_ON_AFTER_GRADE)
        return ends and number is not None and 2 <= number[0] <= _HIGHEST_GRADE

    def _low_misheard(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        digit = self._misheard.get(_word(tokens, position))
        return (float(digit), position + 1) if digit is not None and digit <= _HIGHEST_GRADE else None

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
        plus_minus, end = self._plus_minus(tokens, end)
        letter = ""
        if not plus_minus and value <= 3 and not _broken(tokens, end) and _word(tokens, end) in ("a", "b"):
            ends = _broken(tokens, end + 1) or _word(tokens, end + 1) in ("left", "right", "on", "and", "but", "both")
            ends = ends or _word(tokens, start - 1) in self._lettered
            if _word(tokens, end) == "b" or ends:
                letter, end = tokens[end].norm.upper(), end + 1
        out_of, end = self._out_of(tokens, end)
        to_value = third = None
        if not _broken(tokens, end) and _word(tokens, end) in ("to", "through", "till", "until"):
            joined = end + 1
            if _word(tokens, joined) in (*_ABOUT, "a") and not self._number(tokens, joined):
                joined += 1
            minus = _word(tokens, joined) in ("minus",)
            second = self._number(tokens, joined + minus)
            if second:
                to_value, end = (-second[0] if minus else second[0]), second[1]
                if not out_of:
                    out_of, end = self._out_of(tokens, end)
                if not _broken(tokens, end) and _word(tokens, end) == "to":
                    last = self._number(tokens, end + 1)
                    if last:
                        third, end = last
        misheard = misheard or any(token.norm in self._bent for token in tokens[start:end])
        unit, factor, end = self._unit(tokens, end)
        if unit and to_value is None and not _broken(tokens, end) and _norms(tokens, end, 3) == ("and", "a", "half"):
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

    def _is_a_grade(self, tokens: Sequence[Token], position: int) -> bool:
        """Whether "a" before a number up to five makes it a grade: "eversion's a four", "quads a good five"."""
        before = [token.norm for token in tokens[max(0, position - 2) : position]]
        article = before[-1:] == ["a"] or (before[:1] == ["a"] and before[-1:] in (["good"], ["solid"], ["weak"]))
        number = self._number(tokens, position) if article else None
        if number is None or number[0] > _HIGHEST_GRADE or number[1] - position > 1:
            return False
        return _broken(tokens, number[1]) or _word(tokens, number[1]) in _GOES_ON_AFTER_GRADE

    def _misheard_grade(self, tokens: Sequence[Token], position: int) -> Quantity | None:
        """Return a grade whose digit was heard as a word ("for plus"), else None."""
        digit = self._misheard.get(_word(tokens, position))
        follows = _word(tokens, position + 1)
        if digit is None or _broken(tokens, position + 1):
            return None
        if follows in ("plus", "minus"):
            after = self._number(tokens, position + 2)
            if after and not _broken(tokens, position + 2):
                return None  # "to plus five" is a sign, not a grade
        elif not (follows == "out" and _word(tokens, position + 2) == "of"):
            return None
        return self._finished(tokens, position, position + 1, float(digit), 0, None, graded=False, misheard=True)

    def _plus_minus(self, tokens: Sequence[Token], end: int) -> tuple[str, int]:
        if _word(tokens, end) not in ("plus", "minus", "+"):
            return "", end
        if _broken(tokens, end) and not self._left_over(tokens, end):
            return "", end
        after = self._number(tokens, end + 1)
        joined = after and not _broken(tokens, end + 1) and _word(tokens, end + 1) not in ("a", "over")
        if after and joined and _word(tokens, after[1]) != "out":
            return "", end  # "two plus three"
        return ("-" if tokens[end].norm == "minus" else "+"), end + 1

    def _left_over(self, tokens: Sequence[Token], place: int) -> bool:
        """Whether "plus" behind a comma belongs to the number before it, for no number follows: "triceps two, plus"."""
        return tokens[place - 1].break_after == COMMA and self._number(tokens, place + 1) is None

    def _out_of(self, tokens: Sequence[Token], end: int) -> tuple[float | None, int]:
        if end >= len(tokens) or tokens[end - 1].break_after not in (NO_BREAK, COMMA):
            return None, end
        paused = bool(tokens[end - 1].break_after)
        if _word(tokens, end) == "out" and _word(tokens, end + 1) == "of":  # "four minus, out of five"
            number = self._number(tokens, end + 2)
        elif paused:
            number = None
        elif _word(tokens, end) == "over":
            number = self._number(tokens, end + 1)
        elif _word(tokens, end) == "by":  # "four by five"
            fifth = self._number(tokens, end + 1)
            number = fifth if fifth and fifth[0] == _HIGHEST_GRADE else None
        else:
            number = None
        if number and number[0] in (3, 4, 5, 6, 9, 10, 100):
            return number
        if number and _word(tokens, end) == "over" and number[0] in _SHARES_OF_TIME:
            return number
        return None, end

    def _unit(self, tokens: Sequence[Token], end: int) -> tuple[Unit | None, float, int]:
        if _broken(tokens, end):
            return None, 1, end
        word = tokens[end].text if end < len(tokens) else ""
        if word == "s" and not _broken(tokens, end + 1) and self._number(tokens, end + 1):
            return None, 1, end  # "L four L five S one"
        unit = self._unit_names.get(word) or self._unit_names.get(_word(tokens, end))
        if unit:
            return unit, 1, end + 1
        if word in ("inch", "inches"):
            return "cm", _CM_AN_INCH, end + 1
        return None, 1, end

    # -- the bare number ----------------------------------------------------------------------------------------------

    def _number(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        """Return (value, end) of the number that starts here, fraction included, or None."""
        if position >= len(tokens):
            return None
        if _norms(tokens, position, 2) in (("half", "a"), ("half", "an"), ("a", "half")):
            return (0.5, position + 2) if _word(tokens, position + 2) in self._unit_names else None
        if _word(tokens, position) == "point" and _word(tokens, position + 1) in self._units:
            return self._units[tokens[position + 1].norm] / 10, position + 2
        whole = self._whole(tokens, position)
        if whole is None:
            return self._one_length(tokens, position)
        value, end = whole
        if _broken(tokens, end):
            return value, end
        if _norms(tokens, end, 3) == ("and", "a", "half"):
            return value + 0.5, end + 3
        if _word(tokens, end) == "point":
            digits = ""
            place = end + 1
            while place < len(tokens) and self._units.get(tokens[place].norm, 10) < 10:
                digits += str(self._units[tokens[place].norm])
                place += 1
            if digits:
                return value + float(f"0.{digits}"), place
        return value, end

    def _one_length(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        """Return the number of "a centimetre": the article counts one where a length follows."""
        article = _word(tokens, position) in ("a", "an") and not _broken(tokens, position + 1)
        return (1, position + 1) if article and _word(tokens, position + 1) in _LENGTHS else None

    def _whole(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        if position >= len(tokens):
            return None
        token = tokens[position]
        word = token.norm
        if token.text == "ones":
            return None  # "new ones"
        if _DIGITS.fullmatch(word):
            value = float(word)
            nxt = _word(tokens, position + 1)
            if word == "1" and not token.break_after and re.fullmatch(r"[1-9]\d", nxt):
                return 100 + float(nxt), position + 2  # recognisers write "one twelve" as "1 12"
            if word == "100" and nxt == "and" and not _of_two(tokens, position):
                return self._after_hundred(tokens, 100, position + 1)  # recognisers write it so
            if word == "1" and not token.break_after and nxt == "hundred":
                return self._after_hundred(tokens, 100, position + 2)
            return value, position + 1
        if word in ("a", "an") and _word(tokens, position + 1) == "hundred":
            return self._after_hundred(tokens, 100, position + 2)
        if word == "hundred":
            return self._after_hundred(tokens, 100, position + 1)
        if word in self._tens:
            return self._tens_and_unit(tokens, position)
        if word not in self._units or word == "o":
            return None
        ranged = ("to", "degree", "through", *(("and",) if _goes_on(tokens, position) else ()))
        if word == "oh" and (token.break_after or _word(tokens, position + 1) not in ranged):
            return None  # an exclamation
        value, end = self._units[word], position + 1
        if token.break_after or end >= len(tokens):
            return float(value), end
        follows = _word(tokens, end)
        if follows == "hundred" and 0 < value < 20:  # "thirteen hundred" too: a slip that must be seen whole
            return self._after_hundred(tokens, value * 100, end + 1)
        if follows == "thousand" and value > 0:
            rest = self._whole(tokens, end + 1)
            return (value * 1000.0 + rest[0], rest[1]) if rest and rest[0] < 1000 else (value * 1000.0, end + 1)
        spelled = [self._units.get(_word(tokens, end + step), 10) for step in (0, 1)]
        if value == 1 and max(spelled) < 10 and not tokens[end].break_after:  # digit by digit: "one two five"
            return 100.0 + 10 * spelled[0] + spelled[1], end + 2
        if 1 < value < 10 and follows in ("zero", "oh", "nought") and not tokens[end].break_after:
            alone = end + 1 >= len(tokens) or self._number(tokens, end + 1) is None
            if alone and _word(tokens, end + 1) not in ("to", "degree"):
                return value * 10.0, end + 1  # digit by digit: "seven zero"
        if 1 < value < 10 and follows in ("zero", "nought") and tokens[end].break_after:
            return value * 10.0, end + 1
        if value > 10 and follows in self._tens:  # "thirteen fifty"
            tens, end = self._tens_and_unit(tokens, end)
            return value * 100.0 + tens, end
        if value in (1, 2):
            if follows in ("oh", "o", "zero") and 0 < self._units.get(_word(tokens, end + 1), 0) < 10:
                return value * 100.0 + self._units[tokens[end + 1].norm], end + 2
            if self._units.get(follows, 0) >= 10:
                return value * 100.0 + self._units[follows], end + 1
            if follows in self._tens and not (value == 2 and self._tens[follows] > 0):
                tens, end = self._tens_and_unit(tokens, end)
                return value * 100.0 + tens, end
        if value in (2, 3) and follows in self._tens:  # "three fifty", a slip, must be seen whole
            tens, last = self._tens_and_unit(tokens, end)
            if _broken(tokens, last) or _word(tokens, last) in ("degree", "on"):
                return value * 100.0 + tens, last
        return float(value), end

    def _after_hundred(self, tokens: Sequence[Token], hundreds: int, end: int) -> tuple[float, int]:
        start = end
        if end - 1 < len(tokens) and tokens[end - 1].break_after:
            return float(hundreds), end
        if _word(tokens, end) == "and":
            start = end + 1
        word = _word(tokens, start)
        if word in self._tens:
            tens, end = self._tens_and_unit(tokens, start)
            return hundreds + tens, end
        if self._units.get(word, 0) > 0 and not (start > end and _word(tokens, start + 1) in ("out", "plus", "minus")):
            return float(hundreds + self._units[word]), start + 1
        if re.fullmatch(r"\d{1,2}", word) and start > end:
            return hundreds + float(word), start + 1
        return float(hundreds), end

    def _tens_and_unit(self, tokens: Sequence[Token], position: int) -> tuple[float, int]:
        value, end = self._tens[tokens[position].norm], position + 1
        unit = self._units.get(_word(tokens, end), 0)
        bent = tokens[position].norm in self._bent
        if bent and re.fullmatch(r"[1-9]", _word(tokens, end)):
            unit = int(_word(tokens, end))  # "ati 5"
        paused = tokens[position].break_after not in ((NO_BREAK, COMMA) if bent else (NO_BREAK,))
        if not paused and 0 < unit < 10:
            follows = _word(tokens, end + 1)
            if follows not in ("out", "over") or tokens[end].break_after:
                return float(value + unit), end + 1
        return float(value), end


def _of_two(tokens: Sequence[Token], position: int) -> bool:
    """Whether "100 and 80" may be two numbers: two things were named before, or together they are no angle."""
    second = _word(tokens, position + 2)
    if second.isdigit() and int(second) > _LARGEST_ANGLE - 100:
        return True
    before: list[str] = []
    while position > 0 and not tokens[position - 1].break_after:
        position -= 1
        before.append(tokens[position].norm)
    return bool({"and", "both"} & set(before)) or {"left", "right"} <= set(before)


def _how_often(tokens: Sequence[Token], end: int) -> bool:
    """Whether what follows a number says how often: "ten a day", "three times a week", "two per month"."""
    start = end + (_word(tokens, end) in ("times", "time"))
    return not _broken(tokens, end) and _word(tokens, start) in ("a", "per") and _word(tokens, start + 1) in _TIMES


def _goes_on(tokens: Sequence[Token], position: int) -> bool:
    """Whether something stands before this word in its sentence."""
    return position > 0 and tokens[position - 1].break_after in (NO_BREAK, COMMA)


def _word(tokens: Sequence[Token], position: int) -> str:
    return tokens[position].norm if 0 <= position < len(tokens) else ""


def _norms(tokens: Sequence[Token], position: int, count: int) -> tuple[str, ...]:
    return tuple(token.norm for token in tokens[position : position + count])


def _broken(tokens: Sequence[Token], position: int) -> bool:
    """Whether something ends between the token before this position and this one."""
    return position >= len(tokens) or tokens[position - 1].break_after not in (NO_BREAK,) or position == 0
