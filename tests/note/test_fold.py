"""What the sound adds to a reading: times, unclear words, and other readings that mean something else."""

from __future__ import annotations

from dictate.contract import Finding
from dictate.interface import reader_of
from dictate.note.fold import Heard, fold, start
from dictate.recognise.events import Hypothesis, Utterance, Word

READER = reader_of()


def spoken(
    text: str, *others: str, unclear: tuple[str, ...] = (), start_s: float = 0.0, favoured: bool = True
) -> Utterance:
    """Return an utterance of one word each half second; the unclear words with a low confidence."""
    words = tuple(
        Word(
            text=word,
            start_s=start_s + place * 0.5,
            end_s=start_s + place * 0.5 + 0.4,
            confidence=0.1 if word.strip(",.") in unclear else 0.99,
        )
        for place, word in enumerate(text.split())
    )
    alternatives = tuple(Hypothesis(text=other, score=-0.5, favoured=favoured) for other in others)
    return Utterance(words=words, alternatives=alternatives)


def heard(*utterances: Utterance) -> list[Finding]:
    return fold(utterances, READER, heard=start(READER, region="knee")).state.findings()


def reasons(finding: Finding) -> set[str]:
    return {doubt.reason for doubt in finding.doubts}


def test_a_finding_has_the_time_of_its_own_words() -> None:
    first, second = heard(spoken("right knee flexion one twenty.", start_s=10), spoken("No effusion.", start_s=20))
    assert first.time is not None
    assert 10.0 <= first.time[0] < first.time[1] <= 12.5
    assert second.time == (20.0, 20.9)


def test_findings_of_one_utterance_have_times_of_their_own() -> None:
    first, second = heard(spoken("Lachman negative on the right, McMurray positive on the right."))
    assert first.time is not None
    assert second.time is not None
    assert first.time[1] <= second.time[0]


def test_typed_text_has_no_times_and_no_doubts_of_hearing() -> None:
    findings = heard(Utterance.of_text("Right knee flexion one twenty."))
    assert [finding.time for finding in findings] == [None]
    assert reasons(findings[0]) == set()


def test_a_copy_has_the_time_of_the_words_that_copied_it() -> None:
    first, copy = heard(spoken("Lachman negative on the right."), spoken("Same on the left.", start_s=30))
    assert (first.side, copy.side) == ("right", "left")
    assert copy.time is not None
    assert copy.time[0] >= 30


def test_an_unclear_word_inside_a_finding_is_doubted() -> None:
    (finding,) = heard(spoken("Right knee flexion one twenty.", unclear=("twenty",)))
    (doubt,) = [doubt for doubt in finding.doubts if doubt.reason == "heard_unclearly"]
    assert "twenty" in doubt.detail


def test_an_unclear_word_outside_a_finding_is_not_its_doubt() -> None:
    (finding,) = heard(spoken("Well marvellous. Flexion on the right one twenty.", unclear=("marvellous",)))
    assert "heard_unclearly" not in reasons(finding)


def test_an_unclear_little_word_does_not_matter() -> None:
    (finding,) = heard(spoken("Flexion on the right is one twenty.", unclear=("the", "is")))
    assert "heard_unclearly" not in reasons(finding)


def test_another_number_is_a_doubt_with_that_number_as_suggestion() -> None:
    (finding,) = heard(spoken("Right knee flexion one fifteen.", "Right knee flexion one fifty."))
    (doubt,) = [doubt for doubt in finding.doubts if doubt.reason == "readings_disagree"]
    assert finding.degrees == 115
    assert doubt.suggestion == "150"


def test_another_side_is_a_doubt() -> None:
    (finding,) = heard(spoken("Lachman negative on the right.", "Lachman negative on the left."))
    assert [d.suggestion for d in finding.doubts if d.reason == "readings_disagree"] == ["left"]


def test_another_status_is_a_doubt() -> None:
    (finding,) = heard(spoken("Lachman negative on the right.", "Lachman positive on the right."))
    assert [d.suggestion for d in finding.doubts if d.reason == "readings_disagree"] == ["positive"]


def test_another_structure_is_a_doubt() -> None:
    (finding,) = heard(spoken("Medial joint line tender on the right.", "Lateral joint line tender on the right."))
    assert [d.suggestion for d in finding.doubts if d.reason == "readings_disagree"] == ["lateral joint line"]


def test_other_words_of_the_same_meaning_are_no_doubt() -> None:
    (finding,) = heard(spoken("Right knee flexion one fifteen.", "right knee flexion 115"))
    assert "readings_disagree" not in reasons(finding)


def test_a_favoured_term_that_sounds_otherwise_without_favouring_is_doubted() -> None:
    other = "We went to the park on the right"
    (finding,) = heard(spoken("Lachman negative on the right", other, favoured=False))
    assert "readings_disagree" in reasons(finding)


def test_a_favoured_term_that_sounds_alike_without_favouring_is_not_doubted() -> None:
    (finding,) = heard(spoken("Lachman negative on the right", "Latchmann negative on the right", favoured=False))
    assert "readings_disagree" not in reasons(finding)


def test_what_was_misheard_once_is_doubted_in_its_copy_too() -> None:
    first, copy = heard(
        spoken("Lachman negative on the right.", "Lachman positive on the right."), spoken("Same on the left.")
    )
    assert "readings_disagree" in reasons(first)
    assert "readings_disagree" in reasons(copy)


def test_alternatives_leave_no_trace_in_the_state() -> None:
    with_other = fold([spoken("Right knee flexion one fifteen.", "Left hip flexion ninety.")], READER)
    without = fold([spoken("Right knee flexion one fifteen.")], READER)
    assert with_other.state.context == without.state.context
    assert len(with_other.state.entries) == len(without.state.entries)


def test_an_introduction_before_the_first_touch_is_in_time() -> None:
    lines = ["Let me know if anything hurts.", "Right knee. Medial joint line tender."]
    assert fold(map(Utterance.of_text, lines), READER).introduced_late == frozenset()


def test_an_introduction_after_the_first_touch_is_late() -> None:
    lines = ["Right knee. On palpation the medial joint line is tender.", "Let me know if anything hurts."]
    assert fold(map(Utterance.of_text, lines), READER).introduced_late == {"pain to be reported"}


def test_the_fold_can_go_on_from_where_it_stood() -> None:
    lines = [Utterance.of_text(line) for line in ("Right knee. Lachman negative.", "Flexion one twenty.")]
    at_once = fold(lines, READER)
    in_two = fold(lines[1:], READER, heard=fold(lines[:1], READER))
    assert at_once == in_two
    assert isinstance(at_once, Heard)
