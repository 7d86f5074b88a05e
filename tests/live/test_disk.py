"""A disk that fills up while an exam runs: a small file system, really full."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from dictate.journal.events import Gap as GapEvent
from dictate.journal.events import HeardUtterance, Opened
from dictate.journal.exam import ExamFolder, new_exam_id
from dictate.journal.journal import read_journal
from dictate.journal.sound import samples_in
from dictate.live.ledger import Ledger
from dictate.live.track import Stretch, Track
from tests.live.exams import StepSource, content, session, typed, until
from tests.live.fake_recogniser import LINES, spoken
from tests.support.exams import timed

ALL = tuple(range(len(LINES)))
PAGE_BYTES = 4096


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own, of half a megabyte: 16 s of sound."""
    mount = tmp_path / "disk"
    mount.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=512k", "tmpfs", str(mount)], capture_output=True, text=True, check=False
    )
    if made.returncode:
        pytest.skip(f"no file system can be mounted here ({made.stderr.strip()})")
    yield mount
    subprocess.run(["umount", "-l", str(mount)], check=True)


def fill(disk: Path) -> Path:
    """Take all the room that is left."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(b"\0" * PAGE_BYTES):
                pass
        except OSError:
            return filler


def opened(disk: Path) -> tuple[ExamFolder, Ledger]:
    event = Opened(exam=new_exam_id(), program="test", lexicon="", source="live")
    folder, journal = ExamFolder.create(disk / "data", event)
    return folder, Ledger(journal)


def track_of(folder: ExamFolder, ledger: Ledger, **settings: float) -> Track:
    def nobody(_: Stretch) -> None:
        return None

    return Track(folder, ledger, begun=nobody, ended=nobody, **settings)


def frame(number: int) -> Frame:
    return Frame(spoken([0])[:FRAME_SAMPLES], number * FRAME_SAMPLES / SAMPLE_RATE_HZ)


def sound_samples(folder: ExamFolder) -> int:
    return sum(samples_in(path) for path in folder.path.glob("sound-*.wav"))


def test_an_exam_on_a_full_disk_says_so_and_loses_nothing_once_there_is_room(disk: Path) -> None:
    source = StepSource()
    running = session(source, disk / "data")
    running.start()
    source.say(0, 1)
    until(lambda: len(running.view().trace) == 2, "two lines heard")
    filler = fill(disk)
    source.say(2, 3, 4)
    until(lambda: running.view().state == "disk_full", "the full disk is shown")
    assert "wait in memory" in (running.view().notice or "")
    filler.unlink()
    until(lambda: running.view().state == "listening", "the exam goes on")
    source.say(5, 6)
    assert content(running.close().note) == typed(ALL[:7])
    assert running.unsaved is None


def test_the_journal_of_an_exam_whose_disk_was_full_has_every_event_in_order(disk: Path) -> None:
    folder, ledger = opened(disk)
    filler = fill(disk)
    texts = [f"Line {number}. {'word ' * 200}" for number in range(12)]
    for text in texts:
        ledger.append(HeardUtterance(utterance=timed(text, start_s=0.0)))
    assert ledger.failure is not None and len(ledger.events()) == 13
    filler.unlink()
    assert ledger.retry()
    heard = [event.utterance.text for event in read_journal(folder.journal_path).events if event.kind == "heard"]
    assert heard == [text.strip() for text in texts]


def test_sound_that_could_not_be_written_is_written_later_sample_for_sample(disk: Path) -> None:
    folder, ledger = opened(disk)
    track = track_of(folder, ledger)
    filler = fill(disk)
    for number in range(40):
        track.accept(frame(number))
    assert track.failure and track.held_s > 0
    filler.unlink()
    assert track.close()
    assert sound_samples(folder) == 40 * FRAME_SAMPLES


def test_more_sound_than_memory_may_hold_is_a_gap_and_not_silence(disk: Path) -> None:
    folder, ledger = opened(disk)
    track = track_of(folder, ledger, most_held_s=1.0)
    track.accept(frame(0))
    filler = fill(disk)
    for number in range(1, 60):
        track.accept(frame(number))
    filler.unlink()
    track.close()
    gaps = [event for event in read_journal(folder.journal_path).events if isinstance(event, GapEvent)]
    assert [gap.why for gap in gaps] == ["the disk was full for too long"]
    lost_s = gaps[0].to_s - gaps[0].from_s  # type: ignore[operator]
    assert sound_samples(folder) / SAMPLE_RATE_HZ + lost_s == pytest.approx(6.0)


def test_a_new_sound_file_that_did_not_fit_is_tried_again(disk: Path) -> None:
    folder, ledger = opened(disk)
    track = track_of(folder, ledger)
    track.accept(frame(0))
    track.accept(Gap(0.1, 1.0, "a test"))
    filler = fill(disk)
    track.accept(frame(10))
    assert track.failure
    filler.unlink()
    assert track.close()
    assert sorted(path.name for path in folder.path.glob("*.wav")) == ["sound-001.wav", "sound-002.wav"]


def test_an_exam_that_ends_on_a_full_disk_still_gives_its_note(disk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("dictate.live.session.DISK_PATIENCE_S", 0.5)
    source = StepSource()
    running = session(source, disk / "data")
    running.start()
    source.say(0, 1, 2, 3)
    until(lambda: len(running.view().trace) == 4, "four lines heard")
    fill(disk)
    running.words.heard(timed("thank you " * 1000, start_s=10.0))  # more than the journal's last block has room for
    assert len(running.close().note.findings) == 3
    assert running.unsaved is not None and "full" in running.unsaved
