"""A note as a FHIR R4B document: a Bundle whose first entry is the Composition that ties the others together."""

from __future__ import annotations

import hashlib
import html
import json
import uuid
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

from dictate import __version__
from dictate.contract import Note, Section
from dictate.export.codes import DOCUMENT_LABEL, NO_CODES, Codes
from dictate.export.errors import ExportError
from dictate.export.fhir_observation import concept, observation_of, visible
from dictate.export.fhir_terms import (
    AGE_EXTENSION,
    AUTHENTICATED,
    DIGEST_SYSTEM,
    EXAM_SYSTEM,
    NOTE_EXTENSION,
    PATIENT_SYSTEM,
    PHYSICAL_FINDINGS,
    SECTION_SYSTEM,
    UCUM,
    JsonObject,
)
from dictate.export.handover import NOTHING_KNOWN, Addendum, Handover, Signing, moment_text, signing_lines
from dictate.export.text import caution_of
from dictate.note.text import MARK, Part, coverage_lines, head_lines, parts_of

_XHTML = "http://www.w3.org/1999/xhtml"
_NOT_PHYSICAL: frozenset[Section] = frozenset({"introduction", "history"})


def fhir_json(note: Note, handover: Handover = NOTHING_KNOWN, *, codes: Codes = NO_CODES) -> str:
    """Return the note as the JSON of a FHIR document, checked with `fhir.resources` before it is returned.

    Raises:
        ExportError: `fhir.resources` is not installed, or the document is not valid by it.
    """
    document = bundle_of(note, handover, codes=codes)
    why = why_invalid(document)
    if why:
        raise ExportError(f"this note makes no valid FHIR document ({why}); export it as json, and tell the authors")
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def why_invalid(document: JsonObject) -> str | None:
    """Return the first thing that `fhir.resources` finds wrong in a Bundle. Raises ExportError if it is missing."""
    try:
        from fhir.resources.R4B.bundle import Bundle
    except ImportError as error:
        raise ExportError(
            "FHIR needs fhir.resources, which is not installed: pip install 'fhir.resources>=8,<9'"
        ) from error
    try:
        Bundle.model_validate(document)
    except ValueError as error:  # pydantic's; it lists more than one line can say
        return " ".join(str(error).split())[:300]
    return None


def bundle_of(note: Note, handover: Handover = NOTHING_KNOWN, *, codes: Codes = NO_CODES) -> JsonObject:
    """Return the document as JSON objects. The same note, handover and time give the same document."""
    now = handover.exported_at or datetime.now(UTC)
    ids = _Ids(note, handover)
    observations = [
        _placed(observation_of(finding, number, codes=codes), ids, f"finding-{number}", handover)
        for number, finding in enumerate(note.findings)
    ]
    people = _people(handover, ids)
    resources = [
        _composition(note, handover, ids=ids, codes=codes, now=now),
        _patient(handover, ids),
        _device(ids),
        *people,
        *observations,
        *_provenances(handover, ids),
    ]
    return {
        "resourceType": "Bundle",
        "identifier": {"system": "urn:ietf:rfc:3986", "value": ids.url(f"document-{now.isoformat()}")},
        "type": "document",
        "timestamp": now.isoformat(),
        "entry": [{"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource} for resource in resources],
    }


class _Ids:
    """Ids that depend on the exam only: exporting it again gives the same ones."""

    def __init__(self, note: Note, handover: Handover) -> None:
        seed = handover.exam_id or hashlib.sha256(note.to_json(indent=None).encode()).hexdigest()
        self._space = uuid.uuid5(uuid.NAMESPACE_URL, f"urn:dictate:{seed}")

    def id(self, name: str) -> str:
        return str(uuid.uuid5(self._space, name))

    def url(self, name: str) -> str:
        return f"urn:uuid:{self.id(name)}"

    def reference(self, name: str, kind: str) -> JsonObject:
        return {"reference": self.url(name), "type": kind}

    def person(self, who: Signing | Addendum) -> JsonObject:
        return {**self.reference(_person_key(who), "Practitioner"), "display": visible(who.name)}


# -- the document and its sections -----------------------------------------------------------------------------------


def _composition(note: Note, handover: Handover, *, ids: _Ids, codes: Codes, now: datetime) -> dict[str, Any]:
    title, *head = head_lines(note, signed=handover.signed)
    sections: list[JsonObject] = []
    physical: list[JsonObject] = []
    for part in parts_of(note):
        section = _section(note, part, ids=ids, codes=codes)
        (sections if part.section in _NOT_PHYSICAL else physical).append(section)
    examined: JsonObject = {
        "title": "Physical examination",
        "code": {"coding": [PHYSICAL_FINDINGS], "text": "Physical examination"},
        "text": _narrative(head if note.findings else [*head, "No findings were recorded."]),
    }
    if physical:
        examined["section"] = physical
    sections.append(examined)
    if note.sections:
        sections.append(_told("Coverage of the exam plan", coverage_lines(note)))
    if note.prompts:
        prompts = [f"{prompt.text} ({prompt.source})" for prompt in note.prompts]
        sections.append(_told("To think of", ["Reminders, never a diagnosis.", *prompts]))
    for addendum in handover.addenda:
        told = _told("Addendum", [f"{addendum.name}, {addendum.role}, {moment_text(addendum.at)}", addendum.text])
        sections.append({**told, "author": [ids.person(addendum)]})
    composition: dict[str, Any] = {
        "resourceType": "Composition",
        "id": ids.id("composition"),
        "extension": [{"url": NOTE_EXTENSION, "valueString": _as_written(note)}],
        "text": _narrative([title, *signing_lines(handover), caution_of(handover)]),
        "status": ("amended" if handover.addenda else "final") if handover.signed else "preliminary",
        "type": concept(DOCUMENT_LABEL, codes=codes.of("document", DOCUMENT_LABEL)),
        "subject": ids.reference("patient", "Patient"),
        "date": (handover.signing.at if handover.signing else now).isoformat(),
        "author": [ids.reference("device", "Device")],
        "title": title,
        "section": sections,
    }
    if handover.exam_id:
        composition["identifier"] = {"system": EXAM_SYSTEM, "value": visible(handover.exam_id)}
    if handover.exam_date:
        exam_date = handover.exam_date.isoformat()
        examination = concept(f"{note.exam.region} examination")
        composition["event"] = [{"code": [examination], "period": {"start": exam_date, "end": exam_date}}]
    if handover.signing:
        signing = handover.signing
        composition["author"].insert(0, ids.person(signing))
        composition["attester"] = [
            {"mode": "professional", "time": signing.at.isoformat(), "party": ids.person(signing)}
        ]  # fmt: skip
    return composition


def _as_written(note: Note) -> str:
    """Return the note without its findings, which are with their Observations; but how many there are."""
    whole = json.loads(note.to_json(indent=None))
    whole["findings"] = len(note.findings)
    return json.dumps(whole, ensure_ascii=True, separators=(",", ":"))


def _section(note: Note, part: Part, *, ids: _Ids, codes: Codes) -> JsonObject:
    lines = [line.text + "".join(f" {MARK} {doubt}" for doubt in line.doubts) for line in part.lines]
    own: JsonObject = {"system": SECTION_SYSTEM, "code": part.section, "display": part.title}
    entries = [
        ids.reference(f"finding-{number}", "Observation")
        for number, finding in enumerate(note.findings)
        if finding.section == part.section
    ]
    code = concept(part.title, own=own, codes=codes.of("section", part.section))
    return {"title": part.title, "code": code, "text": _narrative(lines), "entry": entries}


def _told(title: str, lines: Iterable[str]) -> JsonObject:
    return {"title": title, "code": concept(title), "text": _narrative(list(lines))}


def _narrative(lines: Sequence[str]) -> JsonObject:
    """Return lines as XHTML that holds nothing but text, each line a paragraph."""
    body = "".join(f"<p>{html.escape(visible(line))}</p>" for line in lines)
    return {"status": "generated", "div": f'<div xmlns="{_XHTML}">{body}</div>'}


# -- who and with what -----------------------------------------------------------------------------------------------


def _patient(handover: Handover, ids: _Ids) -> dict[str, Any]:
    patient: dict[str, Any] = {"resourceType": "Patient", "id": ids.id("patient")}
    if handover.age is not None:
        age = {"value": handover.age, "unit": "years", "system": UCUM, "code": "a"}
        patient["extension"] = [{"url": AGE_EXTENSION, "valueAge": age}]
    if handover.patient:
        patient["identifier"] = [{"system": PATIENT_SYSTEM, "value": visible(handover.patient)}]
    if handover.sex:
        patient["gender"] = handover.sex
    return patient


def _device(ids: _Ids) -> dict[str, Any]:
    return {
        "resourceType": "Device",
        "id": ids.id("device"),
        "deviceName": [{"name": "dictate", "type": "user-friendly-name"}],
        "type": {"text": "program that writes an examination note from speech"},
        "version": [{"value": __version__}],
    }


def _person_key(who: Signing | Addendum) -> str:
    return f"person-{who.name}-{who.role}"


def _people(handover: Handover, ids: _Ids) -> list[dict[str, Any]]:
    signers: list[Signing | Addendum] = [handover.signing] if handover.signing else []
    who = [*signers, *handover.addenda]
    return [
        {"resourceType": "Practitioner", "id": ids.id(key), "name": [{"text": visible(name)}]}
        for key, name in {_person_key(one): one.name for one in who}.items()
    ]


def _placed(observation: JsonObject, ids: _Ids, name: str, handover: Handover) -> dict[str, Any]:
    """Return the Observation as part of this document."""
    placed: dict[str, Any] = {
        **observation,
        "id": ids.id(name),
        "status": "final" if handover.signed else "preliminary",
        "subject": ids.reference("patient", "Patient"),
        "device": ids.reference("device", "Device"),
    }
    if handover.exam_date:
        placed["effectiveDateTime"] = handover.exam_date.isoformat()
    if handover.signing:
        placed["performer"] = [ids.person(handover.signing)]
    return placed


def _provenances(handover: Handover, ids: _Ids) -> list[dict[str, Any]]:
    """Return who signed, when, and the digest of what was signed.

    The digest is no digital signature: it has no key. So it stands as an entity, not in `signature`.
    """
    signings: list[Signing | Addendum] = [handover.signing] if handover.signing else []
    return [_provenance(signing, n, ids) for n, signing in enumerate([*signings, *handover.addenda])]


def _provenance(signing: Signing | Addendum, number: int, ids: _Ids) -> dict[str, Any]:
    agent = {"type": {"text": "signer"}, "role": [{"text": visible(signing.role)}], "who": ids.person(signing)}
    provenance: dict[str, Any] = {
        "resourceType": "Provenance",
        "id": ids.id(f"provenance-{number}"),
        "target": [ids.reference("composition", "Composition")],
        "occurredDateTime": signing.at.isoformat(),
        "recorded": signing.at.isoformat(),
        "activity": {"coding": [AUTHENTICATED], "text": "signed" if number == 0 else "addendum signed"},
        "agent": [agent],
    }
    if signing.digest:
        identifier = {"system": DIGEST_SYSTEM, "value": visible(signing.digest)}
        what = {"identifier": identifier, "display": "digest of the note and its journal as signed"}
        provenance["entity"] = [{"role": "source", "what": what}]
    return provenance
