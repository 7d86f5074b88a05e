"""A value that was said and that no finding took leaves a question: a doubt beside it, or a prompt."""

from __future__ import annotations

import pytest

from dictate import interpret
from dictate.contract import Prompt
from tests.support.brief import doubts, said


def asked(text: str) -> list[Prompt]:
    return [prompt for prompt in interpret(text).prompts if prompt.text.startswith("Heard")]


def test_a_number_that_belongs_to_nothing_is_asked_about() -> None:
    (prompt,) = asked("Right shoulder.\nDeltoid tender.\nLeft gets to 140.")
    assert "Left gets to 140" in prompt.text
    assert prompt.kind == "plausibility"


def test_the_question_points_at_the_finding_said_before_it() -> None:
    (prompt,) = asked("Right shoulder. Deltoid non-tender. Coracoid tender. Left gets to 140 degrees.")
    assert prompt.findings == [1]


def test_neighbouring_words_are_one_question() -> None:
    (prompt,) = asked("Shoulders today.\nRight goes to 175, left gets to 140.")
    assert "175" in prompt.text
    assert "140" in prompt.text


@pytest.mark.parametrize(
    "text",
    [
        "Normal flexion is about one thirty-five.",
        "Right knee. Flexion one thirty, extension zero.",
        "Thigh girth forty-six at ten above the patella.",
        "I'll see you again in six weeks.",
        "There were two of them in the room.",
    ],
)
def test_what_is_understood_or_is_no_value_is_not_asked_about(text: str) -> None:
    assert asked(text) == []


def test_a_number_left_over_beside_a_finding_makes_it_doubtful() -> None:
    text = "Right knee. At thirty degrees it's painful."
    assert said(text) == ["right pain present"]
    assert doubts(text) == [["incomplete"]]


def test_a_position_that_the_finding_has_is_no_doubt() -> None:
    assert doubts("Right knee. Valgus stress at thirty stable.") == [[]]


def test_a_lost_value_is_asked_about_without_any_finding() -> None:
    assert len(asked("Right one twenty, left one thirty.")) == 1


def test_a_value_of_something_unknown_is_doubted_where_it_is_taken_for_what_was_named_before() -> None:
    text = "Right hand. Index finger pulp tender.\nFrobnicators intact."
    assert doubts(text)[1:] == [["incomplete", "conflicts"]]


def test_the_result_of_a_test_is_no_result_of_a_place() -> None:
    text = "Right hand. FDP and FDS tender.\nExtensors."
    assert len(said(text)) == 2


def test_a_number_is_not_given_to_the_other_side_of_the_same_movement() -> None:
    text = "Left hip. Flexion one ten, one twenty-five on the right."
    assert said(text) == ["left flexion 110", "right flexion 125"]


def test_a_value_of_one_movement_is_not_one_of_all() -> None:
    text = "Lumbar spine. Extension half, side bending full right, half on the left."
    assert said(text) == ["extension reduced", "right lateral flexion normal", "left lateral flexion reduced"]


def test_what_is_judged_takes_no_further_place() -> None:
    assert said("Standing, iliac crests level, PSIS a shade lower on the left.") == ["pelvic alignment normal"]


def test_a_test_graded_one_way_and_denied_another_is_doubted() -> None:
    text = "Right shoulder. Load and shift grade one anteriorly, none posteriorly."
    assert said(text) == ["right load and shift test laxity 1"]
    assert doubts(text) == [["incomplete"]]


def test_a_grade_out_of_five_of_a_test_without_a_scale_is_doubted() -> None:
    assert doubts("Right SI joint. Active straight leg raise two out of five on the right.") == [["incomplete"]]


def test_a_copy_has_the_doubts_of_its_value() -> None:
    text = "Right knee. Flexion two hundred on the right. Same on the left."
    assert [("out_of_range" in reasons) for reasons in doubts(text)] == [True, True]


def test_a_test_that_could_not_be_reached_is_not_examined() -> None:
    assert said("Right shoulder. Lift off she can't get there.") == ["right lift-off test not_examined"]


def test_like_names_of_two_regions_are_not_merged() -> None:
    text = "Right shoulder. Resisted flexion five, elbow flexion strong."
    assert said(text) == ["right flexion strength MRC 5", "right flexion strength normal"]


def test_each_screened_joint_has_its_own_side() -> None:
    text = "Right elbow. Neck and right shoulder screened, full and pain free."
    assert said(text) == ["range of motion normal", "right range of motion normal"]


def test_where_a_joint_is_fixed_is_asked_about() -> None:
    (prompt,) = asked("Right hand.\nPIP fixed at twenty.")
    assert "PIP fixed at twenty" in prompt.text


def test_a_number_of_exercises_is_no_angle_of_the_test_before() -> None:
    assert said("Left hip.\nFABER negative.\nTen every two hours.") == ["left faber test negative"]


def test_strength_is_no_value_of_a_sign_or_a_joint_line() -> None:
    assert said("Right knee.\nMedial joint line tender.\nBacks are strong.") == [
        "right medial joint line tenderness present"
    ]


def test_a_pain_that_comes_along_takes_no_number_with_it() -> None:
    text = "Neck. Rotation left sixty right forty and it hurts at the end."
    assert said(text) == ["left rotation 60", "right rotation 40 with pain"]


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("The tibial tubercle is blorpy tender.", ["incomplete"]),
        ("The tibial tubercle is tender.", []),
        ("The tibial tubercle is already tender.", []),  # words that change nothing
        ("He plays the bassoon. The tibial tubercle is tender.", []),  # not of the same statement
    ],
)
def test_a_word_that_nobody_knows_beside_a_finding_is_a_reason_to_look_again(text: str, due: list[str]) -> None:
    assert doubts(f"Right knee. {text}")[-1] == due
