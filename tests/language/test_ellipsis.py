"""What points at what was said before: an amount alone, "both of them", "neither", "all matching", "here"."""

from __future__ import annotations

import pytest

from dictate import interpret
from tests.support.brief import doubts, said
from tests.support.reading import findings


def test_an_amount_alone_says_that_the_sign_is_there() -> None:
    text = "Both knees. No effusion on the left, small one on the right."
    assert said(text)[1] == "right effusion present mild"


@pytest.mark.parametrize("every", ["everything's five", "it's fives throughout", "the lot are five", "all five"])
def test_everything_is_each_of_the_list_before(every: str) -> None:
    text = f"Left arm. Power on the left: triceps four, biceps five, wrist flexors four. On the right {every}."
    assert said(text)[3:] == [f"right {muscle} strength MRC 5" for muscle in ("triceps", "biceps", "wrist flexors")]


def test_everything_is_each_of_a_run_of_sentences() -> None:
    text = "Right hip. Resisted. Flexion: four. Extension: four minus. Abduction: three plus. Left: fives throughout."
    assert said(text)[3:] == [f"left {movement} strength MRC 5" for movement in ("flexion", "extension", "abduction")]


def test_the_lot_of_a_list_of_levels() -> None:
    text = "Light touch on the right: L3 and L4 intact, L5 reduced. On the left the lot are normal."
    assert said(text)[3:] == [f"left L{level} dermatome light touch normal" for level in (3, 4, 5)]


def test_the_same_as_one_side_is_of_the_other_one() -> None:
    text = "Hips. Right flexion one hundred, abduction thirty. Left flexion one ten, abduction the same as the right."
    assert said(text)[2:] == ["left flexion 110", "left abduction 30"]


def test_the_same_as_a_side_that_was_not_examined_is_asked_about() -> None:
    text = "Left hip. Left flexion one ten, abduction the same as the right."
    assert said(text) == ["left flexion 110"]
    assert any("abduction the same as the right" in prompt.text for prompt in interpret(text).prompts)


def test_the_same_end_feel_is_that_felt_last() -> None:
    text = "Right shoulder. Passive: external rotation twenty, capsular; abduction ninety, same end feel."
    assert [finding.end_feel for finding in findings(text)] == ["capsular", "capsular"]


def test_neither_denies_on_both_sides() -> None:
    assert said("Knees. Neither knee is warm.") == ["both warmth absent"]


def test_both_of_a_list_of_two() -> None:
    text = "Left elbow. Left flexion one twenty, extension full. The right is normal for both."
    assert said(text)[2:] == ["right flexion normal", "right extension normal"]


def test_all_matching_is_of_the_whole_sentence() -> None:
    text = "Left shoulder. Flexion one seventy, abduction one sixty, all matching the right."
    assert said(text) == ["both flexion 170", "both abduction 160"]


def test_symmetrical_alone_is_of_the_last_statement() -> None:
    text = "Left hip. Flexion one twenty. Abduction forty and symmetrical."
    assert said(text) == ["left flexion 120", "both abduction 40"]


def test_so_was_takes_the_result_and_not_what_was_felt() -> None:
    text = "Right knee. Lachman was negative with a solid end point, and so was the anterior drawer."
    assert said(text) == ["right lachman test negative", "right anterior drawer negative"]


def test_a_number_too_large_for_extension_is_doubted_flexion() -> None:
    text = "Right knee. Active extension three short. Passively I get a hundred and four."
    assert said(text)[1] == "right flexion 104"
    assert "incomplete" in doubts(text)[1]


@pytest.mark.parametrize("text", ["Grade two lateral sprain.", "It's a grade one tear of the medial ligament."])
def test_the_grade_of_an_injury_is_no_value(text: str) -> None:
    assert said(f"Right ankle. Can't hop because of pain. {text}") == ["right hop reduced limited by pain"]


def test_er_before_a_comma_fills_a_pause() -> None:
    assert said("Right shoulder. AC joint, er, tender.") == ["right acromioclavicular joint tenderness present"]


def test_er_is_a_movement_of_the_shoulder_examined() -> None:
    assert said("Right shoulder. Passive ER sixty.") == ["right external rotation 60"]


def test_er_and_add_in_notes() -> None:
    text = "Left hip. Passive IR 20, ER 35, abd 40, add 25."
    movements = ["internal rotation 20", "external rotation 35", "abduction 40", "adduction 25"]
    assert said(text) == [f"left {movement}" for movement in movements]


@pytest.mark.parametrize(
    "text", ["Active flexion er one ten.", "Er active flexion one ten.", "I'd add, active flexion one ten."]
)
def test_er_and_add_that_are_no_movements(text: str) -> None:
    assert said(f"Left hip. {text}") == ["left flexion 110"]


def test_how_the_joint_was_held_is_the_position_of_the_test() -> None:
    text = "Left knee. With it bent to thirty, valgus is positive with pain."
    assert said(text) == ["left valgus stress test positive at 30 with pain"]


def test_a_range_after_a_repair_and_a_comma() -> None:
    text = "Right knee. Active range, lacks fifteen, no, lacks ten, to one fifteen."
    assert said(text) == ["right extension -10", "right flexion 115"]


def test_the_side_of_the_joint_is_none_of_the_gait() -> None:
    assert said("On examination of the right knee his gait was normal.") == ["gait normal"]


@pytest.mark.parametrize("text", ["His wife says he limps.", "You said it swells, and no locking."])
def test_what_others_say_is_history(text: str) -> None:
    assert said(f"Right knee. {text}") == []


def test_the_others_of_a_list_just_named() -> None:
    text = "Left shoulder. SC joint, clavicle and AC joint, the AC is tender, the others are fine."
    assert said(text) == [
        "left acromioclavicular joint tenderness present",
        "left sternoclavicular joint tenderness absent",
        "left clavicle tenderness absent",
    ]


def test_everything_else_of_a_list_of_movements() -> None:
    text = (
        "Right wrist. Resisted movements, flexion, extension, ulnar deviation.\nWeak extension, everything else five."
    )
    assert said(text) == [
        "right extension strength reduced",
        "right flexion strength MRC 5",
        "right ulnar deviation strength MRC 5",
    ]


def test_all_five_of_strengths_is_a_grade() -> None:
    text = "Resisted left side, dorsiflexion and plantar flexion four.\nRight side the same movements, all five."
    assert said(text)[2:] == ["right dorsiflexion strength MRC 5", "right plantar flexion strength MRC 5"]


def test_less_than_the_other_side_is_counted_from_it() -> None:
    text = "Hips. Right internal rotation thirty-five, the left is fifteen degrees less than the right."
    assert said(text) == ["right internal rotation 35", "left internal rotation 20"]


def test_a_level_after_a_list_of_processes_is_one_of_them() -> None:
    text = "Lumbar spine. Spinous processes tender at L4, L3 isn't."
    assert said(text)[1] == "midline L3 spinous process tenderness absent"


def test_what_is_given_to_you_is_stated() -> None:
    text = "Left knee. The left quad's a four out of five, and it does give you pain."
    assert said(text) == ["left quadriceps strength MRC 4 with pain"]


def test_an_everyday_word_is_a_test_only_where_its_region_is_examined() -> None:
    assert said("Right ankle. Tilt negative.") == ["right talar tilt negative"]
    assert said("Right knee. Tilt is negative.") == []
    assert said("Right hip. Squeeze negative.") == ["adductor squeeze test negative"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Lunate not tender, snuffbox is.", ["lunate absent", "snuffbox present"]),
        ("Snuffbox tender. The lunate is too.", ["snuffbox present", "lunate present"]),
        ("Snuffbox non-tender. The lunate is too.", ["snuffbox absent", "lunate absent"]),
        (
            "Radial styloid mildly tender, and the lunate is very much so.",
            ["radial styloid present mild", "lunate present severe"],
        ),
        ("Snuffbox tender. The lunate isn't, nor is the pisiform.", [
            "snuffbox present", "lunate absent", "pisiform absent",
        ]),
        ("Snuffbox tender, lunate, no, pisiform, no.", [
            "snuffbox present", "lunate absent", "pisiform absent",
        ]),
        ("The lunate is where it hurts.", []),
    ],
)  # fmt: skip
def test_the_verb_alone_stands_for_what_was_said_before(text: str, expected: list[str]) -> None:
    lines = said(f"Right wrist. Palpation.\n{text}")
    found = [line.removeprefix("right ").removeprefix("anatomical ") for line in lines]
    assert [line.replace("tenderness ", "") for line in found] == expected


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("Flexion 150, abduction 140, both with pain.", [["pain"], ["pain"]]),
        ("Flexion 150, abduction 140, ER 30, all three limited by stiffness.", [[], [], []]),
        ("Flexion 150, abduction 140 with pain.", [[], ["pain"]]),
    ],
)
def test_what_comes_along_with_each_of_a_row(text: str, fields: list[list[str]]) -> None:
    found = findings(f"Right shoulder.\n{text}")
    assert [f.with_ for f in found] == fields
    assert [f.side for f in found] == ["right"] * len(fields)
    limited = "limited by" in text
    assert all(f.limited_by == (["stiffness"] if limited else []) for f in found)


def test_a_sign_that_is_elsewhere_and_not_there() -> None:
    assert said("Right hand. Triggering present in the index finger, absent in middle and ring.") == [
        "right index finger trigger finger present",
        "right middle finger trigger finger absent",
        "right ring finger trigger finger absent",
    ]


def test_the_same_behind_a_pause_is_of_the_other_side() -> None:
    text = "Right hand. Two-point discrimination five millimetres at the ring finger, same on the left side."
    assert [line.split()[0] for line in said(text)] == ["right", "left"]


def test_of_the_same_finger_points_at_no_finding() -> None:
    text = "Right hand. Passive PIP flexion full with a click. Active DIP flexion of the same finger fifty."
    assert said(text)[1] == "right distal interphalangeal flexion 50"


def test_at_both_is_of_two_positions_and_of_no_side() -> None:
    at_both = findings("Left knee. Varus tight at both.")[0]
    assert (at_both.side, [doubt.reason for doubt in at_both.doubts]) == ("left", ["incomplete"])
    named = findings("Left knee. Valgus and varus at zero and thirty, negative at both.")
    assert [(f.side, f.at_degrees) for f in named] == [("left", 0), ("left", 30)] * 2
    assert [f.at_degrees for f in findings("Left knee. Varus tight at both zero and thirty.")] == [0, 30]
    assert findings("Left knee. McMurray negative at both knees.")[0].side == "both"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Right knee. Quads five, same as the left.",
            ["right quadriceps strength MRC 5", "left quadriceps strength MRC 5"],
        ),
        (
            "Left shoulder. External rotation fifty, as on the right.",
            ["left external rotation 50", "right external rotation 50"],
        ),
        (
            "Right knee. Quads four on the right, fine on the left.",
            ["right quadriceps strength MRC 4", "left quadriceps strength normal"],
        ),
    ],
)
def test_a_value_that_holds_for_the_other_side_too(text: str, found: list[str]) -> None:
    assert said(text) in (found, found[::-1])


def test_the_same_as_the_other_side_is_of_the_motion_now_examined() -> None:
    text = "Right shoulder. External rotation forty right, sixty left.\nPassive external rotation the same as the left."
    last = findings(text)[-1]
    assert (last.side, last.section, last.degrees) == ("right", "passive_motion", 60.0)


def test_what_follows_everything_of_the_other_side_is_of_the_side_examined() -> None:
    text = "Right shoulder. Resisted: abduction four, internal rotation five. Left all five.\nNeer positive."
    assert said(text)[-1] == "right neer test positive"
