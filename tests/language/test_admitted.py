"""Corrections that only give the right value, and what asks for an answer, in invented sentences."""

from __future__ import annotations

import pytest

from tests.support.reading import findings
from tests.support.scoring import text as shown


def said(text: str) -> list[str]:
    """Return the findings of a text, an utterance a line, in short."""
    return [shown(finding) for finding in findings(text)]


def test_a_number_and_an_apology_put_the_last_one_right() -> None:
    text = (
        "Right knee. Active flexion a hundred and fifteen.\nLook at the dial again.\n"
        "A hundred and five, sorry. And straighten it? Extension's full."
    )
    assert said(text) == ["side=right finding=flexion degrees=105.0", "side=right finding=extension status=normal"]


def test_a_side_and_an_apology_put_the_last_statement_right_and_what_follows_it() -> None:
    text = (
        "Right knee. Patellar apprehension's negative on the left.\nOn the?\n"
        "On the right, sorry. And McMurray is positive."
    )
    found = findings(text)
    assert [finding.side for finding in found] == ["right", "right"]
    assert all(finding.doubts for finding in found)


def test_right_sorry_only_leads_on() -> None:
    text = "Left knee. Lachman negative on the left.\nRight, sorry, where was I."
    assert said(text) == ["side=left finding=lachman test status=negative"]


def test_an_order_to_write_another_number() -> None:
    text = (
        "Left knee. Active flexion is one twenty-eight, and he lacks three degrees of extension. Read me back that "
        "flexion? One twenty-eight? No, write one thirty-eight, I was on the wrong line of the goniometer."
    )
    assert [finding.degrees for finding in findings(text)] == [138.0, -3.0]


def test_an_apology_for_something_else_changes_nothing() -> None:
    text = "Left hip. Internal rotation, fifteen.\nSorry to interrupt, but ten people can't see."
    assert [finding.degrees for finding in findings(text)] == [15.0]


def test_a_test_that_was_named_for_another_is_renamed_in_both_positions() -> None:
    text = "Left knee. Varus stress. Stable at zero, opens a little at thirty. Ha, I said varus and did valgus."
    assert said(text) == [
        "side=left finding=valgus stress test status=negative at_degrees=0.0",
        "side=left finding=valgus stress test status=positive at_degrees=30.0 severity=mild",
    ]


def test_who_is_right_is_no_side() -> None:
    text = "Left knee. Lachman positive, grade one. She is right, it is grade two.\nPosterior sag negative."
    found = findings(text)
    assert {finding.side for finding in found} == {"left"}
    assert [finding.grade.value for finding in found if finding.grade] == ["2"]


@pytest.mark.parametrize("pause", [", hold on, wrong way, I mean ", " hold on I mean "])
def test_the_side_survives_several_editing_words(pause: str) -> None:
    (finding,) = findings(f"Neck. Spurling positive on the left{pause}on the right.")
    assert finding.side == "right"


def test_a_verdict_turned_round() -> None:
    text = "Left elbow. Mill's negative. I'll hold that one a bit longer. So Mill's is positive, not negative."
    assert said(text) == ["side=left finding=mill test status=positive"]


def test_a_verdict_on_both_sides_of_what_was_measured() -> None:
    assert said("Lumbar spine. Straight leg raise left seventy, right eighty, both negative.") == [
        "side=left finding=straight leg raise status=negative degrees=70.0",
        "side=right finding=straight leg raise status=negative degrees=80.0",
    ]


def test_both_behind_a_comma_at_the_end_is_of_both_sides() -> None:
    found = findings("Right ankle. Strength: plantar flexion four right, five left, inversion and eversion five, both.")
    assert [finding.side for finding in found] == ["right", "left", "both", "both"]


def test_a_side_that_opens_a_new_statement_corrects_nothing() -> None:
    found = findings("Right ankle. Thompson negative both. Hang on, the right dorsiflexion, that's eight.")
    assert [finding.side for finding in found] == ["both", "right"]


def test_no_opening_either_way_is_of_a_test_in_both_directions() -> None:
    found = findings("Right knee. Valgus and varus at thirty, no opening either way.")
    assert {finding.side for finding in found} == {"right"}


def test_what_is_asked_for_by_its_full_name_is_what_the_answer_is_of() -> None:
    power = findings("Lumbar spine. Knee jerks two plus both sides.\nMyotomes L2 to S1?\nFive throughout, both sides.")
    assert [finding.structure for finding in power[1:]] == [f"{at} myotome" for at in ("L2", "L3", "L4", "L5", "S1")]
    felt = findings("Left hip. IR fifteen, ER forty, abduction thirty-five.\nEnd feel on the IR?\nBony, kind of early.")
    assert [finding.end_feel for finding in felt] == ["bony", None, None]


def test_a_place_with_a_verb_of_its_own_is_not_denied_with_the_one_before() -> None:
    found = findings("Neck. C7 spinous process is not tender and the right upper trapezius is tender.")
    assert [finding.status for finding in found] == ["absent", "present"]


def test_a_deviation_needs_no_noun_before_its_number() -> None:
    text = "Left wrist. Flexion seventy-five, extension seventy, radial twenty, ulnar thirty. Radial pulse two plus."
    assert [finding.finding for finding in findings(text)] == [
        "flexion", "extension", "radial deviation", "ulnar deviation", "pulse",
    ]  # fmt: skip


def test_a_row_of_numbers_takes_up_a_run_of_sentences() -> None:
    text = (
        "Left ankle. Dorsiflexion five. Plantar flexion thirty. Inversion ten. Eversion ten.\n"
        "Right: fifteen, fifty, thirty-five, twenty."
    )
    found = [(f.side, f.finding, f.degrees) for f in findings(text)]
    assert found[4:] == [
        ("right", "dorsiflexion", 15.0), ("right", "plantar flexion", 50.0), ("right", "inversion", 35.0),
        ("right", "eversion", 20.0),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "talk",
    [
        "Cut mileage in half, sidelying abduction 3 x 15.",
        "Hopping is to begin in week sixteen, provided that the effusion has gone.",
    ],
)
def test_what_is_planned_makes_no_finding(talk: str) -> None:
    assert said(f"Right knee. Lachman negative. {talk}") == ["side=right finding=lachman test status=negative"]


def test_a_limb_named_as_one_is_no_grade() -> None:
    (swelling,) = findings("So this is the lad whose kneecap went out. Left one, first time.\nModerate swelling.")
    assert (swelling.side, swelling.grade) == ("left", None)
    graded = findings("Knees. Lachman. Left one, right two.")
    assert [(f.side, f.grade.value) for f in graded if f.grade] == [("left", "1"), ("right", "2")]


def test_a_grade_put_right_keeps_the_verdict_and_the_doubt_about_the_side() -> None:
    (effusion,) = findings("Knee. Effusion, two plus.\nAre you sure?\nFair enough, three plus.")
    assert effusion.grade is not None
    assert effusion.grade.value == "3+"
    assert "side_assumed" in {doubt.reason for doubt in effusion.doubts}
    (lachman,) = findings("Left knee. Lachman positive, grade one. She is right, it is grade two.")
    assert lachman.status == "positive"


def test_a_row_of_names_alone_is_doubted() -> None:
    found = findings("Left knee. We look first. Swelling, bruising, wasting, scars.")
    assert found
    assert all("incomplete" in {doubt.reason for doubt in finding.doubts} for finding in found)


def test_seconds_put_no_angle_right() -> None:
    found = findings("Right knee. Flexion one twenty. Sorry, twenty seconds, I need my glasses. Extension zero.")
    assert [(finding.finding, finding.degrees) for finding in found] == [("flexion", 120.0), ("extension", 0.0)]


def test_a_small_number_after_an_angle_is_a_doubted_strength() -> None:
    angle, *rest = findings("Left shoulder. Abduction ninety.\nTwo, sorry, three times a day do the pendulum.")
    assert angle.degrees == 90.0
    assert all(finding.doubts for finding in rest)
    (graded,) = findings("Left shoulder. Resisted abduction.\nFour.")
    assert not graded.doubts


def test_a_number_that_is_put_right_without_a_name_is_doubted() -> None:
    (flexion,) = findings("Left knee. Flexion ninety.\nHow old are you?\nForty, sorry.")
    assert [doubt.reason for doubt in flexion.doubts] == ["slip_repaired"]


@pytest.mark.parametrize(("stated", "said"), [("Flexion ninety", "Twenty seconds"), ("Quads four", "Ten")])
def test_a_number_that_cannot_be_of_it_puts_nothing_right(stated: str, said: str) -> None:
    (before,) = findings(f"Left knee. {stated}.")
    (after,) = findings(f"Left knee. {stated}.\n{said}, sorry.")
    assert (after.degrees, after.grade, after.replaced) == (before.degrees, before.grade, [])


def test_the_other_of_a_pair_with_its_verb_drawn_in() -> None:
    found = findings("Left knee. Medial joint line's sore, lateral's fine.")
    assert [(f.structure, f.status) for f in found] == [
        ("medial joint line", "present"), ("lateral joint line", "absent"),
    ]  # fmt: skip
