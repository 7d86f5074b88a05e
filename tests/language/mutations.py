"""Change one word of a phrase and see whether the findings change with it: proof that the parser reads that word."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

from dictate.contract import Finding
from dictate.language.numbers import NumberReader
from tests.support.cases import Case, corpora
from tests.support.reading import context_of, read, reader
from tests.support.scoring import key

_OTHER_SIDE = {"left": "right", "right": "left"}
_OTHER_NUMBER = {
    "two": "three", "three": "two", "four": "three", "five": "four", "six": "seven", "seven": "six", "eight": "nine",
    "nine": "eight", "ten": "twenty", "fifteen": "sixteen", "twenty": "thirty", "thirty": "forty", "forty": "fifty",
    "fifty": "sixty", "sixty": "seventy", "seventy": "eighty", "eighty": "ninety", "ninety": "eighty",
}  # fmt: skip
_DENOMINATOR = ("of", "over")
_EDGES = ".,;:?!"


@dataclass(frozen=True)
class Mutation:
    """A phrase with one thing changed, and whether the findings changed as they must."""

    phrase: str
    changed: str
    reacted: bool


def _findings(case: Case, said: str, *, side: bool) -> list[Finding]:
    context = context_of(case)
    return read(said, context=context if side else replace(context, side="")).findings()


@cache
def _right_phrases() -> tuple[Case, ...]:
    """Return the phrases that are read as their corpus says: of the others, a mutation proves nothing."""
    return tuple(
        case
        for case in corpora()
        if case.findings and sorted(map(repr, map(key, case.findings))) == sorted(map(repr, _keys(case)))
    )


def _keys(case: Case) -> list[tuple[object, ...]]:
    return [key(finding) for finding in _findings(case, case.said, side=True)]


def _swapped(word: str, table: dict[str, str]) -> str:
    core = word.strip(_EDGES)
    return word.replace(core, table[core.lower()]) if core.lower() in table else word


def sides() -> Iterator[Mutation]:
    """Swap left and right, where a side comes from the words alone."""
    for case in _right_phrases():
        words = case.said.split()
        changed = " ".join(_swapped(word, _OTHER_SIDE) for word in words)
        base = _findings(case, case.said, side=False)
        if changed == case.said or not any(f.side in _OTHER_SIDE for f in base):
            continue
        want = [f.model_copy(update={"side": _OTHER_SIDE.get(str(f.side), f.side)}) for f in base]
        got = _findings(case, changed, side=False)
        yield Mutation(case.said, changed, sorted(map(repr, map(key, want))) == sorted(map(repr, map(key, got))))


def negations() -> Iterator[Mutation]:
    """Drop a "no" that makes something absent: fewer things are absent then."""
    for case in _right_phrases():
        words = case.said.split()
        places = [place for place, word in enumerate(words) if word.lower() == "no"]
        before = _denied(_findings(case, case.said, side=True))
        if len(places) != 1 or not before:
            continue
        changed = " ".join(words[: places[0]] + words[places[0] + 1 :])
        yield Mutation(case.said, changed, _denied(_findings(case, changed, side=True)) < before)


def _denied(findings: list[Finding]) -> int:
    return sum(1 for finding in findings if finding.status in ("absent", "negative"))


def numbers() -> Iterator[Mutation]:
    """Change a number word that a value was read from: the values change."""
    numbers = NumberReader(reader().lexicon.reference["words"], known=reader().index.vocabulary)
    for case in _right_phrases():
        words = case.said.split()
        base = _values(_findings(case, case.said, side=True))
        if not base:
            continue
        tokens = reader().tokeniser.tokens(words)
        spoken = {tokens[place].word for q in numbers.quantities(tokens) for place in range(q.start, q.end)}
        for place, word in enumerate(words):
            before = words[place - 1].lower() if place else ""
            other = _swapped(word, _OTHER_NUMBER)
            if other == word or place not in spoken or before in _DENOMINATOR:
                continue
            changed = " ".join([*words[:place], other, *words[place + 1 :]])
            yield Mutation(case.said, changed, _values(_findings(case, changed, side=True)) != base)


def _values(findings: list[Finding]) -> list[str]:
    return sorted(
        repr((f.degrees, f.at_degrees, f.grade, f.measure, [note.value for note in f.replaced]))
        for f in findings
        if f.degrees is not None or f.at_degrees is not None or f.grade or f.measure
    )


KINDS: dict[str, Callable[[], Iterator[Mutation]]] = {"side": sides, "negation": negations, "number": numbers}
