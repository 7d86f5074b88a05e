"""`dictate archive`: find exams, show them, keep them, remove them, move them elsewhere."""

from __future__ import annotations

import argparse
import getpass
import json
import os
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from dictate.cli.output import show
from dictate.cli.values import age_years
from dictate.contract import Region, Side
from dictate.errors import DictateError

if TYPE_CHECKING:
    from dictate.archive.index import Index
    from dictate.archive.rows import ExamRow
    from dictate.archive.vault import Vault

PASSPHRASE_VARIABLE = "DICTATE_PASSPHRASE_FILE"  # noqa: S105  the environment variable's name
STATES = ("unfinished", "unsigned", "signed", "changed", "damaged")
_SHOWN = 50


class ArchiveUsage(DictateError):
    """Options that do not go together, or something that only a person at a terminal can say."""


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
    command.add_argument("--all", action="store_true", help=f"all of them, not the newest {_SHOWN}")
    command.add_argument("--json", action="store_true", help="print the rows as JSON, nothing else")


# -- finding ---------------------------------------------------------------------------------------------------------


def list_exams(options: argparse.Namespace) -> None:
    """Print the exams that are asked for, the newest first; damaged and sealed ones are among them, marked."""
    from dictate.archive.query import Query

    data = _data(options)
    if data is None:
        show("[]\n" if options.json else "no exam is kept yet\n")
        return
    query = Query(
        since=options.since, until=options.until, region=options.region, text=getattr(options, "text", None),
        side=options.side, patient=options.patient, state=options.state, open_doubts=options.doubts,
        limit=None if options.all or options.json else _SHOWN,
    )  # fmt: skip
    with _index(data, open_vault(data, needed=False)) as index:
        index.refresh()
        rows = index.search(query)
        further = index.count(query) - len(rows) if len(rows) == _SHOWN else 0
    if options.json:
        show(json.dumps([_fields(row) for row in rows], indent=2, ensure_ascii=False) + "\n")
        return
    show("".join(f"{line}\n" for row in rows for line in _lines(row)) or "no exam is like that\n")
    if further > 0:
        print(f"and {further} more; --all shows them", file=sys.stderr)
    if any(row.sealed for row in rows):
        print("of sealed exams only the id is shown: give the passphrase to see more", file=sys.stderr)


def show_exam(options: argparse.Namespace) -> None:
    """Print the note of an exam: the signed one as it was signed, else as its words are read now."""
    from dictate.archive.rows import State, entry_of, note_of, reading_of
    from dictate.data_folder import chosen_lexicon
    from dictate.interface import reader_of
    from dictate.journal.exam import exams_folder, lexicon_digest
    from dictate.journal.replay import opened_of, signatures_of
    from dictate.note.text import text_of

    data = _need(options)
    folder = exams_folder(data) / _exam(data, options.exam)
    vault = open_vault(data, needed=_is_sealed(folder))
    decrypt = vault.read if vault else None
    reading = reading_of(folder, decrypt=decrypt)
    if reading is None:
        raise ArchiveUsage(f"{options.exam} is sealed; give the passphrase to see it")
    if not reading.events:
        raise ArchiveUsage(f"{options.exam} holds nothing that can be read; `dictate archive list` says why")
    overlay = chosen_lexicon(options.lexicon, data=data)
    signed = signatures_of(reading.events)
    note = signed[-1].note if signed else note_of(reading.events, lambda: reader_of(overlay))[0]
    if reading.broken_line is not None:
        print(
            f"warning: line {reading.broken_line} of its journal {reading.why}; this is the note of the lines before",
            file=sys.stderr,
        )
    if options.json:
        show(note.to_json() + "\n")
        return
    opened = opened_of(reading.events)
    row = entry_of(folder, lambda: reader_of(overlay), lexicon=lexicon_digest(overlay), decrypt=decrypt).row
    age = f"{opened.age:g} years" if opened.age is not None else ""
    who = [f"Patient: {opened.patient}" if opened.patient else "", age]
    about = [f"Exam: {options.exam}  ({opened.at.astimezone():%Y-%m-%d %H:%M})"]
    about += [line for line in [", ".join(part for part in (*who, opened.sex or "") if part)] if line]
    states: dict[State, str] = {
        "unfinished": "Unfinished: it was not closed, or goes on", "unsigned": "Not signed",
        "changed": "CHANGED since it was signed; this is the note as signed", "signed": "",
    }  # fmt: skip
    about += [line for line in [states[row.state]] if line]
    about += [f"Signed by {last.name}, {last.role}, {last.at.astimezone():%Y-%m-%d %H:%M}" for last in signed[-1:]]
    if signed:
        show(text_of(note, about=about, closing=(f"Signed note; digest {signed[-1].digest}. Not a diagnosis.",)))
    else:
        show(text_of(note, about=about))


def about_exam(options: argparse.Namespace) -> None:
    """Say of whom an exam is, by a pseudonym; what is not named stays as it was."""
    from dictate.archive.about import tell_about
    from dictate.journal.journal import Journal

    data = _need(options)
    if options.patient is None and options.age is None and options.sex is None and not options.forget:
        raise ArchiveUsage("give --patient, --age, --sex or --forget; see dictate archive about --help")
    vault = open_vault(data, needed=True)
    with _opened(data, options.exam, vault, journal_only=True) as folder:
        journal = Journal(folder.journal_path)
        try:
            told = tell_about(
                journal, patient=options.patient, age=options.age, sex=options.sex, forget=frozenset(options.forget)
            )
        finally:
            journal.close()
    with _index(data, vault) as index:
        index.update(options.exam)
    known = [told.patient, f"{told.age:g} years" if told.age is not None else None, told.sex]
    print(f"{options.exam}: {', '.join(part for part in known if part) or 'nothing is known of the patient'}")


def make_index(options: argparse.Namespace) -> None:
    """Throw the index away and make it anew from the exams' folders."""
    from dictate.archive.index import rebuild
    from dictate.data_folder import chosen_lexicon

    data = _need(options)
    count = rebuild(data, opener=open_vault(data, needed=False), lexicon_dir=chosen_lexicon(None, data=data))
    print(f"{_exams_are(count)} in the index")


# -- keeping ---------------------------------------------------------------------------------------------------------


def set_retention(options: argparse.Namespace) -> None:
    """Set how long sound is kept, or tell. It is applied by `tidy`, and whenever a review or a live exam begins."""
    from dictate.archive.settings import MOST_DAYS, Retention, read_retention, write_retention

    data = _need(options, make=True)
    ways = options.sound_days is not None or options.sound_until_signed
    if options.keep and ways:
        raise ArchiveUsage("--keep goes with nothing else; give either it or a limit")
    if options.sound_days is not None and not 0 <= options.sound_days <= MOST_DAYS:
        raise ArchiveUsage(f"--sound-days takes a number of days from 0 to {MOST_DAYS}")
    if options.keep or ways:
        write_retention(
            data, Retention(sound_days=options.sound_days, sound_until_signed=options.sound_until_signed)
        )
    kept = read_retention(data)
    limits = [f"for {kept.sound_days} days after the exam"] if kept.sound_days is not None else []
    limits += ["until the note is signed"] if kept.sound_until_signed else []
    print(f"sound is kept {' or '.join(limits) or 'until it is removed by hand'}")


def tidy_now(options: argparse.Namespace) -> int:
    """Remove the sound that was kept for long enough, and complete what was cut short."""
    from dictate.archive.tidy import tidy

    data = _need(options)
    done = tidy(data, vault=open_vault(data, needed=False))
    print(f"sound removed of {len(done.purged)} exams; {len(done.completed)} removals completed")
    if done.never_begun:
        print(f"{len(done.never_begun)} folders removed in which nothing was ever recorded")
    if done.sealed:
        print(f"{done.sealed} sealed exams were not looked at; give the passphrase", file=sys.stderr)
    for line in done.failed:
        print(f"dictate: {line}", file=sys.stderr)
    return 1 if done.failed else 0


def tidy_at_start(data: Path) -> None:
    """Put the data folder in order before exams are reviewed or begun. What could not be tidied is told, and waits.

    Raises:
        ArchiveError: the folder cannot be used: it was written by a newer program, or belongs to someone else.
    """
    from dictate.archive.folder import open_data
    from dictate.archive.tidy import tidy

    if not open_data(data):
        return
    try:
        failed = tidy(data).failed
    except DictateError as error:
        failed = (str(error),)
    for line in failed:
        print(f"dictate: {line}", file=sys.stderr)


def purge_exam(options: argparse.Namespace) -> None:
    """Remove an exam for good, or only its sound. Backups and the cells of a solid-state disk may keep copies."""
    from dictate.archive.purge import purge_sound, remove_exam

    data = _need(options)
    exam = _exam(data, options.exam)
    what = "its sound" if options.sound_only else "the whole exam, its note and its sound"
    if not options.yes:
        if not sys.stdin.isatty():
            raise ArchiveUsage(f"this removes {what} for good; say --yes to do it without being asked")
        if input(f"Remove {exam}: {what}, for good? Type yes: ").strip().casefold() != "yes":
            print("nothing was removed")
            return
    vault = open_vault(data, needed=options.sound_only)
    if options.sound_only:
        gone = purge_sound(data, exam, why=options.why or "by hand", vault=vault)
        print(f"{exam}: {len(gone) or 'no'} sound file{'' if len(gone) == 1 else 's'} removed")
    else:
        remove_exam(data, exam, why=options.why)
        print(f"{exam} was removed; that it was is written down")
    with _index(data, vault) as index:
        index.update(exam)


# -- sealing ---------------------------------------------------------------------------------------------------------


def seal_exams(options: argparse.Namespace) -> None:
    """Encrypt all exams, their sound and the index. Without passphrase or keyring nothing opens them again."""
    from dictate.archive.vault import begin_sealing, is_sealed

    data = _need(options, make=True)
    if not is_sealed(data):
        typed = None if options.keyring else _new_passphrase("Passphrase for the exams")
        vault = begin_sealing(data, passphrase=typed, keyring=options.keyring)
    else:
        opened = open_vault(data, needed=True)
        if opened is None:
            raise ArchiveUsage("the archive is sealed; give its passphrase")
        vault = opened
        if options.new_passphrase:
            vault.change_passphrase(_new_passphrase("New passphrase for the exams"))
            print("the passphrase is changed")
    done = vault.seal_all()
    print(f"{_exams_were(len(done.exams))} sealed")
    for exam in done.left:
        print(f"{exam} may be under way and is NOT sealed; end it, then seal again", file=sys.stderr)


def unseal_exams(options: argparse.Namespace) -> None:
    """Decrypt one exam to work on it, until the next `seal`; or all of them, for good."""
    from dictate.archive.vault import is_sealed
    from dictate.journal.exam import exams_folder

    data = _need(options)
    if not is_sealed(data):
        print("nothing is sealed here")
        return
    vault = open_vault(data, needed=True)
    if vault is None:
        raise ArchiveUsage("the archive is sealed; give its passphrase")
    if options.exam:
        vault.unseal_exam(exams_folder(data) / _exam(data, options.exam))
        print(f"{options.exam} is plain on the disk until `dictate archive seal`")
    else:
        print(f"{_exams_were(len(vault.unseal_all()))} unsealed; nothing is sealed any more")


# -- moving ----------------------------------------------------------------------------------------------------------


def export_exams(options: argparse.Namespace) -> None:
    """Write exams to one file with checksums, whole or not at all. Sealed exams stay sealed in it."""
    from dictate.archive.backup import export_archive

    data = _need(options)
    typed = _new_passphrase("Passphrase for the backup") if options.sealed else None
    done = export_archive(data, Path(options.file), exams=options.exams or None, passphrase=typed)
    print(f"{done.exams} exams, {done.files} files, {done.size / 1e6:.1f} MB written to {options.file}")


def import_exams(options: argparse.Namespace) -> None:
    """Take exams from a backup: all of it, or, if anything is amiss, nothing. No exam is ever overwritten."""
    from dictate.archive.restore import import_archive

    data = _need(options, make=True)
    vault = open_vault(data, needed=False)
    done = import_archive(
        data, Path(options.file), exams=options.exams or None, extend=options.extend, again=options.again,
        passphrase=lambda: _typed_passphrase("Passphrase of the backup: "), decrypter=vault,
    )  # fmt: skip
    with _index(data, vault) as index:
        index.refresh()
    print(
        f"{len(done.new)} exams taken, {len(done.extended)} extended, {len(done.same)} were here already, "
        f"{len(done.older)} go further here"
    )


# -- what all of them need -------------------------------------------------------------------------------------------


def _data(options: argparse.Namespace, *, make: bool = False) -> Path | None:
    """Return the data folder, put in order; None if there is none."""
    from dictate.archive.folder import open_data
    from dictate.data_folder import data_folder

    data = data_folder(options.data)
    return data if open_data(data, make=make) else None


def _need(options: argparse.Namespace, *, make: bool = False) -> Path:
    data = _data(options, make=make)
    if data is None:
        raise ArchiveUsage("no exam is kept yet; name another data folder with --data, or record one first")
    return data


def _exam(data: Path, exam: str) -> str:
    from dictate.journal.exam import exams_folder, is_exam_id

    if not is_exam_id(exam) or not os.path.lexists(exams_folder(data) / exam):
        raise ArchiveUsage(f"there is no exam {exam[:60]!r} in {data}; `dictate archive list` shows what there is")
    return exam


def _index(data: Path, vault: Vault | None) -> Index:
    from dictate.archive.index import Index
    from dictate.data_folder import chosen_lexicon

    return Index(data, opener=vault, lexicon_dir=chosen_lexicon(None, data=data))  # as the review page reads them


def _is_sealed(folder: Path) -> bool:
    from dictate.archive.vault import sealed_files

    return bool(sealed_files(folder))


def _opened(data: Path, exam: str, vault: Vault | None, *, journal_only: bool) -> Any:
    """Return a context that gives an exam in its plain form."""
    from contextlib import nullcontext

    from dictate.journal.exam import ExamFolder

    exam = _exam(data, exam)
    return vault.opened(exam, journal_only=journal_only) if vault else nullcontext(ExamFolder.of(data, exam))


def open_vault(data: Path, *, needed: bool) -> Vault | None:
    """Return the vault of a sealed archive. `needed`: say so where nobody gives a passphrase."""
    from dictate.archive.vault import unlock

    def passphrase() -> str | None:
        typed = _typed_passphrase("Passphrase: ")
        if typed is None and needed:
            raise ArchiveUsage(
                f"the exams are sealed; give the passphrase at a terminal, or name a file with it in "
                f"${PASSPHRASE_VARIABLE}"
            )
        return typed

    return unlock(data, passphrase)


def _typed_passphrase(asked: str) -> str | None:
    """Return a passphrase from the file that the environment names, else from the terminal; None without either."""
    from dictate.archive.vault import passphrase_file

    named = os.environ.get(PASSPHRASE_VARIABLE)
    if named:
        return passphrase_file(Path(named))
    return (getpass.getpass(asked) or None) if sys.stdin.isatty() else None


def _new_passphrase(asked: str) -> str:
    typed = _typed_passphrase(f"{asked}: ")
    if typed is None:
        raise ArchiveUsage(f"give a passphrase at a terminal, or name a file with it in ${PASSPHRASE_VARIABLE}")
    if not os.environ.get(PASSPHRASE_VARIABLE) and getpass.getpass("The same again: ") != typed:
        raise ArchiveUsage("the two are not the same; nothing was changed")
    return typed


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-25") from error


def _exams_are(number: int) -> str:
    return "1 exam is" if number == 1 else f"{number} exams are"


def _exams_were(number: int) -> str:
    return "1 exam was" if number == 1 else f"{number} exams were"


def _fields(row: ExamRow) -> dict[str, object]:
    from datetime import datetime

    fields = row._asdict()
    return {name: value.isoformat() if isinstance(value, datetime) else value for name, value in fields.items()}


def _lines(row: ExamRow) -> list[str]:
    """Return a row as the list shows it: one line, and below it what was found or is wrong."""
    when = f"{row.at.astimezone():%Y-%m-%d %H:%M}"
    if row.sealed:
        return [f"{row.exam}  {when}  sealed"]
    side = f" ({row.injured_side})" if row.injured_side else ""
    counts = f"{row.findings} {'finding' if row.findings == 1 else 'findings'}"
    counts += f", {row.doubts} in doubt" if row.doubts else ""
    state = f"signed by {row.signed_by}" if row.state == "signed" else row.state
    state = f"changed since {row.signed_by} signed" if row.state == "changed" else state
    whose = f"  {row.patient}" if row.patient else ""
    sound = "  sound" if row.sound else ""
    if row.damaged is not None:
        return [f"{row.exam}  {when}  DAMAGED: {row.damaged}"]
    line = f"{row.exam}  {when}  {row.region or '?'}{side}{whose}  {counts}  {state}{sound}"
    return [line, *(f"    {match}" for match in row.matches)]
