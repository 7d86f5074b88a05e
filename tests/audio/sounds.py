"""Sounds made for the tests: no recording is needed for them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dictate.audio import SAMPLE_RATE_HZ, Frame

Sound = NDArray[np.float32]


def seconds(length_s: float, rate_hz: int = SAMPLE_RATE_HZ) -> NDArray[np.float64]:
    """Return the times of the samples."""
    return np.arange(round(length_s * rate_hz)) / rate_hz


def tone(length_s: float, *, hz: float = 440.0, level: float = 0.3, rate_hz: int = SAMPLE_RATE_HZ) -> Sound:
    return np.asarray(level * np.sin(2 * np.pi * hz * seconds(length_s, rate_hz)), dtype=np.float32)


def white(length_s: float, *, level: float = 0.1) -> Sound:
    return np.asarray(level * np.random.default_rng(1).standard_normal(len(seconds(length_s))), dtype=np.float32)


def pink(length_s: float, *, level: float = 0.1) -> Sound:
    """Noise whose power falls with frequency, like that of a room."""
    spectrum = np.fft.rfft(np.random.default_rng(2).standard_normal(len(seconds(length_s))))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 1))
    noise = np.fft.irfft(spectrum, len(seconds(length_s)))
    return np.asarray(level * noise / noise.std(), dtype=np.float32)


def hum(length_s: float) -> Sound:
    """Mains at 50 Hz with its octave."""
    return tone(length_s, hz=50, level=0.3) + tone(length_s, hz=100, level=0.1)


def chords(length_s: float) -> Sound:
    """Plucked triads, one a second, each note with five partials."""
    music = np.zeros(len(seconds(length_s)))
    for number, start in enumerate(range(0, len(music), SAMPLE_RATE_HZ)):
        times = seconds(1.0)[: len(music) - start]
        root_hz = (220.0, 174.6, 261.6, 196.0)[number % 4]
        tones = [(root_hz * step * part, part) for step in (1, 5 / 4, 3 / 2) for part in range(1, 6)]
        notes = [np.sin(2 * np.pi * hz * times) / part for hz, part in tones]
        music[start : start + len(times)] = np.sum(notes, axis=0) * np.exp(-1.5 * times)
    return np.asarray(0.1 * music / music.std(), dtype=np.float32)


def applause(length_s: float) -> Sound:
    """Forty claps a second, each a short burst of noise."""
    random = np.random.default_rng(3)
    sound = np.zeros(len(seconds(length_s)))
    fade = np.exp(-np.arange(800) / 120)
    for start in random.integers(0, len(sound) - 800, round(40 * length_s)):
        sound[start : start + 800] += random.standard_normal(800) * fade * random.random()
    return np.asarray(np.clip(0.2 * sound, -1, 1), dtype=np.float32)


def frames_of(sound: Sound, *, size: int = 1600, start_s: float = 0.0):
    """Yield the frames of a sound."""
    for start in range(0, len(sound), size):
        yield Frame(sound[start : start + size], start_s + start / SAMPLE_RATE_HZ)
