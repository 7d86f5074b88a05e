"""Change a finding said before: where statements begin, which findings may be meant, which words are spent."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.mentions import Mention
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import COMMA, NO_BREAK, Token

# How many findings back a named mistake is looked for: the whole exam may be meant, the last one first.
_REACH = 400


def statement_start(tokens: Sequence[Token], start: int) -> int:
    """Return where the statement begins that a place stands in: behind the last pause."""
    place = start
    while place > 0 and tokens[place - 1].break_after == NO_BREAK:
        place -= 1
    return place


def sentence_start(tokens: Sequence[Token], start: int) -> int:
    """Return where the sentence begins that a place stands in: commas end none."""
    place = start
    while place > 0 and tokens[place - 1].break_after in (NO_BREAK, COMMA):
        place -= 1
    return place


def labels(mention: Mention) -> set[str]:
    """Return the labels that a mention may stand for."""
    return {sense.term.label for sense in mention.terms() if sense.term}


def recent(state: State) -> list[tuple[int, Entry]]:
    """Return the findings that may be meant, the last first, each with its place."""
    return list(enumerate(state.entries))[::-1][:_REACH]


def put(state: State, place: int, entry: Entry) -> State:
    """Return the state with an entry put in a place."""
    entries = list(state.entries)
    entries[place] = entry
    return replace(state, entries=tuple(entries))


def last_turned(state: State, side: str, *, doubt: str) -> State:
    """Return the state with another side, doubted, in all findings of the last statement."""
    frame = state.entries[-1].frame
    entries = tuple(
        change(entry, "side", side, said=entry.finding.said, doubt=doubt) if entry.frame == frame else entry
        for entry in state.entries
    )
    return replace(state, entries=entries)


def withdraw(state: State) -> State:
    """Return the state without the last statement's findings ("disregard that")."""
    if not state.entries:
        return state
    frame = state.entries[-1].frame
    kept = tuple(entry for entry in state.entries if entry.frame != frame)
    return replace(state, entries=kept)


def blanked(tokens: Sequence[Token], start: int, end: int) -> list[Token]:
    """Return the tokens with those that a correction took left empty."""
    return [
        replace(token, norm="", text="", break_after=NO_BREAK) if start <= place < end else token
        for place, token in enumerate(tokens)
    ]
