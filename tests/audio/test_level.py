"""The running check of the level: what is too quiet, clipped or not heard at all."""

from __future__ import annotations

import numpy as np
import pytest

from dictate.audio.files import frames_of_file
from dictate.audio.level import DEAD_AFTER_S, SILENT_AFTER_S, LevelMeter
from tests.audio.sounds import Sound, frames_of, pink, white
from tests.support.cases import FIXTURES

ROOM = 0.0005  # -66 dBFS: a quiet room


def speech(length_s: float, *, level: float = 0.05) -> Sound:
    """Return what has speech's way of coming and going: bursts of 0.5 s between pauses of 0.5 s. Level is its RMS."""
    sound = white(length_s, level=1.0)
    on = (np.arange(len(sound)) // 8_000) % 2 == 0
    return np.asarray(level * sound * on, dtype=np.float32)


def level_after(sound: Sound, *, voiced: bool | None = None) -> str:
    meter = LevelMeter()
    for frame in frames_of(sound):
        meter.accept(frame, voiced=voiced)
    return meter.level


def room(length_s: float, *, level: float = ROOM) -> Sound:
    return pink(length_s, level=level)


def test_speech_at_the_nominal_level_is_good() -> None:
    """-26 dBFS: the nominal active speech level of ITU-T P.56 and of tests of codecs."""
    assert level_after(speech(10, level=10 ** (-26 / 20)) + room(10)) == "good"


@pytest.mark.parametrize("name", sorted(path.stem for path in FIXTURES.glob("*.flac")))
def test_every_spoken_fixture_is_loud_enough_throughout(name: str) -> None:
    meter = LevelMeter()
    heard = [meter.accept(frame) for frame in frames_of_file(FIXTURES / f"{name}.flac")]
    assert heard.count("good") >= 0.97 * len(heard)


def test_speech_far_below_the_nominal_level_is_quiet() -> None:
    assert level_after(speech(10, level=10 ** (-56 / 20)) + room(10, level=0.0001)) == "quiet"


def test_speech_that_hardly_stands_out_of_the_noise_is_quiet() -> None:
    assert level_after(speech(10, level=0.05) + room(10, level=0.05)) == "quiet"


def test_clipped_speech_is_clipping() -> None:
    assert level_after(np.clip(speech(10, level=1.0), -1, 1)) == "clipping"


def test_a_single_sample_at_full_scale_is_not_clipping() -> None:
    sound = speech(10) + room(10)
    sound[-8_000] = 1.0
    assert level_after(sound) == "good"


def test_clipping_is_forgotten_once_it_is_over() -> None:
    loud = np.clip(speech(3, level=1.0), -1, 1)
    assert level_after(np.concatenate([loud, speech(12) + room(12)])) == "good"


def test_a_microphone_that_gives_nothing_is_silent() -> None:
    assert level_after(np.zeros(round((DEAD_AFTER_S + 1) * 16_000), dtype=np.float32)) == "silent"


def test_a_short_pause_is_not_silent() -> None:
    assert level_after(np.concatenate([speech(10) + room(10), room(10)])) == "good"


def test_a_room_in_which_nobody_speaks_is_silent() -> None:
    assert level_after(room(SILENT_AFTER_S + 11)) == "silent"


def test_a_word_ends_the_silence() -> None:
    assert level_after(np.concatenate([room(SILENT_AFTER_S + 11), speech(3) + room(3)])) == "good"


def test_loud_noise_in_which_the_detector_hears_no_voice_is_silent() -> None:
    assert level_after(speech(SILENT_AFTER_S + 1), voiced=False) == "silent"


def test_what_the_detector_calls_voice_ends_the_silence() -> None:
    assert level_after(room(SILENT_AFTER_S + 11, level=0.02), voiced=True) != "silent"


def test_an_empty_frame_changes_nothing() -> None:
    assert level_after(np.zeros(0, dtype=np.float32)) == "good"
