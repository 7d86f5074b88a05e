"""The three sounds: short, quiet, without a click, and told apart by anyone."""

from __future__ import annotations

import io
from itertools import combinations

import numpy as np
import pytest
import soundfile

from dictate.errors import DictateError
from dictate.live.earcons import NAMES, RATE_HZ, earcon, earcon_wav


def spectrum(name: str) -> np.ndarray:
    """Return the power of a sound in bands of 25 Hz, of sum 1."""
    power = np.abs(np.fft.rfft(earcon(name), RATE_HZ)) ** 2  # bins of 1 Hz
    bands = power[:20_000].reshape(-1, 25).sum(axis=1)
    return bands / bands.sum()


def pitches(name: str) -> list[float]:
    """Return the strongest frequency of each third of a sound, in Hz."""
    return [
        float(np.argmax(np.abs(np.fft.rfft(part * np.hanning(len(part)), RATE_HZ))))
        for part in np.array_split(earcon(name), 3)
    ]


@pytest.mark.parametrize("name", NAMES)
def test_is_at_most_a_quarter_of_a_second(name: str) -> None:
    assert 0.05 <= len(earcon(name)) / RATE_HZ <= 0.25


@pytest.mark.parametrize("name", NAMES)
def test_is_modest_beside_speech(name: str) -> None:
    assert 0.1 <= np.abs(earcon(name)).max() <= 0.25


@pytest.mark.parametrize("name", NAMES)
def test_does_not_click(name: str) -> None:
    """No step between samples is larger than in a sine of 2.5 kHz of its loudness, at the beginning and end neither."""
    sound = np.concatenate([[0.0], earcon(name), [0.0]])
    assert np.abs(np.diff(sound)).max() <= 2 * np.pi * 2_500 / RATE_HZ * np.abs(sound).max()


@pytest.mark.parametrize("name", NAMES)
def test_is_where_ears_of_any_age_hear(name: str) -> None:
    """Fundamentals up to 2.5 kHz: ISO 24500 on auditory signals of consumer products (from memory)."""
    assert spectrum(name)[: 2_500 // 25].sum() > 0.99


@pytest.mark.parametrize(("one", "other"), list(combinations(NAMES, 2)))
def test_two_sounds_share_little_of_their_spectrum(one: str, other: str) -> None:
    assert np.minimum(spectrum(one), spectrum(other)).sum() < 0.3


def test_unsure_falls() -> None:
    first, _, last = pitches("unsure")
    assert last < 0.9 * first


def test_section_rises() -> None:
    assert pitches("section") == sorted(pitches("section"))


def test_understood_stays_on_one_note() -> None:
    assert np.ptp(pitches("understood")) < 20


@pytest.mark.parametrize("name", NAMES)
def test_the_wav_holds_the_same_sound(name: str) -> None:
    sound, rate_hz = soundfile.read(io.BytesIO(earcon_wav(name)), dtype="float32")
    assert rate_hz == RATE_HZ
    assert np.abs(sound - earcon(name)).max() < 1e-4


def test_a_sound_that_there_is_not_is_refused() -> None:
    with pytest.raises(DictateError, match="there are: understood"):
        earcon_wav("bang")  # type: ignore[arg-type]
