"""`dictate text`, `dictate file` and `dictate schema`."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictate.cli.output import deliver, show
from dictate.cli.progress import Bar

if TYPE_CHECKING:
    from dictate.contract import Note
    from dictate.keep import About, Kept


def text(options: argparse.Namespace) -> None:
    """Read a transcript, one utterance a line, and print its note."""
    from dictate.transcript import read_lines

    lines = read_lines(options.input)
    if _is_kept(options):
        from dictate.keep import keep_transcript

        note = _kept(keep_transcript(lines, data=_data(options), about=_known(options)))
    else:
        from dictate.interface import interpret

        note = interpret(lines, **_about(options))
    _deliver(note, options, name="note" if options.input == "-" else Path(options.input).stem)


def file(options: argparse.Namespace) -> None:
    """Read a recording and print its note."""
    hearing = {"engine": options.engine, "model_dir": options.model}
    if _is_kept(options):
        from dictate.keep import keep_recording

        with Bar() as bar:
            kept = keep_recording(
                options.input, data=_data(options), about=_known(options), progress=bar.advance, **hearing
            )
        note = _kept(kept)
    else:
        from dictate.interface import transcribe

        with Bar() as bar:
            note = transcribe(options.input, progress=bar.advance, **hearing, **_about(options))
    _deliver(note, options, name=Path(options.input).stem)


def schema(options: argparse.Namespace) -> None:
    """Print the JSON Schema of a note."""
    from dictate.contract import Note

    show(json.dumps(Note.model_json_schema(by_alias=True), indent=2) + "\n")


def _about(options: argparse.Namespace) -> dict[str, Any]:
    from dictate.data_folder import chosen_lexicon

    return {
        "region": options.region, "injured_side": options.injured, "age": options.age, "sex": options.sex,
        "lexicon_dir": chosen_lexicon(options.lexicon, data=options.data),
    }  # fmt: skip


def _is_kept(options: argparse.Namespace) -> bool:
    from dictate.errors import UnusableInput

    if not options.keep and (options.patient or options.data):
        raise UnusableInput("--patient and --data are of exams that are kept; add --keep, or leave them out")
    return bool(options.keep)


def _data(options: argparse.Namespace) -> Path:
    from dictate.data_folder import data_folder

    return data_folder(options.data)


def _known(options: argparse.Namespace) -> About:
    from dictate.keep import About

    return About(**_about(options), patient=options.patient)


def _kept(kept: Kept) -> Note:
    """Return the note; say on standard error under which name its exam was kept."""
    print(f"kept as {kept.exam}; `dictate review` shows it", file=sys.stderr)
    return kept.note


def _deliver(note: Note, options: argparse.Namespace, *, name: str) -> None:
    deliver(note, out=Path(options.out) if options.out else None, name=name, as_json=options.json)
