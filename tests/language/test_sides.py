"""Sides: as said, as announced, as carried on; a side that was taken from the context alone is doubted."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said
from tests.support.reading import findings


@pytest.mark.parametrize(
    ("text", "sides"),
    [
        ("Right knee now.\nFlexion one thirty.\nExtension zero.", ["right", "right"]),
        ("On the left.\nFlexion one thirty.", ["left"]),
        ("Right knee first. Flexion one twenty.\nNow the left knee. Flexion one thirty.", ["right", "left"]),
        ("Flexion one thirty on the right.", ["right"]),
        ("Both knees. No effusion.", ["both"]),
        ("No effusion bilaterally.", ["both"]),
        ("Quads four on the left, five on the right.", ["left", "right"]),
    ],
)
def test_a_side_that_was_said_or_announced(text: str, sides: list[str]) -> None:
    assert [line.split()[0] for line in said(text)] == sides
    assert all("side_assumed" not in reasons and "side_conflict" not in reasons for reasons in doubts(text))


def test_a_side_carried_from_the_finding_before_is_doubted() -> None:
    text = "Flexion one ten on the right. Extension zero."
    assert said(text) == ["right flexion 110", "right extension 0"]
    assert doubts(text) == [[], ["side_assumed"]]


def test_no_side_stays_empty() -> None:
    assert said("Flexion one thirty.") == ["flexion 130"]


def test_a_side_that_does_not_fit_is_doubted_and_kept() -> None:
    text = "Right knee. Left patella tender."
    assert said(text) == ["left patella tenderness present"]
    assert doubts(text) == [["side_conflict"]]


@pytest.mark.parametrize(
    "text", ["Right, Lachman next. Negative.", "All right. Lachman negative.", "Right then, Lachman negative."]
)
def test_right_is_also_a_filler(text: str) -> None:
    assert said(f"Left knee.\n{text}") == ["left lachman test negative"]


def test_an_announced_side_holds_again_once_it_is_named_again() -> None:
    text = "Right knee.\nFlexion one twenty.\nLeft flexion one forty.\nRight extension zero.\nLachman negative."
    assert said(text)[-1] == "right lachman test negative"
    assert doubts(text)[-1] == []


def test_the_other_side_stays_the_same_for_a_whole_sentence() -> None:
    text = "Right wrist. Flexion fifty.\nOn the other wrist flexion is eighty and extension is seventy."
    assert said(text)[1:] == ["left flexion 80", "left extension 70"]


def test_the_good_side_is_the_one_not_being_examined_and_is_doubted() -> None:
    text = "Left shoulder.\nExternal rotation is only twenty degrees, and on the good side you've got seventy."
    assert said(text) == ["left external rotation 20", "right external rotation 70"]
    assert doubts(text) == [[], ["side_assumed"]]


def test_a_side_that_opens_a_clause_is_not_that_of_the_clause_before() -> None:
    text = "Left ankle.\nAnterior drawer positive on the right it's negative."
    assert said(text) == ["left anterior drawer positive", "right anterior drawer negative"]


def test_either_of_two_tests_is_no_side() -> None:
    text = "Left knee.\nValgus and varus stress, there's no give in either."
    assert said(text) == ["left valgus stress test negative", "left varus stress test negative"]


def test_right_opens_a_sentence_about_the_left() -> None:
    assert said("Right, gather round, this is Sam's left shoulder.\nFlexion one seventy.") == ["left flexion 170"]


def test_a_side_that_serves_for_comparison_is_not_gone_to() -> None:
    text = "We're doing your right shoulder, and I'll borrow the left one to compare.\nActive flexion is one forty."
    assert [finding.side for finding in findings(text)] == ["right"]


def test_a_side_that_opens_its_clause_is_gone_to_also_for_comparison() -> None:
    text = "Right hip, flexion ninety.\nLeft hip for comparison. Flexion one twenty."
    assert [(finding.side, finding.degrees) for finding in findings(text)] == [("right", 90), ("left", 120)]


def test_an_aside_about_the_good_side_leaves_no_silent_side_behind() -> None:
    text = "Right shoulder.\nFlexion one seventy.\nLeft flexion one ten.\nLeft abduction ninety five.\n"
    assert doubts(text + "Right abduction one seventy.\nHawkins positive.")[-1] == ["side_assumed"]


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("Knee examination. No effusion.", ["side_assumed"]),
        ("Shoulder examination. Flexion one sixty.", ["side_assumed"]),
        ("Right knee. No effusion.", []),
        ("Knee examination. Walks normally.", []),  # of the whole person
        ("Neck examination. Flexion full.", []),  # the trunk has one of it
    ],
)
def test_a_finding_of_a_limb_without_a_side_is_a_question(text: str, due: list[str]) -> None:
    """Nobody can sign "no effusion" of neither knee: the side was missed, or never said."""
    assert doubts(text)[-1] == due


@pytest.mark.parametrize(
    "text",
    [
        "Right knee. My left hand is behind the thigh. Lachman negative.",
        "Right knee. The artery lies deep, so use both hands. Lachman negative.",
        "Right knee. I hold the heel with my left hand. Lachman negative.",
    ],
)
def test_the_hands_that_examine_have_no_side_of_the_patient(text: str) -> None:
    assert said(text) == ["right lachman test negative"]


def test_right_after_a_sentence_about_the_left_is_the_right() -> None:
    text = "Knees. Lachman. Left, negative. Right, feel that, grade two."
    assert [finding.split()[0] for finding in said(text)] == ["left", "right"]


def test_both_limbs_are_announced() -> None:
    text = "Low back. Neuro. Both legs. Tone normal, knee jerks two plus."
    assert [line.split()[0] for line in said(text)] == ["both", "both"]


def test_a_colon_after_right_heads_what_follows() -> None:
    text = "SI joints. Left: piriformis tender. Right: piriformis non-tender."
    assert said(text) == ["left piriformis tenderness present", "right piriformis tenderness absent"]


def test_right_with_a_comma_only_opens() -> None:
    assert said("Left knee. Right, no effusion.") == ["left effusion absent"]


def test_a_second_side_behind_a_reflex_ends_what_stands_before() -> None:
    text = "Low back. Neuro. Big toe extension five left four right dorsiflexion five both knee jerks two plus both"
    assert said(text) == [
        "left great toe extension strength MRC 5",
        "right great toe extension strength MRC 4",
        "both dorsiflexion strength MRC 5",
        "both patellar reflex reflex reflex 2+",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("AROM B/L: flex 175, abd 170.", ["both flexion 175", "both abduction 170"]),
        ("Active range, left: flexion 120, abduction 90.", ["left flexion 120", "left abduction 90"]),
        ("Flexion both sides 175, abduction 170.", ["both flexion 175", "right abduction 170"]),
        ("Abduction 5 bilat.", ["both abduction strength MRC 5"]),
    ],
)
def test_a_side_before_a_colon_is_that_of_its_row(text: str, expected: list[str]) -> None:
    assert said(f"Right shoulder.\n{text}") == expected


def test_the_other_side_was_measured_in_the_same_position() -> None:
    text = "ER @ 90 abd: R 110, L 95."
    found = findings(f"Right shoulder.\n{text}")
    assert [(f.side, f.degrees, f.at_degrees) for f in found] == [("right", 110, 90), ("left", 95, 90)]


def test_right_between_pauses_leads_on_to_something_new() -> None:
    text = "Left wrist, bruising over the radial styloid, right, feeling it, distal radius not tender."
    assert [line.split()[0] for line in said(text)] == ["left", "left"]
    assert said("Left knee. Flexion left one twenty, right, one thirty.")[-1] == "right flexion 130"


def test_two_values_follow_the_order_of_sides_that_was_set() -> None:
    text = "I'll say the left first and the right second throughout. Flexion sixty, seventy. Extension lacks ten, full."
    assert said(f"Both elbows.\n{text}") == [
        "left flexion 60",
        "right flexion 70",
        "left extension -10",
        "right extension normal",
    ]
    assert doubts(f"Both elbows.\n{text}") == [[], [], [], []]


def test_an_order_that_was_not_set_for_everything_is_doubted() -> None:
    text = "Both wrists, the right one first and then the left.\nFlexion sixty, seventy."
    assert said(text) == ["right flexion 60", "left flexion 70"]
    assert doubts(text) == [["side_assumed"], ["side_assumed"]]


@pytest.mark.parametrize("text", ["Flexion sixty, passive seventy.", "Flexion sixty, full."])
def test_without_an_order_two_values_are_of_one_side(text: str) -> None:
    assert {line.split()[0] for line in said(f"Right knee first.\n{text}")} == {"right"}


@pytest.mark.parametrize(
    ("text", "side"),
    [
        ("Bright shoulder, looking at it, no wasting of the deltoid.", "right"),
        ("I'll ankle, rolled it. Anterior drawer negative.", "left"),
        ("Lift knee. No effusion.", "left"),
    ],
)
def test_a_side_misheard_in_a_heading_is_only_assumed(text: str, side: str) -> None:
    assert said(text)[-1].split()[0] == side
    assert doubts(text)[-1] == ["side_assumed"]


def test_what_sounds_like_a_side_in_a_sentence_is_none() -> None:
    assert said("Left knee. Our knee patients do well. No effusion.") == ["left effusion absent"]


def test_the_other_side_is_the_other_of_the_one_just_examined() -> None:
    text = "So it's this right knee.\nMild swelling on the right, left's clean.\nLachman negative, other side the same."
    assert said(text)[2:] == ["right lachman test negative", "left lachman test negative"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Left hip, passive flexion one fifteen, other side one twenty-five, internal rotation fifteen, right"
            " thirty, abduction forty.",
            ["left flexion 115", "right flexion 125", "left internal rotation 15", "right internal rotation 30",
             "left abduction 40"],
        ),
        (
            "Left knee. He's sore right on the medial joint line. Flexion one thirty.",
            ["left medial joint line tenderness present", "left flexion 130"],
        ),
        (
            "Right elbow. No swelling, no deformity, carrying angle normal on both sides.",
            ["right swelling absent", "right deformity absent", "both carrying angle normal"],
        ),
        (
            "Right shoulder. No wasting.\nNeck I've cleared, full range.",
            ["right wasting absent", "range of motion normal"],
        ),
        ("Left hip. The back I screened, full and pain free.", ["range of motion normal"]),
        (
            "Right knee. Flexion one thirty. Hips I have checked, full both sides.",
            ["right flexion 130", "both range of motion normal"],
        ),
    ],
)  # fmt: skip
def test_which_side_goes_on_behind_a_value_of_the_other(text: str, found: list[str]) -> None:
    assert said(text) == found


def test_an_order_set_for_each_time_or_at_the_head_of_a_row() -> None:
    each = "Left hip. Passively now, right then left each time. Flexion one twenty, one ten."
    assert said(each) == ["right flexion 120", "left flexion 110"]
    row = "Neck. Power, right first: biceps four, five; wrist extensors four minus, five."
    assert said(row) == [
        "right biceps strength MRC 4",
        "left biceps strength MRC 5",
        "right wrist extensors strength MRC 4-",
        "left wrist extensors strength MRC 5",
    ]
    assert doubts(row) == [["side_assumed"]] * 4


def test_the_bad_side_is_the_one_being_examined_where_no_injury_was_told() -> None:
    text = "Right shoulder. Left sulcus negative. Back on the bad one, deltoid sensation intact."
    assert said(text)[-1].startswith("right")
    assert "side_assumed" in doubts(text)[-1]


def test_an_order_set_for_every_movement() -> None:
    text = "I'll give left then right for every movement. Active flexion one ten and one seventy."
    assert said(text) == ["left flexion 110", "right flexion 170"]


def test_a_side_carried_far_through_a_line_without_punctuation_is_doubted() -> None:
    text = (
        "this is the right shoulder wasting of infraspinatus on the right the left's fine no winging tender over the"
        " greater tuberosity hawkins positive neer positive empty can positive drop arm negative belly press negative"
        " resisted abduction four external rotation four internal rotation five speed negative"
    )
    sides = dict(zip(said(f"Right shoulder.\n{text}"), doubts(f"Right shoulder.\n{text}"), strict=True))
    carried = [reasons for finding, reasons in sides.items() if finding.startswith("left greater tuberosity")]
    assert carried and all(carried), "a wrong side without a doubt"


def test_right_before_nothing_but_numbers_is_the_other_side_of_what_was_found_left() -> None:
    text = "Active dorsiflexion then plantar flexion, eight and forty, that's the left. Right, fifteen and fifty."
    found = [(finding.side, finding.degrees) for finding in findings(text)]
    assert found == [("left", 8.0), ("left", 40.0), ("right", 15.0), ("right", 50.0)]


def test_either_side_of_a_tendon_is_no_side() -> None:
    (finding,) = findings("Right knee. Fat pad, pinch either side of the tendon: that's a little tender.")
    assert finding.side == "right"


@pytest.mark.parametrize("gone_to", ["Hands on the left, and start far away.", "Staying on the left, bend it."])
def test_where_the_hands_go(gone_to: str) -> None:
    found = findings(f"Left knee, no warmth. Right knee, no warmth.\n{gone_to}\nFibular head, non-tender.")
    assert found[-1].side == "left"


@pytest.mark.parametrize(
    "aside",
    ["You can do her other one after.", "You can do the other side in a minute.", "Try the other one yourselves."],
)
def test_the_limb_that_others_do_later_is_not_gone_to(aside: str) -> None:
    found = findings(f"Left knee. Lachman positive.\n{aside}\nMCL tender.")
    assert [finding.side for finding in found] == ["left", "left"]


def test_the_side_named_outweighs_which_one_is_bad() -> None:
    found = findings(
        "Left knee. Lachman negative.\n\"That's her right you're holding.\"\nSo it is, thank you.\n"
        "Now the bad side, her left.\nSmall effusion."
    )
    assert [finding.side for finding in found] == ["right", "left"]


@pytest.mark.parametrize("verdict", ["Right's fine.", "The right is fine.", "The right's good."])
def test_a_side_that_only_has_a_verdict_is_not_gone_to(verdict: str) -> None:
    found = findings(f"Left shoulder.\nThe deltoid is wasted. {verdict}\nAC joint isn't tender.")
    assert found[-1].side == "left" or found[-1].doubts
