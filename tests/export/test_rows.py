"""Rows for research, read back with other people's readers."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings

from dictate.contract import Note
from dictate.export.parquet import parquet_bytes
from dictate.export.rows import COLUMNS, Source, csv_text
from tests.export.notes import NAMES, SIGNED, finding, fixture_note, note_with, notes


def rows(*note: Note) -> list[dict[str, str]]:
    """Return the rows as the standard library reads them."""
    sources = [Source(note=one, name=f"n{number}", handover=SIGNED) for number, one in enumerate(note)]
    return list(csv.DictReader(io.StringIO(csv_text(sources), newline="")))


@pytest.mark.parametrize("name", NAMES)
def test_csv_has_a_row_a_finding(name: str) -> None:
    note = fixture_note(name)
    assert [(row["finding"], row["side"], row["status"]) for row in rows(note)] == [
        (one.finding, one.side or "", one.status or "") for one in note.findings
    ]


@settings(deadline=None)
@given(note=notes)
def test_csv_keeps_every_number_exactly(note: Note) -> None:
    read = [float(row["degrees"]) if row["degrees"] else None for row in rows(note)]
    assert read == [one.degrees for one in note.findings]


@settings(deadline=None)
@given(note=notes)
def test_no_text_cell_is_run_by_a_spreadsheet(note: Note) -> None:
    """Source: OWASP, CSV Injection: cells that begin with =, +, -, @, tab or carriage return."""
    numbers = {"degrees", "at_degrees", "measure_value", "start_s", "end_s", "recording_s", "confidence", "age_years"}
    cells = [value for row in rows(note) for name, value in row.items() if name not in numbers]
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_a_negative_angle_stays_a_number() -> None:
    assert rows(note_with(finding("extension", degrees=-10)))[0]["degrees"] == "-10.0"


def test_lists_are_joined() -> None:
    (row,) = rows(note_with(finding("flexion", limited_by=["pain", "stiffness"])))
    assert row["limited_by"] == "pain; stiffness"


def test_several_notes_are_told_apart() -> None:
    read = rows(note_with(finding()), note_with(finding("warmth")))
    assert [(row["note"], row["finding"]) for row in read] == [("n0", "tenderness"), ("n1", "warmth")]


def test_the_signers_name_is_not_in_research_rows() -> None:
    assert "A. Example" not in csv_text([Source(note=note_with(finding()), name="n", handover=SIGNED)])


def test_parquet_reads_back_with_pyarrow() -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    note = fixture_note("mcl_football_slips")
    table = pq.read_table(io.BytesIO(parquet_bytes([Source(note=note, name="n", handover=SIGNED)])))
    read = table.to_pylist()
    assert [row["degrees"] for row in read] == [one.degrees for one in note.findings]
    assert [row["limited_by"] for row in read] == [one.limited_by for one in note.findings]
    assert read[0]["exam_date"] == SIGNED.exam_date


def test_parquet_has_typed_columns_and_their_version() -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    schema = pq.read_schema(io.BytesIO(parquet_bytes([Source(note=note_with(), name="n")])))
    assert tuple(schema.names) == COLUMNS
    types = {name: str(schema.field(name).type) for name in ("degrees", "number", "signed", "doubts", "exam_date")}
    assert types["degrees"] == "double" and types["number"] == "int32" and types["signed"] == "bool"
    assert types["doubts"].startswith("list<") and types["exam_date"] == "timestamp[us, tz=UTC]"
    assert schema.metadata[b"dictate.rows_schema"] == b"1"
