"""`dictate export` and `dictate import`: notes handed on to other programs and people, and read back."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictate.cli.output import OutputError, deliver, show, write_all
from dictate.cli.values import age_years, moment
from dictate.errors import UnusableInput

if TYPE_CHECKING:
    from dictate.contract import Note
    from dictate.export.codes import Codes
    from dictate.export.handover import Handover

FORMATS = ("text", "markdown", "json", "csv", "parquet", "print", "fhir")
_STANDARD_INPUT = "-"


def add(commands: Any) -> None:
    """Add both commands to a parser's sub-commands."""
    export = commands.add_parser("export", help="a note to text, Markdown, JSON, CSV, Parquet, a page, or FHIR")
    export.add_argument("notes", nargs="+", metavar="NOTE", help="a file of JSON, -, or an exam; several for tables")
    export.add_argument("--to", choices=FORMATS, required=True, help="what to write")
    export.add_argument("--out", metavar="FILE", help="write there, not to standard output")
    export.add_argument("--codes", metavar="FILE", help="a file of codes for our labels (fhir), see docs/export.md")
    export.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    export.add_argument("--data", metavar="DIR", help="the folder that exams are kept in; else the user's own")
    export.add_argument("--as-signed", action="store_true", help="an exam as signed, though it was changed since")
    export.add_argument("--exam-id", metavar="ID", help="the exam's identifier")
    export.add_argument("--date", type=moment, metavar="TIME", help="when the exam was, such as 2026-11-25T09:15")
    export.add_argument("--patient", metavar="PSEUDONYM", help="a pseudonym such as K-017, never a name")
    export.add_argument("--age", type=age_years, metavar="YEARS", help="age of the patient")
    export.add_argument("--sex", choices=("female", "male"), help="sex of the patient")
    export.set_defaults(run=export_notes)

    back = commands.add_parser("import", help="read a note back from its JSON or our FHIR document")
    back.add_argument("input", metavar="FILE", help="JSON or FHIR, as `dictate export` writes it; - for standard input")
    back.add_argument("--json", action="store_true", help="print the note as JSON, nothing else")
    back.add_argument("--out", metavar="DIR", help="write NAME.json and NAME.txt there too")
    back.set_defaults(run=import_note)


def export_notes(options: argparse.Namespace) -> None:
    """Write one note, or for CSV and Parquet several, in another format."""
    from dictate.export.errors import ExportError
    from dictate.export.formats import TABLES, export_note, export_table
    from dictate.export.rows import Source

    if len(options.notes) > 1 and options.to not in TABLES:
        raise ExportError(f"--to {options.to} takes one note; give one, or choose csv or parquet for several")
    if options.codes and options.to != "fhir":
        raise ExportError(f"--codes belongs to --to fhir, not to {options.to}; leave it out")
    about = (options.exam_id, options.date, options.patient, options.age, options.sex)
    if len(options.notes) > 1 and any(value is not None for value in about):
        raise ExportError("--exam-id, --date, --patient, --age and --sex are of one exam; export the notes one by one")
    if options.to in TABLES:
        names = [_name(path) for path in options.notes]
        names = names if len(set(names)) == len(names) else options.notes  # a row must tell which note it is of
        sources = [
            Source(note=note, name=name, handover=handover)
            for name, (note, handover) in zip(names, (_given(path, options) for path in options.notes), strict=True)
        ]
        written = export_table(sources, to=options.to)
    else:
        codes = _codes(options)
        note, handover = _given(options.notes[0], options)
        written = export_note(note, to=options.to, handover=handover, codes=codes)
    _write(written, options.out)


def import_note(options: argparse.Namespace) -> None:
    """Read a note back and print it, as `dictate text` does."""
    note = _note(options.input)
    deliver(note, out=Path(options.out) if options.out else None, name=_name(options.input), as_json=options.json)


def _note(source: str) -> Note:
    from dictate.export.read import LARGEST_BYTES, note_of

    try:
        if source == _STANDARD_INPUT:
            content = sys.stdin.buffer.read(LARGEST_BYTES + 1)
        else:
            with Path(source).open("rb") as file:
                content = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise UnusableInput(f"{source!r} cannot be read ({why}); give the path of a note's JSON") from error
    return note_of(content, name="standard input" if source == _STANDARD_INPUT else source)


def _name(source: str) -> str:
    return "note" if source == _STANDARD_INPUT else Path(source).name.removesuffix(".json").removesuffix(".fhir")


def _given(source: str, options: argparse.Namespace) -> tuple[Note, Handover]:
    """Return a note and what is known of it: of a kept exam by its id, else of a file and the options."""
    from dictate.export.errors import ExportError
    from dictate.export.handover import Handover
    from dictate.journal.exam import ExamFolder, data_folder, exams_folder, is_exam_id
    from dictate.journal.pseudonym import pseudonym

    about = {
        "exam_id": options.exam_id, "exam_date": options.date, "age": options.age, "sex": options.sex,
        "patient": pseudonym(options.patient) if options.patient is not None else None,
    }  # fmt: skip
    now = datetime.now().astimezone()  # people read it on paper: their own zone
    if not is_exam_id(source):
        return _note(source), Handover(**about, exported_at=now)
    if any(value is not None for value in about.values()):
        raise ExportError("an exam's own record says whose it is and when it was; leave --patient and the like out")
    from dictate.data_folder import chosen_lexicon
    from dictate.export.exam import exam_to_hand_on
    from dictate.interface import reader_of

    data = data_folder(options.data)
    journal = _unsealed(data, source)
    folder = ExamFolder.of(data, source) if journal is None else ExamFolder(exams_folder(data) / source)
    reader = reader_of(chosen_lexicon(options.lexicon, data=options.data))
    exam = exam_to_hand_on(folder, reader, as_signed=options.as_signed, journal=journal)
    return exam.note, replace(exam.handover, exported_at=now)


def _unsealed(data: Path, exam: str) -> bytes | None:
    """Return the journal of an exam that is sealed, decrypted in memory only; None for one that is not."""
    from dictate.archive.rows import journal_of
    from dictate.cli.archive_access import open_vault
    from dictate.journal.exam import JOURNAL_NAME, exams_folder

    path = journal_of(exams_folder(data) / exam)
    if path.name == JOURNAL_NAME:
        return None
    vault = open_vault(data, needed=True)
    return vault.read(path) if vault else None


def _codes(options: argparse.Namespace) -> Codes:
    from dictate.export.codes import NO_CODES, read_codes

    if not options.codes:
        return NO_CODES
    from dictate.lexicon.load import load_lexicon

    lexicon = load_lexicon(Path(options.lexicon) if options.lexicon else None)
    return read_codes(options.codes, labels={term.label for term in lexicon.terms})


def _write(written: str | bytes, out: str | None) -> None:
    if out:
        path = Path(out)
        if path.is_dir() or not path.name:
            raise OutputError(f"{out} is a folder; give --out the path of a file in it")
        write_all(path.parent, {path.name: written})
    elif isinstance(written, bytes):
        if sys.stdout.isatty():
            raise OutputError("Parquet is no text; give --out FILE")
        sys.stdout.buffer.write(written)
        sys.stdout.flush()
    else:
        show(written)
