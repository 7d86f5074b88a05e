"""Every way in which a note is handed on, by name. Each is imported when it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from dictate.contract import Note
from dictate.export.codes import NO_CODES, Codes
from dictate.export.errors import ExportError
from dictate.export.handover import NOTHING_KNOWN, Handover
from dictate.export.rows import Source

Format = Literal["text", "markdown", "json", "csv", "parquet", "print", "fhir"]
TABLES: frozenset[Format] = frozenset({"csv", "parquet"})  # these take several notes


def export_note(note: Note, *, to: Format, handover: Handover = NOTHING_KNOWN, codes: Codes = NO_CODES) -> str | bytes:
    """Return a note in a format: bytes for Parquet, text for all others.

    Args:
        note: the note.
        to: the format.
        handover: what is known of exam, patient and signing.
        codes: a clinic's codes, for FHIR.

    Raises:
        ExportError: a library that the format needs is not installed.
    """
    match to:
        case "text":
            from dictate.export.text import plain_text

            return plain_text(note, handover)
        case "markdown":
            from dictate.export.text import markdown

            return markdown(note, handover)
        case "json":
            return note.to_json() + "\n"
        case "print":
            from dictate.export.page import print_page

            return print_page(note, handover)
        case "fhir":
            from dictate.export.fhir_write import fhir_json

            return fhir_json(note, handover, codes=codes)
        case _:
            name = handover.exam_id or "note"
            return export_table([Source(note=note, name=name, handover=handover)], to=to)


def export_table(sources: Sequence[Source], *, to: Format) -> str | bytes:
    """Return the findings of several notes as one table: text for CSV, bytes for Parquet. Raises ExportError."""
    if to == "csv":
        from dictate.export.rows import csv_text

        return csv_text(sources)
    if to == "parquet":
        from dictate.export.parquet import parquet_bytes

        return parquet_bytes(sources)
    raise ExportError(f"{to} takes one note at a time; only {' and '.join(sorted(TABLES))} take several")
