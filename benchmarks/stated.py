"""Train the model of what is stated, and say how well it tells statements from talk that it was not trained on.

`python -m benchmarks.stated` prints, for each lot of narrations left out of the training in turn, the share of clauses
with something named in them that it takes for what they are, of statements and of talk. `--write` then trains on all of
them and writes the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchmarks.left_out import Model, each_lot_left_out, write_model
from dictate.language.reader import Reader
from dictate.language.rows import opened
from dictate.language.state import State
from dictate.language.stated import STATED, TALK, Clause, Features, clauses_of, features
from dictate.language.talk import STATEMENT
from dictate.recognise.events import Utterance
from tests.support import cases
from tests.support.stated import Marked, bracketed, of_case

LOTS = ("practice", "later", "latest", "broad", "knee", "fresh", "nonfinding", "regions", "teaching", "stated")
PARAMETERS = {"c1": 1.5, "c2": 1.0, "max_iterations": 150, "feature.minfreq": 4}


@dataclass(frozen=True)
class Narration:
    """The clauses of a narration, what the model sees of them, and what they are."""

    clauses: list[Clause]
    seen: list[Features]
    labels: list[str]


def narrations(lot: str) -> list[Marked]:
    """Return the marked narrations of one lot; `final` and `unseen` are none of them."""
    return bracketed() if lot == "stated" else [of_case(case) for case in cases.heldout(lot)]


def sequences(lot: str, reader: Reader) -> Iterator[Narration]:
    """Give the narrations of a lot as the model learns from them."""
    for narration in narrations(lot):
        state = reader.open([Utterance.of_text(" ".join(line)) for line in narration.lines])
        row: list[Clause] = []
        seen: list[Features] = []
        labels: list[str] = []
        for words, stated in zip(narration.lines, narration.stated, strict=True):
            found, flags = heard(words, stated, state, reader)
            seen += features(found, row[-4:])
            row += found
            labels += flags
            state = reader.step(state, Utterance.of_text(" ".join(words)))
        yield Narration(row, seen, labels)


def phrases(reader: Reader) -> Iterator[Narration]:
    """Give the phrases of the corpora, each by itself: what is said first, or typed alone, has nothing before it."""
    for case in cases.corpora():
        words = case.said.split()
        clauses, _ = heard(words, [False] * len(words), State(), reader)
        told = [case.findings and clause.names and clause.kinds == (STATEMENT,) for clause in clauses]
        yield Narration(clauses, features(clauses), [STATED if flag else TALK for flag in told])


def heard(
    words: Sequence[str], stated: Sequence[bool], state: State, reader: Reader
) -> tuple[list[Clause], list[str]]:  # fmt: skip
    """Return the clauses of a line and whether they are statements."""
    tokens = reader.tokens(list(words))
    tokens = reader.breaks.restored(tokens) or tokens
    if not tokens:
        return [], []
    repaired, kinds = reader.talk(tokens, words, state)
    found = clauses_of(repaired, kinds)
    told = [any(stated[token.word] for token in tokens[clause.start : clause.end]) for clause in found]
    return found, [STATED if flag else TALK for flag in told]


def measured(lot: str, row: Sequence[Narration], path: Path) -> str:
    """Return how a model does on a lot: of statements and of talk, the share that is taken for it."""
    tagger = opened(path)
    pairs = [
        (label, told)
        for one in row
        for clause, label, told in zip(one.clauses, one.labels, tagger.tag(one.seen), strict=True)
        if clause.names
    ]
    parts = []
    for kind in (STATED, TALK):
        own = [told for label, told in pairs if label == kind]
        parts.append(f"{kind} {sum(told == kind for told in own) / max(1, len(own)):.3f} of {len(own)}")
    return f"{lot:12} {'; '.join(parts)}"


def prepare(reader: Reader) -> Model:
    """Read all that is learnt from once: lots stay the same whichever of them is left out."""
    alone = list(phrases(reader))
    read = {lot: list(sequences(lot, reader)) for lot in LOTS}

    def train(lots: Sequence[str], path: Path) -> None:
        learnt = [*alone, *(one for lot in lots for one in read[lot])]
        write_model(((one.seen, one.labels) for one in learnt), PARAMETERS, path)

    return Model(train=train, measured=lambda lot, path: measured(lot, read[lot], path))


if __name__ == "__main__":
    each_lot_left_out("stated.crfsuite", LOTS, prepare, description=__doc__)
