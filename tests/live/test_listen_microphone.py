"""`dictate listen` at a microphone: PortAudio hears a spoken exam in a virtual room, and the note comes of it.

The recording is `hands_free.flac` (how it was made: `test_hands_free.py`), played in real time.
"""

from __future__ import annotations

import json
import signal
import time
from pathlib import Path

import pytest
import soundfile

from dictate.contract import Note
from tests.live.test_hands_free import FOUND, RECORDING
from tests.support.brief import brief
from tests.support.virtual_microphone import VirtualMicrophone, virtual_microphone

pytestmark = pytest.mark.slow

SPOKEN_S = soundfile.info(str(RECORDING)).duration
WITHIN_S = 120.0


def listen(room: VirtualMicrophone, data: Path, *, unplugged_s: float = 0.0) -> Note:
    """Return the note of the recording played to `dictate listen`; the microphone may be away before it is played."""
    exam = room.start("-m", "dictate", "listen", "--new", "--json", "--engine", "whisper", "--data", str(data))
    _until_recorded(data, seconds=1.0)
    if unplugged_s:
        room.unplug()
        time.sleep(unplugged_s)
        room.furnish()
        room.plug()
        _until_recorded(data, seconds=_recorded_s(data) + 1.0)
    room.play(RECORDING)
    time.sleep(SPOKEN_S + 2.0)
    exam.send_signal(signal.SIGINT)
    out, errors = exam.communicate(timeout=WITHIN_S)
    assert exam.returncode == 0, errors
    return Note.model_validate_json(out)


def _recorded_s(data: Path) -> float:
    return sum(path.stat().st_size for path in data.glob("**/sound-*.wav")) / 32_000


def _until_recorded(data: Path, *, seconds: float) -> None:
    until = time.monotonic() + WITHIN_S
    while _recorded_s(data) < seconds:
        assert time.monotonic() < until, "no sound was recorded"
        time.sleep(0.1)


def gaps(data: Path) -> list[dict[str, object]]:
    (journal,) = data.glob("**/journal.jsonl")
    events = [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
    return [event for event in events if event["kind"] == "gap"]


def test_an_exam_spoken_at_a_microphone(tmp_path: Path) -> None:
    with virtual_microphone() as room:
        note = listen(room, tmp_path)
    assert [brief(finding) for finding in note.findings] == FOUND


def test_an_exam_whose_microphone_was_unplugged_and_came_back(tmp_path: Path) -> None:
    with virtual_microphone() as room:
        note = listen(room, tmp_path, unplugged_s=3.0)
    assert [brief(finding) for finding in note.findings] == FOUND
    assert any(gap["to_s"] - gap["from_s"] > 2 for gap in gaps(tmp_path))
