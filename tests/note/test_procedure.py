"""What procedure words do to the note. Their meanings: ICAO Doc 9432, Manual of Radiotelephony, 2.6."""

from __future__ import annotations

import pytest

from dictate import interpret
from dictate.contract import Note
from dictate.interface import reader_of
from dictate.note.fold import Heard, fold, start
from dictate.recognise.events import Hypothesis, Utterance, Word
from tests.support.brief import brief

READER = reader_of()
START = "Right knee, active motion."


def note_of(*lines: str) -> Note:
    return interpret([START, *lines])


def said(*lines: str) -> list[str]:
    return [brief(finding) for finding in note_of(*lines).findings]


def heard(*lines: str) -> Heard:
    return fold([Utterance.of_text(line) for line in (START, *lines)], READER)


def spoken(text: str, *others: str, confidence: float = 0.99) -> Utterance:
    words = tuple(
        Word(text=word, start_s=place * 0.5, end_s=place * 0.5 + 0.4, confidence=confidence)
        for place, word in enumerate(text.split())
    )
    return Utterance(words=words, alternatives=tuple(Hypothesis(text=other, score=-0.5) for other in others))


def reasons(*utterances: Utterance) -> list[list[str]]:
    state = fold(utterances, READER, heard=start(READER, region="knee")).state
    return [[doubt.reason for doubt in finding.doubts] for finding in state.findings()]


# -- stand by ---------------------------------------------------------------------------------------------------------


def test_nothing_said_while_standing_by_is_a_finding() -> None:
    assert said("Stand by.", "Medial joint line tender.") == []


def test_the_exam_goes_on_after_resume() -> None:
    assert said("Stand by.", "Resume.", "Flexion one fifteen.") == ["right flexion 115"]


def test_what_follows_resume_in_the_same_breath_is_read() -> None:
    assert said("Stand by.", "Resume. Flexion one fifteen.") == ["right flexion 115"]


def test_section_and_side_are_kept_while_standing_by() -> None:
    state = heard("Stand by.", "Left shoulder palpation.", "Resume.").state
    assert (state.context.region, state.context.section, state.context.side) == ("knee", "active_motion", "right")


def test_what_follows_stand_by_in_the_same_breath_is_no_finding() -> None:
    assert said("Stand by, medial joint line tender.") == []


def test_disregard_does_nothing_while_standing_by() -> None:
    assert said("Flexion one fifteen.", "Stand by.", "Disregard.", "Resume.") == ["right flexion 115"]


def test_resume_without_stand_by_changes_nothing() -> None:
    assert said("Flexion one fifteen.", "Resume.") == ["right flexion 115"]


def test_the_note_says_what_was_passed_over_while_standing_by() -> None:
    prompts = note_of("Stand by.", "Medial joint line tender.", "Nice weather.").prompts
    assert [prompt.text for prompt in prompts if "stand by" in prompt.text] == [
        'Said after "stand by" and not noted, though it speaks of findings (utterances: 1). '
        "Read or hear them, and add what belongs in the note."
    ]


def test_small_talk_while_standing_by_is_not_asked_about() -> None:
    prompts = note_of("Stand by.", "Nice weather today.", "Resume.", "Flexion one fifteen.").prompts
    assert [prompt for prompt in prompts if "stand by" in prompt.text] == []


# -- questions to the program -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("asked", ["Say again.", "Read back palpation.", "Read back.", "What's left?", "Red back."])
def test_a_question_to_the_program_leaves_the_note_as_it_is(asked: str) -> None:
    assert note_of("Flexion one fifteen.", asked).findings == note_of("Flexion one fifteen.").findings


def test_asking_to_read_back_a_section_does_not_go_to_it() -> None:
    assert heard("Read back palpation.").state.context.section == "active_motion"


def test_whats_left_announces_no_side() -> None:
    assert heard("What's left?").state.context.side == "right"


def test_every_utterance_is_counted_so_that_findings_keep_their_numbers() -> None:
    state = heard("Stand by.", "Hello.", "Resume.", "Say again.", "Disregard.", "Correction.", "Flexion one fifteen.")
    assert state.state.utterances == 8
    assert [entry.utterance for entry in state.state.entries] == [7]


# -- disregard --------------------------------------------------------------------------------------------------------


def test_disregard_takes_the_last_statement_back() -> None:
    assert said("Flexion one fifteen.", "Extension zero.", "Disregard.") == ["right flexion 115"]


def test_disregard_twice_takes_two_statements_back() -> None:
    assert said("Flexion one fifteen.", "Extension zero.", "Disregard.", "Disregard.") == []


def test_disregard_of_a_correction_puts_the_first_version_back() -> None:
    assert said("Flexion one fifteen.", "Correction, one oh five.", "Disregard.") == ["right flexion 115"]


def test_disregard_of_an_announcement_keeps_the_findings() -> None:
    assert said("Flexion one fifteen.", "Moving on to palpation.", "Disregard.") == ["right flexion 115"]


def test_disregard_of_an_announcement_goes_back_to_the_section_before() -> None:
    assert heard("Moving on to palpation.", "Disregard.").state.context.section == "active_motion"


def test_disregard_before_any_finding_does_no_harm() -> None:
    assert [brief(finding) for finding in interpret(["Disregard.", "Right knee flexion one fifteen."]).findings] == [
        "right flexion 115"
    ]


def test_what_follows_disregard_in_the_same_breath_is_read() -> None:
    found = said("Flexion one fifteen.", "Disregard that, flexion one oh five.")
    assert found == ["right flexion 105"]


def test_a_word_misheard_behind_disregard_does_not_change_what_it_takes_back() -> None:
    assert said("Flexion one fifteen.", "Moving on to palpation.", "disregard, ach") == ["right flexion 115"]


# -- correction -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "correction", "found"),
    [
        ("Flexion one fifteen.", "Correction, one hundred and five.", "right flexion 105"),
        ("Flexion one fifteen.", "correction one oh five", "right flexion 105"),
        ("Flexion one fifteen.", "Correction, left.", "left flexion 115"),
        ("Lachman positive.", "Correction, negative.", "right lachman test negative"),
        ("Quadriceps four out of five.", "Correction, four minus.", "right quadriceps strength MRC 4-"),
        ("Medial joint line tender.", "Correction, lateral joint line.", "right lateral joint line tenderness present"),
    ],
)
def test_a_correction_replaces_the_value(first: str, correction: str, found: str) -> None:
    assert said(first, correction) == [found]


def test_a_correction_keeps_what_it_replaced() -> None:
    (finding,) = note_of("Flexion one fifteen.", "Correction, one hundred and five.").findings
    assert [(note.field, note.value) for note in finding.replaced] == [("degrees", 115.0)]


def test_a_pause_after_the_word_correction_changes_nothing_of_its_meaning() -> None:
    assert said("Flexion one fifteen.", "Correction.", "One hundred and five.") == ["right flexion 105"]


def test_a_correction_that_is_not_understood_is_a_doubt_on_what_it_may_correct() -> None:
    (finding,) = note_of("Flexion one fifteen.", "Correction, banana.").findings
    assert [doubt.reason for doubt in finding.doubts] == ["slip_repaired"]


def test_a_correction_of_nothing_that_was_noted_is_a_doubtful_finding() -> None:
    first, second = note_of("Flexion one fifteen.", "Correction, McMurray negative.").findings
    assert first.doubts == []
    assert [doubt.reason for doubt in second.doubts] == ["slip_repaired"]


def test_a_correction_by_a_word_that_only_sounds_like_it_is_doubted() -> None:
    (finding,) = note_of("Flexion one fifteen.", "direction left.").findings
    assert finding.side == "left"
    assert "sounds_like" in [doubt.reason for doubt in finding.doubts]


def test_a_correction_that_was_heard_unclearly_is_doubted() -> None:
    unclear = spoken("Correction, one oh five.", confidence=0.2)
    assert reasons(spoken("Flexion one fifteen on the right."), unclear) == [["heard_unclearly"]]


def test_a_correction_that_can_be_heard_as_another_value_is_doubted() -> None:
    two_ways = spoken("Correction, one oh five.", "Correction, one oh nine.")
    assert reasons(spoken("Flexion one fifteen on the right."), two_ways) == [["readings_disagree"]]


def test_a_correction_heard_well_is_not_doubted() -> None:
    assert reasons(spoken("Flexion one fifteen on the right."), spoken("Correction, one oh five.")) == [[]]


# -- one road ---------------------------------------------------------------------------------------------------------


def test_the_fold_can_go_on_from_anywhere() -> None:
    lines = ["Flexion one fifteen.", "Stand by.", "Lachman positive.", "Resume.", "Correction.", "Left.", "Disregard."]
    whole = heard(*lines)
    for cut in range(len(lines)):
        begun = heard(*lines[:cut])
        assert fold([Utterance.of_text(line) for line in lines[cut:]], READER, heard=begun) == whole


# -- what needs no procedure word -------------------------------------------------------------------------------------


def test_moving_on_in_plain_words() -> None:
    assert heard("Moving on to palpation.").state.context.section == "palpation"


def test_the_other_knee_in_plain_words() -> None:
    assert heard("Left knee.").state.context.side == "left"


def test_leaving_something_out_in_plain_words() -> None:
    sections = note_of("Flexion one fifteen.", "Skip the dermatomes, no symptoms.").sections
    neurological = next(part for part in sections if part.section == "neurological")
    assert (neurological.coverage, neurological.reason) == ("deferred", "no symptoms")
