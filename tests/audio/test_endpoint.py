"""Utterances end at pauses, never overlap, lose no speech, and need no memory that grows."""

from __future__ import annotations

import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
import soundfile

from dictate.audio import SAMPLE_RATE_HZ, Endpointer, EndpointOptions, Frame, frames_of_file
from dictate.audio.endpoint import weakest_window
from dictate.audio.voice import WINDOW_SAMPLES, VoiceDetector
from tests.audio.sounds import applause, chords, frames_of, hum, pink, tone, white
from tests.audio.speech import speech

SILENT = {
    "silence": lambda: np.zeros(10 * SAMPLE_RATE_HZ, dtype=np.float32),
    "white noise": lambda: white(10),
    "faint noise": lambda: white(10, level=0.001),
    "pink noise": lambda: pink(10),
    "loud pink noise": lambda: pink(10, level=0.3),
    "hum": lambda: hum(10),
    "music": lambda: chords(10),
    "applause": lambda: applause(10),
}


def spans_of(sound, *, size=1600, options=None, start_s=0.0):
    endpointer = Endpointer(options)
    spans = [span for frame in frames_of(sound, size=size, start_s=start_s) for span in endpointer.accept(frame)]
    return spans + list(endpointer.flush())


def pause(length_s):
    return np.zeros(round(length_s * SAMPLE_RATE_HZ), dtype=np.float32)


def loud_part(sound, level=0.02):
    """Return the first and last second at which the sound is louder than `level`."""
    places = np.flatnonzero(np.abs(sound) > level) / SAMPLE_RATE_HZ
    return places[0], places[-1]


@pytest.mark.parametrize("name", SILENT)
def test_no_speech_no_utterance(name):
    assert spans_of(SILENT[name]()) == []


def test_a_long_pause_parts_and_a_short_one_does_not():
    said = speech()[0].sound
    assert len(spans_of(np.concatenate([pause(0.5), said, pause(1.2), said, pause(1)]))) == 2
    first, last = loud_part(said)
    tight = said[round(first * SAMPLE_RATE_HZ) : round(last * SAMPLE_RATE_HZ)]
    assert len(spans_of(np.concatenate([pause(0.5), tight, pause(0.25), tight, pause(1)]))) == 1


def test_spans_hold_the_speech_and_its_sound_unchanged():
    said = speech()[1].sound
    sound = np.concatenate([pause(1.0), said, pause(1.5)])
    (span,) = spans_of(sound)
    first, last = loud_part(sound)
    assert span.start_s <= first + 0.05
    assert span.end_s >= last - 0.1
    start = round(span.start_s * SAMPLE_RATE_HZ)
    np.testing.assert_array_equal(span.samples, sound[start : start + len(span.samples)])
    assert span.endpoint_s > last


@pytest.mark.parametrize("size", [160, 511, 512, 1600, 16_000])
def test_frame_size_does_not_matter(size):
    sound = np.concatenate([speech()[0].sound, pause(1), speech()[1].sound, pause(0.3)])
    expected = [(span.start_s, len(span.samples)) for span in spans_of(sound, size=1600)]
    assert [(span.start_s, len(span.samples)) for span in spans_of(sound, size=size)] == expected


def test_times_count_from_the_start_of_the_recording():
    sound = np.concatenate([pause(0.5), speech()[0].sound, pause(1)])
    (span,), (late,) = spans_of(sound), spans_of(sound, start_s=100.0)
    assert late.start_s == pytest.approx(span.start_s + 100)
    assert late.endpoint_s == pytest.approx(span.endpoint_s + 100)


def test_speech_without_a_pause_is_cut_and_nothing_is_lost():
    said = np.concatenate([part.sound for part in speech()])
    first, last = loud_part(said)
    tight = said[round(first * SAMPLE_RATE_HZ) : round(last * SAMPLE_RATE_HZ)]
    spans = spans_of(np.concatenate([tight, tight]), options=EndpointOptions(pause_s=5.0, max_utterance_s=8.0))
    assert len(spans) >= 4
    for span, following in pairwise(spans):
        assert span.end_s == pytest.approx(following.start_s, abs=1e-6)
        assert len(span.samples) / SAMPLE_RATE_HZ <= 8.0


def test_the_weakest_point_is_the_quiet_one():
    windows = [tone(1.0)[:WINDOW_SAMPLES] for _ in range(100)]
    for place in range(70, 77):
        windows[place] = windows[place] * np.float32(0.01)
    assert weakest_window(windows, [0.9] * 100) == pytest.approx(73, abs=1)


def test_pending_speech_is_shown_with_a_start_that_stays():
    endpointer, starts = Endpointer(), set()
    for frame in frames_of(np.concatenate([pause(0.5), speech()[0].sound])):
        assert not list(endpointer.accept(frame))
        pending = endpointer.pending()
        if pending is not None:
            starts.add(pending.start_s)
    assert len(starts) == 1


def test_the_streaming_detector_equals_one_call_over_the_whole_sound():
    windows = speech()[0].sound
    windows = windows[: len(windows) // WINDOW_SAMPLES * WINDOW_SAMPLES].reshape(-1, WINDOW_SAMPLES)
    whole = VoiceDetector().probabilities(windows)
    detector = VoiceDetector()
    parts = np.concatenate([detector.probabilities(part) for part in np.array_split(windows, 17)])
    np.testing.assert_allclose(parts, whole, atol=1e-5)


def test_memory_does_not_grow_with_the_recording(tmp_path):
    """Frames and endpointing of ten minutes peak about as high as those of one, at 44.1 kHz in stereo."""
    peaks = []
    for minutes in (1, 10):
        path = tmp_path / "long.flac"
        with soundfile.SoundFile(path, "w", 44_100, 2, subtype="PCM_16") as file:
            block = np.repeat(np.tile(tone(1.0, rate_hz=44_100), 10)[:, None], 2, axis=1)
            for _ in range(minutes * 6):
                file.write(block)
        endpointer = Endpointer()
        tracemalloc.start()
        for frame in frames_of_file(path):
            for _ in endpointer.accept(frame):
                pass
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    # Nine minutes more, kept as 16-bit samples at 16 kHz, would be 17 MB; buffers that wait to be freed come to 1 or 2.
    assert peaks[1] < peaks[0] + 5e6


def test_frames_are_yielded_before_the_file_is_read(tmp_path):
    path = tmp_path / "exam.wav"
    soundfile.write(path, tone(60), SAMPLE_RATE_HZ)
    frames = frames_of_file(path)
    tracemalloc.start()
    assert isinstance(next(frames), Frame)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2e6, "a minute at 16 kHz is 3.8 MB"
