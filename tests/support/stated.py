"""Narrations in which it is marked what states a finding: by the scribe's `said`, or by square brackets in the text."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.support.cases import Case

BRACKETED = Path(__file__).parents[1] / "stated"


@dataclass(frozen=True)
class Marked:
    """A narration as lines of words; for each word, whether it is part of a statement."""

    lines: list[list[str]]
    stated: list[list[bool]]


def bracketed() -> list[Marked]:
    """Return the narrations of `tests/stated`."""
    return [marked(path.read_text(encoding="utf-8")) for path in sorted(BRACKETED.rglob("*.txt"))]


def marked(text: str) -> Marked:
    """Return a text whose statements stand in square brackets, without the brackets."""
    lines, stated = [], []
    inside = False
    for line in text.splitlines():
        words, flags = [], []
        for word in line.split():
            inside = inside or "[" in word
            bare = re.sub(r"[\[\]]", "", word)
            if re.search(r"\w", bare):
                words.append(bare)
                flags.append(inside)
            elif words:
                words[-1] += bare  # "] ," and dashes
            inside = inside and "]" not in word
        if words:
            lines.append(words)
            stated.append(flags)
    return Marked(lines, stated)


def of_case(case: Case) -> Marked:
    """Return a narration with the words marked that its findings were taken from."""
    lines = [line.split() for line in case.said.splitlines() if line.strip()]
    bare = [_bare(word) for line in lines for word in line]
    flags = [False] * len(bare)
    place = 0
    for finding in case.findings:
        said = [_bare(word) for word in finding.said.split()]
        found = next(_places(bare, said, place), None) if said else None
        if found is not None:
            place = found
            flags[found : found + len(said)] = [True] * len(said)
    ends = [sum(len(line) for line in lines[: number + 1]) for number in range(len(lines))]
    return Marked(lines, [flags[end - len(line) : end] for line, end in zip(lines, ends, strict=True)])


def _bare(word: str) -> str:
    return re.sub(r"\W", "", word.lower())


def _places(words: list[str], said: list[str], near: int) -> Iterator[int]:
    """Give where words stand: first from a little before a place on, then anywhere."""
    last = len(words) - len(said)
    for place in (*range(max(0, near - 60), last + 1), *range(min(near, last + 1))):
        if words[place : place + len(said)] == said:
            yield place
