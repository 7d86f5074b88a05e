"""A movement that is asked of the patient is what the numbers after it are of; the request itself states nothing."""

from __future__ import annotations

import pytest

from tests.support.brief import said


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
