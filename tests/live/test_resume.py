"""An exam that is killed, and goes on."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.archive.vault import begin_sealing
from dictate.errors import JournalError
from dictate.interface import reader_of
from dictate.journal.events import Gap, HeardUtterance, Resumed, Signed, SoundBegun
from dictate.journal.exam import ExamFolder, exam_ids, sound_files
from dictate.journal.journal import Journal, read_journal
from dictate.journal.replay import ending_of, replay, utterances_of
from dictate.journal.signing import check
from dictate.live.resume import resume, unfinished
from tests.live.exams import StepSource, content, session, typed, until
from tests.live.fake_recogniser import LINES, recording, spoken
from tests.support.exams import kept_exam

ROOT = Path(__file__).parents[2]
ALL = tuple(range(len(LINES)))
SPOKEN = ALL * 3
KILLED_AFTER_S = 4.0  # of sound: some lines are heard by then


def listen(data: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "tests.live.run_listen", "listen", "--data", str(data), *options]


@dataclass(frozen=True)
class Killed:
    """An exam whose whole program was killed in the middle: the sound it had been given then, and its processes."""

    data: Path
    folder: ExamFolder
    given_s: float
    processes: tuple[int, ...]


def killed_exam(data: Path, path: Path) -> Killed:
    with subprocess.Popen(listen(data, "--new", "--from", str(path)), cwd=ROOT, stderr=subprocess.DEVNULL) as program:
        try:
            until(lambda: exam_ids(data) and sounds_of(data), "the sound file")
            began = time.monotonic()  # a little after the first frame was given
            until(lambda: len(utterances_of(journal_of(data))) >= 3, "three lines heard")
            time.sleep(max(0.0, KILLED_AFTER_S - (time.monotonic() - began)))
            children = Path(f"/proc/{program.pid}/task/{program.pid}/children").read_text().split()
            given_s = time.monotonic() - began
        finally:
            program.kill()
    return Killed(data, ExamFolder.of(data, exam_ids(data)[0]), given_s, tuple(map(int, children)))


def journal_of(data: Path) -> tuple[object, ...]:
    return read_journal(ExamFolder.of(data, exam_ids(data)[0]).journal_path).events


def sounds_of(data: Path) -> list[SoundBegun]:
    try:
        return sound_files(journal_of(data))  # type: ignore[arg-type]
    except JournalError:  # not yet
        return []


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Killed:
    folder = tmp_path_factory.mktemp("killed")
    return killed_exam(folder / "data", recording(folder / "spoken.wav", SPOKEN))


def copied(killed: Killed, tmp_path: Path) -> Path:
    """Return a copy of the data folder, to be changed by one test."""
    return Path(shutil.copytree(killed.data, tmp_path / "copy"))


def test_a_kill_loses_at_most_half_a_second_of_sound(killed: Killed) -> None:
    assert killed.folder.sound_end_s(journal_of(killed.data)) >= killed.given_s - 0.5  # type: ignore[arg-type]


def test_what_is_on_disk_is_what_was_spoken(killed: Killed, tmp_path: Path) -> None:
    folder = ExamFolder.of(copied(killed, tmp_path), killed.folder.exam)
    folder.mend_sound(read_journal(folder.journal_path).events)
    kept, _ = soundfile.read(folder.path / "sound-001.wav", dtype="float32")
    assert np.array_equal(kept, spoken(SPOKEN)[: len(kept)])


def test_a_killed_exam_is_found(killed: Killed) -> None:
    assert [left.exam for left in unfinished(killed.data)] == [killed.folder.exam]


def test_a_killed_program_leaves_no_process(killed: Killed) -> None:
    assert killed.processes
    until(lambda: not any(Path(f"/proc/{process}").exists() for process in killed.processes), "they end")


def test_a_resumed_exam_shows_what_stood_there_before(killed: Killed, tmp_path: Path) -> None:
    data = copied(killed, tmp_path)
    before = replay(read_journal(ExamFolder.of(data, killed.folder.exam).journal_path).events, reader_of(None))  # type: ignore[arg-type]
    source = StepSource()
    running = session(source, data, resumed=resume(data, killed.folder.exam))
    running.start()
    try:
        assert running.view().findings >= len(before.note.findings)
    finally:
        running.abandon()


def test_a_resumed_exam_hears_what_was_on_disk_and_then_what_is_new(killed: Killed, tmp_path: Path) -> None:
    data = copied(killed, tmp_path)
    source = StepSource()
    resumed = resume(data, killed.folder.exam)
    whole = int(resumed.end_s / 0.8 + 1e-6)  # lines whose pause was kept, too
    cut = resumed.end_s - whole * 0.8 > 0.05  # a burst that the kill cut short is a line as well
    running = session(source, data, resumed=resumed)
    running.start()
    source.say(0, 1)
    replayed = running.close()
    said = [*(SPOKEN)[: whole + cut], 0, 1]
    assert [utterance.text for utterance in replayed.utterances] == [LINES[line] for line in said]
    assert content(replayed.note) == typed(said)


def test_a_resumed_exam_has_a_second_sound_file_after_the_first(killed: Killed, tmp_path: Path) -> None:
    data = copied(killed, tmp_path)
    source = StepSource()
    resumed = resume(data, killed.folder.exam)
    running = session(source, data, resumed=resumed)
    running.start()
    source.say(0)
    running.close()
    folder = ExamFolder.of(data, killed.folder.exam)
    events = read_journal(folder.journal_path).events
    _, second = sound_files(events)
    assert second.start_s == round(resumed.end_s, 4) and second.file == "sound-002.wav"
    assert any(isinstance(event, Gap) and event.from_s == round(resumed.end_s, 3) for event in events)
    assert check(folder.journal_path).sound


def test_the_note_of_a_killed_exam_is_that_of_its_journal(killed: Killed) -> None:
    events = journal_of(killed.data)
    heard = [event.utterance.text for event in events if isinstance(event, HeardUtterance)]
    assert heard == [LINES[line] for line in (SPOKEN)[: len(heard)]] and len(heard) >= 3
    assert content(replay(events, reader_of(None)).note) == typed((SPOKEN)[: len(heard)])  # type: ignore[arg-type]


def test_a_closed_exam_can_go_on(tmp_path: Path) -> None:
    source = StepSource()
    first = session(source, tmp_path)
    first.start()
    source.say(0, 1)
    first.close()
    source = StepSource()
    second = session(source, tmp_path, resumed=resume(tmp_path, first.exam))
    second.start()
    source.say(2, 3)
    assert content(second.close().note) == typed([0, 1, 2, 3])


def test_an_exam_that_runs_is_neither_offered_nor_taken_twice(tmp_path: Path) -> None:
    source = StepSource()
    running = session(source, tmp_path)
    running.start()
    try:
        assert unfinished(tmp_path) == []
        with pytest.raises(JournalError, match="running in another window"):
            resume(tmp_path, running.exam)
    finally:
        running.abandon()


def test_a_closed_exam_is_not_offered(tmp_path: Path) -> None:
    source = StepSource()
    running = session(source, tmp_path)
    running.start()
    source.say(0)
    running.close()
    assert unfinished(tmp_path) == []


def test_a_signed_exam_is_refused(tmp_path: Path, killed: Killed) -> None:
    data = copied(killed, tmp_path)
    journal = Journal(ExamFolder.of(data, killed.folder.exam).journal_path)
    note = replay(journal.events, reader_of(None)).note
    journal.append(Signed(name="A. Examiner", role="physiotherapist", note=note, digest="0" * 64))
    journal.close()
    with pytest.raises(JournalError, match="is signed; begin a new one"):
        resume(data, killed.folder.exam)


def test_an_exam_of_a_transcript_is_refused(tmp_path: Path) -> None:
    folder, _ = kept_exam(tmp_path, ["Right knee."])
    with pytest.raises(JournalError, match="only a live exam can go on"):
        resume(tmp_path, folder.exam)


def test_a_refused_exam_is_not_written_to(tmp_path: Path, killed: Killed) -> None:
    folder, journal = kept_exam(tmp_path, ["Right knee."])
    before = journal.path.read_bytes()
    with pytest.raises(JournalError):
        resume(tmp_path, folder.exam)
    assert journal.path.read_bytes() == before


# -- the command ------------------------------------------------------------------------------------------------------


def test_the_command_goes_on_with_what_was_left(killed: Killed, tmp_path: Path) -> None:
    data = copied(killed, tmp_path)
    path = recording(tmp_path / "more.wav", [9])
    run = subprocess.run(
        listen(data, "--resume", "--from", str(path), "--speed", "max"), cwd=ROOT, capture_output=True, text=True,
        stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    events = read_journal(ExamFolder.of(data, killed.folder.exam).journal_path).events
    assert any(isinstance(event, Resumed) for event in events) and ending_of(events) is not None
    assert utterances_of(events)[-1].text == LINES[9]


def test_without_a_terminal_a_new_exam_begins_and_the_old_one_is_told_of(killed: Killed, tmp_path: Path) -> None:
    data = copied(killed, tmp_path)
    path = recording(tmp_path / "more.wav", [0])
    run = subprocess.run(
        listen(data, "--from", str(path), "--speed", "max"), cwd=ROOT, capture_output=True, text=True,
        stdin=subprocess.DEVNULL, check=False,
    )  # fmt: skip
    assert run.returncode == 0 and f"--resume {killed.folder.exam} goes on with it" in run.stderr
    assert len(exam_ids(data)) == 2


# -- sealed exams ------------------------------------------------------------------------------------------------------


@pytest.fixture
def opened_for_review(tmp_path: Path) -> Iterator[ExamFolder]:
    """An unfinished exam that is sealed and is open in plain form for the moment."""
    folder, journal = kept_exam(tmp_path, ["Right knee."], closed=False)
    journal.close()
    vault = begin_sealing(tmp_path, passphrase="a long passphrase of no use elsewhere")
    vault.seal_exam(folder.path)
    with vault.opened(folder.exam) as plain:
        yield plain


def test_an_exam_that_is_sealed_is_not_offered(tmp_path: Path) -> None:
    folder, journal = kept_exam(tmp_path, ["Right knee."], closed=False)
    journal.close()
    begin_sealing(tmp_path, passphrase="a long passphrase of no use elsewhere").seal_exam(folder.path)
    assert unfinished(tmp_path) == []


def test_a_sealed_exam_that_is_open_for_review_is_not_offered(opened_for_review: ExamFolder, tmp_path: Path) -> None:
    assert unfinished(tmp_path) == []


def test_a_sealed_exam_that_is_open_for_review_does_not_go_on(opened_for_review: ExamFolder, tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="sealed"):
        resume(tmp_path, opened_for_review.exam)
