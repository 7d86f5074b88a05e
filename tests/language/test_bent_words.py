"""Values, numbers, levels and small words that a recogniser bends are read for what they were, and doubted."""

from __future__ import annotations

import pytest

from dictate.recognise.events import Hypothesis, Utterance, Word
from tests.support.reading import findings, reader


def reasons(finding):
    return {doubt.reason for doubt in finding.doubts}


@pytest.mark.parametrize(
    ("said", "field", "value"),
    [
        ("Right knee, valgus stress table at thirty.", "status", "negative"),
        ("Right knee, flexion fold.", "status", "normal"),
        ("Right ankle, deltoid ligament find.", "status", "absent"),
    ],
)
def test_an_everyday_word_in_the_place_of_a_value_is_the_value_that_it_sounds_like(said, field, value):
    (finding,) = findings(said)
    assert getattr(finding, field) == value
    assert "sounds_like" in reasons(finding)


@pytest.mark.parametrize(
    "said",
    ["Right knee, flexion.", "We put the knee on the table.", "Look for the deltoid ligament to find the joint."],
)
def test_the_same_words_elsewhere_are_no_values(said):
    assert findings(said) == []


@pytest.mark.parametrize(
    ("said", "grade"),
    [
        ("Right knee, quads for on the right.", "4"),
        ("Right knee, posterior drawer great two.", "2"),
        ("Right arm, triceps reflex two, plus on the right.", "2+"),
    ],
)
def test_a_bent_grade(said, grade):
    (finding,) = findings(said)
    assert finding.grade is not None
    assert finding.grade.value == grade


def test_a_number_that_is_no_word_is_doubted():
    (finding,) = findings("Right elbow, pronation ati five.")
    assert finding.degrees == 85
    assert "sounds_like" in reasons(finding)


def test_levels_in_one_run():
    found = findings("Light touch intact l22s1 on the right.")
    assert [finding.structure for finding in found] == [
        f"{level} dermatome" for level in ("L2", "L3", "L4", "L5", "S1")
    ]


def test_a_level_and_its_grade_in_one_run_and_no_guess_where_it_may_be_a_segment():
    found = findings("Myotomes on the left, l35, l45, l54 plus.")
    assert [(f.structure, f.grade and f.grade.value) for f in found] == [("L3 myotome", "5"), ("L5 myotome", "4+")]


def test_a_comma_in_the_middle_of_a_name_does_not_cut_it():
    (finding,) = findings("Right knee, posterior, drawer negative.")
    assert finding.finding == "posterior drawer"


def test_a_comma_between_two_numbers_stays():
    assert {finding.finding for finding in findings("Left knee, flexion, um, ninety, ninety-five.")} == {"flexion"}


@pytest.mark.parametrize(
    "said", ["resist any extension on the right is four out of five", "resist the extension, five"]
)
def test_resist_with_a_grade_is_resisted(said):
    (finding,) = findings(f"Right knee. {said}.")
    assert (finding.structure, finding.finding) == ("extension", "strength")


def test_resist_without_a_value_is_an_instruction():
    assert findings("Right knee. Now resist the extension.") == []


def test_no_before_a_strange_word_denies_that_word_only():
    (finding,) = findings("Right knee. Trace of effusion, no wortle.")
    assert finding.status == "present"


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ("The tibial tubercle is sore at all.", "present"),
        ("I can't feel a small effusion.", "absent"),
    ],
)
def test_words_of_the_other_polarity_are_a_question(said, status):
    (finding,) = findings(f"Left knee. {said}")
    assert finding.status == status  # never turned round
    assert "incomplete" in reasons(finding)


@pytest.mark.parametrize("said", ["The tibial tubercle is not sore at all.", "I can't feel an effusion."])
def test_denials_as_they_are_said_are_no_question(said):
    (finding,) = findings(f"Left knee. {said}")
    assert finding.status == "absent"
    assert not reasons(finding)


def test_a_word_like_a_number_is_the_number_that_another_reading_has():
    said = ["Left", "hamstrings", "is", "fore", "with", "pain."]
    words = tuple(Word(text=word, start_s=0.0, end_s=1.0, confidence=0.9) for word in said)
    other = Hypothesis(text="Left hamstrings is 4 with pain.", score=-0.2, favoured=True)
    state = reader().step(reader().open(region="knee"), Utterance(words=words, alternatives=(other,)))
    (finding,) = state.findings()
    assert finding.grade is not None
    assert finding.grade.value == "4"
    assert "sounds_like" in reasons(finding)


@pytest.mark.parametrize("strange", ["blorpy tender", "nutendular"])
def test_a_strange_word_is_no_guess_at_a_denial(strange):
    found = findings(f"Left foot. The calcaneus is {strange}.")
    assert all(finding.status != "absent" for finding in found)


def test_a_name_is_not_made_of_words_that_somebody_owns():
    found = findings("Left hip. She was on her side, flexion five.")
    assert [finding.structure for finding in found] == ["flexion"]
