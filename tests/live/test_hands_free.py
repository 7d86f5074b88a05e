"""A spoken exam steered by voice alone: the recording, the live exam and the typed script give the same note.

`hands_free.flac`: `hands_free.txt` spoken line by line by the Piper voice en_US-joe-medium (CC0), at -28 dBFS, 1.3 s of
pause after each line, faint white noise. A made-up exam of nobody.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate import interpret, transcribe
from dictate.audio.source import FileSource
from dictate.contract import Note
from dictate.live.session import Session
from dictate.live.worker import HearingOptions
from tests.support.brief import brief

RECORDING = Path(__file__).with_name("hands_free.flac")
SCRIPT = RECORDING.with_suffix(".txt")
FOUND = ["right flexion 105", "right extension 0", "right medial joint line tenderness present"]


def found(note: Note) -> list[str]:
    return [brief(finding) for finding in note.findings]


def prompts_of_standing_by(note: Note) -> int:
    return sum("stand by" in prompt.text for prompt in note.prompts)


@pytest.fixture(scope="module")
def file_note() -> Note:
    return transcribe(RECORDING, engine="whisper")


@pytest.fixture(scope="module")
def live_note(tmp_path_factory: pytest.TempPathFactory) -> Note:
    session = Session(
        FileSource(RECORDING, speed=None),
        data=tmp_path_factory.mktemp("data"),
        hearing=HearingOptions(engine="whisper"),
    )
    session.start()
    assert session.wait(300)
    return session.close().note


def test_the_script_as_text() -> None:
    assert found(interpret(SCRIPT.read_text(encoding="utf-8"))) == FOUND


@pytest.mark.slow
def test_the_recording(file_note: Note) -> None:
    assert found(file_note) == FOUND


@pytest.mark.slow
def test_the_live_exam(live_note: Note) -> None:
    assert found(live_note) == FOUND


@pytest.mark.slow
def test_the_note_tells_what_was_said_while_standing_by(file_note: Note, live_note: Note) -> None:
    assert [prompts_of_standing_by(note) for note in (file_note, live_note)] == [1, 1]
