"""The command line of `dictate`. Nothing heavy is imported here: each command imports what it needs when it runs."""

from __future__ import annotations

import argparse
from typing import Any, NoReturn, get_args

from dictate import __version__
from dictate.cli import (
    archive_command,
    export_command,
    lexicon_command,
    listen_command,
    models_command,
    read_commands,
    review_command,
)
from dictate.cli.values import age_years
from dictate.contract import Region
from dictate.errors import DictateError


class UsageError(DictateError):
    """Options or arguments that the command does not know."""


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, in place of the usage and an exit; takes options by their whole name only."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(allow_abbrev=False, **settings)

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}; see {self.prog} --help")


def parser() -> Parser:
    """Return the parser of all commands; each sets `run`."""
    top = Parser(prog="dictate", description="A spoken musculoskeletal examination becomes a structured note, offline.")
    top.add_argument("--version", action="version", version=f"dictate {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=Parser)

    text = commands.add_parser("text", help="a typed transcript to a note", description=read_commands.text.__doc__)
    text.add_argument("input", metavar="FILE", help="transcript, one utterance a line; - reads standard input")
    _add_note_options(text)
    text.set_defaults(run=read_commands.text)

    file = commands.add_parser("file", help="a recording to a note", description=read_commands.file.__doc__)
    file.add_argument("input", metavar="AUDIO", help="WAV, FLAC, OGG, Opus or MP3; any rate, any number of channels")
    _add_note_options(file)
    file.add_argument("--engine", choices=("whisper", "vosk"), help="recogniser; else the best that is installed")
    file.add_argument("--model", metavar="DIR", help="folder with the recogniser's weights; else the embedded ones")
    file.set_defaults(run=read_commands.file)

    schema = commands.add_parser("schema", help="print the JSON Schema of a note")
    schema.set_defaults(run=read_commands.schema)
    listen_command.add(commands)
    export_command.add(commands)
    archive_command.add(commands)
    models_command.add(commands)
    lexicon_command.add(commands)
    review_command.add(commands)
    return top


def _add_note_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print the note as JSON, nothing else")
    command.add_argument("--out", metavar="DIR", help="write NAME.json and NAME.txt there too")
    command.add_argument("--region", choices=get_args(Region), help="region examined; else as said")
    command.add_argument("--injured", choices=("left", "right", "both"), help="injured side; else as said")
    command.add_argument("--age", type=age_years, metavar="YEARS", help="age of the patient")
    command.add_argument("--sex", choices=("female", "male"), help="sex of the patient")
    command.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    command.add_argument("--keep", action="store_true", help="keep the exam on this machine, to review and sign it")
    command.add_argument("--patient", metavar="PSEUDONYM", help="with --keep: what it is found by; never a name")
    command.add_argument("--data", metavar="DIR", help="with --keep: the folder that exams are kept in")
