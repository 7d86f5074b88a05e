"""A real PortAudio hears a virtual microphone; and every reason why there is none is one plain line."""

from __future__ import annotations

import json
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.audio.microphone import Device, Microphone, choose
from dictate.errors import MicrophoneError
from tests.audio.sounds import pink
from tests.support.virtual_microphone import VirtualMicrophone, virtual_microphone

HEAR = ("-m", "tests.support.hear_microphone")


@pytest.fixture
def bench() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as microphone:
        yield microphone


def next_of(process, kind: str) -> dict[str, object]:
    """Return what the hearing process tells of this kind next."""
    for line in process.stdout:
        if (told := json.loads(line))["kind"] == kind:
            return told
    raise AssertionError(f"nothing of {kind!r}: {process.stderr.read()}")


def all_of(process) -> list[dict[str, object]]:
    out, _ = process.communicate(timeout=60)
    return [json.loads(line) for line in out.splitlines()]


def likeness(heard: np.ndarray, played: np.ndarray) -> float:
    """Return the highest correlation of a sound with what was heard, wherever it begins."""
    size = 2 ** int(np.ceil(np.log2(len(heard) + len(played))))
    product = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(played, size)), size)
    return float(np.abs(product).max() / (np.linalg.norm(played) * np.linalg.norm(heard)))


def test_what_is_played_in_the_room_is_what_is_heard(bench: VirtualMicrophone, tmp_path: Path) -> None:
    played = pink(2.0)  # white noise would tell half a sample of shift from none
    soundfile.write(tmp_path / "played.wav", played, 16_000)
    hearing = bench.start(*HEAR, "5", str(tmp_path / "heard.wav"))
    next_of(hearing, "first")
    bench.play(tmp_path / "played.wav")
    all_of(hearing)
    heard, _ = soundfile.read(tmp_path / "heard.wav", dtype="float32")
    assert likeness(heard, played) > 0.9


def test_frames_follow_each_other_without_a_gap(bench: VirtualMicrophone, tmp_path: Path) -> None:
    told = all_of(bench.start(*HEAR, "3", str(tmp_path / "heard.wav")))
    assert [one["kind"] for one in told] == ["first", "end"]


def test_a_microphone_that_is_unplugged_is_lost_and_heard_again_when_it_is_back(
    bench: VirtualMicrophone, tmp_path: Path
) -> None:
    hearing = bench.start(*HEAR, "8", str(tmp_path / "heard.wav"))
    next_of(hearing, "first")
    bench.unplug()
    lost = next_of(hearing, "lost")
    bench.furnish()
    bench.plug()
    gap = next_of(hearing, "gap")
    rest = all_of(hearing)
    assert lost["lost"] is True
    assert gap["to_s"] > gap["from_s"]
    assert [one["kind"] for one in rest] == ["end"]
    assert rest[0]["lost"] is False


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="this system cannot hold a process up")
def test_a_program_that_is_held_up_reports_the_sound_it_missed(bench: VirtualMicrophone, tmp_path: Path) -> None:
    hearing = bench.start(*HEAR, "10", str(tmp_path / "heard.wav"))
    next_of(hearing, "first")
    hearing.send_signal(signal.SIGSTOP)
    time.sleep(4)
    hearing.send_signal(signal.SIGCONT)
    *before, end = all_of(hearing)
    assert end["kind"] == "end"
    # Sound that ran over and a device that then fell silent may be told as two gaps: what counts is the time told.
    gaps = [one for one in before if one["kind"] == "gap"]
    assert all(one["kind"] in ("gap", "lost") for one in before)
    assert sum(one["to_s"] - one["from_s"] for one in gaps) > 2  # what was in the device's buffers was still heard


def test_no_microphone_at_all_is_one_plain_line(bench: VirtualMicrophone, tmp_path: Path) -> None:
    bench.unplug()
    (told,) = all_of(bench.start(*HEAR, "3", str(tmp_path / "heard.wav")))
    assert told["kind"] == "error"
    assert "\n" not in str(told["text"])


def test_the_microphones_are_listed(bench: VirtualMicrophone) -> None:
    listing = bench.start(
        "-c",
        "import json, dictate.audio.microphone as m; print(json.dumps([(d.name, d.default) for d in m.devices()]))",
    )
    out, _ = listing.communicate(timeout=60)
    assert ["default", True] in json.loads(out)


FOUND = [
    Device(number=0, name="Built-in Audio: Analog", channels=2, rate_hz=48_000),
    Device(number=3, name="USB Headset: Mono", channels=1, rate_hz=44_100, default=True),
    Device(number=4, name="USB Camera: Stereo", channels=2, rate_hz=48_000),
]


@pytest.mark.parametrize(
    ("wanted", "number"),
    [(None, 3), (0, 0), ("4", 4), ("headset", 3), ("USB Camera", 4), ("built-in audio: analog", 0)],
)
def test_a_microphone_is_chosen_by_number_or_part_of_its_name(wanted: int | str | None, number: int) -> None:
    assert choose(wanted, FOUND).number == number


@pytest.mark.parametrize(
    ("wanted", "found", "line"),
    [
        (7, FOUND, "there is no microphone 7; there are: 0 Built-in"),
        ("desk", FOUND, "there is no microphone 'desk'"),
        ("usb", FOUND, "'usb' fits more than one"),
        (None, [], "no microphone was found"),
    ],
)
def test_a_choice_that_cannot_be_made_names_what_there_is(
    wanted: int | str | None, found: list[Device], line: str
) -> None:
    with pytest.raises(MicrophoneError, match=line):
        choose(wanted, found)


def test_a_missing_portaudio_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    class Missing:
        def find_spec(self, name: str, *_: object) -> None:
            if name == "sounddevice":
                raise OSError("PortAudio library not found")

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(MicrophoneError, match="apt-get install libportaudio2"):
        next(iter(Microphone()))


def test_a_missing_package_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(MicrophoneError, match="pip install sounddevice"):
        next(iter(Microphone()))


def test_a_closed_microphone_is_not_opened() -> None:
    microphone = Microphone()
    microphone.close()
    assert list(microphone) == []
