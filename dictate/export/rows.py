"""Findings as flat rows for research: CSV, a row a finding. No name of a person is among the columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from dictate.contract import Finding, Note
from dictate.export.handover import NOTHING_KNOWN, Handover

ROWS_SCHEMA = 1  # changes when columns do
LIST_JOINT = "; "
# A cell that begins so is run as a formula by spreadsheets. Source: OWASP, CSV Injection.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")

Row = dict[str, object]  # str, number, bool, datetime or None; or a list of text


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One note among those that a table is made of; `name` tells it from the others."""

    note: Note
    name: str
    handover: Handover = NOTHING_KNOWN


def _utc(moment: datetime | None) -> datetime | None:
    return moment.astimezone(UTC) if moment else None


def row_of(source: Source, number: int, finding: Finding) -> Row:
    """Return one finding as a row with lists still lists. `number` counts from 0, as prompts count findings."""
    exam, handover = source.note.exam, source.handover
    return {
        "note": source.name,
        "exam_id": handover.exam_id,
        "exam_date": _utc(handover.exam_date),
        "patient": handover.patient,
        "age_years": handover.age,
        "sex": handover.sex,
        "signed": handover.signed,
        "signed_at": _utc(handover.signing.at) if handover.signing else None,
        "exam_region": exam.region,
        "injured_side": exam.injured_side,
        "source": exam.source,
        "recording_s": exam.seconds,
        "number": number,
        "section": finding.section,
        "region": finding.region,
        "side": finding.side,
        "structure": finding.structure,
        "finding": finding.finding,
        "status": finding.status,
        "degrees": finding.degrees,
        "grade_scale": finding.grade.scale if finding.grade else None,
        "grade_value": finding.grade.value if finding.grade else None,
        "measure_value": finding.measure.value if finding.measure else None,
        "measure_unit": finding.measure.unit if finding.measure else None,
        "measure_comparator": finding.measure.comparator if finding.measure else None,
        "at_degrees": finding.at_degrees,
        "severity": finding.severity,
        "end_feel": finding.end_feel,
        "limited_by": list(finding.limited_by),
        "with": list(finding.with_),
        "confidence": finding.confidence,
        "doubts": [doubt.reason for doubt in finding.doubts],
        "doubt_details": [doubt.detail for doubt in finding.doubts],
        "doubt_suggestions": [doubt.suggestion or "" for doubt in finding.doubts],
        "said": finding.said,
        "start_s": finding.time[0] if finding.time else None,
        "end_s": finding.time[1] if finding.time else None,
        "replaced": [f"{entry.field}: {entry.value} ({entry.said})" for entry in finding.replaced],
    }


COLUMNS = tuple(
    row_of(
        Source(note=Note.model_validate({"exam": {"region": "knee"}}), name=""),
        0,
        Finding(section="inspection", region="knee", finding=""),
    )
)


def rows_of(sources: Iterable[Source]) -> list[Row]:
    """Return the rows of all notes, in order."""
    return [row_of(source, n, finding) for source in sources for n, finding in enumerate(source.note.findings)]


def csv_text(sources: Sequence[Source]) -> str:
    """Return the rows as CSV (RFC 4180), with a header; lists are joined with "; ", times are ISO 8601 in UTC."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(COLUMNS)
    writer.writerows([[_cell(value) for value in row.values()] for row in rows_of(sources)])
    return stream.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value!r}"  # a negative angle is a number, and no formula
    if isinstance(value, datetime):
        return value.isoformat()
    text = LIST_JOINT.join(map(str, value)) if isinstance(value, list) else str(value)
    return _no_formula(text)


def _no_formula(text: str) -> str:
    """Return text that no spreadsheet runs: an apostrophe before what would be a formula."""
    return f"'{text}" if text.startswith(_FORMULA) else text
