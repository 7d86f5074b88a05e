"""Teaching explains scales, levels and verdicts, and others correct the examiner; only this patient makes findings."""

from __future__ import annotations

import pytest

from tests.support.reading import findings


def said(text: str) -> list[tuple[str | None, str | None, str]]:
    return [(f.side, f.structure, f.finding) for f in findings(text)]


@pytest.mark.parametrize(
    "talk",
    [
        # what the steps of a scale mean: the MRC scale and laxity grades as in the trade sheet
        "Grade one is up to five millimetres more than the other side, two is five to ten, three is over ten.",
        "MRC four is some resistance, five is normal.",
        "Five means I can't break it, four means I can if I work, three's just gravity.",
        "Less than a centimetre's a grade one, one to two's a two, over two's a three.",
        "The stroke test is graded zero, trace, one plus, two plus, three plus.",
        # what a level does, and where it lies
        "L2 is hip flexion, L3 knee extension, L4 ankle dorsiflexion, L5 big toe, S1 push-off.",
        "Thumb is C6, middle finger is C7, little finger is C8.",
        # what a verdict means
        "A positive is pain at the epicondyle, not weakness.",
        "The positive is not pain, it's the face, the hand flying down, the quads grabbing.",
        "You lift, and relief is your positive.",
        # orders
        "Push the patella laterally, press the medial facet.",
        # the words of somebody else
        'What is normal? "Zero to one thirty-five."',
    ],
)
def test_explanations_make_no_finding(talk: str) -> None:
    assert said(f"Right knee.\nNo effusion.\n{talk}") == [("right", None, "effusion")]


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        ("Quads are four on the left.", "strength"),
        ("Lachman on the left is a two.", "lachman test"),
        ("On the left the pivot shift is positive, and that's a grade two.", "pivot shift"),
        ("L5 myotome is four on the left.", "strength"),
        ("I can milk a small effusion across on the left.", "effusion"),
    ],
)
def test_values_that_look_alike_are_findings(text: str, finding: str) -> None:
    assert [(f.side, f.finding) for f in findings(text)] == [("left", finding)]


@pytest.mark.parametrize(
    "challenge",
    ["Wait, did you say one twenty-five? I got one thirty.", '"I have one thirty here."', "Hang on, are you sure?"],
)
def test_a_value_that_was_challenged_is_replaced(challenge: str) -> None:
    (flexion,) = findings(f"Left knee.\nActive flexion one twenty-five.\n{challenge}\nFlexion's one thirty.")
    assert flexion.degrees == 130
    assert [(r.field, r.value) for r in flexion.replaced] == [("degrees", 125.0)]
    assert "slip_repaired" in {doubt.reason for doubt in flexion.doubts}


def test_values_that_nobody_challenged_stand_both_in_doubt() -> None:
    first, second = findings("Left knee.\nActive flexion one twenty-five.\nActive flexion one thirty.")
    assert (first.degrees, second.degrees) == (125, 130)
    assert all("conflicts" in {doubt.reason for doubt in finding.doubts} for finding in (first, second))


@pytest.mark.parametrize("between", ["\num that's his left you've got\n", ' "Sergeant, that\'s his left." '])
def test_a_side_that_another_sees_is_wrong_is_changed(between: str) -> None:
    got = findings(f"Straight leg raise positive on the right.{between}So it is. And on the right, negative.")
    assert [(f.side, f.status) for f in got] == [("left", "positive"), ("right", "negative")]
    assert [(r.field, r.value) for r in got[0].replaced] == [("side", "right")]
    assert "slip_repaired" in {doubt.reason for doubt in got[0].doubts}


def test_what_is_told_before_a_question_counts() -> None:
    got = findings("Right knee first: Lachman one A. And the left, that's a two, what's the end point?")
    assert [(f.side, f.grade.value if f.grade else None) for f in got] == [("right", "1"), ("left", "2")]


def test_the_joint_that_is_lent_opens_the_exam() -> None:
    got = findings("This is Mary, seventy-one, who's lent us her right shoulder.\nIn her, infraspinatus is wasted.")
    assert [(f.side, f.finding, f.doubts) for f in got] == [("right", "wasting", [])]


def test_sides_that_teaching_names_turn_to_none() -> None:
    got = findings("Left knee.\nThe hamstrings, both of them, bend the knee.\nLachman negative.")
    assert [(f.side, f.finding) for f in got] == [("left", "lachman test")]


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        ("Belly press you do instead; if the wrist bends it's positive. Hers is negative.", "negative"),
        ("Lachman at twenty to thirty, thumb on the tubercle. It's negative.", "negative"),
        ("Relocation: you push the head back, and a positive is when he relaxes. It is positive.", "positive"),
    ],
)
def test_a_verdict_by_itself_is_that_of_the_test_taught(text: str, verdict: str) -> None:
    (finding,) = findings(f"Left side.\n{text}")
    assert (finding.side, finding.status) == ("left", verdict)


def test_levels_that_only_explain_do_not_become_the_topic() -> None:
    (finding,) = findings("Strength of the left leg.\nHamstrings. L5, S1, S2. Five on both sides.")
    assert (finding.side, finding.structure, finding.finding) == ("both", "hamstrings", "strength")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Right knee.\nSquat's limited. by pain.", (None, None, ["pain"])),
        ("Right knee.\nQuads four. Plus with pain.", ("right", "4+", [])),
        ("Right knee.\nTender on the medial. Joint line.", ("right", None, [])),
    ],
)
def test_false_stops_are_mended(text: str, expected: tuple[str | None, str | None, list[str]]) -> None:
    (finding,) = findings(text)
    assert (finding.side, finding.grade.value if finding.grade else None, finding.limited_by) == expected


def test_true_stops_stay() -> None:
    got = findings("Right knee. Extension five short of straight.\nPower on the right side. Flexion four.")
    assert [(f.finding, f.structure) for f in got] == [("extension", None), ("strength", "flexion")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Light touch is reduced in the C6 dermatome on the right.\nSo that's C7, not C6.", ("right", "C7 dermatome")),
        ("Straight leg raise positive on the right.\nThat's the left, not the right.", ("left", None)),
        ("Tender over the patellar tendon on the left.\nThat's the fat pad, not the patellar tendon.",
         ("left", "infrapatellar fat pad")),
    ],
)  # fmt: skip
def test_this_not_that_changes_the_last_statement(text: str, said: tuple[str, str | None]) -> None:
    (finding,) = findings(text)
    assert (finding.side, finding.structure) == said
    assert "slip_repaired" in {doubt.reason for doubt in finding.doubts}


def test_what_is_left_is_no_neighbour_of_a_joint() -> None:
    (finding,) = findings("The case is left shoulder.\nNo deformity.")
    assert (finding.side, finding.doubts) == ("left", [])


def test_steps_of_a_test_turn_to_no_side() -> None:
    got = findings("Right wrist.\nPush the ulnar head down, see if it bounces, then do the other side.\nLunate tender.")
    assert [(f.side, f.structure) for f in got] == [("right", "lunate")]


@pytest.mark.parametrize(
    "text",
    [
        "The right knee has a moderate effusion, the left has a trace.",
        "Moderate effusion on the right, a trace on the left.",
        "There's a moderate effusion on the right and, to be honest, a trace on the left also.",
    ],
)
def test_an_amount_by_itself_is_that_of_the_other_side(text: str) -> None:
    got = findings(text)
    assert [(f.side, f.finding, f.severity) for f in got] == [
        ("right", "effusion", "moderate"),
        ("left", "effusion", "trace"),
    ]


def test_places_named_in_one_line_and_judged_behind_a_stop() -> None:
    got = findings("Right elbow. No swelling.\nlateral epicondyle. Very tender\nradial head. No tenderness")
    assert [(f.structure, f.finding, f.status, f.severity) for f in got[1:]] == [
        ("lateral epicondyle", "tenderness", "present", "severe"),
        ("radial head", "tenderness", "absent", None),
    ]


@pytest.mark.parametrize("apology", ["sorry love,", "ow, okay, sorry bud,", "ooh,"])
def test_words_of_comfort_repair_nothing(apology: str) -> None:
    (finding,) = findings(f"Right ankle.\nATFL, {apology} very tender.")
    assert (finding.structure, finding.severity) == ("anterior talofibular ligament", "severe")


def test_a_no_that_ends_a_sentence_answers_for_the_place_before_it() -> None:
    got = findings("Left elbow. Feeling for tenderness.\nMedial epicondyle, no. Olecranon fine.")
    assert [(f.structure, f.status, f.replaced) for f in got] == [
        ("medial epicondyle", "absent", []),
        ("olecranon", "absent", []),
    ]


def test_a_place_put_in_place_of_another_by_no_alone_is_a_question() -> None:
    got = findings("left elbow feeling for tenderness\nmedial epicondyle no olecranon fine")
    (olecranon,) = [f for f in got if f.structure == "olecranon"]
    assert not olecranon.replaced or olecranon.doubts


@pytest.mark.parametrize("aside", ["no surprise", "no wonder", "no fuss"])
def test_asides_with_no_deny_nothing(aside: str) -> None:
    got = findings(f"Right knee.\nMedial joint line tender, {aside}.\nLateral joint line's non-tender.")
    assert [(f.structure, f.status) for f in got] == [
        ("medial joint line", "present"),
        ("lateral joint line", "absent"),
    ]


def test_a_sign_by_itself_among_tests_is_a_question() -> None:
    (clunk,) = findings("Left knee.\nPivot shift, who can tell me what positive looks like?\na clunk")
    assert "incomplete" in {doubt.reason for doubt in clunk.doubts}


@pytest.mark.parametrize("did_not", ["I didn't get the", "I did not do the", "didn't manage the"])
def test_a_test_that_was_not_got_is_not_examined(did_not: str) -> None:
    (finding,) = findings(f"Left knee.\n{did_not} pivot shift because of guarding.")
    assert (finding.status, finding.limited_by) == ("not_examined", ["guarding"])


def test_a_denied_sign_has_no_grade() -> None:
    (finding,) = findings("Right ankle.\nSo, on the right one, lateral malleolus isn't tender.")
    assert (finding.status, finding.grade) == ("absent", None)
    assert "incomplete" in {doubt.reason for doubt in finding.doubts}


def test_a_test_negative_and_graded_at_once_is_a_question() -> None:
    (finding,) = findings("Left knee.\nValgus stress at zero negative, grade one.")
    assert "incomplete" in {doubt.reason for doubt in finding.doubts}


def test_what_holds_until_proven_otherwise_is_found_of_nobody() -> None:
    assert findings("And a knee that's hot, red and swollen with no movement, septic until proven otherwise.") == []
