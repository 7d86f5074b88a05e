"""Spinal levels of muscles, skin points and reflexes against the published lists."""

from __future__ import annotations

import pytest

from dictate.lexicon.load import load_lexicon
from dictate.lexicon.reference_model import Level, LevelsFile
from tests.support.brief import doubts


@pytest.fixture(scope="module")
def levels() -> LevelsFile:
    return LevelsFile.model_validate(load_lexicon().reference["levels"])


def level(levels: LevelsFile, name: str) -> Level:
    return next(entry for entry in levels.level if entry.name == name)


# International Standards for Neurological Classification of Spinal Cord Injury, American Spinal Injury Association, key
# muscle functions (from memory; the same movements by level in the myotome list of standardofcare.com, read).
KEY_MUSCLES = {
    "C5": "elbow flexors",
    "C6": "wrist extensors",
    "C7": "elbow extensors",
    "C8": "finger flexors",
    "T1": "finger abductor",
    "L2": "hip flexors",
    "L3": "knee extensors",
    "L4": "ankle dorsiflexors",
    "L5": "long toe extensor",
    "S1": "plantar flexors",
}
# The same standards, key sensory points (from memory).
KEY_POINTS = {
    "C4": "acromioclavicular joint",
    "C5": "antecubital fossa",
    "C6": "thumb",
    "C7": "middle finger",
    "C8": "little finger",
    "T1": "antecubital fossa",
    "T4": "fourth intercostal space",
    "T10": "umbilicus",
    "L3": "medial femoral condyle",
    "L4": "medial malleolus",
    "L5": "third metatarsophalangeal joint",
    "S1": "lateral heel",
    "S2": "popliteal fossa",
}
# Roots of the tendon reflexes that every list agrees on: Walker HK, Clinical Methods 1990, chapter 72 (from memory).
REFLEXES = {
    "biceps reflex": {"C5", "C6"},
    "brachioradialis reflex": {"C6"},
    "triceps reflex": {"C7"},
    "patellar reflex": {"L3", "L4"},
    "achilles reflex": {"S1"},
}


@pytest.mark.parametrize(("name", "muscle"), KEY_MUSCLES.items())
def test_key_muscles(levels: LevelsFile, name: str, muscle: str) -> None:
    assert muscle in (level(levels, name).key_muscle or "")


@pytest.mark.parametrize(("name", "point"), KEY_POINTS.items())
def test_key_points(levels: LevelsFile, name: str, point: str) -> None:
    assert point in (level(levels, name).key_point or "")


def test_no_other_level_has_a_key_muscle(levels: LevelsFile) -> None:
    """The same standards: ten key muscles a side, none of them above C5 or between T1 and L2."""
    assert {entry.name for entry in levels.level if entry.key_muscle} == set(KEY_MUSCLES)


@pytest.mark.parametrize(("label", "roots"), REFLEXES.items())
def test_reflex_roots(label: str, roots: set[str]) -> None:
    terms = [term for term in load_lexicon().terms if term.kind == "reflex" and term.label == label]
    assert terms
    assert all(roots <= set(term.levels) for term in terms)


@pytest.mark.parametrize(
    ("text", "doubted"),
    [
        ("The L4 patellar reflex is two plus.", False),
        ("The S1 ankle jerk is two plus.", False),
        ("The S1 patellar reflex is two plus.", True),
        ("The L2 ankle jerk is two plus.", True),
        ("Light touch intact at L4 over the medial malleolus.", False),
        ("The C5 patellar reflex is two plus.", True),
    ],
)
def test_a_level_that_no_list_gives_is_doubted(text: str, doubted: bool) -> None:
    reasons = {reason for reasons in doubts(f"Right knee.\n{text}") for reason in reasons}
    assert ("level_mismatch" in reasons) == doubted
