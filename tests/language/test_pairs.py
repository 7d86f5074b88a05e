"""Two of a kind: the other of a pair of places, the same on the other side, two values set beside each other."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said
from tests.support.reading import findings


@pytest.mark.parametrize(
    ("text", "second"),
    [
        ("Medial epicondyle tender, lateral not.", "lateral epicondyle tenderness absent"),
        ("Medial epicondyle tender. Lateral, non-tender.", "lateral epicondyle tenderness absent"),
        ("Medial epicondyle tender but the lateral is fine.", "lateral epicondyle tenderness absent"),
        ("Medial epicondyle tender, the outer one very tender.", "lateral epicondyle tenderness present severe"),
    ],
)
def test_the_other_of_a_pair_of_places(text: str, second: str) -> None:
    assert said(f"Left elbow. {text}") == ["left medial epicondyle tenderness present", f"left {second}"]


@pytest.mark.parametrize("text", ["Patella tender medially.", "Patella tender on the lateral side."])
def test_a_place_that_makes_no_pair_names_nothing_else(text: str) -> None:
    assert said(f"Left knee. {text}") == ["left patella tenderness present"]


@pytest.mark.parametrize("value", ["Speed's negative", "Flexion one sixty"])
def test_the_same_on_the_other_side_is_a_second_finding(value: str) -> None:
    first, second = said(f"Right shoulder. {value}, same on the left.")
    assert first.replace("right", "left") == second


@pytest.mark.parametrize("text", ["Same shoulder he hurt last spring.", "That's the same spot."])
def test_what_is_the_same_thing_is_no_same_finding(text: str) -> None:
    assert said(f"Right shoulder. Speed's negative. {text}") == ["right speed test negative"]


def test_the_other_side_of_a_thing_is_no_side() -> None:
    text = "Left foot. Dorsalis pedis two plus. Try the other side of the tendon. Cap refill brisk."
    assert [finding.split()[0] for finding in said(text)] == ["left", "left"]


@pytest.mark.parametrize("word", ["versus", "against", "compared with"])
def test_values_set_beside_each_other(word: str) -> None:
    text = f"Left hip. Abduction forty right {word} twenty-five left."
    assert said(text) == ["right abduction 40", "left abduction 25"]


def test_how_much_less_is_still_taken_off() -> None:
    text = "Left hip. Abduction forty on the right. On the left it's ten less than on the right."
    assert said(text)[1:] == ["left abduction 30"]


def test_sides_without_punctuation() -> None:
    text = "left elbow cozens positive on the right negative on the left mills positive right"
    assert said(text) == ["right cozen test positive", "left cozen test negative", "right mill test positive"]


def test_what_could_not_be_done_on_one_side_is_not_denied_on_the_other() -> None:
    text = "Left ankle. He can't do a heel raise on the left. The right is fine."
    assert said(text) == ["left heel raise reduced", "right heel raise normal"]


def test_both_feet_are_both_sides_also_after_a_list_of_two() -> None:
    text = "Left ankle. Dorsalis pedis and posterior tibial two plus both feet."
    assert [finding.split()[0] for finding in said(text)] == ["both", "both"]


def test_both_alone_after_a_list_of_two_is_the_list() -> None:
    assert said("Left shoulder. Hawkins and Neer both positive.") == [
        "left hawkins-kennedy test positive",
        "left neer test positive",
    ]


def test_a_judgement_does_not_take_the_number_before_it() -> None:
    text = "Right elbow. Flexion one thirty, and it straightens fully."
    assert said(text) == ["right flexion 130", "right extension normal"]


def test_a_number_behind_its_position_is_the_value() -> None:
    assert said("Left hip. Internal rotation at ninety, thirty.") == ["left internal rotation 30 at 90"]


@pytest.mark.parametrize(
    ("pain", "structure"), [("groin pain", "groin "), ("his groin pain", ""), ("her usual groin pain", "")]
)
def test_the_pain_complained_of_says_not_where_a_test_was_positive(pain: str, structure: str) -> None:
    assert said(f"Left hip. FABER positive with {pain}.") == [f"left {structure}faber test positive with pain"]


@pytest.mark.parametrize("text", ["You didn't expect that.", "She doesn't like it."])
def test_a_verb_denied_denies_nothing_named_before(text: str) -> None:
    assert said(f"Left hip. Greater trochanter tender, {text}") == ["left greater trochanter tenderness present"]


def test_what_does_not_bother_is_not_tender() -> None:
    text = "Left knee. The popliteal fossa doesn't bother you."
    assert said(text) == ["left popliteal fossa tenderness absent"]
    assert doubts(text) == [[]]


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("Valgus at thirty negative on the left, positive on the right.", "at 30"),
        ("Valgus at zero negative on the left. Positive on the right.", ""),
    ],
)
def test_the_other_side_is_tested_in_the_same_position(text: str, position: str) -> None:
    assert said(f"Knees. {text}")[1] == f"right valgus stress test positive {position}".strip()


@pytest.mark.parametrize("text", ["Soft tissue end feel in flexion.", "End feel in flexion is soft tissue."])
def test_an_end_feel_is_put_on_the_movement_it_was_felt_in(text: str) -> None:
    (finding,) = findings(f"Right elbow. Passive flexion one thirty. {text}")
    assert (finding.degrees, finding.end_feel) == (130, "soft tissue")


def test_two_amounts_of_one_sign_contradict_each_other() -> None:
    assert doubts("Left knee. Trace of an effusion.\nModerate effusion.") == [["conflicts"], ["conflicts"]]


def test_a_movement_after_a_toe_is_that_of_the_toe() -> None:
    text = "Right foot. Big toe joint. Passive extension forty."
    assert said(text) == ["right great toe extension 40"]


def test_what_people_call_a_place_is_no_sign_there() -> None:
    text = "Right foot. Big toe joint now, that's what you call your bunion: tender."
    assert said(text) == ["right first metatarsophalangeal joint tenderness present"]


@pytest.mark.parametrize(
    "text",
    ["Collaterals solid, that's valgus and varus at zero and thirty.", "Valgus and varus stable, at zero and thirty."],
)
def test_positions_may_be_told_after_the_result(text: str) -> None:
    expected = [f"left {test} stress test negative at {at}" for test in ("valgus", "varus") for at in (0, 30)]
    assert said(f"Left knee. {text}") == expected


def test_a_test_with_a_position_and_no_result_takes_none() -> None:
    assert said("Left knee. Valgus stable at zero, varus at thirty.") == ["left valgus stress test negative at 0"]


def test_among_tests_varus_is_one_also_in_another_section() -> None:
    text = "Left knee. Active flexion one thirty. Valgus stable at thirty, varus as well."
    assert said(text)[1:] == [f"left {test} stress test negative at 30" for test in ("valgus", "varus")]


def test_a_number_with_an_article_is_a_grade() -> None:
    text = "Left ankle. Inversion's a four, pain is holding her back. Plantar flexion five."
    assert said(text) == [
        "left inversion strength MRC 4 limited by pain",
        "left plantar flexion strength MRC 5",
    ]


def test_short_of_full_by_is_a_lack_of_extension() -> None:
    text = "Left elbow. Actively bends to one twenty. Short of full by ten."
    assert said(text) == ["left flexion 120", "left extension -10"]


def test_pushing_against_the_hand_announces_strength() -> None:
    assert said("Right elbow. Push up against my hand. Flexion five.") == ["right flexion strength MRC 5"]


def test_the_same_for_another_test_is_a_second_finding_on_the_side_said() -> None:
    text = "Left elbow. Cozen's negative, same for Mill's. Cozen's negative, so was Mill's on the right."
    assert said(text) == ["left cozen test negative", "left mill test negative", "right mill test negative"]


def test_is_not_before_a_movement_with_its_number_is_of_the_place_before() -> None:
    text = "left elbow medial epicondyle is tender olecranon isn't flexion one thirty"
    assert said(text) == [
        "left medial epicondyle tenderness present",
        "left olecranon tenderness absent",
        "left flexion 130",
    ]


def test_which_of_two_positions_the_other_side_was_tested_in_is_a_question() -> None:
    text = "Knees. Valgus at zero and thirty negative on the left, positive on the right."
    assert said(text)[-1] == "right valgus stress test positive"
    assert doubts(text)[-1] == ["incomplete"]
