"""A note read back from our FHIR document; one that was changed on its way is refused, not half believed."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from dictate.contract import Finding, Note
from dictate.export.errors import ImportRefused
from dictate.export.fhir_observation import observation_of
from dictate.export.fhir_terms import FINDING_EXTENSION, NOTE_EXTENSION
from dictate.export.fhir_write import why_invalid

_EXPORT_AGAIN = "export the exam again from where it was written"
# What a reader of the Observation goes by: it must say what our extension says.
_TOLD = ("category", "code", "method", "bodySite", "dataAbsentReason", "interpretation", "component")
_OURS = ("urn:dictate:", "http://terminology.hl7.org/")  # other codes may be the clinic's, and may come and go


def note_from_fhir(document: dict[str, Any]) -> Note:
    """Return the note that a FHIR document of ours holds, the very same that was exported.

    Raises:
        ImportRefused: it is no document of ours, is not valid, lacks a finding, or an Observation of it says
            something else than what was exported.
    """
    why = why_invalid(document)
    if why:
        raise ImportRefused(f"this is no valid FHIR Bundle ({why}); {_EXPORT_AGAIN}")
    resources = [entry.get("resource") or {} for entry in document.get("entry") or []]
    composition = resources[0] if resources else {}
    written = _extension(composition, NOTE_EXTENSION)
    if document.get("type") != "document" or composition.get("resourceType") != "Composition" or written is None:
        raise ImportRefused("this FHIR Bundle was not written by `dictate export`, or has lost our extensions; "
                            "import a document that has them, or the note's JSON")  # fmt: skip
    observations = [resource for resource in resources if resource.get("resourceType") == "Observation"]
    try:
        head = json.loads(written)
        count = head.pop("findings")
        findings = dict(_findings(observations))
        if sorted(findings) != list(range(count)):
            raise ImportRefused(
                f"this document holds {len(observations)} Observations of {count} findings; {_EXPORT_AGAIN}"
            )
        return Note.model_validate({**head, "findings": [findings[number] for number in range(count)]})
    except (ValidationError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise ImportRefused(f"our extensions in this document are damaged; {_EXPORT_AGAIN}") from error


def _findings(observations: list[dict[str, Any]]) -> Iterator[tuple[int, Finding]]:
    for observation in observations:
        written = _extension(observation, FINDING_EXTENSION)
        if written is None:
            raise ImportRefused(f"an Observation of this document has lost its {FINDING_EXTENSION}; {_EXPORT_AGAIN}")
        content = json.loads(written)
        finding, number = Finding.model_validate(content["finding"]), int(content["number"])
        told, meant = _told(observation), _told(observation_of(finding, number))
        for key in sorted({*told, *meant}):
            if told.get(key) != meant.get(key):
                name = f"{finding.structure or finding.region} {finding.finding}"
                raise ImportRefused(
                    f"finding {number + 1} ({name}) was changed since it was exported: its {key} says something else; "
                    f"{_EXPORT_AGAIN}"
                )
        yield number, finding


def _told(observation: dict[str, Any]) -> dict[str, Any]:
    keys = [*_TOLD, *(key for key in observation if key.startswith("value"))]
    return {key: _without_foreign_codes(observation[key]) for key in keys if key in observation}


def _without_foreign_codes(value: Any) -> Any:
    if isinstance(value, list):
        return [_without_foreign_codes(one) for one in value]
    if not isinstance(value, dict):
        return value
    kept = {key: _without_foreign_codes(one) for key, one in value.items() if key != "coding"}
    own = [coding for coding in value.get("coding") or [] if str(coding.get("system", "")).startswith(_OURS)]
    return {**kept, **({"coding": own} if own else {})}


def _extension(resource: dict[str, Any], url: str) -> str | None:
    for extension in resource.get("extension") or []:
        if extension.get("url") == url:
            return str(extension.get("valueString"))
    return None
