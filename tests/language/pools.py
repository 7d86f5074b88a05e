"""Sentences for the property tests: talk in which there is nothing to find, and a narration to put it into."""

from __future__ import annotations

import re
from functools import cache

from dictate.language.state import Context, State
from tests.support.cases import heldout
from tests.support.reading import read, reader

# Written for these tests. Every finding names its own side, so that talk about a side cannot lend it another one.
NARRATION = (
    "Right knee.",
    "On the right there is a moderate effusion.",
    "No bruising on the right knee.",
    "Right medial joint line tender.",
    "Right lateral joint line non-tender.",
    "Right knee flexion one twenty with pain.",
    "Right knee extension zero.",
    "Right quadriceps four plus out of five.",
    "Right Lachman test negative.",
    "Right dorsalis pedis two plus.",
)
_PLACES = re.compile(r"\b(left|right|both|bilateral\w*|side|sides)\b", re.IGNORECASE)


@cache
def idle_talk() -> tuple[str, ...]:
    """Return the sentences of the set `nonfinding` that give nothing when they stand alone.

    Those that do give something are false findings, and counted by `tests/test_heldout.py`.
    """
    lines = [line.strip() for case in heldout("nonfinding") for line in case.said.splitlines()]
    pieces = [
        piece for line in lines for piece in re.split(r"(?<=[.?!])\s+", line) if piece and len(piece.split()) < 60
    ]
    return tuple(dict.fromkeys(piece for piece in pieces if not read(f"Right knee.\n{piece}").entries))


@cache
def plain_idle_talk() -> tuple[str, ...]:
    """Return those that announce nothing: they name no side, and the region and section are the same after them."""
    return tuple(piece for piece in idle_talk() if not _PLACES.search(piece) and _leaves_context(piece))


def _leaves_context(piece: str) -> bool:
    before, after = read(NARRATION[0]), read(f"{NARRATION[0]}\n{piece}")
    return _place(before) == _place(after) and before.deferred == after.deferred


def _place(state: State) -> tuple[object, ...]:
    context: Context = state.context
    return (context.region, context.side, context.injured)


@cache
def vocabulary() -> tuple[str, ...]:
    """Return the words that the parser knows, in a fixed order."""
    return tuple(sorted(reader().index.vocabulary))
