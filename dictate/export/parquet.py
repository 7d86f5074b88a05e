"""The rows of `rows.py` as a Parquet file with typed columns. Needs pyarrow, which is imported only here."""

from __future__ import annotations

import io
from collections.abc import Sequence
from importlib import import_module
from typing import Any

from dictate import __version__
from dictate.contract import SCHEMA
from dictate.export.errors import ExportError
from dictate.export.rows import COLUMNS, ROWS_SCHEMA, Source, rows_of

_NUMBERS = {"age_years", "recording_s", "degrees", "measure_value", "at_degrees", "confidence", "start_s", "end_s"}
_LISTS = {"limited_by", "with", "doubts", "doubt_details", "doubt_suggestions", "replaced"}
_TIMES = {"exam_date", "signed_at"}


def parquet_bytes(sources: Sequence[Source]) -> bytes:
    """Return the rows as a Parquet file; its metadata names the version of the columns and of the note.

    Raises:
        ExportError: pyarrow is not installed.
    """
    try:
        pa, pq = import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError as error:
        raise ExportError("Parquet needs pyarrow, which is not installed: pip install 'dictate[research]'") from error
    schema = pa.schema(
        [(name, _type(name, pa)) for name in COLUMNS],
        metadata={
            "dictate.rows_schema": str(ROWS_SCHEMA), "dictate.note_schema": str(SCHEMA), "dictate.version": __version__
        },
    )  # fmt: skip
    stream = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows_of(sources), schema=schema), stream)
    return stream.getvalue()


def _type(name: str, pa: Any) -> Any:
    if name in _NUMBERS:
        return pa.float64()
    if name in _LISTS:
        return pa.list_(pa.string())
    if name in _TIMES:
        return pa.timestamp("us", tz="UTC")
    return {"number": pa.int32(), "signed": pa.bool_()}.get(name, pa.string())
