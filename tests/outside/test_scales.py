"""Grading scales against their published wording."""

from __future__ import annotations

import pytest

from dictate.lexicon.load import load_lexicon
from dictate.lexicon.reference_model import Scale, ScalesFile
from tests.support.brief import doubts, said


@pytest.fixture(scope="module")
def scales() -> ScalesFile:
    return ScalesFile.model_validate(load_lexicon().reference["scales"])


def named(scales: ScalesFile, name: str) -> Scale:
    scale = scales.named(name)
    assert scale is not None, name
    return scale


# Medical Research Council, Aids to the investigation of peripheral nerve injuries, Memorandum 45, 1976, pages 6 and 7,
# as tabled in World J Orthop 2017;8:21, table 10 (read).
MRC = {
    "0": "no contraction",
    "1": "flicker or trace",
    "2": "gravity eliminated",
    "3": "against gravity",
    "4": "against gravity and",
    "5": "normal power",
}


@pytest.mark.parametrize(("value", "wording"), MRC.items())
def test_strength_grades_of_the_medical_research_council(scales: ScalesFile, value: str, wording: str) -> None:
    entry = named(scales, "MRC").value(value)
    assert entry is not None
    assert wording in entry.meaning


def test_only_five_is_normal_strength(scales: ScalesFile) -> None:
    """Memorandum 45, as above: every grade below 5 is less than normal power."""
    statuses = {entry.value: entry.status for entry in named(scales, "MRC").values}
    assert [value for value, status in statuses.items() if status == "normal"] == ["5"]
    assert statuses["0"] == "absent"
    assert "6" not in statuses


# Tendon reflexes, common clinical scale: Walker HK, Deep tendon reflexes, in Clinical Methods, 3rd edition, 1990,
# chapter 72 (from memory): 0 absent, 1+ hypoactive, 2+ normal, 3+ hyperactive without and 4+ with clonus.
def test_reflex_grades(scales: ScalesFile) -> None:
    reflex = named(scales, "reflex")
    entries = {value: reflex.value(value) for value in ("0", "1+", "2+", "3+", "4+")}
    assert all(entries.values())
    meanings = {value: entry.meaning for value, entry in entries.items() if entry}
    assert [value for value, entry in entries.items() if entry and entry.status == "normal"] == ["2+"]
    assert "diminished" in meanings["1+"]
    assert "brisk" in meanings["3+"]
    assert "clonus" in meanings["4+"]
    assert "clonus" not in meanings["3+"]


# Bohannon & Smith 1987 Phys Ther 67:206 (from memory): six grades, 1+ between 1 and 2.
def test_modified_ashworth_grades(scales: ScalesFile) -> None:
    assert [entry.value for entry in named(scales, "spasticity").values] == ["0", "1", "1+", "2", "3", "4"]


# International Standards for Neurological Classification of Spinal Cord Injury, 2011 revision (from memory).
def test_sensation_grades(scales: ScalesFile) -> None:
    assert [entry.value for entry in named(scales, "sensation").values] == ["0", "1", "2", "NT"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Quads four plus out of five.", "right quadriceps strength MRC 4+"),
        ("Hamstrings five over five.", "right hamstrings strength MRC 5"),
        ("Knee jerk two plus.", "right patellar reflex reflex reflex 2+"),
    ],
)
def test_what_is_said_lands_on_its_scale(text: str, found: str) -> None:
    assert said(f"Right knee.\n{text}") == [found]


@pytest.mark.parametrize("text", ["Quads six out of five.", "Quads nine out of five."])
def test_a_grade_that_its_scale_does_not_have_is_doubted(text: str) -> None:
    """Memorandum 45, as above: the scale ends at 5."""
    assert {"out_of_range", "incomplete"} & {reason for reasons in doubts(f"Right knee.\n{text}") for reason in reasons}
