"""How clearly the words of a finding were heard, and when."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.contract import Doubt
from dictate.language.state import Entry
from dictate.recognise.events import Utterance, Word

PLACELESS = (0, 0)  # span of a finding that copies another: its words are only known by their wording
# Probability of one word. Measured on the spoken fixtures (tiny.en, 441 findings): of those with their least certain
# word below 0.05 half were right, from there to 0.45 nine in ten, above 0.45 a little more. The limit is high because a
# wrong value without a doubt costs more than a look at a right one.
UNCLEAR_BELOW = 0.45
_LITTLE_WORDS = frozenset(
    {"a", "an", "and", "at", "for", "in", "is", "it", "of", "on", "so", "that", "the", "to", "um", "uh"}
)


def words_of(entry: Entry, utterance: Utterance) -> Sequence[Word]:
    """Return the words of the utterance that a finding came from; all of them when they cannot be told apart."""
    words = utterance.words
    if entry.span != PLACELESS:
        first, last = entry.words
        return words[first : last + 1] or words
    said = entry.finding.said.split()
    for first in range(len(words) - len(said) + 1):
        if said and [_bare(word.text) for word in words[first : first + len(said)]] == [_bare(word) for word in said]:
            return words[first : first + len(said)]
    return words


def heard_doubts(words: Sequence[Word]) -> list[Doubt]:
    """Return the doubt that the least certain of the words deserves, if any. Little words do not count."""
    telling = [word for word in words if _bare(word.text) not in _LITTLE_WORDS]
    unclear = [word for word in telling if word.confidence < UNCLEAR_BELOW]
    if not unclear:
        return []
    named = ", ".join(f'"{_bare(word.text)}"' for word in unclear[:4])
    detail = f"{named}: heard with a certainty of {min(word.confidence for word in unclear):.0%}"
    return [Doubt(reason="heard_unclearly", detail=detail, suggestion=None)]


def clarity(words: Sequence[Word]) -> float:
    """Return the certainty of the least certain telling word, 0 to 1; 1 when there is none."""
    return min((word.confidence for word in words if _bare(word.text) not in _LITTLE_WORDS), default=1.0)


def _bare(word: str) -> str:
    return word.strip(" ,.;:?!\"'").lower()
