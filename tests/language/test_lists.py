"""Values that follow the order of what was said before: a list of movements, or the two sides."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said


def test_numbers_alone_follow_the_movements_named_before() -> None:
    right = "Right hip.\nFlexion ninety, extension zero, abduction twenty.\nInternal rotation five."
    assert said(f"{right}\nLeft one ten ten forty.")[-3:] == [
        "left flexion 110",
        "left extension 10",
        "left abduction 40",
    ]


def test_the_plural_names_both_of_a_pair() -> None:
    assert said("Right hip. Rotations thirty and forty-five.") == [
        "right internal rotation 30",
        "right external rotation 45",
    ]


def test_the_singular_does_not_say_which_of_a_pair() -> None:
    assert said("Right hip. Rotation limited.") == ["right rotation reduced"]


def test_a_number_with_the_other_side_is_of_what_was_just_measured() -> None:
    text = "Single-leg stand on the right eight seconds, on the left twenty-two."
    assert said(text) == ["right single-leg stand 8 s", "left single-leg stand 22 s"]


def test_two_grades_follow_the_order_of_the_sides_and_are_doubted() -> None:
    text = "Quads four minus on the right, five on the left.\nHamstrings four and five."
    assert said(text)[2:] == ["right hamstrings strength MRC 4", "left hamstrings strength MRC 5"]
    assert doubts(text)[2:] == [["side_assumed"], ["side_assumed"]]


def test_the_same_of_another_place() -> None:
    text = "Left knee. Medial joint line tender and so is the iliotibial band."
    assert said(text) == ["left medial joint line tenderness present", "left iliotibial band tenderness present"]


def test_the_same_of_another_muscle_on_both_sides() -> None:
    text = "Quads four on the right, five on the left.\nHamstrings the same."
    assert said(text)[2:] == ["right hamstrings strength MRC 4", "left hamstrings strength MRC 5"]


def test_as_well_beside_a_sign_copies_nothing() -> None:
    text = "Right knee. Patellar tendon non-tender. Tender over the fat pad as well."
    assert said(text)[1:] == ["right infrapatellar fat pad tenderness present"]


def test_each_no_opens_its_own_statement() -> None:
    text = "Right shoulder. There is no squaring and no deltoid wasting."
    assert said(text) == ["right squared shoulder absent", "right deltoid wasting absent"]


def test_a_noun_with_an_amount_is_not_denied_with_the_list_before_it() -> None:
    text = "Right shoulder. No wasting of deltoid or infraspinatus, and slight winging of the scapula."
    assert said(text)[-1] == "right scapular winging present mild"


def test_a_sign_with_an_amount_is_not_at_the_place_of_the_sign_before() -> None:
    text = "Right ankle. There was bruising over the Achilles tendon and moderate swelling."
    assert said(text) == ["right achilles tendon bruising present", "right swelling present moderate"]


def test_a_limit_said_of_one_movement_of_a_range_is_only_its_own() -> None:
    text = "Left knee. Passive motion zero to one hundred limited by guarding on the flexion."
    assert said(text) == ["left extension 0", "left flexion 100 limited by guarding"]


def test_the_first_two_of_a_list() -> None:
    text = "Left shoulder. Neer, Hawkins and Yergason positive. On the right the first two are negative."
    assert said(text)[3:] == ["right neer test negative", "right hawkins-kennedy test negative"]


def test_a_count_of_a_list_grades_nothing_and_is_doubted() -> None:
    text = "SI joints. On the right: thigh thrust, compression and sacral thrust. Two out of three positive."
    assert said(text) == [
        "right thigh thrust positive",
        "right sacroiliac compression positive",
        "right sacral thrust positive",
    ]
    assert all("incomplete" in reasons for reasons in doubts(text))


def test_an_exception_of_one_side_leaves_the_other_as_the_list_says() -> None:
    text = "Low back. Quads, hamstrings and tib anterior five bilaterally, except the right quads, four."
    assert said(text) == [
        "left quadriceps strength MRC 5",
        "both hamstrings strength MRC 5",
        "both tibialis anterior strength MRC 5",
        "right quadriceps strength MRC 4",
    ]


def test_the_strength_of_another_movement_is_the_same() -> None:
    text = "Low back. Hip flexion four on the left, knee extension the same."
    assert said(text) == ["left flexion strength MRC 4", "left extension strength MRC 4"]


def test_the_same_muscles_all_five_are_graded() -> None:
    text = "Neck. Right arm: deltoid four plus, biceps four minus, triceps four. Left arm, same muscles, all five."
    assert said(text)[3:] == [
        "left deltoid strength MRC 5",
        "left biceps strength MRC 5",
        "left triceps strength MRC 5",
    ]


def test_beats_of_the_other_side() -> None:
    text = "Low back. Clonus, five beats on the left, one on the right."
    assert said(text) == ["left clonus present 5 1", "right clonus present 1 1"]


def test_a_statement_that_begins_with_there_is_stands_alone() -> None:
    text = "Right knee. There's some tenderness over the patella, and there's none on the left."
    assert said(text) == ["right patella tenderness present", "left patella tenderness absent"]


def test_a_sign_with_an_adjective_of_its_own_is_not_denied_with_the_list_before_it() -> None:
    assert said("Right knee. No effusion, yellowing bruising over the calf.") == [
        "right effusion absent",
        "right calf bruising present",
    ]
    assert said("Right knee. No effusion, visible deformity or bruising.") == [
        "right effusion absent",
        "right deformity absent",
        "right bruising absent",
    ]


def test_the_noun_of_a_movement_is_said_once() -> None:
    assert said("Right hip. Internal rotation ten, external thirty.") == [
        "right internal rotation 10",
        "right external rotation 30",
    ]


def test_after_numbers_of_the_other_side_the_exam_goes_on_with_its_own() -> None:
    text = "Left wrist, flexion sixty, extension forty, the other wrist eighty, seventy, Watson's negative."
    assert said(text)[-1] == "left watson test negative"


def test_two_joints_are_no_two_sides() -> None:
    assert said("Left wrist. Elbow and shoulder screened, both full, radial pulse two plus.") == [
        "left range of motion normal",
        "left range of motion normal",
        "left radial artery pulse pulse 2+",
    ]
    assert said("Left wrist. Elbows screened, full and pain free both sides.") == ["both range of motion normal"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Left ankle. Tender, though: lateral malleolus and ATFL.",
            [
                "left lateral malleolus tenderness present",
                "left anterior talofibular ligament tenderness present",
            ],
        ),
        (
            "Lumbar spine. L1 to L3 spinous processes non-tender, L5 tender.",
            [f"midline L{level} spinous process tenderness absent" for level in (1, 2, 3)]
            + ["midline L5 spinous process tenderness present"],
        ),
        (
            "Left hip. Pubic symphysis fine, and the rest of the palpation's normal.",
            ["midline pubic symphysis tenderness absent", "left palpation normal"],
        ),
        (
            "Left hip. Passive. Internal rotation: thirty. External: forty.",
            ["left internal rotation 30", "left external rotation 40"],
        ),
        (
            "Hips. FADIR positive on the left, FABER positive on the left. On the right neither's positive.",
            [
                "left fadir test positive", "left faber test positive",
                "right fadir test negative", "right faber test negative",
            ],
        ),
        (
            "Left ankle. Anterior drawer not done, she's too sore, and the same goes for the talar tilt.",
            ["left anterior drawer not_examined limited by pain", "left talar tilt not_examined limited by pain"],
        ),
        (
            "Left knee. Thigh ten above the patella, forty-four left, forty-seven right. Calf thirty-six both sides.",
            ["left thigh girth 44 cm", "right thigh girth 47 cm", "both calf girth 36 cm"],
        ),
    ],
)  # fmt: skip
def test_a_list_is_read_to_its_end(text: str, found: list[str]) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Left knee. Fibular head not tender, popliteal fossa is, moderately.",
            "left popliteal fossa tenderness present moderate",
        ),
        (
            "Left knee. Is the patellar tendon sore when I lean on it? Nah? Good, that's not tender.",
            "left patellar tendon tenderness absent",
        ),
        (
            "Right knee. Inferior pole tender, fat pad slightly, joint lines clear.",
            "right infrapatellar fat pad tenderness present mild",
        ),
        ("Right elbow. Radial pulse there, refill brisk.", "right radial artery pulse present"),
        ("Both knees. No redness on either.", "both redness absent"),
    ],
)  # fmt: skip
def test_what_only_a_verb_or_a_pointing_word_says(text: str, found: str) -> None:
    assert found in said(text)


def test_pain_at_the_end_of_a_movement_comes_along_with_it() -> None:
    text = "Left knee. Active flexion one fifteen, painful at the end of flexion."
    assert said(text) == ["left flexion 115 with pain"]


def test_a_full_joint_is_no_result_of_the_test_before() -> None:
    text = "Both knees. Patellar grind positive on both. Hips I have checked, full both sides."
    assert said(text) == ["both patellar grind positive", "both range of motion normal"]


def test_the_side_gone_back_to_is_that_of_what_follows() -> None:
    text = "Left ankle. Your right does eighteen. Back on the left, squeeze test negative.\nAnterior drawer negative."
    assert said(text)[-1] == "left anterior drawer negative"
