"""`dictate archive list`, `search`, `show`, `about` and `index`: which exams there are, and whose."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING

from dictate.cli.archive_access import (
    SHOWN,
    ArchiveUsage,
    data_of,
    exam_of,
    exams_are,
    index_of,
    is_sealed,
    needed_data,
    open_vault,
    opened,
)
from dictate.cli.output import show

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from dictate.archive.rows import ExamRow

SHOWN_AT_ONCE = 100  # rows


def list_exams(options: argparse.Namespace) -> None:
    """Print the exams that are asked for, the newest first; damaged and sealed ones are among them, marked."""
    from dictate.archive.query import Query

    data = data_of(options)
    if data is None:
        show("[]\n" if options.json else "no exam is kept yet\n")
        return
    query = Query(
        since=options.since, until=options.until, region=options.region, text=getattr(options, "text", None),
        side=options.side, patient=options.patient, state=options.state, open_doubts=options.doubts,
        limit=None if options.all or options.json else SHOWN,
    )  # fmt: skip
    with index_of(data, open_vault(data, needed=False)) as index:
        index.refresh()
        rows, further = (index.each(query), 0) if query.limit is None else index.page(query)
        if options.json:
            _show(_as_json(rows))
            return
        sealed = _show_lines(rows)
    if further:
        print(f"and {further} more; --all shows them", file=sys.stderr)
    if sealed:
        print("of sealed exams only the id is shown: give the passphrase to see more", file=sys.stderr)


def show_exam(options: argparse.Namespace) -> None:
    """Print the note of an exam: the signed one as it was signed, else as its words are read now."""
    from dictate.archive.rows import State, entry_of, note_of, reading_of
    from dictate.data_folder import chosen_lexicon
    from dictate.interface import reader_of
    from dictate.journal.exam import exams_folder, lexicon_digest
    from dictate.journal.replay import opened_of, signatures_of
    from dictate.note.text import text_of

    data = needed_data(options)
    folder = exams_folder(data) / exam_of(data, options.exam)
    vault = open_vault(data, needed=is_sealed(folder))
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

    data = needed_data(options)
    if options.patient is None and options.age is None and options.sex is None and not options.forget:
        raise ArchiveUsage("give --patient, --age, --sex or --forget; see dictate archive about --help")
    vault = open_vault(data, needed=True)
    with opened(data, options.exam, vault, journal_only=True) as folder:
        journal = Journal(folder.journal_path)
        try:
            told = tell_about(
                journal, patient=options.patient, age=options.age, sex=options.sex, forget=frozenset(options.forget)
            )
        finally:
            journal.close()
    with index_of(data, vault) as index:
        index.update(options.exam)
    known = [told.patient, f"{told.age:g} years" if told.age is not None else None, told.sex]
    print(f"{options.exam}: {', '.join(part for part in known if part) or 'nothing is known of the patient'}")


def make_index(options: argparse.Namespace) -> None:
    """Throw the index away and make it anew from the exams' folders."""
    from dictate.archive.index import rebuild
    from dictate.data_folder import chosen_lexicon

    data = needed_data(options)
    count = rebuild(data, opener=open_vault(data, needed=False), lexicon_dir=chosen_lexicon(None, data=data))
    print(f"{exams_are(count)} in the index")


def _show(texts: Iterable[str]) -> None:
    """Print texts a hundred at a time: of thousands the first are seen before the last are made."""
    waiting: list[str] = []
    for text in texts:
        waiting.append(text)
        if len(waiting) == SHOWN_AT_ONCE:
            show("".join(waiting))
            waiting.clear()
    show("".join(waiting))


def _show_lines(rows: Iterable[ExamRow]) -> int:
    """Print rows, or that there is none; return how many of them are sealed."""
    told = sealed = 0

    def texts() -> Iterator[str]:
        nonlocal told, sealed
        for row in rows:
            told, sealed = told + 1, sealed + row.sealed
            yield "".join(f"{line}\n" for line in _lines(row))

    _show(texts())
    if not told:
        show("no exam is like that\n")
    return sealed


def _as_json(rows: Iterable[ExamRow]) -> Iterator[str]:
    """Yield the rows as one JSON array, a row a line."""
    before = "[\n"
    for row in rows:
        yield before + json.dumps(_fields(row), ensure_ascii=False)
        before = ",\n"
    yield "\n]\n" if before != "[\n" else "[]\n"


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
