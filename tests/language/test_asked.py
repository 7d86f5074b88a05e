"""A movement that is asked of the patient is what the numbers after it are of; the request itself states nothing."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said


def test_numbers_after_a_request_are_of_its_movement() -> None:
    text = "Shoulders today.\nLift your arms out to the front. Right goes to 175, left gets to 140."
    assert said(text) == ["right flexion 175", "left flexion 140"]


def test_a_passive_number_stays_with_the_movement() -> None:
    text = "Right shoulder.\nArms out to the side. One twenty.\nPassively I can get it up to one sixty."
    assert said(text) == ["right abduction 120", "right abduction 160"]


@pytest.mark.parametrize(
    "text", ["Arms out to the side and all the way up, beautiful.", "Chin to your chest, good.", "Bend forward for me."]
)
def test_a_request_alone_states_nothing(text: str) -> None:
    assert said(text) == []


def test_a_level_alone_is_how_far_the_other_hand_reaches() -> None:
    text = "Shoulders. Hand up the back reaches T6 on the right and L3 on the left."
    assert said(text) == ["right T6 internal rotation", "left L3 internal rotation"]


def test_a_gloss_is_no_place_of_its_own() -> None:
    text = "Left wrist. Tender in the snuffbox, that's the hollow at the base of the thumb."
    assert said(text) == ["left anatomical snuffbox tenderness present"]


def test_where_a_structure_is_felt_is_no_second_place() -> None:
    assert said("Right foot. Tender over the plantar fascia at the heel.") == [
        "right plantar fascia tenderness present"
    ]


def test_it_that_is_hot_is_the_joint() -> None:
    text = "Left knee. Swelling in the suprapatellar pouch. It's not hot."
    assert said(text)[1] == "left warmth absent"


def test_each_way_of_asking_names_the_movement_that_is_judged() -> None:
    text = "Neck. Bringing your chin to your chest is full, tipping your head back is limited."
    assert said(text) == ["flexion normal", "extension reduced"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("You go up in front to a hundred and fifty degrees.", ["right flexion 150"]),
        ("Up in front. One twenty, then the stiffness holds you.", ["right flexion 120 limited by stiffness"]),
        ("Out to the side I make it ninety-five.", ["right abduction 95"]),
        ("Turning outwards with the elbow tucked in, you have twenty degrees.", ["right external rotation 20"]),
        ("Behind your back your thumb reaches L3.", ["right L3 internal rotation"]),
        ("Hand behind the back just makes the buttock.", ["right buttock internal rotation"]),
        ("Arm out to the side, please, and up in front.", []),
    ],
)
def test_movements_in_lay_words(text: str, expected: list[str]) -> None:
    assert said(f"Right shoulder.\n{text}") == expected


def test_a_number_that_is_short_is_what_is_lacking() -> None:
    assert said("Right elbow. Straighten. Short ten.") == ["right extension -10"]
    assert doubts("Right elbow. Flexion ten short.") == [["incomplete"]]


def test_a_small_joint_keeps_its_finger_and_its_other_movement() -> None:
    assert said("Left hand. Middle PIP flexion ninety; its extension lacks ten. Wrist flexion sixty.") == [
        "left middle finger proximal interphalangeal flexion 90",
        "left middle finger proximal interphalangeal extension -10",
        "left flexion 60",
    ]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right knee. Bend it up. One twenty. And straighten. Two short.", ["right flexion 120", "right extension -2"]),
        ("Right elbow. Bend it up. One forty.", ["right flexion 140"]),
        ("Right knee. Bend it up to ninety for me. No effusion.", ["right effusion absent"]),
        ("Left shoulder. You go up in front to one seventy.", ["left flexion 170"]),
    ],
)
def test_what_is_asked_is_of_the_joint_examined_and_an_angle_to_go_to_is_no_value(text: str, found: list[str]) -> None:
    assert said(text) == found


def test_an_everyday_word_names_nothing_of_another_region() -> None:
    assert said("Right knee. Flexion one twenty and it pinches at the end.") == ["right flexion 120"]
    assert said("Right hand. Pinch five.") == ["right pinch strength MRC 5"]


def test_what_a_verb_says_is_no_value_of_what_a_pause_parts_from_it() -> None:
    text = "Right knee. Swelling of the patella on the right, left's clean, quads look the same both sides."
    assert not [line for line in said(text) if "quadriceps" in line]
