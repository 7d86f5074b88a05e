"""What number words are worth, as clinicians say them: "one fifteen", "a hundred and five", "two and a half"."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from dictate.language.token_row import breaks_before, norms_at, word_at
from dictate.language.tokens import COMMA, NO_BREAK, Token

_DIGITS = re.compile(r"\d+(?:\.\d+)?")
_LARGEST_ANGLE = 180  # that is dictated of a joint


class NumberWords:
    """Reads bare numbers, without what stands around them."""

    def __init__(self, words: Mapping[str, Any]) -> None:
        """Read by `lexicon/common/words.toml`."""
        self.bent: Mapping[str, int] = words["misheard_tens"]
        self._units: Mapping[str, int] = words["units"]
        self._tens: Mapping[str, int] = {**words["tens"], **self.bent}
        self._unit_names = frozenset(name for names in words["unit_names"].values() for name in names)
        self._lengths = frozenset(words["lengths"])

    def number(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        """Return (value, end) of the number that starts here, fraction included, or None."""
        if position >= len(tokens):
            return None
        if norms_at(tokens, position, 2) in (("half", "a"), ("half", "an"), ("a", "half")):
            return (0.5, position + 2) if word_at(tokens, position + 2) in self._unit_names else None
        if word_at(tokens, position) == "point" and word_at(tokens, position + 1) in self._units:
            return self._units[tokens[position + 1].norm] / 10, position + 2
        whole = self._whole(tokens, position)
        if whole is None:
            return self._one_length(tokens, position)
        value, end = whole
        if breaks_before(tokens, end):
            return value, end
        if norms_at(tokens, end, 3) == ("and", "a", "half"):
            return value + 0.5, end + 3
        if word_at(tokens, end) == "point":
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
        article = word_at(tokens, position) in ("a", "an") and not breaks_before(tokens, position + 1)
        return (1, position + 1) if article and word_at(tokens, position + 1) in self._lengths else None

    def _whole(self, tokens: Sequence[Token], position: int) -> tuple[float, int] | None:
        if position >= len(tokens):
            return None
        token = tokens[position]
        word = token.norm
        if token.text == "ones":
            return None  # "new ones"
        if _DIGITS.fullmatch(word):
            value = float(word)
            nxt = word_at(tokens, position + 1)
            if word == "1" and not token.break_after and re.fullmatch(r"[1-9]\d", nxt):
                return 100 + float(nxt), position + 2  # recognisers write "one twelve" as "1 12"
            if word == "100" and nxt == "and" and not _of_two(tokens, position):
                return self._after_hundred(tokens, 100, position + 1)  # recognisers write it so
            if word == "1" and not token.break_after and nxt == "hundred":
                return self._after_hundred(tokens, 100, position + 2)
            return value, position + 1
        if word in ("a", "an") and word_at(tokens, position + 1) == "hundred":
            return self._after_hundred(tokens, 100, position + 2)
        if word == "hundred":
            return self._after_hundred(tokens, 100, position + 1)
        if word in self._tens:
            return self._tens_and_unit(tokens, position)
        if word not in self._units or word == "o":
            return None
        ranged = ("to", "degree", "through", *(("and",) if _goes_on(tokens, position) else ()))
        if word == "oh" and (token.break_after or word_at(tokens, position + 1) not in ranged):
            return None  # an exclamation
        value, end = self._units[word], position + 1
        if token.break_after or end >= len(tokens):
            return float(value), end
        follows = word_at(tokens, end)
        if follows == "hundred" and 0 < value < 20:  # "thirteen hundred" too: a slip that must be seen whole
            return self._after_hundred(tokens, value * 100, end + 1)
        if follows == "thousand" and value > 0:
            rest = self._whole(tokens, end + 1)
            return (value * 1000.0 + rest[0], rest[1]) if rest and rest[0] < 1000 else (value * 1000.0, end + 1)
        spelled = [self._units.get(word_at(tokens, end + step), 10) for step in (0, 1)]
        if value == 1 and max(spelled) < 10 and not tokens[end].break_after:  # digit by digit: "one two five"
            return 100.0 + 10 * spelled[0] + spelled[1], end + 2
        if 1 < value < 10 and follows in ("zero", "oh", "nought") and not tokens[end].break_after:
            alone = end + 1 >= len(tokens) or self.number(tokens, end + 1) is None
            if alone and word_at(tokens, end + 1) not in ("to", "degree"):
                return value * 10.0, end + 1  # digit by digit: "seven zero"
        if 1 < value < 10 and follows in ("zero", "nought") and tokens[end].break_after:
            return value * 10.0, end + 1
        if value > 10 and follows in self._tens:  # "thirteen fifty"
            tens, end = self._tens_and_unit(tokens, end)
            return value * 100.0 + tens, end
        if value in (1, 2):
            if follows in ("oh", "o", "zero") and 0 < self._units.get(word_at(tokens, end + 1), 0) < 10:
                return value * 100.0 + self._units[tokens[end + 1].norm], end + 2
            if self._units.get(follows, 0) >= 10:
                return value * 100.0 + self._units[follows], end + 1
            if follows in self._tens and not (value == 2 and self._tens[follows] > 0):
                tens, end = self._tens_and_unit(tokens, end)
                return value * 100.0 + tens, end
        if value in (2, 3) and follows in self._tens:  # "three fifty", a slip, must be seen whole
            tens, last = self._tens_and_unit(tokens, end)
            if breaks_before(tokens, last) or word_at(tokens, last) in ("degree", "on"):
                return value * 100.0 + tens, last
        return float(value), end

    def _after_hundred(self, tokens: Sequence[Token], hundreds: int, end: int) -> tuple[float, int]:
        start = end
        if end - 1 < len(tokens) and tokens[end - 1].break_after:
            return float(hundreds), end
        if word_at(tokens, end) == "and":
            start = end + 1
        word = word_at(tokens, start)
        if word in self._tens:
            tens, end = self._tens_and_unit(tokens, start)
            return hundreds + tens, end
        if self._units.get(word, 0) > 0 and not (
            start > end and word_at(tokens, start + 1) in ("out", "plus", "minus")
        ):
            return float(hundreds + self._units[word]), start + 1
        if re.fullmatch(r"\d{1,2}", word) and start > end:
            return hundreds + float(word), start + 1
        return float(hundreds), end

    def _tens_and_unit(self, tokens: Sequence[Token], position: int) -> tuple[float, int]:
        value, end = self._tens[tokens[position].norm], position + 1
        unit = self._units.get(word_at(tokens, end), 0)
        bent = tokens[position].norm in self.bent
        if bent and re.fullmatch(r"[1-9]", word_at(tokens, end)):
            unit = int(word_at(tokens, end))  # "ati 5"
        paused = tokens[position].break_after not in ((NO_BREAK, COMMA) if bent else (NO_BREAK,))
        if not paused and 0 < unit < 10:
            follows = word_at(tokens, end + 1)
            if follows not in ("out", "over") or tokens[end].break_after:
                return float(value + unit), end + 1
        return float(value), end


def _of_two(tokens: Sequence[Token], position: int) -> bool:
    """Whether "100 and 80" may be two numbers: two things were named before, or together they are no angle."""
    second = word_at(tokens, position + 2)
    if second.isdigit() and int(second) > _LARGEST_ANGLE - 100:
        return True
    before: list[str] = []
    while position > 0 and not tokens[position - 1].break_after:
        position -= 1
        before.append(tokens[position].norm)
    return bool({"and", "both"} & set(before)) or {"left", "right"} <= set(before)


def _goes_on(tokens: Sequence[Token], position: int) -> bool:
    """Whether something stands before this word in its sentence."""
    return position > 0 and tokens[position - 1].break_after in (NO_BREAK, COMMA)
