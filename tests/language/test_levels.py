"""Spinal levels: lists of them, a level and its grade, and the thing under which a level stands."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Thoracic spine. Spinous processes, T three non-tender, T four and five tender, T eight not.",
            ["T3 absent", "T4 present", "T5 present", "T8 absent"],
        ),
        ("Neck. C four spinous process tender, C five and C three not.", ["C4 present", "C5 absent", "C3 absent"]),
        ("Low back. L two spinous process sore, L one also, L three isn't.", ["L2 present", "L1 present", "L3 absent"]),
        ("Low back. Spinous processes: L three tender, L one fine.", ["L3 present", "L1 absent"]),
        ("Low back. Spinous processes: L one to L two fine.", ["L1 absent", "L2 absent"]),
        ("Low back. Spinous processes tender at L two, not at L one.", ["L2 present", "L1 absent"]),
    ],
)
def test_a_level_stands_under_the_spinous_processes(text: str, found: list[str]) -> None:
    lines = [line.replace("spinous process tenderness ", "").removeprefix("midline ") for line in said(text)]
    assert lines == found
    assert not any(doubts(text))


def test_a_level_with_a_side_is_no_spinous_process() -> None:
    text = "Low back. Spinous processes non-tender. Tender at L2 on the left."
    assert said(text) == ["midline spinous processes tenderness absent", "left L2 tenderness present"]


def test_a_facet_joint_by_its_two_levels() -> None:
    text = "Neck. On the left the facet joint at C four five is tender."
    assert said(text) == ["left C4/5 facet joint tenderness present"]


def test_the_letter_of_a_list_is_said_once() -> None:
    assert said("Neck. Right arm, light touch normal at C five, six and eight.") == [
        "right C5 dermatome light touch normal",
        "right C6 dermatome light touch normal",
        "right C8 dermatome light touch normal",
    ]


def test_a_number_behind_a_level_is_its_grade_unless_the_two_are_neighbours() -> None:
    text = "Neck. Myotomes on the right. C five five, C six four, C seven five."
    assert [line.split()[-1] for line in said(text)] == ["5", "4", "5"]
    assert [line.split()[1] for line in said(text)] == ["C5", "C6", "C7"]


def test_one_number_behind_a_comma_makes_no_list() -> None:
    text = "Low back. Myotomes. L two, five both sides, L three, four on the left."
    assert not any("L4" in line or "L5" in line for line in said(text))


def test_a_side_said_before_one_place_is_not_that_of_the_midline() -> None:
    text = "Low back. Tender at the L four spinous process and the right SI joint."
    assert said(text) == [
        "midline L4 spinous process tenderness present",
        "right sacroiliac joint tenderness present",
    ]


def test_letters_of_light_touch_before_a_level_are_no_side() -> None:
    assert said("Neck. LT C6 reduced R, normal L.") == [
        "right C6 dermatome light touch reduced",
        "left C6 dermatome light touch normal",
    ]
    assert said("Lt knee. Flexion one thirty.") == ["left flexion 130"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Neck. Light touch on the right, C six down, C seven fine.", ["reduced", "normal"]),
        ("Low back. Left ankle jerk down.", ["reduced"]),
        ("Low back. Plantars down on both sides.", ["negative"]),
        ("Low back. Babinski up on the left, down on the right.", ["positive", "negative"]),
        ("Low back. Sensation down the left leg normal.", ["normal"]),
    ],
)
def test_up_and_down_of_what_can_be_so(text: str, found: list[str]) -> None:
    assert [line.split()[-1] for line in said(text)] == found
