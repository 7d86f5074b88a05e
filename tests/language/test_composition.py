"""Segmenting and ellipsis: one result over several things, one thing with several results, "same on the left"."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said
from tests.support.reading import findings


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "No swelling, bruising or deformity.",
            ["right swelling absent", "right bruising absent", "right deformity absent"],
        ),
        (
            "Medial and lateral joint lines non-tender.",
            ["right medial joint line tenderness absent", "right lateral joint line tenderness absent"],
        ),
        (
            "Lachman, pivot shift and McMurray all negative.",
            ["right lachman test negative", "right pivot shift negative", "right mcmurray test negative"],
        ),
        ("Lachman negative McMurray positive.", ["right lachman test negative", "right mcmurray test positive"]),
        ("Negative Lachman, positive McMurray.", ["right lachman test negative", "right mcmurray test positive"]),
        ("Zero to one thirty-five.", ["right extension 0", "right flexion 135"]),
        ("Lacks ten, flexes to one twenty.", ["right extension -10", "right flexion 120"]),
        ("5-0-140.", ["right extension 5", "right flexion 140"]),
        ("Flexion one ten limited by pain.", ["right flexion 110 limited by pain"]),
        ("Flexion one ten with pain.", ["right flexion 110 with pain"]),
        ("Quads four plus, hamstrings five.", ["right quadriceps strength MRC 4+", "right hamstrings strength MRC 5"]),
        (
            "Valgus stress stable at zero, opens a bit at thirty.",
            ["right valgus stress test negative at 0", "right valgus stress test positive mild at 30"],
        ),
        (
            "L3 to S1 intact to light touch except L4 reduced.",
            [
                "right L3 dermatome light touch normal", "right L4 dermatome light touch reduced",
                "right L5 dermatome light touch normal", "right S1 dermatome light touch normal",
            ],
        ),
        ("Cap refill under two seconds.", ["right capillary refill <2 s"]),
        ("Thigh girth forty-six centimetres.", ["right thigh girth 46 cm"]),
    ],
)  # fmt: skip
def test_one_utterance(text: str, found: list[str]) -> None:
    assert sorted(said(f"Right knee.\n{text}")) == sorted(found)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right knee. Flexion one thirty. Same on the left.", ["right flexion 130", "left flexion 130"]),
        (
            "Right knee, Lachman positive. Other side normal.",
            ["right lachman test positive", "left lachman test negative"],
        ),
        ("Right knee flexion one twenty.\nLeft one thirty.", ["right flexion 120", "left flexion 130"]),
        (
            "Right quads four minus out of five, left five.",
            ["right quadriceps strength MRC 4-", "left quadriceps strength MRC 5"],
        ),
        (
            "Right knee. Medial joint line tender. Lateral non-tender.",
            ["right medial joint line tenderness present", "right lateral joint line tenderness absent"],
        ),
    ],
)  # fmt: skip
def test_what_is_left_unsaid(text: str, found: list[str]) -> None:
    assert said(text) == found


def test_weakness_that_is_denied_is_not_written_beside_a_test() -> None:
    assert said("Empty can hurts on the left, it's not weak though.") == ["left empty can test positive with pain"]


def test_degrees_are_no_value_of_the_tender_place_named_before() -> None:
    text = "Biceps groove tender on the left, not on the right. Right goes to one seventy-five."
    found = ["left bicipital groove tenderness present", "right bicipital groove tenderness absent"]
    assert sorted(said(text)) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Tender over the patellar tendon and the fat pad, MCL is quiet.",
            ["right patellar tendon tenderness present", "right infrapatellar fat pad tenderness present",
             "right medial collateral ligament tenderness absent"],
        ),
        (
            "Quads four out of five, hams five, left side full power.",
            ["right quadriceps strength MRC 4", "right hamstrings strength MRC 5", "left hamstrings strength normal"],
        ),
    ],
)  # fmt: skip
def test_what_belongs_to_the_statement_before_stays_with_it(text: str, found: list[str]) -> None:
    assert said(f"Right knee. {text}") == found


def test_what_was_not_looked_at_is_not_normal() -> None:
    assert said("Left knee. The hip is full and pain free, ankle I didn't look at.") == ["left range of motion normal"]


def test_an_end_feel_told_of_that_is_of_the_movement_before() -> None:
    extension, flexion = findings("Right knee. Extension minus five and that's springy, flexion not measured.")[:2]
    assert (extension.end_feel, flexion.end_feel) == ("springy", None)


def test_among_tests_varus_is_the_test_though_no_section_was_announced() -> None:
    text = "Right knee. Valgus stress negative at thirty.\nVarus is fine both ways."
    assert said(text)[-1] == "both varus stress test negative"


@pytest.mark.parametrize(
    "text", ["range one twenty, five short", "lacks five, gets to one twenty", "five short, to one twenty"]
)
def test_of_two_numbers_the_smaller_one_is_what_is_lacking(text: str) -> None:
    assert said(f"Left knee {text}.") == ["left extension -5", "left flexion 120"]


def test_a_question_mark_for_a_value_is_doubtful_and_no_question() -> None:
    found = said("Right knee. Lachman ?, McMurray -ve.")
    assert found == ["right lachman test equivocal", "right mcmurray test negative"]


@pytest.mark.parametrize(
    ("text", "status"), [("Cap refill: brisk.", "normal"), ("Capillary refill, sluggish.", "increased")]
)
def test_a_quick_refill_is_a_normal_one(text: str, status: str) -> None:
    assert said(f"Right knee. {text}") == [f"right capillary refill {status}"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "Left knee. Bruising down the calf, and the quadriceps a touch wasted.",
            ["left calf bruising present", "left quadriceps wasting present mild"],
        ),
        ("Left elbow. No swelling, and the forearm isn't wasted.", [
            "left swelling absent", "left forearm wasting absent",
        ]),
        ("Left ankle. Swelling over the lateral malleolus, tender.", [
            "left lateral malleolus swelling present", "left lateral malleolus tenderness present",
        ]),
    ],
)  # fmt: skip
def test_a_place_behind_a_pause_has_the_sign_behind_it(text: str, expected: list[str]) -> None:
    assert said(text) == expected


def test_an_apology_to_the_patient_takes_no_place_back() -> None:
    text = "Left shoulder. Palpation. Greater tuberosity tender, sorry, cold hands. Biceps groove not tender."
    assert said(text) == ["left greater tuberosity tenderness present", "left bicipital groove tenderness absent"]


def test_a_side_for_comparison_opens_what_follows_it() -> None:
    text = "right shoulder external rotation seventy left side for comparison flexion one eighty"
    assert said(text) == ["right external rotation 70", "left flexion 180"]


def test_the_rest_of_a_section_is_not_the_place_named_before() -> None:
    assert said("Left shoulder. Palpation. AC joint tender, the rest of the palpation is unremarkable.") == [
        "left acromioclavicular joint tenderness present",
        "left palpation normal",
    ]


def test_a_grade_of_tenderness_is_of_the_side_before_it() -> None:
    text = "Left hand. The lunate is tender on the right, six out of ten, and it isn't on the left."
    assert said(text) == ["right lunate tenderness present pain 6", "left lunate tenderness absent"]


def test_an_end_feel_beside_what_comes_along() -> None:
    found = findings("Right elbow. Valgus stress positive, painful, soft end point.")
    assert [(f.status, f.with_, f.end_feel) for f in found] == [("positive", ["pain"], "soft")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Hands. Froment's, no that's negative right and left.", ["both froment sign negative"]),
        (
            "Left knee. Anterior drawer's positive. Posterior drawer, no, that's all fine.",
            ["left anterior drawer positive", "left posterior drawer negative"],
        ),
        (
            "Neck. Right arm myotomes, C5 to C7 all five.",
            [f"right C{level} myotome strength MRC 5" for level in (5, 6, 7)],
        ),
        (
            "Light touch is reduced on the index finger on the right, little finger's normal on the right and the left"
            " hand's normal for both.",
            ["right index finger light touch reduced", "right little finger light touch normal",
             "left index finger light touch normal", "left little finger light touch normal"],
        ),
        (
            "Right shoulder. Behind the back he makes L3 left, T8 right.",
            ["left L3 internal rotation", "right T8 internal rotation"],
        ),
    ],
)  # fmt: skip
def test_an_answer_before_its_verdict_and_rows_of_one_thing(text: str, found: list[str]) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Right elbow. Pronation right seventy, painful, left eighty.",
            ["right pronation 70 with pain", "left pronation 80"],
        ),
        ("Right hip. Thomas test, he's short, positive.", ["right thomas test positive"]),
        ("Right hip. Internal rotation, there's none, zero.", ["right internal rotation 0"]),
        ("Left foot. DP two plus both feet, PT two plus both feet.", [
            "both dorsalis pedis artery pulse pulse 2+", "both posterior tibial artery pulse pulse 2+",
        ]),
        (
            "Left knee. Flexion one thirty, the right one goes to one forty.\nMcMurray negative.",
            ["left flexion 130", "right flexion 140", "left mcmurray test negative"],
        ),
        (
            "Left knee. Flexion one fifteen with pain.\nLachman. I make that a grade one.",
            ["left flexion 115 with pain", "left lachman test laxity 1"],
        ),
        ("Left ankle. Dorsiflexion ten with the knee straight.", ["left dorsiflexion 10"]),
        ("Right shoulder, deltoid normal, lumbar spine cleared with full range.", [
            "right deltoid tenderness absent", "range of motion normal",
        ]),
    ],
)  # fmt: skip
def test_what_a_value_is_said_of(text: str, found: list[str]) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "left knee he's got an antalgic gait on the left all right kneecap's fine fib head fine quad tendon fine",
            ["left antalgic gait present", "left patella tenderness absent", "left fibular head tenderness absent",
             "left quadriceps tendon tenderness absent"],
        ),
        (
            "left knee medial joint line tender lateral joint line not tender pes tender LCL not trace effusion",
            ["left medial joint line tenderness present", "left lateral joint line tenderness absent",
             "left pes anserinus tenderness present", "left lateral collateral ligament tenderness absent",
             "left effusion present trace"],
        ),
        (
            "right knee light touch L four L five S one all normal DP palpable",
            ["right L4 dermatome light touch normal", "right L5 dermatome light touch normal",
             "right S1 dermatome light touch normal", "right dorsalis pedis artery pulse present"],
        ),
        (
            "right knee hamstrings strong but painful posterior sag positive",
            ["right hamstrings strength normal with pain", "right posterior sag positive"],
        ),
        (
            "right knee medial joint line tender lateral isn't and the pes is tender",
            ["right medial joint line tenderness present", "right lateral joint line tenderness absent",
             "right pes anserinus tenderness present"],
        ),
    ],
)  # fmt: skip
def test_a_line_without_any_punctuation(text: str, found: list[str]) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "okay this is the left knee fat pad okay right can you bend it up for me active flexion one twenty five",
            ["left infrapatellar fat pad tenderness absent", "left flexion 125"],
        ),
        (
            "left knee there's a trace effusion medial joint line tender lateral joint line not tender fat pad okay",
            ["left effusion present trace", "left medial joint line tenderness present",
             "left lateral joint line tenderness absent", "left infrapatellar fat pad tenderness absent"],
        ),
        (
            "left knee. Lachman negative, other knee now, the right, flexion one forty.",
            ["left lachman test negative", "right flexion 140"],
        ),
        (
            "Left ankle. Anterior drawer positive, talar tilt negative, both compared with the right.",
            ["left anterior drawer positive", "left talar tilt negative"],
        ),
        (
            "Left knee. Valgus at zero that's solid, and at thirty it opens up slightly.",
            ["left valgus stress test negative at 0", "left valgus stress test positive mild at 30"],
        ),
        (
            "Right shoulder. External rotation strength four plus, no, I'd make that five.",
            ["right external rotation strength MRC 5"],
        ),
        (
            "Left wrist. Everything else was not tender: distal radius, lunate.",
            ["left distal radius tenderness absent", "left lunate tenderness absent"],
        ),
        ("Lumbar spine. There's a list to the left, isn't there.", ["left lateral shift present"]),
        (
            "Right ankle. Resisted plantar flexion four plus, painful.",
            ["right plantar flexion strength MRC 4+ with pain"],
        ),
        ("Right foot first, because that's the quiet one: plantar fascia not tender.", [
            "right plantar fascia tenderness absent",
        ]),
        ("Right ankle. Resisted eversion four. Shoes are shot, new ones on order.", ["right eversion strength MRC 4"]),
        ("Right shoulder. Out to the side, eighty-five, and it's pain that stops you there.", [
            "right abduction 85 limited by pain",
        ]),
    ],
)  # fmt: skip
def test_talk_around_a_finding_changes_nothing_in_it(text: str, found: list[str]) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right SI joint. Two positive on the right: thigh thrust and sacral thrust.", [
            "right thigh thrust positive", "right sacral thrust positive",
        ]),
        ("Both knees. Lateral joint line: neither.", ["both lateral joint line tenderness absent"]),
        ("Left shoulder. AC joint tender. The right goes all the way.", [
            "left acromioclavicular joint tenderness present",
        ]),
        ("Right knee. The MCL tender. It doesn't, at zero it is rock solid.", [
            "right medial collateral ligament tenderness present",
        ]),
        ("Right shoulder. Apprehension positive with a clunk rather than pain.", [
            "right apprehension test positive with clunk",
        ]),
        ("Left shoulder. The left scapula does wing a little.", ["left scapular winging present mild"]),
        ("Shoulders. Sulcus one centimetre on the right, one on the left.", [
            "right sulcus sign 1 cm", "left sulcus sign 1 cm",
        ]),
        ("Right ankle. Dorsiflexion two degrees; bend the knee, and we get twelve.", [
            "right dorsiflexion 2", "right dorsiflexion 12",
        ]),
        ("Left ankle. Actively dorsiflexion five, plantar flexion forty, pain stops both of them.", [
            "left dorsiflexion 5 limited by pain", "left plantar flexion 40 limited by pain",
        ]),
        ("Right knee. Active flexion one twenty. Pes clear.", [
            "right flexion 120", "right pes anserinus tenderness absent",
        ]),
        ("Neck. Look over your right shoulder, that's seventy.", ["right rotation 70"]),
        ("Left ankle. Marked swelling around the lateral malleolus, with bruising there as well.", [
            "left lateral malleolus swelling present severe", "left lateral malleolus bruising present",
        ]),
        (
            "right elbow just tell me where it's sore okay lateral epicondyle tender common extensor origin tender"
            " radial head not tender medial epicondyle not and olecranon fine straighten it zero bend it one forty five"
            " turn the palm up eighty five resisted wrist extension four and it hurts cozen positive mill positive",
            ["right lateral epicondyle tenderness present", "right common extensor origin tenderness present",
             "right radial head tenderness absent", "right medial epicondyle tenderness absent",
             "right olecranon tenderness absent"],
        ),
    ],
)  # fmt: skip
def test_what_neighbours_lend_and_what_they_do_not(text: str, found: list[str]) -> None:
    assert said(text)[: len(found)] == found


def test_the_other_side_told_for_comparison_is_no_conflict() -> None:
    assert doubts("Right knee. Flexion one twenty. Left flexion one forty.") == [[], []]


def test_pain_reproduced_against_resistance_is_no_weakness() -> None:
    text = "Right elbow. Resisted wrist extension reproduces pain. Resisted wrist flexion four, reproduces her pain."
    assert said(text) == ["right extension pain present", "right flexion strength MRC 4 with pain"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Left shoulder. Active and passive external rotation both only ten.",
            [("left", "active_motion", 10.0), ("left", "passive_motion", 10.0)],
        ),
        (
            "Right shoulder. Flexion is eighty actively and passively.",
            [("right", "active_motion", 80.0), ("right", "passive_motion", 80.0)],
        ),
        ("Right shoulder. Active flexion eighty.", [("right", "active_motion", 80.0)]),
    ],
)
def test_a_movement_found_alike_actively_and_passively_is_found_twice(
    text: str, found: list[tuple[str, str, float]]
) -> None:
    assert [(finding.side, finding.section, finding.degrees) for finding in findings(text)] == found


def test_what_comes_along_with_a_movement_may_have_the_name_of_a_test() -> None:
    (finding,) = findings("Right shoulder. Passive external rotation forty with apprehension.")
    assert (finding.finding, finding.degrees, finding.with_) == ("external rotation", 40.0, ["apprehension"])


def test_all_else_is_not_what_was_named() -> None:
    weak, rest = findings("Resisted, right elbow: weak supination, everything else five.")
    assert (weak.structure, weak.status, weak.grade) == ("supination", "reduced", None)
    assert rest.structure is None
    assert rest.grade is not None


def test_a_pulse_that_is_not_felt_has_no_grade() -> None:
    absent, graded = findings("Right foot. I can't feel the dorsalis pedis, posterior tibial's two plus.")
    assert (absent.status, absent.grade) == ("absent", None)
    assert graded.grade is not None


def test_both_hands_of_the_patient() -> None:
    (finding,) = findings("Right elbow. Froment's negative, both hands.")
    assert finding.side == "both"


def test_another_angle_of_the_test_before() -> None:
    found = findings("Left knee. Valgus stress at zero, stable. Thirty, stable.")
    assert [(finding.at_degrees, finding.status) for finding in found] == [(0.0, "negative"), (30.0, "negative")]
