"""Any recording that libsndfile reads becomes 16 kHz mono frames; what cannot be used says what to do."""

from __future__ import annotations

import logging
import struct
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from dictate.audio import SAMPLE_RATE_HZ, duration_s, frames_of_file
from dictate.errors import UnusableInput
from tests.audio.sounds import seconds, tone, white

FORMATS = [
    ("WAV", "PCM_U8"), ("WAV", "PCM_16"), ("WAV", "PCM_24"), ("WAV", "PCM_32"), ("WAV", "FLOAT"), ("WAV", "DOUBLE"),
    ("WAV", "ULAW"), ("FLAC", "PCM_16"), ("FLAC", "PCM_24"), ("OGG", "VORBIS"), ("OGG", "OPUS"), ("AIFF", "PCM_16"),
    ("MP3", "MPEG_LAYER_III"),
]  # fmt: skip
RATES_HZ = [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000]


def write(path: Path, sound, rate_hz: int = SAMPLE_RATE_HZ, **options) -> Path:
    soundfile.write(path, sound, rate_hz, **options)
    return path


def read(path: Path) -> np.ndarray:
    return np.concatenate([frame.samples for frame in frames_of_file(path)])


def strongest_hz(sound: np.ndarray) -> float:
    return float(np.argmax(np.abs(np.fft.rfft(sound * np.hanning(len(sound))))) * SAMPLE_RATE_HZ / len(sound))


@pytest.mark.parametrize(("kind", "subtype"), FORMATS, ids=lambda value: value)
def test_format(tmp_path, kind, subtype):
    path = write(tmp_path / "tone", tone(2.0), format=kind, subtype=subtype)
    sound = read(path)
    assert sound.dtype == np.float32
    assert len(sound) / SAMPLE_RATE_HZ == pytest.approx(2.0, abs=0.1)  # MP3 and Opus add padding
    assert strongest_hz(sound[3200:-3200]) == pytest.approx(440, abs=2)
    assert np.sqrt(np.mean(sound[3200:-3200] ** 2)) == pytest.approx(0.3 / np.sqrt(2), rel=0.1)
    assert duration_s(path) == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_rate(tmp_path, rate_hz):
    sound = read(write(tmp_path / "tone.wav", tone(3.0, rate_hz=rate_hz), rate_hz))
    assert len(sound) == pytest.approx(3 * SAMPLE_RATE_HZ, abs=2)
    expected = tone(3.0)
    middle = slice(SAMPLE_RATE_HZ, 2 * SAMPLE_RATE_HZ)
    assert np.abs(sound[: len(expected)][middle] - expected[: len(sound)][middle]).max() < 0.01  # nor shifted in time


def test_frames_follow_each_other_without_gap(tmp_path):
    frames = list(frames_of_file(write(tmp_path / "tone.flac", tone(2.37, rate_hz=44_100), 44_100)))
    assert frames[0].start_s == 0
    for frame, following in pairwise(frames):
        assert len(frame.samples) == 1600
        assert following.start_s == pytest.approx(frame.end_s, abs=1e-9)


@pytest.mark.parametrize("channels", [2, 3, 6])
def test_equal_channels_are_mixed(tmp_path, channels):
    sound = read(write(tmp_path / "room.wav", np.repeat(tone(1.0)[:, None], channels, axis=1)))
    np.testing.assert_allclose(sound, tone(1.0), atol=1e-3)


def test_channels_with_different_sounds_are_mixed(tmp_path):
    low, high = tone(1.0, hz=300), tone(1.0, hz=500)
    sound = read(write(tmp_path / "two.wav", np.stack([low, high], axis=1)))
    np.testing.assert_allclose(sound, (low + high) / 2, atol=1e-3)


@pytest.mark.parametrize("gain", [0.0, 0.1])
def test_quiet_channel_is_left_out(tmp_path, gain):
    sound = read(write(tmp_path / "lapel.wav", np.stack([gain * white(1.0), tone(1.0)], axis=1)))
    np.testing.assert_allclose(sound, tone(1.0), atol=1e-3)


def test_channel_with_loud_hum_does_not_drown_speech(tmp_path):
    """Hum is not speech: a channel of it may be mixed in, but must not be taken for the louder one."""
    speech = tone(1.0, hz=600, level=0.1)
    sound = read(write(tmp_path / "hum.wav", np.stack([speech, tone(1.0, hz=50, level=0.3)], axis=1)))
    spectrum = np.abs(np.fft.rfft(sound))
    assert spectrum[600] == pytest.approx(0.1 * len(sound) / 2, rel=0.55)


def test_channels_that_cancel_are_not_mixed(tmp_path):
    sound = read(write(tmp_path / "balanced.wav", np.stack([tone(1.0), -tone(1.0)], axis=1)))
    np.testing.assert_allclose(np.abs(sound), np.abs(tone(1.0)), atol=1e-3)


def test_shortest_recording_is_valid(tmp_path):
    assert len(read(write(tmp_path / "short.wav", tone(0.1)))) == 1600


def test_silence_is_valid(tmp_path):
    assert not read(write(tmp_path / "silence.wav", np.zeros(SAMPLE_RATE_HZ))).any()


def test_clipping_is_valid_and_warned_of(tmp_path, caplog):
    path = write(tmp_path / "loud.wav", np.clip(tone(1.0, level=5.0), -1, 1))
    with caplog.at_level(logging.WARNING):
        assert len(read(path)) == SAMPLE_RATE_HZ
    assert "clipped" in caplog.text


def test_loud_sound_that_is_not_clipped_is_not_warned_of(tmp_path, caplog):
    with caplog.at_level(logging.WARNING):
        read(write(tmp_path / "loud.wav", tone(1.0, level=0.9)))
    assert not caplog.text


def test_open_ended_wav_is_valid(tmp_path):
    """Recorders that stream write the largest length, since they cannot know it beforehand."""
    path = write(tmp_path / "stream.wav", tone(1.0))
    data = bytearray(path.read_bytes())
    place = data.index(b"data")
    data[place + 4 : place + 8] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(data)
    assert len(read(path)) == pytest.approx(SAMPLE_RATE_HZ, abs=1)


def not_numbers(path):
    sound = tone(1.0)
    sound[8000] = np.nan
    write(path, sound, format="WAV", subtype="FLOAT")


def cut(path, **options):
    write(path, white(5.0), **options)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def damaged(path):
    write(path, white(5.0), format="FLAC")
    data = bytearray(path.read_bytes())
    data[len(data) // 3 : len(data) // 3 + 20_000] = bytes(20_000)
    path.write_bytes(data)


BAD = {
    "missing": (lambda path: None, "not there"),
    "folder": (lambda path: path.mkdir(), "not a file"),
    "empty": (lambda path: path.write_bytes(b""), "empty"),
    "text": (lambda path: path.write_text("flexion one twenty\n" * 50), "cannot be read as sound"),
    "header only": (lambda path: path.write_bytes(b"RIFF\x24\x00\x00\x00WAVE"), "cannot be read as sound"),
    "no samples": (lambda path: write(path, np.zeros(0), format="WAV"), "shorter than"),
    "too short": (lambda path: write(path, tone(0.05), format="WAV"), "shorter than"),
    "not numbers": (not_numbers, "not numbers"),
    "cut WAV": (lambda path: cut(path, format="WAV"), "cut off"),
    "cut FLAC": (lambda path: cut(path, format="FLAC"), "breaks off|damaged"),
    "damaged FLAC": (damaged, "breaks off|damaged"),
}


@pytest.mark.parametrize("name", BAD)
def test_unusable(tmp_path, name):
    make, says = BAD[name]
    path = tmp_path / "exam"
    make(path)
    with pytest.raises(UnusableInput, match=says) as caught:
        read(path)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)
    assert len(str(caught.value).split(";")) > 1, "the message says what to do"


def test_missing_file_is_refused_before_the_first_frame_is_asked_for(tmp_path):
    with pytest.raises(UnusableInput):
        frames_of_file(tmp_path / "nothing.wav")


def test_sound_is_not_shifted_by_block_edges(tmp_path):
    """A click each second stays at its second, at a rate that does not divide 16 kHz."""
    rate_hz = 44_100
    sound = np.zeros(len(seconds(5.0, rate_hz)), dtype=np.float32)
    sound[rate_hz // 2 :: rate_hz] = 0.9
    heard = read(write(tmp_path / "clicks.wav", sound, rate_hz))
    for second in range(5):
        block = np.abs(heard[second * SAMPLE_RATE_HZ : (second + 1) * SAMPLE_RATE_HZ])
        assert int(np.argmax(block)) == pytest.approx(SAMPLE_RATE_HZ // 2, abs=2)
