"""A number as it was said, with its sign, unit and marks of a grade."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from dictate.contract import Grade

Unit = Literal["deg", "cm", "mm", "s", "1"]
Comparator = Literal["<", ">"]
LEAST_ANGLE = 10  # degrees: a smaller bare number is as often a count (the project's choice)


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


def grade_of(scale: str, quantity: Quantity) -> Grade:
    """Return the grade that a quantity states on a scale."""
    return Grade(scale=scale, value=quantity.text())
