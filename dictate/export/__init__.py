"""Handing a note on: text, Markdown, JSON, CSV, Parquet, a page to print and FHIR; and reading it back."""

from dictate.export.formats import export_note, export_table
from dictate.export.handover import Addendum, Handover, Signing
from dictate.export.read import note_of

__all__ = ["Addendum", "Handover", "Signing", "export_note", "export_table", "note_of"]
