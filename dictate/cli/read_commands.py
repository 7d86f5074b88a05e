"""`dictate text`, `dictate file` and `dictate schema`."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictate.cli.output import deliver, show

if TYPE_CHECKING:
    from dictate.contract import Note


def text(options: argparse.Namespace) -> None:
    """Read a transcript, one utterance a line, and print its note."""
    from dictate.interface import interpret
    from dictate.transcript import read_lines

    lines = read_lines(options.input)
    note = interpret(lines, **_about(options))
    _deliver(note, options, name="note" if options.input == "-" else Path(options.input).stem)


def file(options: argparse.Namespace) -> None:
    """Read a recording and print its note."""
    from dictate.cli.progress import Bar
    from dictate.interface import transcribe

    with Bar() as bar:
        note = transcribe(
            options.input, engine=options.engine, model_dir=options.model, progress=bar.advance, **_about(options)
        )
    _deliver(note, options, name=Path(options.input).stem)


def schema(options: argparse.Namespace) -> None:
    """Print the JSON Schema of a note."""
    from dictate.contract import Note

    show(json.dumps(Note.model_json_schema(by_alias=True), indent=2) + "\n")


def _about(options: argparse.Namespace) -> dict[str, Any]:
    from dictate.data_folder import chosen_lexicon

    return {
        "region": options.region, "injured_side": options.injured, "age": options.age, "sex": options.sex,
        "lexicon_dir": chosen_lexicon(options.lexicon),
    }  # fmt: skip


def _deliver(note: Note, options: argparse.Namespace, *, name: str) -> None:
    deliver(note, out=Path(options.out) if options.out else None, name=name, as_json=options.json)
