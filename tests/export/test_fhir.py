"""The FHIR document: valid, whole, and understood by a reader who knows FHIR and nothing of us."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from dictate.contract import Finding, Note
from dictate.export.codes import CodeEntry, Codes
from dictate.export.errors import ImportRefused
from dictate.export.fhir_observation import UNITS, observation_of
from dictate.export.fhir_read import note_from_fhir
from dictate.export.fhir_write import bundle_of, fhir_json
from dictate.export.handover import Handover
from tests.export.notes import (
    AMENDED,
    DRAFT,
    HANDOVERS,
    NAMES,
    NASTY_HANDOVER,
    SIGNED,
    finding,
    fixture_note,
    nasty_note,
    note_with,
    notes,
)

pytest.importorskip("fhir.resources", reason="fhir.resources is not installed")


def resources(document: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [
        entry["resource"] for entry in document["entry"] if entry["resource"]["resourceType"] == kind
    ]  # fmt: skip


def nodes(value: Any) -> Iterator[dict[str, Any]]:
    """Yield every JSON object in a document."""
    if isinstance(value, dict):
        yield value
        for one in value.values():
            yield from nodes(one)
    elif isinstance(value, list):
        for one in value:
            yield from nodes(one)


def one_observation(said: Finding) -> dict[str, Any]:
    return observation_of(said, 0)


# -- valid -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_fixture_is_valid_by_fhir_resources(name: str) -> None:
    from fhir.resources.R4B.bundle import Bundle

    text = fhir_json(fixture_note(name), SIGNED)
    bundle = Bundle.model_validate_json(text)
    assert len(bundle.entry) == len(fixture_note(name).findings) + 5


@pytest.mark.parametrize("handover", HANDOVERS.values(), ids=HANDOVERS)
def test_every_state_of_an_exam_is_valid(handover: Handover) -> None:
    fhir_json(fixture_note("mcl_football_slips"), handover)


def test_fhir_resources_reads_what_was_meant() -> None:
    """What the reference library writes after reading is what we wrote: no element was dropped or bent."""
    from fhir.resources.R4B.bundle import Bundle

    document = bundle_of(fixture_note("mcl_football_slips"), SIGNED)
    again = json.loads(Bundle.model_validate(document).model_dump_json())
    assert json.loads(json.dumps(again).replace("Z\"", "+00:00\"")) == json.loads(json.dumps(document))


# `fhir.resources` checks types and cardinality. What FHIR R4B says beyond that (its invariants and required bindings)
# is checked here. Source: HL7 FHIR R4B (4.3.0), pages Bundle, Composition, Observation, Provenance, Datatypes.

_REQUIRED = {
    ("Observation", "status"): {"registered", "preliminary", "final", "amended", "corrected", "cancelled"},
    ("Composition", "status"): {"preliminary", "final", "amended", "entered-in-error"},
    ("Patient", "gender"): {"male", "female", "other", "unknown"},
    ("Bundle", "type"): {"document"},
}


@cache
def document_of(name: str) -> dict[str, Any]:
    """Return the document of a fixture, each in one of the states that an exam can be in; or one of nasty text."""
    if name == "nasty":
        return bundle_of(nasty_note(), NASTY_HANDOVER)
    handovers = [*HANDOVERS.values()]
    return bundle_of(fixture_note(name), handovers[NAMES.index(name) % len(handovers)])


@pytest.fixture(params=[*NAMES, "nasty"])
def document(request: pytest.FixtureRequest) -> dict[str, Any]:
    return document_of(request.param)


def all_documents() -> list[dict[str, Any]]:
    return [document_of(name) for name in [*NAMES, "nasty"]]


def test_document_bundle_has_identifier_and_date(document: dict[str, Any]) -> None:
    """bdl-9: a document must have an identifier with a system and a value; bdl-10: and a date."""
    assert document["identifier"]["system"] and document["identifier"]["value"] and document["timestamp"]


def test_the_first_resource_is_the_composition(document: dict[str, Any]) -> None:
    """bdl-11: a document must have a Composition as the first resource."""
    assert document["entry"][0]["resource"]["resourceType"] == "Composition"


def test_full_urls_are_unique(document: dict[str, Any]) -> None:
    """bdl-7: fullUrl must be unique in a bundle."""
    urls = [entry["fullUrl"] for entry in document["entry"]]
    assert len(set(urls)) == len(urls)


def test_every_reference_leads_to_a_resource_of_its_kind(document: dict[str, Any]) -> None:
    kinds = {entry["fullUrl"]: entry["resource"]["resourceType"] for entry in document["entry"]}
    references = [node for node in nodes(document) if "reference" in node]
    assert references and all(kinds[node["reference"]] == node["type"] for node in references)


def test_every_resource_is_reached_from_the_composition(document: dict[str, Any]) -> None:
    """A document holds what its Composition refers to, and the Provenance of it (FHIR R4B 2.36, Documents)."""
    reached, queue = set(), [document["entry"][0]["fullUrl"]]
    found = {entry["fullUrl"]: entry["resource"] for entry in document["entry"]}
    while queue:
        url = queue.pop()
        if url not in reached:
            reached.add(url)
            queue += [node["reference"] for node in nodes(found[url]) if "reference" in node]
    assert {found[url]["resourceType"] for url in found.keys() - reached} <= {"Provenance"}


def test_absent_reason_only_without_a_value(document: dict[str, Any]) -> None:
    """obs-6: dataAbsentReason SHALL only be present if Observation.value[x] is not present."""
    for observation in resources(document, "Observation"):
        values = [key for key in observation if key.startswith("value")]
        assert len(values) + ("dataAbsentReason" in observation) == 1


def test_sections_have_content(document: dict[str, Any]) -> None:
    """cmp-1: a section must contain at least one of text, entries, or sub-sections."""
    sections = [node for node in nodes(document["entry"][0]["resource"]["section"]) if "title" in node]
    assert sections and all({"text", "entry", "section"} & node.keys() for node in sections)


def test_every_observation_is_in_exactly_one_section(document: dict[str, Any]) -> None:
    listed = [
        entry["reference"]
        for node in nodes(document["entry"][0]["resource"]["section"])
        for entry in node.get("entry", [])
    ]
    assert sorted(listed) == sorted(f"urn:uuid:{one['id']}" for one in resources(document, "Observation"))


def test_codes_of_required_bindings(document: dict[str, Any]) -> None:
    for node in nodes(document):
        for (kind, key), allowed in _REQUIRED.items():
            if node.get("resourceType") == kind and key in node:
                assert node[key] in allowed


def test_narratives_are_well_formed_xhtml_with_text_in_them(document: dict[str, Any]) -> None:
    """txt-1 and txt-2: only simple XHTML, with some text."""
    divs = [node["div"] for node in nodes(document) if "div" in node]
    for div in divs:
        root = ET.fromstring(div)
        assert {element.tag.rpartition("}")[2] for element in root.iter()} <= {"div", "p"}
        assert "".join(root.itertext()).strip()


def test_units_are_ucum() -> None:
    """Source: UCUM 2.1 (ucum-essence.xml): deg is the degree of plane angle, s the second, m the metre with the
    prefixes c and m, and 1 the unity; FHIR R4B, Using UCUM, says where they are written."""
    published = {"deg", "s", "cm", "mm", "1"}
    assert {code for _, code in UNITS.values()} == published


# -- what a reader of plain FHIR sees --------------------------------------------------------------------------------


def plain_reading(observation: dict[str, Any]) -> tuple[str, str | None, str | None]:
    """Return finding, side and status by FHIR's own elements alone, as someone else's program would."""
    extension = observation["bodySite"].get("extension", [])
    sides = [
        one["valueCodeableConcept"]["text"]
        for one in extension
        if one["url"] == "http://hl7.org/fhir/StructureDefinition/observation-structureLaterality"
    ]
    status = [
        one["valueCodeableConcept"]["text"]
        for one in observation.get("component", [])
        if one["code"]["text"] == "status"
    ]
    value = observation.get("valueCodeableConcept", {}).get("text")
    reason = observation.get("dataAbsentReason", {}).get("text")
    known = status or [value or reason]
    return observation["code"]["text"], sides[0] if sides else None, known[0]


@pytest.mark.parametrize("name", NAMES)
def test_side_and_status_are_told_in_plain_fhir(name: str) -> None:
    note = fixture_note(name)
    read = [plain_reading(one) for one in resources(bundle_of(note), "Observation")]
    for (label, side, status), said in zip(read, note.findings, strict=True):
        assert (label, side) == (said.finding, said.side)
        if said.status:
            assert status == said.status.replace("_", " ")


def test_no_effusion_is_the_value_absent() -> None:
    observation = one_observation(finding("effusion", side="left", status="absent"))
    assert observation["valueCodeableConcept"]["text"] == "absent"
    assert "dataAbsentReason" not in observation


def test_no_pain_up_to_an_angle_is_an_absence_not_an_angle() -> None:
    observation = one_observation(finding("pain", side="left", status="absent", degrees=130))
    assert observation["valueCodeableConcept"]["text"] == "absent"
    assert "valueQuantity" not in observation


def test_not_examined_is_a_reason_not_a_value() -> None:
    observation = one_observation(finding("pivot shift", side="right", status="not_examined"))
    assert observation["dataAbsentReason"]["coding"][0]["code"] == "not-performed"


def test_the_side_is_spelled_out_where_people_read() -> None:
    observation = one_observation(finding(side="left", structure="medial joint line", status="present"))
    assert observation["bodySite"]["text"] == "left medial joint line"


@pytest.mark.parametrize("section", ["active_motion", "passive_motion", "resisted_motion"])
def test_active_passive_and_resisted_motion_are_told_apart_without_the_document(section: str) -> None:
    observation = one_observation(finding("flexion", section=section, side="left"))
    assert observation["method"]["text"] == section.replace("_", " ")
    assert observation["category"][1]["coding"][0]["code"] == section


def test_an_angle_is_a_quantity_in_degrees() -> None:
    observation = one_observation(finding("extension", section="active_motion", side="left", degrees=-10))
    assert observation["valueQuantity"] == {
        "value": -10, "unit": "°", "system": "http://unitsofmeasure.org", "code": "deg",
    }  # fmt: skip


def test_less_than_stays_less_than() -> None:
    measure = {"value": 2, "unit": "s", "comparator": "<"}
    observation = one_observation(finding("capillary refill", section="vascular", side="left", measure=measure))
    assert observation["valueQuantity"]["comparator"] == "<"


def test_a_positive_test_is_interpreted_as_hl7_codes_it() -> None:
    """Source: HL7 Terminology, ObservationInterpretation: POS, a presence finding of the clinical sign."""
    observation = one_observation(finding("lachman test", side="left", status="positive", section="special_tests"))
    assert observation["interpretation"][0]["coding"][0]["code"] == "POS"


def test_reduced_claims_no_reference_range() -> None:
    observation = one_observation(finding("flexion", side="left", status="reduced", section="active_motion"))
    assert "interpretation" not in observation


def test_a_doubt_is_tagged_and_said_in_a_note() -> None:
    doubts = [{"reason": "out_of_range", "detail": "1350 is no angle", "suggestion": "135"}]
    observation = one_observation(finding("flexion", side="left", degrees=1350, doubts=doubts))
    assert observation["meta"]["tag"][0]["code"] == "out_of_range"
    assert "Perhaps: 135" in observation["note"][0]["text"]


# -- who signed ------------------------------------------------------------------------------------------------------


def test_a_draft_is_preliminary_throughout() -> None:
    document = bundle_of(fixture_note("mcl_football_slips"), DRAFT)
    states = {one["status"] for kind in ("Composition", "Observation") for one in resources(document, kind)}
    assert states == {"preliminary"}
    assert not resources(document, "Provenance")


def test_a_signed_note_says_who_when_and_what() -> None:
    document = bundle_of(fixture_note("mcl_football_slips"), SIGNED)
    (provenance,) = resources(document, "Provenance")
    assert provenance["recorded"] == "2026-11-25T09:15:00+00:00"
    assert provenance["agent"][0]["role"][0]["text"] == "physiotherapist"
    assert provenance["entity"][0]["what"]["identifier"]["value"] == "0f" * 32


def test_an_addendum_amends() -> None:
    composition = bundle_of(fixture_note("mcl_football_slips"), AMENDED)["entry"][0]["resource"]
    assert composition["status"] == "amended"
    assert "130" in composition["section"][-1]["text"]["div"]


def test_the_patient_has_a_pseudonym_and_no_name() -> None:
    (patient,) = resources(bundle_of(fixture_note("mcl_football_slips"), SIGNED), "Patient")
    assert patient["identifier"][0]["value"] == "P-17"
    assert not {"name", "birthDate", "address", "telecom"} & patient.keys()


def test_the_same_exam_at_the_same_time_is_the_same_document() -> None:
    note = fixture_note("mcl_football_slips")
    assert fhir_json(note, SIGNED) == fhir_json(note, SIGNED)


# -- the clinic's codes ----------------------------------------------------------------------------------------------

CODES = Codes(
    {("finding", "effusion"): (CodeEntry(
        kind="finding", label="effusion", system="https://codes.example.org/exam", code="EX-101", display="Effusion",
    ),)}
)  # fmt: skip


def test_codes_of_the_clinic_stand_beside_the_label() -> None:
    observation = observation_of(finding("effusion", status="absent"), 0, codes=CODES)
    assert observation["code"] == {
        "coding": [{"system": "https://codes.example.org/exam", "code": "EX-101", "display": "Effusion"}],
        "text": "effusion",
    }


def test_without_a_file_only_open_systems_are_used() -> None:
    allowed = (
        "urn:dictate:", "urn:ietf:", "http://terminology.hl7.org/", "http://unitsofmeasure.org", "http://loinc.org",
    )  # fmt: skip
    systems = {node["system"] for document in all_documents() for node in nodes(document) if "system" in node}
    assert systems and all(system.startswith(allowed) for system in systems)


def test_the_only_loinc_code_is_the_one_that_was_confirmed() -> None:
    """Source: HL7 C-CDA R2.1, Physical Exam Section: code 29545-1, Physical findings (CONF:1198-15398)."""
    codes = {node["code"] for document in all_documents() for node in nodes(document)
             if node.get("system") == "http://loinc.org"}  # fmt: skip
    assert codes == {"29545-1"}


# -- and back --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_fixture_comes_back_the_same(name: str) -> None:
    note = fixture_note(name)
    assert note_from_fhir(json.loads(fhir_json(note, SIGNED))) == note


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(note=notes)
def test_any_note_comes_back_the_same(note: Note) -> None:
    back = note_from_fhir(json.loads(fhir_json(note, SIGNED)))
    assert back == note
    assert back.to_json() == note.to_json()


def test_nasty_text_comes_back_the_same() -> None:
    assert note_from_fhir(json.loads(fhir_json(nasty_note(), NASTY_HANDOVER))) == nasty_note()


def test_a_document_with_the_clinics_codes_comes_back_without_their_file() -> None:
    note = fixture_note("mcl_football_slips")
    assert note_from_fhir(json.loads(fhir_json(note, SIGNED, codes=CODES))) == note


def _changed(path: str, value: Any) -> dict[str, Any]:
    """Return the document of "no effusion on the left" after someone changed one thing in its Observation."""
    note = note_with(finding("effusion", side="left", status="absent"))
    document: dict[str, Any] = json.loads(fhir_json(note, DRAFT))
    (observation,) = resources(document, "Observation")
    *parents, last = path.split(".")
    for step in parents:
        observation = observation[int(step)] if step.isdigit() else observation[step]
    observation[last] = value
    return document


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("bodySite.text", "right knee"),
        ("valueCodeableConcept.text", "present"),
        ("valueCodeableConcept.coding.0.code", "present"),
        ("code.text", "swelling"),
        ("category.1.coding.0.code", "inspection"),
        ("component.0.valueCodeableConcept.coding.0.code", "right"),
        ("bodySite.extension.0.valueCodeableConcept.coding.0.code", "right"),
    ],
)
def test_a_document_that_was_changed_on_its_way_is_refused(path: str, value: str) -> None:
    with pytest.raises(ImportRefused, match="was changed"):
        note_from_fhir(_changed(path, value))


def test_a_document_that_lost_a_finding_is_refused() -> None:
    document = json.loads(fhir_json(fixture_note("mcl_football_slips"), DRAFT))
    del document["entry"][5]
    with pytest.raises(ImportRefused, match="39 Observations of 40 findings"):
        note_from_fhir(document)


def test_someone_elses_bundle_is_refused() -> None:
    with pytest.raises(ImportRefused, match="not written by"):
        note_from_fhir({"resourceType": "Bundle", "type": "collection"})


def test_what_is_no_bundle_is_refused() -> None:
    with pytest.raises(ImportRefused, match="no valid FHIR"):
        note_from_fhir({"resourceType": "Patient"})


@pytest.mark.parametrize("damage", ["{}", "null", "[", '{"findings": "x"}', "[1]"])
def test_a_damaged_extension_is_refused(damage: str) -> None:
    document = json.loads(fhir_json(note_with(finding()), DRAFT))
    document["entry"][0]["resource"]["extension"][0]["valueString"] = damage
    with pytest.raises(ImportRefused):
        note_from_fhir(document)
