"""The words of an exam read once, with where the exam stood before each utterance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from dictate.journal.edits import KEPT, keys_of
from dictate.journal.events import Event
from dictate.journal.replay import ending_of, opened_of, utterances_of
from dictate.language.reader import Reader
from dictate.language.state import Entry
from dictate.note.fold import Heard, hear, start
from dictate.note.hearing import UNCLEAR_BELOW, words_of
from dictate.recognise.events import Utterance


@dataclass(frozen=True)
class Said:
    """All that was said in an exam. `steps[n]` is where the exam stood before utterance n; the last, after all."""

    utterances: tuple[Utterance, ...]
    steps: tuple[Heard, ...]
    entries: dict[str, Entry]  # by the key of the finding
    finished: bool

    @property
    def heard(self) -> Heard:
        """Where the exam stands after all that was said."""
        return self.steps[-1]


def read_words(events: Sequence[Event], reader: Reader) -> Said:
    """Return what was said, read as `dictate.journal.replay.replay` reads it, each step kept."""
    opened = opened_of(events)
    utterances = utterances_of(events)
    finished = ending_of(events) is not None or opened.source == "text"
    steps = _steps(start(reader, region=opened.region, injured_side=opened.injured_side), utterances, reader)
    if finished:  # only now is it known which region most of it was about; see `dictate.note.fold.conclude`
        informed = start(reader, region=opened.region, injured_side=opened.injured_side, said=utterances)
        if informed.state.context.region != steps[-1].state.context.region:
            steps = _steps(informed, utterances, reader)
    entries = steps[-1].state.entries
    keys = keys_of([entry.utterance for entry in entries])
    return Said(utterances, steps, dict(zip(keys, entries, strict=True)), finished)


def _steps(begin: Heard, utterances: Sequence[Utterance], reader: Reader) -> tuple[Heard, ...]:
    return tuple(accumulate(utterances, lambda heard, said: hear(heard, said, reader), initial=begin))


def utterance_number(key: str) -> int | None:
    """Return the number of the utterance that a finding came from; None for one that a person added.

    >>> utterance_number("u12.0"), utterance_number("a7")
    (12, None)
    """
    head = key.rstrip(KEPT).partition(".")[0]
    return int(head[1:]) if head.startswith("u") and head[1:].isdigit() else None


@dataclass(frozen=True, slots=True)
class Sentence:
    """An utterance with the stretch that a finding came from: words `first` to `last`, -1 when it is not told."""

    utterance: Utterance
    first: int = -1
    last: int = -1

    @property
    def words(self) -> list[dict[str, object]]:
        """The words for the page: whether they are of the finding, and whether they were heard unclearly."""
        return [
            {
                "text": word.text,
                "of": self.first <= place <= self.last,
                "unclear": self.utterance.timed and word.confidence < UNCLEAR_BELOW,
            }
            for place, word in enumerate(self.utterance.words)
        ]


def sentence_of(key: str, said: Said, *, wording: str = "") -> Sentence | None:
    """Return where a finding was said. `wording` finds the stretch again for a finding that is not read any more."""
    number = utterance_number(key)
    if number is None or number >= len(said.utterances):
        return None
    utterance = said.utterances[number]
    entry = said.entries.get(key)
    if entry is not None:
        words = words_of(entry, utterance)
        first = next((place for place, word in enumerate(utterance.words) if words and word is words[0]), -1)
        return Sentence(utterance, first, first + len(words) - 1) if first >= 0 else Sentence(utterance)
    wanted = wording.split()
    texts = [word.text.strip(" ,.;:?!") for word in utterance.words]
    for first in range(len(texts) - len(wanted) + 1):
        if wanted and texts[first : first + len(wanted)] == [word.strip(" ,.;:?!") for word in wanted]:
            return Sentence(utterance, first, first + len(wanted) - 1)
    return Sentence(utterance)
