"""`dictate listen` as a command."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from dictate.archive.settings import Retention, write_retention
from dictate.cli.main import main
from dictate.journal.exam import ExamFolder, exam_ids
from dictate.journal.journal import read_journal
from dictate.journal.replay import ending_of, opened_of
from tests.live.exams import until
from tests.live.fake_recogniser import LINES, recording
from tests.review.exams import doubtful_exam

ROOT = Path(__file__).parents[2]
ALL = tuple(range(len(LINES)))


def command(data: Path, *options: str) -> list[str]:
    return [sys.executable, "-m", "tests.live.run_listen", "listen", "--data", str(data), *options]


def run(data: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command(data, *options), cwd=ROOT, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )


def refusal(capsys: pytest.CaptureFixture[str], *options: str) -> str:
    assert main(["listen", *options]) == 2
    told = capsys.readouterr()
    assert told.out == "" and told.err.count("\n") == 1
    return told.err


@pytest.fixture(scope="module")
def listened(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("listened")
    path = recording(folder / "spoken.wav", ALL)
    about = ("--injured", "right", "--age", "31", "--sex", "female", "--patient", "K17")
    return folder, run(
        folder / "data", "--from", str(path), "--speed", "2", "--json", "--out", str(folder / "out"), *about
    )


def test_the_note_is_all_that_is_on_standard_output(listened: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    assert listened[1].returncode == 0, listened[1].stderr
    note = json.loads(listened[1].stdout)
    assert note["exam"]["source"] == "live" and len(note["findings"]) == 9


def test_findings_are_told_as_they_come(listened: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    assert "Lachman test: positive, right" in listened[1].stderr


def test_what_is_known_of_the_exam_is_kept(listened: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    data = listened[0] / "data"
    opened = opened_of(read_journal(ExamFolder.of(data, exam_ids(data)[0]).journal_path).events)
    assert (opened.injured_side, opened.age, opened.sex, opened.patient) == ("right", 31.0, "female", "K17")


def test_the_note_is_written_under_the_exams_id(listened: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    exam = exam_ids(listened[0] / "data")[0]
    assert sorted(path.name for path in (listened[0] / "out").iterdir()) == [f"{exam}.json", f"{exam}.txt"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_the_exam_properly(number: signal.Signals, tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", ALL * 10)
    with subprocess.Popen(
        command(tmp_path / "data", "--from", str(path)), cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL, text=True,
    ) as program:  # fmt: skip
        until(lambda: "heard" in kinds(tmp_path / "data"), "a line is heard")
        program.send_signal(number)
        out, err = program.communicate(timeout=60)
    assert program.returncode == 0, err
    assert out.startswith("Knee examination") and kinds(tmp_path / "data")[-1] == "closed"


def kinds(data: Path) -> list[str]:
    for exam in exam_ids(data):
        path = ExamFolder(data / "exams" / exam).journal_path
        if path.is_file():
            return [event.kind for event in read_journal(path).events]
    return []


def test_the_key_q_ends_an_exam_in_a_terminal(tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", ALL * 10)
    master, terminal = os.openpty()
    with subprocess.Popen(
        command(tmp_path / "data", "--from", str(path)), cwd=ROOT, stdin=terminal, stdout=terminal, stderr=terminal,
        env={**os.environ, "TERM": "xterm"}, start_new_session=True,
    ) as program:  # fmt: skip
        os.close(terminal)
        written = bytearray()
        read_until(master, written, b"findings, ")
        until(lambda: drained(master, written) and "heard" in kinds(tmp_path / "data"), "a line is heard")
        os.write(master, b"q")
        read_until(master, written, b"Kept as")
        drained(master, written)
        assert program.wait(timeout=60) == 0
    events = read_journal(ExamFolder.of(tmp_path / "data", exam_ids(tmp_path / "data")[0]).journal_path).events
    assert ending_of(events) is not None
    assert written.rindex(b"\x1b[?1049l") < written.rindex(b"Knee examination")  # the note is on the usual screen


def drained(master: int, written: bytearray) -> bool:
    while select.select([master], [], [], 0)[0]:
        try:
            written.extend(os.read(master, 65536))
        except OSError:  # the program ended
            break
    return True


def read_until(master: int, written: bytearray, wanted: bytes) -> None:
    deadline = time.monotonic() + 60
    while wanted not in written:
        assert time.monotonic() < deadline, written[-500:]
        select.select([master], [], [], 0.1)
        drained(master, written)


def test_a_name_is_no_pseudonym(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    said = refusal(capsys, "--data", str(tmp_path / "data"), "--from", str(path), "--patient", "Jane Doe")
    assert "is no pseudonym" in said and not (tmp_path / "data").exists()


# -- what cannot be used ----------------------------------------------------------------------------------------------


def test_a_recording_that_is_not_there(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said = refusal(capsys, "--data", str(tmp_path), "--from", str(tmp_path / "none.wav"))
    assert "is not there" in said and exam_ids(tmp_path) == []


def test_no_exam_to_go_on_with(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    assert "no exam was left unfinished" in refusal(capsys, "--data", str(tmp_path), "--from", str(path), "--resume")


def test_what_is_known_of_a_new_exam_is_not_silently_dropped_from_one_that_goes_on(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    said = refusal(
        capsys, "--data", str(tmp_path), "--from", str(path), "--resume", "2026-01-01T000000-abcd", "--patient", "K-1"
    )
    assert "leave out --patient" in said


def test_a_data_folder_of_a_newer_program_is_left_alone(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "format.toml").write_text("format = 99\n")
    assert "newer" in refusal(capsys, "--data", str(tmp_path / "data"), "--from", str(path), "--new")


def test_sound_that_was_kept_for_long_enough_is_removed_as_an_exam_begins(tmp_path: Path) -> None:
    folder, journal = doubtful_exam(tmp_path / "data")
    journal.close()
    write_retention(tmp_path / "data", Retention(sound_days=0))
    run(tmp_path / "data", "--from", str(recording(tmp_path / "spoken.wav", [0])), "--speed", "max", "--new")
    assert list(folder.path.glob("sound-*.wav")) == []


@pytest.mark.parametrize("name", ["2026-01-01T000000-abcd", "../../etc", "/etc/passwd"])
def test_an_exam_that_is_not_there(name: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    assert "there is no exam" in refusal(capsys, "--data", str(tmp_path), "--from", str(path), "--resume", name)


def test_a_browser_microphone_without_a_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert "needs --page" in refusal(capsys, "--browser-microphone")


@pytest.mark.parametrize("speed", ["0", "-1", "fast", "nan"])
def test_a_speed_that_is_none(speed: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert "is no speed" in refusal(capsys, f"--speed={speed}")


def test_a_folder_that_cannot_be_made(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    (tmp_path / "file").write_text("in the way")
    said = refusal(capsys, "--data", str(tmp_path / "file"), "--from", str(path), "--new", "--engine", "whisper")
    assert "cannot be made" in said.splitlines()[-1]


def test_a_recogniser_that_cannot_be_opened_begins_no_exam(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = recording(tmp_path / "spoken.wav", [0])
    said = main(["listen", "--data", str(tmp_path), "--from", str(path), "--model", str(tmp_path)])
    assert said == 2 and "holds neither" in capsys.readouterr().err and exam_ids(tmp_path) == []
