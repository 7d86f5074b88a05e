"""`dictate archive`: what can be asked of it. The work is in the files beside this one."""

from __future__ import annotations

import argparse
from datetime import date
from typing import Any, get_args

from dictate.cli.archive_access import SHOWN
from dictate.cli.archive_find import about_exam, list_exams, make_index, show_exam
from dictate.cli.archive_keep import purge_exam, set_retention, tidy_now
from dictate.cli.archive_move import export_exams, import_exams, seal_exams, unseal_exams
from dictate.cli.values import age_years
from dictate.contract import Region, Side

STATES = ("unfinished", "unsigned", "signed", "changed", "damaged")


def add(commands: Any) -> None:
    """Add the command to a parser's sub-commands."""
    archive = commands.add_parser("archive", help="find, keep, seal, back up and remove exams")
    actions = archive.add_subparsers(dest="action", required=True, metavar="ACTION")

    def action(name: str, run: Any, told: str, *, exam: bool = False) -> argparse.ArgumentParser:
        command: argparse.ArgumentParser = actions.add_parser(name, help=told, description=run.__doc__)
        if exam:
            command.add_argument("exam", metavar="EXAM", help="the exam's id, as the list shows it")
        command.add_argument("--data", metavar="DIR", help="the data folder; else $DICTATE_DATA, else your own")
        command.set_defaults(run=run)
        return command

    _add_filters(action("list", list_exams, "the exams, newest first"))
    search = action("search", list_exams, "exams with a finding of these words")
    search.add_argument("text", metavar="WORDS", help="words of one finding, or how they begin, in any order")
    _add_filters(search)

    shown = action("show", show_exam, "the note of an exam: as signed, if it is signed", exam=True)
    shown.add_argument("--json", action="store_true", help="print the note as JSON, nothing else")
    shown.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")

    about = action("about", about_exam, "say whose exam it is: a pseudonym, age, sex", exam=True)
    about.add_argument("--patient", metavar="PSEUDONYM", help="a pseudonym such as K-017, never a name")
    about.add_argument("--age", type=age_years, metavar="YEARS", help="age of the patient")
    about.add_argument("--sex", choices=("female", "male"), help="sex of the patient")
    about.add_argument("--forget", choices=("patient", "age", "sex"), action="append", default=[], help="take it away")

    export = action("export", export_exams, "a backup: exams in one file")
    export.add_argument("file", metavar="FILE.tar", help="the file to write")
    export.add_argument("exams", nargs="*", metavar="EXAM", help="only these; else all")
    export.add_argument("--sealed", action="store_true", help="seal the whole file with a passphrase of its own")

    back = action("import", import_exams, "take exams from a backup, whole or not at all")
    back.add_argument("file", metavar="FILE.tar", help="a file that `dictate archive export` wrote")
    back.add_argument("exams", nargs="*", metavar="EXAM", help="only these; else all")
    back.add_argument("--extend", action="store_true", help="append what the backup knows further of exams kept here")
    back.add_argument("--again", action="store_true", help="bring back exams that were removed here")

    seal = action("seal", seal_exams, "encrypt all exams, their sound and the index")
    seal.add_argument("--keyring", action="store_true", help="keep the key in the system's keyring, no passphrase")
    seal.add_argument("--new-passphrase", action="store_true", help="change the passphrase")
    unseal = action("unseal", unseal_exams, "decrypt an exam to work on it, or all for good")
    unseal.add_argument("exam", nargs="?", metavar="EXAM", help="only this one, until `seal`; else all, for good")

    keep = action("retention", set_retention, "how long sound is kept")
    keep.add_argument("--sound-days", type=int, metavar="N", help="remove sound N days after the exam")
    keep.add_argument("--sound-until-signed", action="store_true", help="remove sound once the note is signed")
    keep.add_argument("--keep", action="store_true", help="keep sound until it is removed by hand")

    action("tidy", tidy_now, "remove the sound that was kept for long enough")

    purge = action("purge", purge_exam, "remove an exam, or its sound, for good", exam=True)
    purge.add_argument("--sound-only", action="store_true", help="remove its sound; note and words stay")
    purge.add_argument("--why", default="", metavar="TEXT", help="the reason, written down; no name in it")
    purge.add_argument("--yes", action="store_true", help="do not ask")

    action("index", make_index, "make the index anew from the exams")


def _add_filters(command: argparse.ArgumentParser) -> None:
    command.add_argument("--since", type=_day, metavar="DATE", help="from this day on, such as 2026-11-25")
    command.add_argument("--until", type=_day, metavar="DATE", help="up to this day, with it")
    command.add_argument("--region", choices=get_args(Region), help="body region")
    command.add_argument("--side", choices=get_args(Side), help="side of the finding")
    command.add_argument("--patient", metavar="PSEUDONYM", help="the whole pseudonym")
    command.add_argument("--state", choices=STATES, help="how far they are; unsigned: what waits for a signature")
    command.add_argument("--doubts", action="store_true", help="only with open doubts")
    command.add_argument("--all", action="store_true", help=f"all of them, not the newest {SHOWN}")
    command.add_argument("--json", action="store_true", help="print the rows as JSON, nothing else")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-25") from error
