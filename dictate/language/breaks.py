"""Put back the sentence ends and commas of a long line that came without any, as a streaming recogniser gives it.

The reading rests on punctuation: where one statement ends, and what is only instructed, asked or taught. A sequence
model (a conditional random field) that was trained on punctuated narrations says where it was lost. Training and
figures: `python -m benchmarks.breaks`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from dictate.language.mentions import Mention, MentionFinder
from dictate.language.rows import OUTSIDE, named_row, opened, spoken_row
from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, STOP, Token

# Fewer words in a row without a break are one statement or a few, which the grammar parts better than the model.
LONGEST_UNBROKEN = 15
# As many where a mark ends the line: then it may be one sentence of a text that has its punctuation.
LONGEST_SENTENCE = 40
LABELS = {NO_BREAK: "none", COMMA: "comma", STOP: "stop", QUESTION: "question"}
_BREAKS = {label: mark for mark, label in LABELS.items()}
_TURNING = {("back", "to"), ("back", "on"), ("over", "to"), ("on", "to"), ("across", "to"), ("now", "to")}
_TURNING_WORDS = 3  # "back to the" before the side
_NEAREST = 5  # words within which the named thing before or behind a place tells about it


class BreakRestorer:
    """Tells where a line without punctuation breaks. Holds the model; keeps nothing of what it reads."""

    def __init__(self, model: Path, finder: MentionFinder) -> None:
        """Open the trained model.

        Raises:
            LexiconError: the model is missing or is none.
        """
        self._finder = finder
        self._tagger = opened(model)

    def restored(self, tokens: Sequence[Token]) -> list[Token] | None:
        """Return the tokens with their breaks put back, or None where there is nothing to put back."""
        longest = LONGEST_SENTENCE if tokens and tokens[-1].break_after else LONGEST_UNBROKEN
        if len(tokens) <= longest or any(token.break_after for token in tokens[:-1]):
            return None
        labels = self._tagger.tag(features(tokens, *self._finder.find(tokens)))
        marks = [_BREAKS[label] for label in labels[:-1]]
        if not any(marks):
            return None
        for place in _turns(tokens):
            marks[place] = STOP
        return [
            replace(token, break_after=mark) if mark and token.word != following.word else token
            for token, following, mark in zip(tokens, tokens[1:], marks, strict=False)
        ] + [tokens[-1]]


def _turns(tokens: Sequence[Token]) -> list[int]:
    """Return the places behind which the words turn to a side, and so begin something: "… eighty back to the right"."""
    norms = [token.norm for token in tokens]
    sides = [place for place, norm in enumerate(norms) if norm in ("left", "right") and place >= _TURNING_WORDS]
    turning = (place - _TURNING_WORDS for place in sides if norms[place - 1] == "the")
    return [place - 1 for place in turning if place and (norms[place], norms[place + 1]) in _TURNING]


def features(tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention]) -> list[list[str]]:
    """Return what the model sees at each word: words, what they name, and which talk they open, around that place."""
    words = _Row([token.norm for token in tokens])
    named = _Row(named_row(content, len(tokens)))
    spoken = _Row(spoken_row(talk, len(tokens)))
    return [list(_at(place, words, named, spoken)) for place in range(len(tokens))]


class _Row:
    """Values of the words in a line; before and behind it stand marks of their own."""

    def __init__(self, values: Sequence[str]) -> None:
        self.values = values

    def __getitem__(self, place: int) -> str:
        if 0 <= place < len(self.values):
            return self.values[place]
        return "<" if place < 0 else ">"

    def nearest(self, place: int, step: int) -> int:
        """Return the place, from here on in steps, where something is named, or where looking for it ends."""
        for _ in range(_NEAREST):
            if self[place] != OUTSIDE:
                break
            place += step
        return place

    def next_start(self, place: int) -> int:
        """Return where the next named thing behind this one begins."""
        for _ in range(2 * _NEAREST):
            place += 1
            if self[place] != OUTSIDE and not self[place].startswith("I"):
                break
        return place


def _at(place: int, words: _Row, named: _Row, spoken: _Row) -> Iterator[str]:
    """Give the features of the place behind one word."""
    for step in range(-2, 4):
        yield f"w{step}={words[place + step]}"
        yield f"n{step}={named[place + step]}"
    for step in range(-1, 3):
        yield f"t{step}={spoken[place + step]}"
    for first, last in ((-1, 0), (0, 1), (1, 2)):
        yield f"w{first}{last}={words[place + first]}|{words[place + last]}"
    for first, last in ((0, 1), (0, 2), (-1, 1), (-1, 2), (1, 3)):
        yield f"n{first}{last}=" + "|".join(named[place + step] for step in range(first, last + 1))
    yield f"nw={named[place]}|{words[place + 1]}"
    yield f"wn={words[place]}|{named[place + 1]}"
    yield f"tt={spoken[place]}|{spoken[place + 1]}"
    before, behind = named.nearest(place, -1), named.nearest(place + 1, 1)
    earlier, later = named.nearest(before - 1, -1), named.next_start(behind)
    yield f"near={named[before]}|{named[behind]}|{min(place - before, 2)}|{min(behind - place, 3)}"
    yield f"before={named[earlier]}|{named[before]}|{named[behind]}"
    yield f"behind={named[before]}|{named[behind]}|{named[later]}"
    yield f"around={named[earlier]}|{named[before]}|{named[behind]}|{named[later]}"
