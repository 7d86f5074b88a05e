"""One finding as a FHIR Observation.

What the finding is, where, on which side and with what result stands in FHIR's own elements, for a reader who knows
nothing of us: absence is a value ("absent"), never an Observation that is missing. The extension beside them holds the
finding as the note has it, so that it can be read back whole.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from dictate.contract import Finding, Grade
from dictate.export.codes import NO_CODES, CodeEntry, CodeKind, Codes
from dictate.export.fhir_terms import (
    DOUBT_SYSTEM,
    EXAM_CATEGORY,
    FIELD_SYSTEM,
    FINDING_EXTENSION,
    INTERPRETATIONS,
    LATERALITY_EXTENSION,
    NOT_PERFORMED,
    REGION_SYSTEM,
    SCALE_SYSTEM,
    SECTION_SYSTEM,
    SEVERITY_SYSTEM,
    SIDE_SYSTEM,
    STATUS_SYSTEM,
    UCUM,
    UNKNOWN,
    JsonObject,
)
from dictate.export.plain import one_line
from dictate.note.describe import clock, doubt_text, grade_text, quoted

# Statuses that are the result itself, whatever number comes with them: "no pain up to 130 degrees" is an absence.
_RESULTS = frozenset({"present", "absent", "positive", "negative", "equivocal"})
# How a unit of the note is written for people, and its UCUM code. Source: UCUM 2.1, tables 5 (degree, second) and
# 2 to 4 (prefixes, metre); "1" is the unity.
UNITS = {"deg": ("°", "deg"), "cm": ("cm", "cm"), "mm": ("mm", "mm"), "s": ("s", "s"), "1": ("", "1")}
_METHODS = frozenset({"active_motion", "passive_motion", "resisted_motion"})
_SIDES = {"left": "left", "right": "right", "both": "left and right", "midline": "midline"}
_NAMELESS = "(no name)"


def observation_of(finding: Finding, number: int, *, codes: Codes = NO_CODES) -> JsonObject:
    """Return the Observation of a finding, without what ties it to its document (id, status, subject, performer).

    Args:
        finding: what was found.
        number: its place in the note, from 0.
        codes: further codes for our labels.
    """
    fields = dict(_fields(finding, codes))
    result = _result(finding)
    observation: JsonObject = {
        "resourceType": "Observation",
        "extension": [{"url": FINDING_EXTENSION, "valueString": _as_written(finding, number)}],
        "category": [{"coding": [EXAM_CATEGORY]}, _own(SECTION_SYSTEM, finding.section, kind="section", codes=codes)],
        "code": concept(finding.finding, codes=codes.of("finding", finding.finding)),
        "bodySite": _body_site(finding, codes),
    }
    if finding.section in _METHODS:  # active and passive flexion are two things, also where only the code is kept
        observation["method"] = {"text": finding.section.replace("_", " ")}
    if finding.doubts:
        reasons = dict.fromkeys(doubt.reason for doubt in finding.doubts)
        observation["meta"] = {"tag": [{"system": DOUBT_SYSTEM, "code": reason} for reason in reasons]}
    if finding.status == "not_examined":
        observation["dataAbsentReason"] = {"coding": [NOT_PERFORMED], "text": "not examined"}
        fields.pop("status")
    elif result:
        observation.update(fields.pop(result)[0])
    else:
        observation["dataAbsentReason"] = {"coding": [UNKNOWN], "text": "no result was said"}
    if finding.status and finding.status in INTERPRETATIONS:
        coding = INTERPRETATIONS[finding.status]
        observation["interpretation"] = [{"coding": [coding], "text": finding.status}]
    components = [{"code": _field(name), **value} for name, values in fields.items() for value in values]
    if components:
        observation["component"] = components
    notes = list(_notes(finding))
    if notes:
        observation["note"] = [{"text": visible(text)} for text in notes]
    return observation


def visible(text: str) -> str:
    """Return text that may stand in a FHIR string: one line, no control characters, never empty.

    Source: FHIR R4B 2.24.0.1, Primitive Types: string.
    """
    return one_line(text) or _NAMELESS


def concept(text: str, *, own: JsonObject | None = None, codes: tuple[CodeEntry, ...] = ()) -> JsonObject:
    """Return a CodeableConcept: our own code first, then those of the clinic's file, and the text."""
    coding = [*([own] if own else []), *map(_coding, codes)]
    return {**({"coding": coding} if coding else {}), "text": visible(text)}


def _coding(entry: CodeEntry) -> JsonObject:
    version: JsonObject = {"version": entry.version} if entry.version else {}
    return {"system": entry.system, **version, "code": entry.code, "display": entry.display}


def _as_written(finding: Finding, number: int) -> str:
    written = {"number": number, "finding": json.loads(finding.model_dump_json(by_alias=True))}
    return json.dumps(written, ensure_ascii=True, separators=(",", ":"))


# -- where -----------------------------------------------------------------------------------------------------------


def _body_site(finding: Finding, codes: Codes) -> JsonObject:
    """Return where it was found, with the side in words; and in HL7's own extension for those who look there."""
    where = finding.structure or finding.region
    side = f"{_SIDES[finding.side]} " if finding.side else ""
    site = concept(f"{side}{where}", codes=codes.of("structure", where))
    if finding.side:
        site["extension"] = [{"url": LATERALITY_EXTENSION, "valueCodeableConcept": _side(finding.side, codes)}]
    return site


def _side(side: str, codes: Codes) -> JsonObject:
    return _own(SIDE_SYSTEM, side, kind="side", codes=codes)


def _own(system: str, code: str, *, kind: CodeKind, codes: Codes) -> JsonObject:
    text = code.replace("_", " ")
    return concept(text, own={"system": system, "code": code, "display": text}, codes=codes.of(kind, code))


# -- what ------------------------------------------------------------------------------------------------------------


def _result(finding: Finding) -> str | None:
    """Return the field that is the Observation's value; the others become components."""
    if finding.status in _RESULTS:
        return "status"
    for name in ("degrees", "measure", "grade", "status", "severity"):
        if getattr(finding, name) is not None:
            return name
    return None


def _fields(finding: Finding, codes: Codes) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Yield the fields that were said, each with its values as FHIR has them; lists have several."""
    if finding.side:
        yield "side", [{"valueCodeableConcept": _side(finding.side, codes)}]
    region: JsonObject = {"system": REGION_SYSTEM, "code": finding.region, "display": finding.region}
    yield "region", [{"valueCodeableConcept": concept(finding.region, own=region)}]
    if finding.status:
        yield "status", [{"valueCodeableConcept": _own(STATUS_SYSTEM, finding.status, kind="status", codes=codes)}]
    if finding.degrees is not None:
        yield "degrees", [{"valueQuantity": _quantity(finding.degrees, "deg")}]
    if finding.measure is not None:
        measure = finding.measure
        yield "measure", [{"valueQuantity": _quantity(measure.value, measure.unit, comparator=measure.comparator)}]
    if finding.grade is not None:
        yield "grade", [{"valueCodeableConcept": _grade(finding.grade, finding.finding)}]
    if finding.at_degrees is not None:
        yield "at_degrees", [{"valueQuantity": _quantity(finding.at_degrees, "deg")}]
    if finding.severity:
        severity = _own(SEVERITY_SYSTEM, finding.severity, kind="severity", codes=codes)
        yield "severity", [{"valueCodeableConcept": severity}]
    if finding.end_feel is not None:
        yield "end_feel", [{"valueCodeableConcept": concept(finding.end_feel)}]
    if finding.limited_by:
        yield "limited_by", [{"valueCodeableConcept": concept(label)} for label in finding.limited_by]
    if finding.with_:
        yield "with", [{"valueCodeableConcept": concept(label)} for label in finding.with_]


def _field(name: str) -> JsonObject:
    return concept(name.replace("_", " "), own={"system": FIELD_SYSTEM, "code": name})


def _quantity(value: float, unit: str, *, comparator: str | None = None) -> JsonObject:
    name, code = UNITS[unit]
    number = int(value) if value.is_integer() and abs(value) < 1e15 else value
    quantity: JsonObject = {"value": number, "system": UCUM, "code": code}
    if name:
        quantity["unit"] = name
    if comparator:
        quantity["comparator"] = comparator
    return quantity


def _grade(grade: Grade, finding: str) -> JsonObject:
    """Return a grade in words; with a code of its scale where scale and value can be written as one."""
    codable = bool(grade.value) and bool(grade.scale) and grade.value == visible(grade.value)
    scale = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in grade.scale)
    own: JsonObject = {"system": f"{SCALE_SYSTEM}{scale}", "code": grade.value}
    return concept(grade_text(grade, finding=finding), own=own if codable else None)


# -- remarks ---------------------------------------------------------------------------------------------------------


def _notes(finding: Finding) -> Iterator[str]:
    if finding.doubts:
        yield f"To check: {doubt_text(finding)}"
    elif finding.said:
        place = f" at {clock(finding.time[0])}" if finding.time else ""
        yield f"Said{place}: {quoted(finding.said)}"
    for entry in finding.replaced:
        yield f"First said, then corrected: {entry.field.replace('_', ' ')}, {quoted(entry.said)}"
