"""The index of everything that can be said: which phrases there are, and what each may mean."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import ahocorasick

from dictate.language.tokens import Token, Tokeniser
from dictate.lexicon.cues import Cue
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term

# How a phrase stands for its term: the term's name, or one of its other shapes.
Shape = Literal[
    "name",
    "adjective",
    "verb",
    "absent",
    "normal",
    "reduced",
    "increased",
    "to",
    "asked",
    "lack",
    "over",
    "positive",
    "negative",
    "place",
    "cue",
    "section",
    "region",
    "defer",
]

_SHAPES: tuple[tuple[str, Shape], ...] = (
    ("forms", "name"),
    ("heard_as", "name"),
    ("adjectives", "adjective"),
    ("verbs", "verb"),
    ("adjectives_heard_as", "adjective"),
    ("absent_forms", "absent"),
    ("absent_heard_as", "absent"),
    ("normal_forms", "normal"),
    ("reduced_forms", "reduced"),
    ("increased_forms", "increased"),
    ("verbs_to", "to"),
    ("asked_forms", "asked"),
    ("lack_forms", "lack"),
    ("over_forms", "over"),
    ("positive_forms", "positive"),
    ("negative_forms", "negative"),
)


@dataclass(frozen=True, slots=True)
class Sense:
    """One thing that a phrase may mean."""

    shape: Shape
    term: Term | None = None
    cue: Cue | None = None
    value: str = ""  # the section or region announced
    heard: bool = False  # the phrase is a known mishearing of the term
    weak: bool = False  # counts only with support around it


class PhraseIndex:
    """All phrases of a lexicon, normalised, in one matcher whose cost does not depend on how many there are."""

    def __init__(self, lexicon: Lexicon, tokeniser: Tokeniser) -> None:
        senses: dict[str, list[Sense]] = defaultdict(list)
        for phrase, sense in _all_phrases(lexicon):
            key = " ".join(tokeniser.norms(phrase))
            if key and sense not in senses[key]:
                senses[key].append(sense)
        self.senses: dict[str, tuple[Sense, ...]] = {key: tuple(found) for key, found in senses.items()}
        self.vocabulary = frozenset(word for key in self.senses for word in key.split())
        self._automaton = ahocorasick.Automaton()
        for key in self.senses:
            self._automaton.add_word(f" {key} ", key)
        self._automaton.make_automaton()

    def matches(self, tokens: Sequence[Token]) -> list[tuple[int, int, tuple[Sense, ...]]]:
        """Return every (start, end, senses) whose words stand there with nothing but a comma's pause between them."""
        if not self.senses:
            return []
        ends = {}  # place of the space after each token -> how many tokens are before it
        text = " "
        for position, token in enumerate(tokens, start=1):
            text += token.norm + " "
            ends[len(text) - 1] = position
        found = []
        for last, key in self._automaton.iter(text):
            end = ends[last]
            start = end - key.count(" ") - 1
            if not any(token.break_after for token in tokens[start : end - 1]):
                found.append((start, end, self.senses[key]))
        return found

    def lookup(self, norms: Iterable[str]) -> tuple[Sense, ...]:
        """Return what exactly these normalised words mean, or nothing."""
        return self.senses.get(" ".join(norms), ())


_OF_THE_BODY = " the "
_WHOSE = ("your", "his", "her")


def _all_phrases(lexicon: Lexicon) -> Iterator[tuple[str, Sense]]:
    places = {cue.value for cue in lexicon.cues if cue.type == "place"}
    for term in lexicon.terms:
        for field, shape in _SHAPES:
            for phrase in getattr(term, field):
                sense = Sense(shape, term=term, heard=field.endswith("heard_as"))
                yield phrase, sense
                if term.kind == "movement" and _OF_THE_BODY in phrase and not sense.heard:  # "bending your knee"
                    yield from ((phrase.replace(_OF_THE_BODY, f" {whose} "), sense) for whose in _WHOSE)
        for phrase in term.places:
            if phrase not in places:
                yield phrase, Sense("place", term=term, value=phrase)
    for cue in lexicon.cues:
        for phrase in cue.forms:
            yield phrase, Sense("cue", cue=cue, weak=phrase in cue.weak)
        for phrase in cue.heard_as:
            yield phrase, Sense("cue", cue=cue, heard=True)
        for verb, thing in product(cue.verbs, cue.objects):
            yield f"{verb} {thing}", Sense("cue", cue=cue, weak=True)
    for section in lexicon.sections:
        for phrase in section.forms:
            yield phrase, Sense("section", value=section.section, weak=phrase in section.weak)
        for phrase in section.heard_as:
            yield phrase, Sense("section", value=section.section, heard=True)
    for defer in lexicon.defers:
        for phrase in defer.forms:
            yield phrase, Sense("defer")
    for region in lexicon.regions.values():
        for phrase in region.forms:
            yield phrase, Sense("region", value=region.region)
