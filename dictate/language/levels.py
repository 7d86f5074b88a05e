"""Spinal levels as they are said: "L4", "L four five", "L3 to S1", "C five, six and eight"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dictate.language.tokens import COMMA, Token

_LEVEL = re.compile(r"([ctls])(\d{1,2})(?:/(\d{1,2}))?")
_COUNTS = {"c": 8, "t": 12, "l": 5, "s": 5}


def spoken_levels(tokens: Sequence[Token]) -> list[tuple[int, int, tuple[str, ...]]]:
    """Return (start, end, levels) of each place where levels are said; `end` is exclusive."""
    singles: list[tuple[int, int, tuple[str, ...]]] = []
    position = 0
    while position < len(tokens):
        found = _level_at(tokens, position)
        if found:
            end, levels = _listed_levels(tokens, *found)
            singles.append((position, end, levels))
            position = end
        else:
            position += 1
    merged: list[tuple[int, int, tuple[str, ...]]] = []
    for start, end, levels in singles:
        if merged and _joined_range(tokens, merged[-1][1], start):
            first_start, _, first = merged.pop()
            merged.append((first_start, end, levels_between(first[0], levels[-1])))
        else:
            merged.append((start, end, levels))
    return [found for found in merged if found[2]]


def _level_at(tokens: Sequence[Token], position: int) -> tuple[int, tuple[str, ...]] | None:
    match = _LEVEL.fullmatch(tokens[position].norm)
    if match:
        letter, number, second = match.groups()
        numbers = [int(number)] + ([int(second)] if second else [])
        return position + 1, _levels(letter, numbers)
    letter = tokens[position].norm
    if letter not in _COUNTS or tokens[position].break_after or position + 1 >= len(tokens):
        return None
    numbers = []
    end = position + 1
    while end < len(tokens) and len(numbers) < 2:
        number = _small_number(tokens[end].norm)
        if number is None or number > _COUNTS[letter] + (1 if letter != "s" else 0) or number == 0:
            break
        numbers.append(number)
        end += 1
        if tokens[end - 1].break_after:
            break
    if not numbers:
        return None
    after = tokens[end].norm if end < len(tokens) else ""
    if letter == "l" and len(numbers) == 1 and after in ("plus", "minus", "out", "over", "degree", "cm"):
        return None  # "quads L 4+" is the left side
    graded = after in ("plus", "minus", "out", "over")  # "L4 five out of five"
    if len(numbers) == 2 and (graded or not _neighbours(letter, *numbers)):
        numbers.pop()
        end -= 1
    return end, _levels(letter, numbers)


def _neighbours(letter: str, first: int, second: int) -> bool:
    """Whether two numbers can name a segment: "C five six", "L five one", but not "C five four", a level's grade."""
    return second == first + 1 or (second == 1 and first == (7 if letter == "c" else _COUNTS[letter]))


_NO_LEVEL_AFTER = frozenset({"plus", "minus", "out", "over", "degree", "cm", "mm", "point", "beat", "second"})
_ENOUGH_LISTED = 2  # numbers behind commas that make a list without an "and" at its end


def _listed_levels(tokens: Sequence[Token], end: int, levels: tuple[str, ...]) -> tuple[int, tuple[str, ...]]:
    """Return the levels of a list whose letter is said once: "C five, six and eight", "C5, 6, 7".

    One number behind a comma is none: "L three, four on the left" is a level and its grade.
    """
    if not levels:
        return end, levels
    letter, last = levels[-1][0].lower(), int(levels[-1][1:])
    numbers: list[int] = []
    place, closed = end, False
    while place < len(tokens) and not closed:
        closed = tokens[place].norm == "and"
        broken = tokens[place - 1].break_after
        at = place + 1 if closed else place
        number = _small_number(tokens[at].norm) if at < len(tokens) else None
        follows = tokens[at + 1].norm if at + 1 < len(tokens) and not tokens[at].break_after else ""
        joined = closed or broken == COMMA
        if not joined or number is None or not last < number <= _COUNTS[letter] or follows in _NO_LEVEL_AFTER:
            closed = False
            break
        numbers.append(number)
        last, place = number, at + 1
    if not numbers or not (closed or len(numbers) >= _ENOUGH_LISTED):
        return end, levels
    return place, (*levels, *(f"{letter.upper()}{number}" for number in numbers))


_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def _small_number(norm: str) -> int | None:
    if norm.isascii() and norm.isdigit():
        return int(norm)
    return _WORDS.index(norm) if norm in _WORDS else None


def _levels(letter: str, numbers: Sequence[int]) -> tuple[str, ...]:
    """Return level names; the second of "L5/1" belongs to the next part of the spine."""
    order = "ctls"
    names: list[str] = []
    for place, number in enumerate(numbers):
        use = letter
        if place and number < numbers[0] and letter != "s":
            use = order[order.index(letter) + 1]
        if not 1 <= number <= _COUNTS[use]:
            return tuple(names)
        names.append(f"{use.upper()}{number}")
    return tuple(names)


def _joined_range(tokens: Sequence[Token], end: int, start: int) -> bool:
    between = [token.norm for token in tokens[end:start]]
    return between in (["to"], ["through"], ["down", "to"], ["till"], ["thru"]) and not any(
        token.break_after for token in tokens[end - 1 : start]
    )


def levels_between(first: str, last: str) -> tuple[str, ...]:
    """Return all spinal levels from first to last, both included.

    >>> levels_between("L4", "S1")
    ('L4', 'L5', 'S1')
    """
    every = [f"{letter.upper()}{number}" for letter in "ctls" for number in range(1, _COUNTS[letter] + 1)]
    start, end = every.index(first), every.index(last)
    return tuple(every[start : end + 1]) if start <= end else (first, last)
