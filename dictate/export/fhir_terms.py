"""The addresses and codes that the FHIR export uses. Each says where it is from; what could not be confirmed is absent.

FHIR is HL7's; R4B is version 4.3.0 (2022). LOINC codes may be used free of charge under its licence. Units are UCUM.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from dictate.contract import Status

JsonObject = dict[str, object]

UCUM: Final = "http://unitsofmeasure.org"  # FHIR R4B, Terminologies: Using UCUM
LOINC: Final = "http://loinc.org"
# Section code of the physical examination. Source: HL7 C-CDA R2.1, Physical Exam Section (CONF:1198-15398).
PHYSICAL_FINDINGS: Final[JsonObject] = {"system": LOINC, "code": "29545-1", "display": "Physical findings"}
# Source: HL7 Terminology, Observation Category Codes.
EXAM_CATEGORY: Final[JsonObject] = {
    "system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "exam", "display": "Exam",
}  # fmt: skip
# Source: HL7 Terminology, Data Absent Reason.
ABSENT_REASON: Final = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
NOT_PERFORMED: Final[JsonObject] = {"system": ABSENT_REASON, "code": "not-performed", "display": "Not Performed"}
UNKNOWN: Final[JsonObject] = {"system": ABSENT_REASON, "code": "unknown", "display": "Unknown"}
# Source: HL7 Terminology, ObservationInterpretation. "Reduced" and "increased" have none: L and H would claim a
# reference range, which nobody gave; "equivocal" has none, for its code could not be confirmed.
_INTERPRETATION: Final = "http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation"
INTERPRETATIONS: Final[Mapping[Status, JsonObject]] = {
    "positive": {"system": _INTERPRETATION, "code": "POS", "display": "Positive"},
    "negative": {"system": _INTERPRETATION, "code": "NEG", "display": "Negative"},
    "normal": {"system": _INTERPRETATION, "code": "N", "display": "Normal"},
}
# Source: HL7 Terminology, DocumentCompletion; HL7's own example of a signed Provenance has it so.
AUTHENTICATED: Final[JsonObject] = {
    "system": "http://terminology.hl7.org/CodeSystem/v3-DocumentCompletion", "code": "AU", "display": "authenticated",
}  # fmt: skip
# Source: HL7 FHIR Extensions Pack 5.3.0, Observation Structure Laterality; for use on Observation.bodySite up to R5.
LATERALITY_EXTENSION: Final = "http://hl7.org/fhir/StructureDefinition/observation-structureLaterality"

# -- our own, described in docs/export.md ----------------------------------------------------------------------------

FINDING_EXTENSION: Final = "urn:dictate:finding"  # on an Observation: the finding as the note has it, JSON
NOTE_EXTENSION: Final = "urn:dictate:note"  # on the Composition: the note without its findings, JSON
AGE_EXTENSION: Final = "urn:dictate:age"  # on the Patient: age at the exam
FIELD_SYSTEM: Final = "urn:dictate:field"  # codes of components: names of the note's fields
SIDE_SYSTEM: Final = "urn:dictate:side"  # left, right, both, midline
STATUS_SYSTEM: Final = "urn:dictate:status"
SEVERITY_SYSTEM: Final = "urn:dictate:severity"
SECTION_SYSTEM: Final = "urn:dictate:section"
REGION_SYSTEM: Final = "urn:dictate:region"
DOUBT_SYSTEM: Final = "urn:dictate:doubt"  # tags: an Observation that a person should look at
SCALE_SYSTEM: Final = "urn:dictate:scale:"  # followed by the name of the scale
EXAM_SYSTEM: Final = "urn:dictate:exam"  # identifiers of exams
PATIENT_SYSTEM: Final = "urn:dictate:pseudonym"
DIGEST_SYSTEM: Final = "urn:dictate:digest:sha256"
