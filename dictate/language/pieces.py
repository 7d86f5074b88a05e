"""Cut what was said: a long line into pieces, a sentence where something was withdrawn, or the kind of talk changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.state import State
from dictate.language.tokens import Token

# A line longer than this is read in pieces, so that the time for a word does not grow with the line.
_LONGEST_READ_WORDS = 400
# No piece has more sentences, so that those of an utterance can be told apart by their numbers.
MOST_SENTENCES = 1000


def pieces(words: Sequence[str]) -> list[tuple[int, list[str]]]:
    """Return (place of the first word, words) of the pieces of an utterance, cut after each full stop."""
    cut = []
    start = 0
    while len(words) - start > _LONGEST_READ_WORDS:
        window = range(start + _LONGEST_READ_WORDS, start + _LONGEST_READ_WORDS // 2, -1)
        end = next(
            (place for place in window if words[place - 1].endswith((".", "?", "!"))), start + _LONGEST_READ_WORDS
        )
        cut.append((start, list(words[start:end])))
        start = end
    cut.append((start, list(words[start:])))
    return cut


def shifted(state: State, known: int, by: int) -> State:
    """Return the state with the words of its new findings counted from the start of the whole utterance."""
    moved = tuple(
        replace(entry, words=(entry.words[0] + by, entry.words[1] + by)) if place >= known else entry
        for place, entry in enumerate(state.entries)
    )
    return replace(state, entries=moved)


def split_at(mentions: Sequence[Mention], cuts: Sequence[Mention]) -> list[list[Mention]]:
    """Return the mentions in groups, parted where one of the cuts stands."""
    groups: list[list[Mention]] = [[] for _ in range(len(cuts) + 1)]
    for mention in mentions:
        place = sum(1 for cut in cuts if cut.start < mention.start)
        if not any(cut.start < mention.end and mention.start < cut.end for cut in cuts):
            groups[place].append(mention)
    return groups


@dataclass(frozen=True)
class Chunk:
    """Neighbouring items of one kind of talk, inside one sentence."""

    items: tuple[Item, ...]
    kind: str


def chunks(items: Sequence[Item], kinds: Sequence[str], tokens: Sequence[Token]) -> list[Chunk]:
    """Cut the items of a sentence where the kind of talk changes, blanked words aside."""
    cut: list[Chunk] = []
    run: list[Item] = []
    kind = ""
    for item in items:
        now = kinds[item.start]
        between = range(run[-1].end, item.start) if run else range(0)
        broken = any(kinds[place] != now and tokens[place].norm for place in between)
        if run and (now != kind or broken):
            cut.append(Chunk(tuple(run), kind))
            run = []
        kind = now
        run.append(item)
    if run:
        cut.append(Chunk(tuple(run), kind))
    return cut
