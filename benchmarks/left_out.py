"""Train a sequence model with each lot of narrations left out in turn, and print how it does on that lot."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pycrfsuite

from dictate.language.reader import Reader
from dictate.lexicon.load import builtin_folder, load_lexicon


@dataclass(frozen=True)
class Model:
    """A model by the lots that it learns from: how it is trained on some, and the line that says how it does on one."""

    train: Callable[[Sequence[str], Path], None]
    measured: Callable[[str, Path], str]


def each_lot_left_out(name: str, lots: Sequence[str], prepare: Callable[[Reader], Model], *, description: str) -> None:
    """Print the figures, each lot left out in turn; write the model `name` of the lexicon when asked to."""
    arguments = argparse.ArgumentParser(description=description)
    arguments.add_argument("--write", action="store_true", help="train on all lots and write the model")
    arguments.add_argument("--only", nargs="*", help="leave out only these lots in turn")
    options = arguments.parse_args()
    model = prepare(Reader(load_lexicon()))
    with tempfile.TemporaryDirectory() as folder:
        for lot in lots if options.only is None else options.only:
            path = Path(folder) / lot
            model.train([other for other in lots if other != lot], path)
            print(model.measured(lot, path), flush=True)
    if options.write:
        model.train(lots, builtin_folder() / "common" / name)


def write_model(rows: Iterable[tuple[Sequence[Any], Sequence[str]]], parameters: dict[str, float], path: Path) -> None:
    """Train on rows, each its features and its labels, and write the model."""
    trainer = pycrfsuite.Trainer(verbose=False)
    trainer.set_params(parameters)
    for seen, labels in rows:
        trainer.append(seen, labels)
    trainer.train(str(path))
