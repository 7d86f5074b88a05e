"""A live exam from its sound to its note."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.audio.source import FileSource
from dictate.interface import reader_of
from dictate.journal.events import Closed, Gap, SoundBegun
from dictate.journal.exam import ExamFolder
from dictate.journal.journal import read_journal
from dictate.journal.replay import replay, utterances_of
from dictate.journal.signing import check
from dictate.live.session import Session
from dictate.live.view import View
from tests.live.exams import RECORD, StepSource, content, session, typed, until
from tests.live.fake_recogniser import LINES, POISON, recording, spoken
from tests.support.exams import timed

ALL = tuple(range(len(LINES)))


@pytest.fixture
def source() -> StepSource:
    return StepSource()


@pytest.fixture
def exam(source: StepSource, tmp_path: Path) -> Iterator[Session]:
    running = session(source, tmp_path)
    running.start()
    yield running
    running.abandon()


def heard(exam: Session, lines: int) -> None:
    until(lambda: len(exam.view().trace) == min(6, lines) and exam.view().lag_s == 0.0, f"{lines} lines heard")


def events_of(exam: Session, data: Path) -> tuple[object, ...]:
    return read_journal(ExamFolder.of(data, exam.exam).journal_path).events


def test_a_live_exam_gives_the_note_of_its_words(exam: Session, source: StepSource) -> None:
    source.say(*ALL)
    assert content(exam.close().note) == typed(ALL)


def test_the_journal_alone_gives_the_same_note(exam: Session, source: StepSource, tmp_path: Path) -> None:
    source.say(*ALL)
    closed = exam.close()
    assert replay(events_of(exam, tmp_path), reader_of(None)).note == closed.note


def test_the_sound_that_was_heard_is_kept_sample_for_sample(exam: Session, source: StepSource, tmp_path: Path) -> None:
    source.say(*ALL)
    exam.close()
    kept, rate_hz = soundfile.read(ExamFolder.of(tmp_path, exam.exam).path / "sound-001.wav", dtype="float32")
    assert rate_hz == 16_000 and np.array_equal(kept, spoken(ALL))


def test_an_exam_that_was_closed_stands_up_to_its_check(exam: Session, source: StepSource, tmp_path: Path) -> None:
    source.say(0, 1)
    exam.close()
    assert check(ExamFolder.of(tmp_path, exam.exam).journal_path).sound


def test_closing_twice_gives_the_same_exam(exam: Session, source: StepSource) -> None:
    source.say(0, 1)
    assert exam.close() is exam.close()


def test_the_view_follows_where_the_exam_stands(exam: Session, source: StepSource) -> None:
    source.say(0, 1, 2, 3)
    heard(exam, 4)
    until(lambda: exam.view().section == "palpation", "the section is shown")
    assert exam.view().region == "knee" and exam.view().side == "right"


def test_the_view_shows_the_last_finding_in_plain_words(exam: Session, source: StepSource) -> None:
    source.say(0, 3)
    until(lambda: exam.view().last is not None, "a finding is shown")
    last = exam.view().last
    assert last is not None and last.text == "Medial joint line tenderness: present, right" and last.doubt is None


def test_the_plan_calls_untouched_what_may_still_come(exam: Session, source: StepSource) -> None:
    source.say(0, 1)
    until(lambda: exam.view().findings, "a finding is shown")
    assert {part.section: part.coverage for part in exam.view().plan}["vascular"] == "untouched"


def test_words_are_shown_while_they_are_spoken(exam: Session, source: StepSource) -> None:
    partials: list[str] = []
    exam.subscribe(lambda news: partials.append(news.partial) if isinstance(news, View) else None)
    source._put(spoken([3])[: 3 * 1600])  # the burst without the pause that ends it
    until(lambda: "Palpation," in partials, "the first word is shown")


def test_what_is_asked_of_the_program_is_answered(exam: Session, source: StepSource) -> None:
    source.say(0, 3)
    until(lambda: exam.view().findings, "a finding is shown")
    exam.words.heard(timed("What's left?", start_s=100.0))
    until(lambda: exam.view().answer, "an answer is shown")
    assert "vascular" in (exam.view().answer or "")


def test_a_sound_tells_that_a_finding_was_understood(exam: Session, source: StepSource) -> None:
    sounds: list[str] = []
    exam.subscribe(lambda news: sounds.append(news["name"]) if isinstance(news, dict) else None)
    source.say(0, 3)
    until(lambda: "understood" in sounds, "the sound")


def test_one_that_looks_and_fails_does_not_end_the_exam(exam: Session, source: StepSource) -> None:
    def fails(_: object) -> None:
        raise RuntimeError("a page with a fault")

    exam.subscribe(fails)
    source.say(*ALL)
    assert content(exam.close().note) == typed(ALL)


# -- missing sound ----------------------------------------------------------------------------------------------------


def test_missing_sound_is_a_gap_and_a_new_sound_file(exam: Session, source: StepSource, tmp_path: Path) -> None:
    source.say(0, 1)
    source.miss(60.0)
    source.say(2)
    exam.close()
    events = events_of(exam, tmp_path)
    assert [(gap.from_s, gap.to_s) for gap in events if isinstance(gap, Gap)] == [(1.6, 61.6)]
    assert [sound.start_s for sound in events if isinstance(sound, SoundBegun)] == [0.0, 61.6]


def test_the_note_says_where_sound_is_missing(exam: Session, source: StepSource) -> None:
    source.say(0, 1)
    source.miss(60.0)
    source.say(2)
    texts = [prompt.text for prompt in exam.close().note.prompts if prompt.source == RECORD]
    assert len(texts) == 1 and texts[0].startswith("Sound is missing at 0:01 to 1:01.")


def test_words_after_missing_sound_have_the_time_of_the_exam(exam: Session, source: StepSource) -> None:
    source.say(0)
    source.miss(60.0)
    source.say(1)
    times = [finding.time for finding in exam.close().note.findings]
    assert times and times[0] is not None and times[0][0] >= 60.8


def test_a_lost_microphone_is_shown_and_the_exam_goes_on(exam: Session, source: StepSource) -> None:
    source.say(0, 1)
    source.lose()
    until(lambda: exam.view().state == "microphone_lost", "the loss is shown")
    assert "unplugged" in (exam.view().notice or "")
    source.miss(2.0)
    source.say(2, 3)
    until(lambda: exam.view().state == "listening", "the return is shown")
    assert content(exam.close().note) == typed([0, 1, 2, 3])


def test_what_was_said_before_the_loss_is_heard_at_once(exam: Session, source: StepSource) -> None:
    source._put(spoken([0])[: 3 * 1600])  # no pause after it
    source.lose()
    until(lambda: exam.view().trace, "the words before the loss")
    assert exam.view().trace == (LINES[0],)


def test_an_exam_that_ends_without_its_microphone_has_the_gap(
    exam: Session, source: StepSource, tmp_path: Path
) -> None:
    source.say(0)
    source.lose()
    until(lambda: exam.view().state == "microphone_lost", "the loss is shown")
    exam.close()
    gaps = [event for event in events_of(exam, tmp_path) if isinstance(event, Gap)]
    assert [(gap.from_s, gap.why) for gap in gaps] == [(0.8, "the microphone is unplugged")]


# -- the recogniser's process -----------------------------------------------------------------------------------------


def test_a_recogniser_that_is_killed_loses_and_repeats_nothing(exam: Session, source: StepSource) -> None:
    for line in ALL:
        source.say(line)
        if line in (2, 5):
            heard(exam, line + 1)
            assert exam.recogniser_process is not None
            os.kill(exam.recogniser_process, signal.SIGKILL)
    replayed = exam.close()
    assert [utterance.text for utterance in replayed.utterances] == list(LINES)


def test_sound_that_always_ends_the_recogniser_is_passed_over_and_told(
    exam: Session, source: StepSource, tmp_path: Path
) -> None:
    source.say(0, 1, POISON, 2, 3)
    until(lambda: "say them again" in (exam.view().notice or "") or len(exam.view().trace) == 4, "the sound is passed")
    replayed = exam.close()
    assert [utterance.text for utterance in replayed.utterances] == [LINES[line] for line in (0, 1, 2, 3)]
    gap = next(event for event in events_of(exam, tmp_path) if isinstance(event, Gap))
    assert gap.from_s <= 1.6 and gap.to_s is not None and gap.to_s >= 1.9  # the burst stands at 1.6 to 1.9 s


def test_a_fast_recording_waits_for_the_recogniser_and_drops_nothing(tmp_path: Path) -> None:
    lines = ALL * 20
    running = session(FileSource(recording(tmp_path / "long.wav", lines), speed=None), tmp_path / "data")
    running.start()
    running.wait()
    assert [utterance.text for utterance in running.close().utterances] == [LINES[line] for line in lines]


def test_closed_tells_the_length_of_the_sound(exam: Session, source: StepSource, tmp_path: Path) -> None:
    source.say(0, 1)
    exam.close()
    closed = events_of(exam, tmp_path)[-1]
    assert isinstance(closed, Closed) and closed.seconds == 1.6
    assert len(utterances_of(events_of(exam, tmp_path))) == 2


# -- the program's own voice ------------------------------------------------------------------------------------------


class SpeakingAt:
    """A voice that speaks from one time of the exam to another, whatever it is given to say."""

    def __init__(self, from_s: float, to_s: float) -> None:
        self.from_s, self.to_s = from_s, to_s
        self.said: list[str] = []

    def speak(self, text: str) -> None:
        self.said.append(text)

    def is_ours(self, from_s: float, to_s: float) -> bool:
        return from_s < self.to_s and self.from_s < to_s

    def stop(self) -> None:
        return None


def test_what_is_heard_while_the_program_speaks_is_no_finding_and_is_told(
    exam: Session, source: StepSource, tmp_path: Path
) -> None:
    exam.words.speaker = SpeakingAt(0.8, 1.6)  # type: ignore[assignment]
    source.say(0, 3, 6)
    until(lambda: "Not taken" in (exam.view().notice or "") or len(exam.view().trace) == 2, "the notice")
    assert [utterance.text for utterance in exam.close().utterances] == [LINES[0], LINES[6]]
    gaps = [event for event in events_of(exam, tmp_path) if isinstance(event, Gap)]
    assert [gap.why for gap in gaps] == ["the program was speaking, and left out what it heard meanwhile"]


def test_an_answer_is_spoken_when_that_was_asked_for(exam: Session, source: StepSource) -> None:
    voice = SpeakingAt(1000.0, 1000.0)
    exam.words.speaker = voice  # type: ignore[assignment]
    source.say(0, 3)
    until(lambda: exam.view().findings, "a finding is shown")
    exam.words.heard(timed("Read back.", start_s=100.0))
    assert voice.said == ["Right medial joint line tenderness, present."]
