"""Tell how likely each clause states something of this patient, beside what the rules make of it.

The rules know the phrases that teaching, orders, suppositions and history are made of. A sequence model (a conditional
random field), trained on narrations in which it is marked what was stated, has no such list: it weighs all words of a
clause and of those around it. Where the two disagree, somebody has to look. Training and figures:
`python -m benchmarks.stated`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from dictate.language.repair import Repaired
from dictate.language.rows import OUTSIDE, named_row, opened, spoken_row
from dictate.language.talk import STATEMENT
from dictate.language.tokens import Token

STATED, TALK = "stated", "talk"  # the labels
_LONGEST_COUNTED = 12  # words: a longer clause is long
_KEPT = 4  # clauses of the utterances before

# What the model sees of one clause by itself, and of it among its neighbours.
Features = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Clause:
    """Tokens from one break to the next (end exclusive): its words, terms replaced by what they name, and its talk."""

    start: int
    end: int
    words: tuple[str, ...]
    masked: tuple[str, ...]
    talk: tuple[str, ...]
    kinds: tuple[str, ...]
    ends_in: str
    names: bool  # something that the lexicon knows as content

    def seen(self, before: Clause | None, earlier: Clause | None, behind: Clause | None, *, opens: bool) -> Features:
        """Return what the model sees of it. `opens`: it is the first of its utterance."""
        edged = ["<", *self.masked, ">"]
        seen = [f"u={word}" for word in self.masked]
        seen += [f"b={left}|{right}" for left, right in pairwise(edged)]
        seen += [f"t={'|'.join(edged[place : place + 3])}" for place in range(len(edged) - 2)]
        seen += [f"w={word}" for word in self.words]
        seen += [f"s={talk}" for talk in self.talk] + [f"k={kind}" for kind in self.kinds]
        seen += [f"first={'|'.join(self.masked[:length])}" for length in (1, 2)] + [f"last={edged[-2]}"]
        seen += [f"n={min(len(self.masked), _LONGEST_COUNTED)}", f"end={self.ends_in}", f"opens={opens}"]
        for name, other in (("before", before), ("earlier", earlier), ("behind", behind)):
            seen += other.beside(name) if other else ()
        return tuple(dict.fromkeys(seen))

    def beside(self, name: str) -> Iterator[str]:
        """Give what a neighbour sees of it."""
        yield f"{name} end={self.ends_in}"
        yield f"{name} n={min(len(self.masked), _LONGEST_COUNTED)}"
        yield f"{name} first={self.masked[0] if self.masked else ''}"
        yield from (f"{name} k={kind}" for kind in self.kinds)
        yield from (f"{name} u={word}" for word in self.masked)


def clauses_of(repaired: Repaired, kinds: Sequence[str]) -> list[Clause]:
    """Return the clauses of an utterance in order; together they hold every token."""
    tokens = repaired.tokens
    named = named_row(repaired.content, len(tokens))
    spoken = spoken_row(repaired.talk, len(tokens))
    ends = [place + 1 for place, token in enumerate(tokens) if token.break_after or place + 1 == len(tokens)]
    return [_clause(tokens, start, end, named, spoken, kinds) for start, end in pairwise([0, *ends])]


def _clause(
    tokens: Sequence[Token], start: int, end: int, named: Sequence[str], spoken: Sequence[str], kinds: Sequence[str]
) -> Clause:
    places = [place for place in range(start, end) if tokens[place].norm]
    masked = [
        tokens[place].norm if named[place] == OUTSIDE else f"<{named[place][1:]}>"
        for place in places
        if not named[place].startswith("I")
    ]
    return Clause(
        start,
        end,
        words=tuple(tokens[place].norm for place in places),
        masked=tuple(masked),
        talk=tuple(dict.fromkeys(spoken[place] for place in places if spoken[place] != OUTSIDE)),
        kinds=tuple(sorted({kinds[place] for place in range(start, end)})),
        ends_in=tokens[end - 1].break_after,
        names=any(named[place] != OUTSIDE for place in places),
    )


def features(clauses: Sequence[Clause], before: Sequence[Clause] = ()) -> list[Features]:
    """Return what the model sees of each clause, after those `before` it in the utterances before."""
    row = [*before, *clauses]
    known = len(before)
    seen = []
    for place in range(known, len(row)):
        behind = row[place + 1] if place + 1 < len(row) else None
        earlier, last = (row[place - step] if place >= step else None for step in (2, 1))
        seen.append(row[place].seen(last, earlier, behind, opens=place == known))
    return seen


@dataclass(frozen=True, slots=True)
class Stated:
    """What the model thinks of a frame. `turned`: it may be talk for all that, by the rules."""

    likelihood: float = 1.0
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Opinion:
    """For each token the kind of talk, how likely it is part of a statement, and whether that turned its kind."""

    kinds: list[str]
    likely: list[float]
    turned: list[bool]

    @classmethod
    def none(cls, kinds: list[str]) -> Opinion:
        """Return that nothing is known beside the rules."""
        return cls(kinds, [1.0] * len(kinds), [False] * len(kinds))

    @classmethod
    def of(cls, clauses: Sequence[Clause], likely: Sequence[float], kinds: list[str], *, turns_from: float) -> Opinion:
        """Return the rules' kinds, but for whole clauses of talk that are statements with at least this likelihood."""
        out = cls.none(list(kinds))
        for clause, likelihood in zip(clauses, likely, strict=True):
            turned = likelihood >= turns_from and not _NEVER_TURNED & set(clause.kinds)
            for place in range(clause.start, clause.end):
                out.likely[place], out.turned[place] = likelihood, turned
                if turned:
                    out.kinds[place] = STATEMENT
        return out

    def of_frame(self, start: int, end: int, *, listed: bool = False) -> Stated:
        """Return what holds of the tokens of a frame: the best that is thought of one of its clauses.

        Args:
            start: the first token.
            end: behind the last one.
            listed: it stands in a row of names alone, of which nothing was said: doubted, whatever the model thinks.
        """
        return Stated(max(self.likely[start:end], default=1.0), listed or any(self.turned[start:end]))


# A supposition is none, however much it sounds like one: "the tap needs a lot of fluid before it's positive".
_NEVER_TURNED = frozenset({STATEMENT, "condition"})


@dataclass(frozen=True, slots=True)
class Heard:
    """The last clauses of the utterances before, with what the model saw of them."""

    clauses: tuple[Clause, ...] = ()
    seen: tuple[Features, ...] = ()

    def followed_by(self, clauses: Sequence[Clause], seen: Sequence[Features]) -> Heard:
        """Return what is kept once further clauses were heard."""
        return Heard((*self.clauses, *clauses)[-_KEPT:], (*self.seen, *seen)[-_KEPT:])


class StatementModel:
    """Tells how likely clauses are statements. Holds the model; keeps nothing of what it reads."""

    def __init__(self, model: Path) -> None:
        """Open the trained model.

        Raises:
            LexiconError: the model is missing or is none.
        """
        self._tagger = opened(model)

    def likelihoods(self, clauses: Sequence[Clause], heard: Heard) -> tuple[list[float], Heard]:
        """Return, for each clause, how likely it states something of this patient (0 to 1), and what to keep of them.

        It depends on nothing that is said in later utterances.
        """
        seen = features(clauses, heard.clauses)
        self._tagger.set([*heard.seen, *seen])
        known = len(heard.seen)
        likely = [self._tagger.marginal(STATED, known + place) for place in range(len(clauses))]
        return likely, heard.followed_by(clauses, seen)
