"""Restore misheard terms by letters and by sound, where the context supports them.

Words that the lexicon does not know are tried, alone or with their neighbours, against the terms of the region being
examined. Those that are ordinary English ("tinder") are tried only where the sentence asks for a term, and only against
terms that sound the same but for vowels and voicing. A restored term always carries the doubt `sounds_like`.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import jellyfish
from rapidfuzz import fuzz, process

from dictate.language.mentions import Mention, longest_first
from dictate.language.phrases import PhraseIndex, Sense
from dictate.language.slots import Kinds, kinds_wanted
from dictate.language.tokens import Token

_LONGEST_WORDS = 3
_LETTERS_FLOOR = 84  # rapidfuzz ratio, 0 to 100
_SOUND_FLOOR = 88
_LETTERS_WITH_SOUND = 62
_SHORTEST_LETTERS = 5  # of a term
_SHORTEST_WORD = 4  # that a term was taken for, or is part of what it was taken for
# Where what follows asks for a term of this kind ("… negative", "… tender") less likeness is enough.
_EXPECTED_LETTERS = 60
_EXPECTED_BOTH = 120
_DENIED_LETTERS, _DENIED_BOTH = 72, 130  # of a denial ("non-tender"): more, for it must not be guessed
_SHORTEST_SOUND = 8
_EVERYDAY_ZIPF = 3.0  # once in a million words
# Ordinary words are another term when they sound the same, voicing and vowels apart: chosen so that no script of the
# fixtures, in which every word is right, has one replaced.
_SAME_SOUND_LETTERS = 60
_SHORTEST_SAME_SOUND = 3  # classes of consonants
_SHORT_LETTERS = 75  # of a test whose name has fewer
_TEST_ONLY: Kinds = frozenset({"test"})
# Metaphone's consonants by where in the mouth they are made; what recognisers confuse falls together.
_CLASSES = str.maketrans(
    {"B": "P", "F": "P", "V": "P", "D": "T", "0": "S", "X": "S", "Z": "S", "J": "S", "G": "K", "M": "N"}
    | dict.fromkeys("AEIOUHWY")
)


class Restorer:
    """Finds the terms that unknown words were probably meant to be."""

    def __init__(self, index: PhraseIndex, words: Mapping[str, Any]) -> None:
        """Restore the terms of `index`, by `lexicon/common/words.toml`."""
        self._index = index
        self._little = frozenset(words["function_words"])  # never a term by themselves
        self._sides = {heard: side for side, all_heard in words["misheard_sides"].items() for heard in all_heard}
        self._by_region: dict[str, dict[str, str]] = {}
        self._sounding: dict[str, dict[str, list[str]]] = {}
        self._short_names: dict[str, list[str]] = {}

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
        fixed = {p for m in content if _is_fixed(m) for p in range(m.start, m.end)}
        added = self._headed_sides(tokens, content)
        known.update(mention.start for mention in added)
        for start, token in enumerate(tokens):
            if start in known or not self._candidate(token.norm):
                continue
            found = self._best(tokens, content, start, fixed, region)
            if found:
                added.append(found)
                known.update(range(found.start, found.end))
        return longest_first([*content, *added]) if added else list(content)

    def _headed_sides(self, tokens: Sequence[Token], content: Sequence[Mention]) -> list[Mention]:
        """Return the sides misheard in headings: "bright shoulder, looking at it …" is the right one."""
        added = []
        for mention in content:
            place = mention.start - 1
            alone = mention.end == len(tokens) or bool(tokens[mention.end - 1].break_after)
            if mention.shaped("region") is None or place < 0 or not alone or tokens[place].break_after:
                continue
            side = self._sides.get(tokens[place].norm)
            opens = place == 0 or bool(tokens[place - 1].break_after)
            if side and opens and not any(m.start <= place < m.end for m in content):
                added.append(Mention(place, place + 1, self._index.lookup([side]), restored=side))
        return added

    def _candidate(self, word: str) -> bool:
        return len(word) >= _SHORTEST_WORD and word.isalpha() and word not in self._little

    def _best(
        self, tokens: Sequence[Token], content: Sequence[Mention], place: int, known: set[int], region: str
    ) -> Mention | None:
        strange = self._strange(tokens[place].norm)
        best: tuple[float, int, int, str] | None = None
        for start in range(max(0, place - _LONGEST_WORDS + 1), place + 1):
            for end in range(place + 1, min(len(tokens), start + _LONGEST_WORDS) + 1):
                span = range(start, end)
                if any(p in known for p in span) or any(tokens[p].break_after for p in span[:-1]):
                    continue
                wanted = kinds_wanted(tokens, content, start, end)
                if not (strange or wanted):
                    continue
                said = " ".join(tokens[p].norm for p in span)
                match = self._match(said, region, wanted) if strange else self._same_sound(said, region, wanted)
                if match and (best is None or match[0] > best[0]):
                    best = (match[0], start, end, match[1])
        if best is None:
            return None
        _, start, end, key = best
        senses = tuple(s for s in self._index.senses[key] if _restorable(s, region))
        label = next((s.term.label for s in senses if s.term), key)
        return Mention(start, end, senses, restored=label)

    def _strange(self, word: str) -> bool:
        return word not in self._index.vocabulary and not _everyday(word)

    def _match(self, said: str, region: str, wanted: Kinds) -> tuple[float, str] | None:
        """Return how alike words that mean nothing are to a term, 0 to 200, and its wording."""
        choices = self._choices(region)
        letters = process.extract(said, choices.keys(), scorer=fuzz.ratio, limit=2, score_cutoff=_LETTERS_WITH_SOUND)
        if not letters:
            return None
        sound = _sound(said)
        scored = []
        for key, score, _ in letters:
            alike = fuzz.ratio(sound, choices[key])
            sounds = alike >= _SOUND_FLOOR and score >= _LETTERS_WITH_SOUND and len(key) >= _SHORTEST_SOUND
            least, both = (_DENIED_LETTERS, _DENIED_BOTH) if self._denies(key) else (_EXPECTED_LETTERS, _EXPECTED_BOTH)
            expected = score >= least and score + alike >= both
            if score >= _LETTERS_FLOOR or sounds or (expected and self._kinds(key, region) & wanted):
                scored.append((score + alike, key))
            elif self._denies(key):
                return None  # most like a denial, and not enough: then what it denies is not restored either
        return max(scored) if scored else self._same_sound(said, region, wanted)

    def _same_sound(self, said: str, region: str, wanted: Kinds) -> tuple[float, str] | None:
        """Return the wanted term that sounds the same as these words, voicing and vowels apart."""
        sound = _coarse(said)
        if not wanted or len(sound) < _SHORTEST_SAME_SOUND:
            return self._short_test(said, region, wanted)
        scored = [
            (fuzz.ratio(said, key) + 100, key)
            for key in self._by_sound(region).get(sound, ())
            if key != said and self._kinds(key, region) & wanted
        ]
        return max(((score, key) for score, key in scored if score - 100 >= _SAME_SOUND_LETTERS), default=None)

    def _short_test(self, said: str, region: str, wanted: Kinds) -> tuple[float, str] | None:
        """Return the test with a short name that sounds and nearly looks the same: "near positive" is Neer's."""
        sound = _coarse(said)
        if wanted != _TEST_ONLY or len(sound) != _SHORTEST_SAME_SOUND - 1:
            return None
        keys = (key for key in self._short(region) if _coarse(key) == sound and key != said)
        scored = [(fuzz.ratio(said, key) + 100, key) for key in keys if self._kinds(key, region) & wanted]
        return max((found for found in scored if found[0] - 100 >= _SHORT_LETTERS), default=None)

    def _short(self, region: str) -> list[str]:
        """Return the names of tests that are too short to be restored elsewhere."""
        if region not in self._short_names:
            self._short_names[region] = [
                key
                for key, senses in self._index.senses.items()
                if len(key) < _SHORTEST_LETTERS
                and any(_restorable(s, region) and s.term and s.term.kind == "test" for s in senses)
            ]
        return self._short_names[region]

    def _by_sound(self, region: str) -> dict[str, list[str]]:
        if region not in self._sounding:
            by_sound: dict[str, list[str]] = defaultdict(list)
            for key in self._choices(region):
                by_sound[_coarse(key)].append(key)
            self._sounding[region] = by_sound
        return self._sounding[region]

    def _denies(self, key: str) -> bool:
        return any(sense.shape == "absent" for sense in self._index.senses[key])

    def _kinds(self, key: str, region: str) -> Kinds:
        senses = (sense for sense in self._index.senses[key] if _restorable(sense, region))
        return frozenset(sense.term.kind for sense in senses if sense.term)


def _is_fixed(mention: Mention) -> bool:
    """Whether the words mean what they say: more than one, or one that is no name and no part of one ("lateral")."""
    return mention.end - mention.start > 1 or not (mention.terms() or mention.cue("place"))


def _restorable(sense: Sense, region: str) -> bool:
    """Rare names only: terms of this region or of all, never a cue."""
    if sense.term is None or sense.heard or sense.shape not in ("name", "adjective", "absent"):
        return False
    return region in sense.term.regions or not sense.term.regions


@lru_cache(maxsize=4096)
def _sound(words: str) -> str:
    return jellyfish.metaphone(words).replace(" ", "")


@lru_cache(maxsize=4096)
def _coarse(words: str) -> str:
    """Return the consonants of the words by class; one that ends a word and begins the next is heard once."""
    classes = jellyfish.metaphone(words).translate(_CLASSES)
    return re.sub(r"(.) +\1", r"\1", classes).replace(" ", "")


@lru_cache(maxsize=4096)
def _everyday(word: str) -> bool:
    """Whether the word is ordinary English, and so probably what was said."""
    from wordfreq import zipf_frequency  # loaded only once a strange word is heard: its tables take time to read

    stems = [word.removesuffix(ending) + last for ending in _ENDINGS if word.endswith(ending) for last in ("", "e")]
    return any(float(zipf_frequency(form, "en")) >= _EVERYDAY_ZIPF for form in (word, *stems))


_ENDINGS = ("ing", "ed")  # "budging" is as ordinary as "budge"
