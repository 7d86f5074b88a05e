"""Talk as it is dictated: sides that lead a list, corrections made later, results said of what was explained before."""

from __future__ import annotations

import pytest

from dictate.contract import Finding
from tests.support.reading import findings


def value(finding: Finding) -> object:
    """Return what was found: degrees, a measure, a grade, or the status."""
    if finding.degrees is not None:
        return finding.degrees
    if finding.measure is not None:
        return finding.measure.value
    return finding.grade.value if finding.grade else finding.status


def told(text: str) -> list[tuple[str | None, str, object]]:
    return [(f.side, f.structure or f.finding, value(f)) for f in findings(text)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Left knee. Trace effusion.\nPassive range. Right, flexion one hundred. Left, one twenty.",
         [("left", "effusion", "present"), ("right", "flexion", 100), ("left", "flexion", 120)]),
        ("Left shoulder. Abduction four. Right, abduction five.",
         [("left", "abduction", "4"), ("right", "abduction", "5")]),
        ("Left knee. Flexion one ten. Right, quads five.", [("left", "flexion", 110), ("left", "quadriceps", "5")]),
    ],
)  # fmt: skip
def test_a_right_before_what_was_found_of_the_left_is_a_side(text: str, wanted: list[object]) -> None:
    assert told(text) == wanted


@pytest.mark.parametrize(
    "talk",
    [
        "The quads are the same as ever, next to the other leg they look fine to me.",
        "Press for the pulse, both hands, and dig in.",
        "Fingers on the joint line, other hand on the heel.",
        "Other side of the knee, the same six centimetres.",
    ],
)
def test_hands_and_comparisons_do_not_turn_to_the_other_side(talk: str) -> None:
    assert told(f"Right knee. No redness.\n{talk}\nFlexion one ten.")[-1] == ("right", "flexion", 110)


def test_same_with_a_verdict_of_its_own_copies_no_abnormal_value() -> None:
    found = told("Lumbar spine. Light touch left, L4 to S1 intact except S1, reduced.\nRight, same levels, all normal.")
    assert [state for side, _, state in found if side == "right"] == ["normal"] * 3


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Right foot. Passive great toe extension forty-five right, seventy left.\n"
         "Great toe extension, right, I had the arm on the wrong bone: thirty-five, not forty-five.",
         [("right", "great toe extension", 35), ("left", "great toe extension", 70)]),
        ("Left knee. Calf girth left thirty-six, right thirty-eight.\n"
         "Calf girth, I read the tape wrong on the left, it's thirty-five.",
         [("left", "calf", 35), ("right", "calf", 38)]),
        ("Left hip. Abduction four. Flexion five.\nNo, abduction is four plus, not four.",
         [("left", "abduction", "4+"), ("left", "flexion", "5")]),
        ("Both knees. Right knee: small effusion. Left knee: no effusion.\nA correction, I gave you the wrong knees "
         "for the effusion. It is the left that has the small effusion, and the right that has none.",
         [("right", "effusion", "absent"), ("left", "effusion", "present")]),
        ("Right wrist. Phalen positive on the right, left negative. "
         "Tinel positive left, no, I'm on the right hand, positive right, left negative.",
         [("right", "phalen test", "positive"), ("left", "phalen test", "negative"),
          ("right", "tinel test", "positive"), ("left", "tinel test", "negative")]),
        ("Left knee. Five, not four, for the quads.", [("left", "quadriceps", "5")]),
    ],
)  # fmt: skip
def test_what_is_corrected_later_is_put_right(text: str, wanted: list[tuple[str, str, object]]) -> None:
    assert told(text) == [(side, "tinel sign" if name == "tinel test" else name, v) for side, name, v in wanted]


def test_an_effusion_that_is_gone_has_no_amount() -> None:
    right, _ = findings(
        "Both knees. Right knee: small effusion. Left knee: no effusion.\nA correction, wrong knees. "
        "It is the left that has the small effusion, and the right that has none."
    )
    assert (right.status, right.severity) == ("absent", None)


@pytest.mark.parametrize(
    "taught",
    [
        "FADIR is three movements rolled into one, and it'd be sore in half of this room. It's {} on her.",
        "FADIR, knee across and turned in, the front is hip, the back is sacroiliac. {}.",
    ],
)
@pytest.mark.parametrize("verdict", ["positive", "negative"])
def test_a_verdict_is_of_the_test_that_was_explained(taught: str, verdict: str) -> None:
    (found,) = findings("Left hip. " + taught.format(verdict.capitalize() if taught.endswith("{}.") else verdict))
    assert (found.side, found.finding, found.status) == ("left", "fadir test", verdict)


def test_a_verdict_behind_other_names_is_a_question() -> None:
    (found,) = findings("Left hip. FADIR, knee across and turned in, front is hip, back is sacroiliac. Positive.")
    assert [doubt.reason for doubt in found.doubts] == ["incomplete"]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Neck. Nothing tender on the spinous processes.", [("midline", "spinous processes", "absent")]),
        ("Left shoulder. He is not pretending, the apprehension test is positive.",
         [("left", "apprehension test", "positive")]),
        ("Right elbow. Radial head no, olecranon no, medial epicondyle no.",
         [("right", "radial head", "absent"), ("right", "olecranon", "absent"),
          ("right", "medial epicondyle", "absent")]),
        ("Left shoulder. Neer not done, she can't get the arm up that far.", [("left", "neer test", "not_examined")]),
        ("Right shoulder. Real apprehension, not pain.", [("right", "apprehension test", "positive")]),
    ],
)  # fmt: skip
def test_what_is_denied_is_what_stands_beside_the_denial(text: str, wanted: list[object]) -> None:
    assert told(text) == wanted


@pytest.mark.parametrize("said", ["Firm end point.", "Nice firm end point.", "There's a firm end.", "Firm."])
def test_an_end_point_of_its_own_belongs_to_the_test_before(said: str) -> None:
    (found,) = findings(f"Right knee. The Lachman is negative. {said}")
    assert (found.status, found.end_feel) == ("negative", "firm")


def test_an_end_feel_of_all_three_is_that_of_each() -> None:
    found = findings("Left shoulder. Passive flexion one hundred, abduction seventy-five, external rotation fifteen, "
                     "all three with a capsular end feel.")  # fmt: skip
    assert [f.end_feel for f in found] == ["capsular"] * 3


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Left ankle. Inversion's limited by pain, eversion full.", [("inversion", ["pain"], "reduced"),
                                                                     ("eversion", [], "normal")]),
        ("Left ankle. Inversion full, eversion limited by pain.", [("inversion", [], "normal"),
                                                                   ("eversion", ["pain"], "reduced")]),
    ],
)  # fmt: skip
def test_what_limits_is_of_the_movement_before_it(text: str, wanted: list[object]) -> None:
    assert [(f.finding, f.limited_by, f.status) for f in findings(text)] == wanted


@pytest.mark.parametrize(
    ("text", "along"),
    [
        ("Left ankle. Resisted plantar flexion, left four plus and painful, right five.", [["pain"], []]),
        ("Right elbow. Triceps weak and sore.", [["pain"]]),
        ("Left knee. Active range zero to one thirty, pain at end range with the flexion.", [[], ["pain"]]),
        ("Left hip. FABER on the right gives her the same buttock pain, so positive; left negative.", [["pain"], []]),
    ],
)
def test_pain_comes_along_with_what_it_was_said_of(text: str, along: list[list[str]]) -> None:
    assert [f.with_ for f in findings(text)] == along


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Lumbar spine. Straight leg raise right positive at forty with pain down to the calf.",
         [("right", "straight leg raise", 40)]),
        ("Lumbar spine. There is tenderness over the L5 spinous process and left paraspinal spasm.",
         [("midline", "L5 spinous process", "present"), ("left", "paraspinals", "present")]),
        ("Neck. Right C6 facet joint tender.", [("right", "C6 facet joint", "present")]),
        ("Neck. Reflexes are two plus at the biceps and triceps, both arms.",
         [("both", "biceps reflex", "2+"), ("both", "triceps reflex", "2+")]),
        ("Left knee gets to zero and flexes to one thirty.", [("left", "extension", 0), ("left", "flexion", 130)]),
        ("Both knees. Girth. Right thigh at ten is forty-seven, left thigh at ten is forty-five.",
         [("right", "thigh", 47), ("left", "thigh", 45)]),
        ("Neck. Rotation left sixty, right limited at forty by pain.",
         [("left", "rotation", 60), ("right", "rotation", 40)]),
        ("Thoracic spine. Neck screened, full and pain free, and both shoulders likewise.",
         [(None, "range of motion", "normal"), ("both", "range of motion", "normal")]),
        ("Left hip. Hop no bother.", [("left", "hop", "normal")]),
        ("Neck. Plantar up on the right.", [("right", "babinski sign", "positive")]),
        ("Right foot. Plantar ecchymosis is present.", [("right", "bruising", "present")]),
    ],
)  # fmt: skip
def test_values_find_what_they_are_of(text: str, wanted: list[object]) -> None:
    assert told(text) == wanted


def test_dorsiflexion_with_the_knee_straight_and_bent_is_two_values_and_a_question() -> None:
    found = findings("Left ankle. Dorsiflexion five with the knee straight and twelve with it bent.")
    assert [(f.finding, f.degrees) for f in found] == [("dorsiflexion", 5), ("dorsiflexion", 12)]
    assert all(f.doubts for f in found)


def test_a_joint_screened_at_the_end_of_a_row_is_not_the_region_examined() -> None:
    found = findings(
        "so the chest wall on the left, no bruising, left eighth rib tender, left ninth rib tender, T8 spinous process "
        "not tender, active flexion full, rotation left twenty, rib compression test positive, shoulders full"
        " both sides"
    )
    assert {f.region for f in found[:-1]} == {"thoracic"}
    assert [f.finding for f in found if f.degrees == 20] == ["rotation"]


def test_a_colon_inside_a_sentence_names_no_speaker() -> None:
    assert [f.finding for f in findings("Right knee. Squat for me: painful. Hop for me: fine.")] == ["squat", "hop"]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Left knee. Now Lachman. Twenty to thirty degrees, thumb over the tubercle. Lachman's negative.",
         [("left", "lachman test", "negative")]),
        ("Right wrist. Phalen, let the wrists flop, sixty seconds. Positive.", [("right", "phalen test", "positive")]),
        ("Lumbar spine. Side bending to the right is painful. To the left, no pain.",
         [("right", "lateral flexion", "present"), ("left", "lateral flexion", "absent")]),
        ("Midline: T eleven tender, T nine not. Log-rolled with two of the team. No wound.",
         [("midline", "T11", "present"), ("midline", "T9", "absent"), (None, "wound", "absent")]),
    ],
)  # fmt: skip
def test_how_a_test_is_held_is_no_result(text: str, wanted: list[object]) -> None:
    assert told(text) == wanted


def test_a_place_that_was_not_said_is_a_question() -> None:
    (found,) = findings("Left hip. And press behind it as well. Not tender.")
    assert (found.structure, found.status) == (None, "absent")
    assert found.doubts


def test_none_at_another_place_does_not_deny_what_was_there() -> None:
    there, elsewhere = findings("Left ankle. Bruising tracking down to the heel, none medially.")
    assert (there.finding, there.structure, there.status) == ("bruising", "calcaneus", "present")
    assert elsewhere.status == "absent"
    assert elsewhere.doubts


def test_a_range_with_a_painful_arc_is_two_findings() -> None:
    assert told("Left shoulder. Flexion one sixty with a painful arc.") == [
        ("left", "flexion", 160),
        ("left", "painful arc", "positive"),
    ]


def test_a_sign_of_another_region_at_a_place_of_this_one_is_a_question() -> None:
    (tracking,) = findings("Left ankle. Tracking normal over the heel.")
    assert "wrong_region" in {doubt.reason for doubt in tracking.doubts}
