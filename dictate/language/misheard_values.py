"""Restore values that were heard as everyday words: "valgus stress table", "the deltoid ligament find", "quads for".

An everyday word is taken for a value only in the place of one: right behind something named that can have that value,
and where its statement ends or goes on to a side or an angle. What is restored carries the doubt `sounds_like`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dictate.language.mentions import Mention
from dictate.language.phrases import PhraseIndex
from dictate.language.quantity import Quantity
from dictate.language.tokens import Token
from dictate.lexicon.word_lists import SmallWords

_MOST_BETWEEN = 2
_HAS_A_STRENGTH = "strength"


class ValueRestorer:
    """Finds values that were heard as something else, by `misheard_values` of `lexicon/common/words.toml`."""

    def __init__(self, index: PhraseIndex, words: Mapping[str, Any], small_words: SmallWords) -> None:
        """Take the wordings of values from `index`."""
        self._index = index
        self._before, self._behind = small_words.before_value, small_words.behind_value
        self._meant: Mapping[str, Mapping[str, str]] = {
            kind: {heard: value for value, all_heard in values.items() for heard in all_heard}
            for kind, values in words["misheard_values"].items()
        }
        self._words = frozenset(word for meant in self._meant.values() for word in meant)

    def restored(self, tokens: Sequence[Token], content: Sequence[Mention]) -> list[Mention]:
        """Return the values that stand where `content` has none."""
        taken = {place for m in content if not _is_bare_name(m) for place in range(m.start, m.end)}
        found = []
        for place, token in enumerate(tokens):
            if token.norm not in self._words or place in taken or not self._ends(tokens, place + 1):
                continue
            value = next((meant[token.norm] for kind in self._asked(tokens, content, place)
                          if token.norm in (meant := self._meant.get(kind, {}))), None)  # fmt: skip
            if value is None:
                continue
            if value.isdigit():
                grade = Quantity(start=place, end=place + 1, value=float(value), graded=True, misheard=True)
                found.append(Mention(place, place + 1, quantity=grade, restored=value))
            else:
                found.append(Mention(place, place + 1, self._index.lookup([value]), restored=value))
        return found

    def _asked(self, tokens: Sequence[Token], content: Sequence[Mention], place: int) -> list[str]:
        """Return the kinds of the thing named right before a place that lacks a value."""
        named = next((m for m in reversed(content) if m.end <= place), None)
        if named is None or place - named.end > _MOST_BETWEEN:
            return []
        if any(token.break_after for token in tokens[named.end - 1 : place]):
            return []
        if not {token.norm for token in tokens[named.end : place]} <= self._before:
            return []
        kinds = [sense.term.kind for sense in named.terms_named() if sense.term]
        muscle = any(sense.term and sense.term.part == "muscle" for sense in named.terms("structure"))
        before = next((m for m in reversed(content) if m.end == named.start), None)
        resisted = before is not None and (cue := before.cue("modality")) is not None
        resisted = resisted and cue is not None and cue.cue is not None and cue.cue.value == "resisted_motion"
        strong = muscle or resisted or bool(named.levels)
        return [*([_HAS_A_STRENGTH] if strong else []), *kinds]

    def _ends(self, tokens: Sequence[Token], end: int) -> bool:
        return end == len(tokens) or bool(tokens[end - 1].break_after) or tokens[end].norm in self._behind


def _is_bare_name(mention: Mention) -> bool:
    """Whether one word stands for something elsewhere, and so may be a value that was misheard here."""
    return mention.end - mention.start == 1 and bool(mention.terms()) and mention.quantity is None
