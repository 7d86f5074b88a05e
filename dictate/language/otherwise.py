"""Restore misheard words by what else the recogniser heard in the same place.

Where the best reading has words that mean nothing here ("hoster your drawer") and another reading of the same sound has
a term in their place ("posterior drawer"), the term is what was probably said. It carries the doubt `sounds_like`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

import jellyfish

from dictate.language.mentions import Mention
from dictate.language.phrases import PhraseIndex
from dictate.language.tokens import QUESTION, STOP, Token

_LONGEST_WORDS = 4  # that a term can have been taken for
_MOST_READINGS = 4  # of other readings that are asked
# Little words and negations are heard anywhere, and a side would be carried on without its doubt: only what names or
# values something is taken from another reading.
_TELLING_CUES = frozenset({"status", "modality", "severity"})
_DENIAL = "non"  # before an adjective; heard as "now", "none", "nun"
_LIKE_A_DENIAL = frozenset({"N", "NN"})  # as Metaphone writes these
_TELLING_SHAPES = frozenset({"name", "adjective", "absent", "normal", "positive", "negative", "section", "region"})


@dataclass(frozen=True, slots=True)
class OtherReading:
    """Another reading of the same sound, with the mentions in it."""

    tokens: Sequence[Token]
    content: Sequence[Mention]


def heard_otherwise(
    tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention], others: Sequence[OtherReading],
    index: PhraseIndex, misheard: Mapping[str, int],
) -> list[Mention]:  # fmt: skip
    """Return the mentions of other readings that stand where the words of this one mean nothing.

    Args:
        tokens: of the best reading.
        content, talk: its mentions.
        others: other readings of the same sound, best first.
        index: the wordings of the lexicon.
        misheard: words that numbers are taken for, with the number.
    """
    known = {place for mention in (*content, *talk) for place in range(mention.start, mention.end)}
    kept = {p for m in content if m.end - m.start > 1 or not m.terms() for p in range(m.start, m.end)}
    added: list[Mention] = []
    for other in others[:_MOST_READINGS]:
        aligned = _Alignment(tokens, other.tokens)
        for mention in other.content:
            span = aligned.span(mention)
            if span is None or not 0 < len(span) <= _LONGEST_WORDS:
                continue
            if not (_telling(mention) or _numbers_alike(mention, [tokens[place].norm for place in span], misheard)):
                continue
            if not all(tokens[place].norm for place in span):  # taken back by a self-repair
                continue
            if kept & set(span) or known.issuperset(span) or _stops(tokens, span):
                continue
            restored = replace(mention, start=span.start, end=span.stop, restored=_label(mention, other.tokens))
            restored = _denied(restored, mention, tokens, other.tokens, kept, index) or restored
            added.append(restored)
            known.update(range(restored.start, restored.end))
            kept.update(range(restored.start, restored.end))
    return added


def _stops(tokens: Sequence[Token], span: range) -> bool:
    """Whether a sentence ends within the words; a comma there is as likely misheard as they are."""
    return any(tokens[place].break_after in (STOP, QUESTION) for place in span[:-1])


def _telling(mention: Mention) -> bool:
    if mention.quantity is not None:
        return mention.quantity.is_grade or mention.quantity.unit is not None
    return any(
        sense.cue.type in _TELLING_CUES if sense.cue else sense.shape in _TELLING_SHAPES for sense in mention.senses
    )


def _numbers_alike(mention: Mention, said: Sequence[str], misheard: Mapping[str, int]) -> bool:
    """Whether one word stands in the place of a number and sounds like it: "hamstrings fore on the right"."""
    number = mention.quantity
    return number is not None and len(said) == 1 and misheard.get(said[0]) == number.value and number.to_value is None


def _label(mention: Mention, tokens: Sequence[Token]) -> str:
    term = next((sense.term for sense in mention.senses if sense.term), None)
    return term.label if term else " ".join(token.text for token in tokens[mention.start : mention.end])


def _denied(
    restored: Mention, mention: Mention, tokens: Sequence[Token], others: Sequence[Token], kept: set[int],
    index: PhraseIndex,
) -> Mention | None:  # fmt: skip
    """Return the adjective with its denial where the word before it sounds like one: "now tendar" is "non-tender"."""
    before = restored.start - 1
    if mention.shaped("adjective") is None or before < 0 or before in kept or tokens[before].break_after:
        return None
    if jellyfish.metaphone(tokens[before].norm) not in _LIKE_A_DENIAL:
        return None
    senses = index.lookup([_DENIAL, *(token.norm for token in others[mention.start : mention.end])])
    return replace(restored, start=before, senses=senses) if senses else None


class _Alignment:
    """Which words of one reading stand where in another: places at which neither goes on in the middle of a change."""

    def __init__(self, own: Sequence[Token], other: Sequence[Token]) -> None:
        matcher = SequenceMatcher(None, [t.norm for t in own], [t.norm for t in other], autojunk=False)
        self._places: dict[int, int] = {}  # place in the other -> place in our own
        for _, own_start, own_end, other_start, other_end in matcher.get_opcodes():
            self._places[other_start], self._places[other_end] = own_start, own_end
            if own_end - own_start == other_end - other_start:
                self._places |= dict(zip(range(other_start, other_end), range(own_start, own_end), strict=True))

    def span(self, mention: Mention) -> range | None:
        """Return the own places that a mention of the other reading stands at; None when they cannot be told."""
        start, end = self._places.get(mention.start), self._places.get(mention.end)
        return range(start, end) if start is not None and end is not None else None
