"""A live exam with the embedded recogniser gives the note that the recording gives."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from dictate import transcribe
from dictate.audio.source import FileSource
from dictate.contract import Note
from dictate.journal.exam import ExamFolder
from dictate.live.session import Session
from dictate.live.worker import HearingOptions
from tests.support.exams import SCRIPTS

pytestmark = pytest.mark.slow


def but_for_source(note: Note) -> object:
    return note.model_dump(exclude={"exam": {"source"}})


def test_a_live_exam_gives_the_note_of_its_recording(tmp_path: Path) -> None:
    sound, rate_hz = soundfile.read(SCRIPTS / "both_knees_ellipsis.flac", frames=16_000 * 36)
    spoken = tmp_path / "spoken.wav"
    soundfile.write(spoken, sound, rate_hz)
    hearing = HearingOptions(engine="whisper")
    session = Session(FileSource(spoken, speed=3.0), data=tmp_path / "data", hearing=hearing)
    session.start()
    session.wait()
    live = session.close().note
    kept = ExamFolder.of(tmp_path / "data", session.exam).path / "sound-001.wav"
    assert but_for_source(live) == but_for_source(transcribe(kept, engine="whisper"))
    assert len(live.findings) >= 10
