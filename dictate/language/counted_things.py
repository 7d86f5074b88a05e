"""Numbers that are no values: they count ("two tests"), are a name ("week six") or stand for a thing ("that one")."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dictate.language.grade_marks import GOES_ON_AFTER_GRADE, SHARES_OF_TIME
from dictate.language.quantity import Quantity
from dictate.language.token_row import breaks_before, word_at
from dictate.language.tokens import Token

_MOST_COUNTED = 6
_SIDES_BEFORE_ONE = frozenset({"left", "right", "medial", "lateral", "upper", "lower"})
_DEFINED_AS = frozenset({"a", "an", "the", "to", "where", "when", "what", "no", "your", "for", "this", "that"})
_GROUPS = frozenset({"the", "us", "them", "you", "my", "our", "these", "those"})


class CountedThings:
    """Tells numbers that count things from values."""

    def __init__(self, words: Mapping[str, Any], *, known: frozenset[str]) -> None:
        """Tell by `lexicon/common/words.toml`; `known` are the words of the lexicon, of which no plural is a thing."""
        self._known = known
        self._counted = frozenset(words["counted_things"])
        self._injuries = frozenset(words["graded_injuries"])
        self._numbered = frozenset(words["numbered_things"])
        self._orders = frozenset(words["order_words"])
        self._times = frozenset(words["recurring_times"])
        self._before_pronoun = frozenset(words["before_pronoun_one"])

    def counts(self, tokens: Sequence[Token], quantity: Quantity) -> bool:
        """Whether the number counts things ("two tests") or is no number ("the other one", "one of")."""
        if quantity.graded and self._injuries & {token.norm for token in tokens[quantity.end : quantity.end + 4]}:
            return True  # "grade two lateral sprain" grades an injury, and nothing that was tested
        if quantity.out_of in (6, 100) and not quantity.plus_minus:
            return True  # "three out of six" counts tests
        if quantity.out_of in SHARES_OF_TIME or self._how_often(tokens, quantity.end):
            return True  # "six fifty-seconds" of a year, "ten a day"
        before_word = tokens[quantity.start - 1].norm if quantity.start else ""
        following_word = "" if breaks_before(tokens, quantity.end) else word_at(tokens, quantity.end)
        if quantity.comparator and not quantity.unit and following_word in self._counted:
            return True  # "more than a hundred tests"
        if before_word in self._orders and quantity.value <= _MOST_COUNTED and not quantity.unit:
            return True  # "the first two are negative"
        if quantity.unit or quantity.is_grade or quantity.to_value is not None or quantity.comparator or quantity.sign:
            return False
        before = before_word
        if before in self._numbered and not tokens[quantity.start - 1].break_after:
            return True  # "that's week sixteen", "player number 54"
        if (
            quantity.end - quantity.start == 1
            and tokens[quantity.start].norm == "one"
            and before in self._before_pronoun
        ):
            return True
        if breaks_before(tokens, quantity.end):
            return False
        if (
            quantity.value == 1
            and quantity.end - quantity.start == 1
            and before in _SIDES_BEFORE_ONE
            and word_at(tokens, quantity.end) not in GOES_ON_AFTER_GRADE
        ):
            return True  # "left jerk reduced, right one normal"
        opens = quantity.start == 0 or bool(tokens[quantity.start - 1].break_after)
        if quantity.value == 1 and (
            tokens[quantity.end].norm == "of" or (opens and tokens[quantity.end].norm in ("is", "was"))
        ):
            return True
        following = tokens[quantity.end]
        if following.norm in ("full", "whole") and word_at(tokens, quantity.end + 1) in self._counted:
            return True  # "one full minute"
        if following.norm == "of" and word_at(tokens, quantity.end + 1) in _GROUPS:
            return True  # "with two of the team"
        led = opens or before in ("and", "so", "with")
        if led and following.norm in ("positive", "negative") and quantity.value <= _MOST_COUNTED:
            return True  # "three positive on the right: …" counts tests
        if tokens[quantity.end - 1].text.endswith("'s") and following.norm in _DEFINED_AS:
            return True  # "two's what most have"
        if following.norm in ("is", "are", "was") and word_at(tokens, quantity.end + 1) in _DEFINED_AS:
            return True  # "three is an operation"
        if following.norm == "out":
            return True  # "two out of the four"
        plural = following.text != following.norm and following.norm not in self._known
        return following.norm in self._counted or plural

    def _how_often(self, tokens: Sequence[Token], end: int) -> bool:
        """Whether what follows a number says how often: "ten a day", "three times a week", "two per month"."""
        start = end + (word_at(tokens, end) in ("times", "time"))
        return (
            not breaks_before(tokens, end)
            and word_at(tokens, start) in ("a", "per")
            and word_at(tokens, start + 1) in self._times
        )
