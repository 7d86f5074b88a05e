"""What is put right afterwards, by the speaker or by somebody who listens, in invented sentences."""

from __future__ import annotations

import pytest

from tests.support.reading import findings
from tests.support.scoring import text as shown


def said(text: str) -> list[str]:
    """Return the findings of a text, an utterance a line, in short."""
    return [shown(finding) for finding in findings(text)]


def reasons(text: str) -> list[list[str]]:
    return [[doubt.reason for doubt in finding.doubts] for finding in findings(text)]


def test_a_grade_is_put_right_by_its_name_although_another_has_the_same() -> None:
    text = (
        "Right hip. Resisted abduction is four, resisted adduction is four.\n"
        "One more thing: the abduction power on the right, I said four, please put four minus."
    )
    grades = [finding.grade.value for finding in findings(text) if finding.grade]
    assert grades == ["4-", "4"]


def test_make_it_puts_a_number_right_that_was_called_another() -> None:
    text = (
        "Right ankle. Passive dorsiflexion twelve, passive plantar flexion forty-five.\n"
        "Oh and hold up, that passive plantar flexion I called forty-five, make it fifty."
    )
    assert [finding.degrees for finding in findings(text)] == [12.0, 50.0]


def test_what_is_denied_first_and_right_behind_it() -> None:
    text = "Lumbar spine. Flexion is forty, extension is ten.\nPlease correct the extension: not ten, it was fifteen."
    assert [finding.degrees for finding in findings(text)] == [40.0, 15.0]


def test_an_amount_is_put_right_on_its_own_side_only() -> None:
    text = (
        "Right knee. A small effusion. Left knee, a small effusion.\n"
        "One correction, that effusion on the right, not small, write moderate."
    )
    assert [(f.side, f.severity) for f in findings(text)] == [("right", "moderate"), ("left", "mild")]


def test_a_level_that_was_miscounted() -> None:
    text = "Lumbar spine. L4 spinous process is tender.\nHold on, I've miscounted, that wasn't L4, it's the L5 process."
    (finding,) = findings(text)
    assert finding.structure == "L5 spinous process"
    assert [doubt.reason for doubt in finding.doubts] == ["slip_repaired"]


def test_a_scar_on_the_other_side() -> None:
    text = (
        "Left knee. There's a scar over the left patella.\n"
        "I put that scar on the left, it's not, the scar's on the right."
    )
    assert said(text) == ["side=right structure=patella finding=scar status=present"]


def test_no_wait_denies_nothing() -> None:
    (finding,) = findings("Right knee. No swelling, no wait, slight swelling.")
    assert (finding.status, finding.severity) == ("present", "mild")


def test_what_was_denied_everywhere_is_found_somewhere_after_all() -> None:
    (finding,) = findings("Right knee. No swelling – tell a lie, slight swelling over the MCL.")
    assert (finding.status, finding.structure) == ("present", "medial collateral ligament")
    assert finding.replaced


def test_a_side_said_again_behind_an_apology_is_not_taken_back() -> None:
    text = "It was the left one you landed on... oh, the right, forgive me. Right shoulder it is. AC joint tender."
    assert [finding.side for finding in findings(text)] == ["right"]


def test_a_side_answered_when_somebody_asks() -> None:
    text = "Right knee. The quads are slightly wasted on the left. What's that, Eva? On the right, aye, thank you."
    (finding,) = findings(text)
    assert finding.side == "right"
    assert "slip_repaired" in [doubt.reason for doubt in finding.doubts]


def test_another_voice_names_what_the_answer_is_of() -> None:
    text = (
        "Left knee. Dorsalis pedis one plus, cap refill under two seconds.\n"
        '"I\'d give that dorsalis pedis two plus, Jo."\nLet me feel it again. You\'re right, two plus.'
    )
    pulse, refill = findings(text)
    assert pulse.grade is not None
    assert pulse.grade.value == "2+"
    assert refill.measure is not None
    assert refill.measure.comparator == "<"


def test_the_test_that_somebody_asks_about() -> None:
    (finding,) = findings('Left knee. Varus is stable. "Isn\'t that one valgus?" It is, valgus.')
    assert finding.finding == "valgus stress test"
    assert finding.doubts


@pytest.mark.parametrize(
    "text",
    [
        "Right knee. No warmth. Neither the medial joint line nor the lateral joint line is tender.",
        "Right knee. Neither the medial joint line nor the lateral joint line is tender.",
    ],
)
def test_neither_nor_denies_both(text: str) -> None:
    tender = [(f.structure, f.status) for f in findings(text) if f.finding == "tenderness"]
    assert tender == [("medial joint line", "absent"), ("lateral joint line", "absent")]


def test_both_behind_two_positions_is_of_the_positions() -> None:
    text = "Right knee. Varus stable at zero and thirty both."
    assert [(f.side, f.at_degrees) for f in findings(text)] == [("right", 0.0), ("right", 30.0)]


def test_the_same_test_the_same_on_the_other_side_end_point_and_all() -> None:
    text = "Right knee. Lachman negative, firm end point. Left knee, Lachman, just the same."
    assert [(f.side, f.end_feel) for f in findings(text)] == [("right", "firm"), ("left", "firm")]


def test_a_heading_ends_before_its_colon() -> None:
    text = "Lumbar spine. Active movements, standing: flexion is forty degrees, extension is ten."
    assert [(f.finding, f.degrees) for f in findings(text)] == [("flexion", 40.0), ("extension", 10.0)]


def test_the_blood_supply_is_a_part_of_the_examination_and_no_blood_test() -> None:
    text = "Right leg. Dorsiflexion five. Back to the left for the blood supply. Dorsalis pedis two plus."
    assert [f.side for f in findings(text)][-1] == "left"


def test_what_is_felt_for_is_not_found() -> None:
    text = "Right knee. Palpation. Back of the hand for heat, and it's the difference that counts. No warmth."
    assert said(text) == ["side=right finding=warmth status=absent"]


def test_a_common_word_in_another_form_is_no_misheard_term() -> None:
    text = "Left knee. Then the anterior drawer. It's not budging for me, so that's negative."
    assert [f.finding for f in findings(text)] == ["anterior drawer"]


def test_a_part_that_is_left_out_is_no_finding_of_what_was_moved_last() -> None:
    text = "Left knee. Active flexion ninety-five.\nPassive I'm leaving out on purpose, he'd tighten up."
    assert said(text) == ["side=left finding=flexion degrees=95.0"]


def test_an_angle_behind_the_textbook_is_of_the_movement_that_was_taught_of() -> None:
    text = "Left knee. The book gives you one thirty-five of flexion. On the right I've one thirty-eight."
    (finding,) = findings(text)
    assert (finding.side, finding.finding, finding.degrees) == ("right", "flexion", 138.0)
    assert finding.doubts


def test_a_correction_in_the_middle_of_a_long_sentence() -> None:
    text = (
        "right knee first, a small effusion, medial joint line tender, coming to the left knee, no effusion, and one "
        "correction, sister, that effusion on the right, not small, write moderate, so we start with the stick"
    )
    effusions = [(f.side, f.status, f.severity) for f in findings(text) if f.finding == "effusion"]
    assert effusions == [("right", "present", "moderate"), ("left", "absent", None)]


def test_a_number_said_twice_is_not_that_of_what_comes_next() -> None:
    text = (
        "left shoulder active flexion one hundred and ten abduction eighty external rotation twenty no hang on it's "
        "ten only ten and hand behind the back to l five passive flexion one twenty"
    )
    behind = next(finding for finding in findings(text) if finding.finding == "internal rotation")
    assert (behind.structure, behind.degrees) == ("L5", None)


def test_only_the_tag_asks_also_where_somebody_is_called() -> None:
    (finding,) = findings("Left knee. Lachman is positive with a soft end point, d'you feel that, Eva?")
    assert (finding.status, finding.end_feel) == ("positive", "soft")
    assert findings("Left knee. Is it tender there, Eva?") == []


def test_a_gait_has_only_the_side_that_is_said() -> None:
    assert [f.side for f in findings("Right knee. Antalgic gait. Lachman negative.")] == [None, "right"]
    assert [f.side for f in findings("Knee. Antalgic gait on the right.")] == ["right"]


def test_an_amount_behind_but_is_of_what_was_found() -> None:
    (finding,) = findings("Right knee. The tibial tubercle is tender, but mildly.")
    assert finding.severity == "mild"
    both = findings("Right knee. Swelling, but mild bruising too.")
    assert [f.severity for f in both] == [None, "mild"]


def test_a_number_put_right_two_sentences_later_leaves_what_stands_between() -> None:
    text = "Left knee. Quads four plus out of five, hamstrings five. Sorry, that quads was four, not four plus."
    grades = [(f.structure, f.grade.value) for f in findings(text) if f.grade]
    assert grades == [("quadriceps", "4"), ("hamstrings", "5")]
