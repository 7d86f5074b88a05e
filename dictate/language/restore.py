"""Restore misheard terms by letters and by sound, where the context supports them.

Only words that the lexicon does not know are tried, alone or with their neighbours, against the terms of the region
being examined. A restored term always carries the doubt `sounds_like`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import jellyfish
from rapidfuzz import fuzz, process

from dictate.language.mentions import Mention, longest_first
from dictate.language.phrases import PhraseIndex, Sense
from dictate.language.tokens import Token

_LONGEST_WORDS = 3
_LETTERS_FLOOR = 84  # rapidfuzz ratio, 0 to 100
_SOUND_FLOOR = 88
_LETTERS_WITH_SOUND = 62
_SHORTEST_LETTERS = 5
# Where what follows asks for a term of this kind ("… negative", "… tender") less likeness is enough.
_EXPECTED_LETTERS = 72
_EXPECTED_BOTH = 150
_SHORTEST_SOUND = 8
_EVERYDAY_ZIPF = 3.0  # once in a million words


class Restorer:
    """Finds the terms that unknown words were probably meant to be."""

    def __init__(self, index: PhraseIndex) -> None:
        self._index = index
        self._by_region: dict[str, dict[str, str]] = {}

    def _choices(self, region: str) -> dict[str, str]:
        """Return the phrases that may be restored in a region, with their sounds; worked out when first needed."""
        if region not in self._by_region:
            self._by_region[region] = {
                key: _sound(key)
                for key, senses in self._index.senses.items()
                if len(key) >= _SHORTEST_LETTERS and any(_restorable(sense, region) for sense in senses)
            }
        return self._by_region[region]

    def restore(
        self, tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention], *, region: str
    ) -> list[Mention]:
        """Return the mentions with misheard terms added, each marked by what it was taken for."""
        known = {place for mention in (*content, *talk) for place in range(mention.start, mention.end)}
        fixed = {p for m in content if m.end - m.start > 1 or not m.terms() for p in range(m.start, m.end)}
        added = []
        for start, token in enumerate(tokens):
            if start in known or not self._strange(token.norm):
                continue
            found = self._best(tokens, start, fixed, region, supported=_supported(content, start))
            if found:
                added.append(found)
                known.update(range(found.start, found.end))
        return longest_first([*content, *added]) if added else list(content)

    def _strange(self, word: str) -> bool:
        return len(word) >= 4 and word.isalpha() and word not in self._index.vocabulary and not _everyday(word)

    def _best(
        self, tokens: Sequence[Token], strange: int, known: set[int], region: str, *, supported: frozenset[str]
    ) -> Mention | None:
        best: tuple[float, int, int, str] | None = None
        for start in range(max(0, strange - _LONGEST_WORDS + 1), strange + 1):
            for end in range(strange + 1, min(len(tokens), start + _LONGEST_WORDS) + 1):
                span = range(start, end)
                if any(place in known for place in span) or any(tokens[p].break_after for p in span[:-1]):
                    continue
                said = " ".join(tokens[place].norm for place in span)
                match = self._match(said, region, supported)
                if match and (best is None or match[0] > best[0]):
                    best = (match[0], start, end, match[1])
        if best is None:
            return None
        _, start, end, key = best
        senses = tuple(s for s in self._index.senses[key] if _restorable(s, region))
        label = next((s.term.label for s in senses if s.term), key)
        return Mention(start, end, senses, restored=label)

    def _match(self, said: str, region: str, supported: frozenset[str]) -> tuple[float, str] | None:
        choices = self._choices(region)
        letters = process.extract(said, choices.keys(), scorer=fuzz.ratio, limit=2, score_cutoff=_LETTERS_WITH_SOUND)
        if not letters:
            return None
        sound = _sound(said)
        scored = []
        for key, score, _ in letters:
            alike = fuzz.ratio(sound, choices[key])
            sounds = alike >= _SOUND_FLOOR and score >= _LETTERS_WITH_SOUND and len(key) >= _SHORTEST_SOUND
            wanted = {sense.term.kind for sense in self._index.senses[key] if sense.term} & supported
            expected = bool(wanted) and score >= _EXPECTED_LETTERS and score + alike >= _EXPECTED_BOTH
            if score >= _LETTERS_FLOOR or sounds or expected:
                scored.append((score + alike, key))
        if not scored:
            return None
        scored.sort(reverse=True)
        return scored[0]


def _supported(content: Sequence[Mention], place: int) -> frozenset[str]:
    """Return the kinds of term that the next mention speaks of, if it stands close by."""
    after = next((m for m in content if m.start > place), None)
    if after is None or after.start - place > 3:
        return frozenset()
    status = after.cue("status")
    if status is not None and status.cue is not None and status.cue.value in ("positive", "negative"):
        return frozenset({"test"})
    if after.shaped("adjective") or after.shaped("absent"):
        return frozenset({"structure"})
    return frozenset()


def _restorable(sense: Sense, region: str) -> bool:
    """Rare names only: terms of this region or of all, never a cue."""
    if sense.term is None or sense.heard or sense.shape not in ("name", "adjective", "absent"):
        return False
    return region in sense.term.regions or not sense.term.regions


@lru_cache(maxsize=4096)
def _sound(words: str) -> str:
    return jellyfish.metaphone(words).replace(" ", "")


@lru_cache(maxsize=4096)
def _everyday(word: str) -> bool:
    """Whether the word is ordinary English, and so probably what was said."""
    from wordfreq import zipf_frequency  # loaded only once a strange word is heard: its tables take time to read

    return float(zipf_frequency(word, "en")) >= _EVERYDAY_ZIPF
