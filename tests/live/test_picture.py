"""What is shown of a running exam: where it is, and what should be said again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dictate.contract import Doubt
from dictate.interface import reader_of
from dictate.journal.events import Opened
from dictate.live.picture import draft_note, picture
from dictate.live.view import View
from dictate.note.fold import fold, start
from dictate.recognise.events import Utterance

OPENED = Opened(exam="2026-11-25T091530-k7qx", program="0", lexicon="", source="live")


def shown(*said: str, doubt: Doubt | None = None, moved_at: int = 0) -> View:
    """Return what is seen after some utterances; `doubt` is one that hearing raised about the last finding."""
    reader = reader_of(None)
    heard = fold([Utterance.of_text(text) for text in said], reader, heard=start(reader))
    if doubt is not None:
        entry = heard.state.entries[-1]
        entry = replace(entry, finding=entry.finding.model_copy(update={"doubts": [*entry.finding.doubts, doubt]}))
        heard = replace(heard, state=replace(heard.state, entries=(*heard.state.entries[:-1], entry)))
    note = draft_note(heard, OPENED, reader.lexicon)
    return picture(View(), heard, note, fresh=heard.state.entries[-1:], trace=(), moved_at=moved_at)


def hearing(reason: str, detail: str) -> Doubt:
    return Doubt(reason=reason, detail=detail, suggestion=None)  # type: ignore[arg-type]


def test_the_section_is_the_one_that_was_announced() -> None:
    assert shown("Right knee.", "Moving on to palpation.").section == "palpation"


def test_without_an_announcement_the_section_is_that_of_the_last_finding() -> None:
    assert shown("Right knee.", "The medial joint line is tender.", "Lachman negative.").section == "special_tests"


def test_a_finding_of_another_section_is_no_move() -> None:
    assert shown("Right knee.", "Moving on to palpation.", "Lachman negative.").section == "palpation"


def test_an_exam_that_goes_on_without_announcing_it_has_moved() -> None:
    said = ("Right knee.", "Active movements.", "Flexion one thirty.", "Lachman negative.", "Pivot shift negative.")
    assert shown(*said, "Posterior drawer negative.").section == "special_tests"


def test_an_announcement_counts_at_once_whatever_was_found_before() -> None:
    said = ("Lachman negative.", "Pivot shift negative.", "Posterior drawer negative.", "Moving on to palpation.")
    assert shown("Right knee.", *said, moved_at=4).section == "palpation"


def test_before_anything_was_said_there_is_no_section() -> None:
    assert shown().section is None


def test_a_side_that_was_not_said_is_a_doubt_and_not_asked_for_again() -> None:
    assumed = hearing("side_assumed", "no side was said; right is taken")
    view = shown("Right knee.", "Lachman negative.", "The patellar tendon is tender.", doubt=assumed)
    assert view.last is not None and "no side was said" in str(view.last.doubt) and view.say_again is None


@pytest.mark.parametrize(
    ("doubt", "asked"),
    [
        (hearing("heard_unclearly", 'heard with a certainty of 20% ("lax")'), "not heard clearly"),
        (hearing("readings_disagree", "another reading of the sound gives side left"), "heard in two ways"),
        (hearing("out_of_range", "more than a joint does"), "no joint does that"),
    ],
)
def test_what_was_heard_badly_is_asked_for_again(doubt: Doubt, asked: str) -> None:
    view = shown("Right knee.", "Lachman negative on the right.", doubt=doubt)
    assert view.say_again == f"right lachman test: {asked}"


def test_a_sentence_that_can_be_read_in_two_ways_is_a_doubt_in_its_own_words() -> None:
    doubt = hearing("readings_disagree", "the sentence can be read in another way")
    view = shown("Right knee.", "Lachman negative on the right.", doubt=doubt)
    assert view.last is not None and (view.last.doubt, view.say_again) == (doubt.detail, None)
