"""Train the restorer of punctuation, and say how well it does on narrations that it was not trained on.

`python -m benchmarks.breaks` prints, for each lot of narrations left out of the training in turn, how many breaks were
found and how many of those put in are right. `--write` then trains on all of them and writes the model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from benchmarks.left_out import Model, each_lot_left_out, write_model
from dictate.language.breaks import LABELS, features
from dictate.language.reader import Reader
from dictate.language.rows import opened
from dictate.language.tokens import NO_BREAK, STOP, Token
from tests.support import cases

LOTS = ("practice", "later", "latest", "broad", "knee", "fresh", "unseen", "nonfinding", "regions", "teaching",
        "fixtures", "punctuated")  # fmt: skip
_PUNCTUATED = Path(__file__).parents[1] / "tests" / "punctuated"
_FEWEST_BREAKS = 0.05  # a word: with fewer, the narration itself has lost its punctuation
_SHORTEST = 12  # words of a line that is learnt from by itself
_PARAMETERS = {"c1": 2.0, "c2": 0.05, "max_iterations": 100, "feature.minfreq": 3}


def narrations(lot: str) -> list[str]:
    """Return the texts of one lot; `final` is none of them, so that its figures stay honest."""
    if lot == "fixtures":
        return [case.said for case in cases.fixtures()]
    if lot == "punctuated":
        return [path.read_text(encoding="utf-8") for path in sorted(_PUNCTUATED.rglob("*.txt"))]
    return [case.said for case in cases.heldout(lot)]


def lines(text: str, reader: Reader) -> list[list[Token]]:
    """Return the lines of a punctuated text as tokens, each ending in a break; none of a text without punctuation."""
    found = [reader.tokeniser.tokens(line.split()) for line in text.splitlines()]
    found = [[*line[:-1], replace(line[-1], break_after=line[-1].break_after or STOP)] for line in found if line]
    inside = sum(bool(token.break_after) for line in found for token in line[:-1])
    return found if inside >= _FEWEST_BREAKS * sum(map(len, found)) else []


def examples(text: str, reader: Reader) -> Iterator[list[Token]]:
    """Give the long lines of a narration, and all of it as one line."""
    found = lines(text, reader)
    yield from (line for line in found if len(line) > _SHORTEST)
    if found:
        yield [token for line in found for token in line]


def seen(line: Sequence[Token], reader: Reader) -> list[list[str]]:
    """Return the features of a line without its punctuation."""
    bare = [replace(token, break_after=NO_BREAK, heads=False) for token in line]
    return features(bare, *reader.finder.find(bare))


def train(lots: Sequence[str], reader: Reader, path: Path) -> None:
    """Train on lots and write the model."""
    learnt = (line for lot in lots for text in narrations(lot) for line in examples(text, reader))
    rows = ((seen(line, reader), [LABELS[token.break_after] for token in line]) for line in learnt)
    write_model(rows, _PARAMETERS, path)


def measured(lot: str, reader: Reader, path: Path) -> str:
    """Return how a model does on a lot, each narration as one line: any break, and the ends of sentences."""
    tagger = opened(path)
    none, ends = LABELS[NO_BREAK], {label for label in LABELS.values() if label not in (LABELS[NO_BREAK], "comma")}
    pairs = [
        (LABELS[token.break_after], label)
        for text in narrations(lot)
        if (found := lines(text, reader))
        for line in [[token for part in found for token in part]]
        for token, label in zip(line[:-1], tagger.tag(seen(line, reader)), strict=False)
    ]
    parts = []
    for name, wanted in (("breaks", set(LABELS.values()) - {none}), ("sentence ends", ends)):
        right = sum(1 for said, label in pairs if said in wanted and label in wanted)
        found = sum(1 for said, _ in pairs if said in wanted), sum(1 for _, label in pairs if label in wanted)
        parts.append(f"{name}: found {right / max(1, found[0]):.2f}, right {right / max(1, found[1]):.2f}")
    return f"{lot:12} {'; '.join(parts)}"


def prepare(reader: Reader) -> Model:
    """Return the restorer of breaks as a model to train and to measure."""
    return Model(
        train=lambda lots, path: train(lots, reader, path), measured=lambda lot, path: measured(lot, reader, path)
    )


if __name__ == "__main__":
    each_lot_left_out("breaks.crfsuite", LOTS, prepare, description=__doc__)
