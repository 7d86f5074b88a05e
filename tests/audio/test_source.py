"""A recording as a live source: the same frames as the file, one clock, and it stops when told."""

import threading

import numpy as np
import pytest
import soundfile

from dictate.audio.files import frames_of_file
from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.audio.source import FileSource
from dictate.errors import UnusableInput

SECONDS = 1.25


@pytest.fixture
def recording(tmp_path):
    path = tmp_path / "tone.wav"
    phase = np.arange(round(SECONDS * SAMPLE_RATE_HZ)) * 2 * np.pi * 440 / SAMPLE_RATE_HZ
    soundfile.write(path, 0.3 * np.sin(phase), SAMPLE_RATE_HZ)
    return path


def samples_of(frames):
    return np.concatenate([frame.samples for frame in frames])


@pytest.mark.parametrize("speed", [None, 50.0])
def test_gives_exactly_the_sound_of_the_file(recording, speed):
    given = samples_of(FileSource(recording, speed=speed))
    assert np.array_equal(given, samples_of(frames_of_file(recording)))


def test_frames_follow_each_other_on_one_clock(recording):
    frames = list(FileSource(recording, speed=None))
    assert [frame.start_s for frame in frames[1:]] == pytest.approx([frame.end_s for frame in frames[:-1]])


def test_iterating_again_goes_on_where_it_stopped(recording):
    source = FileSource(recording, speed=None)
    first = next(iter(source))
    assert next(iter(source)).start_s == pytest.approx(first.end_s)


def test_close_ends_the_wait_for_a_frame_that_is_not_due(recording):
    source = FileSource(recording, speed=0.0001)  # the first frame would be due after a quarter of an hour
    threading.Timer(0.05, source.close).start()
    assert list(source) == []


def test_sound_that_is_due_and_not_taken_is_waiting(recording):
    source = FileSource(recording, speed=1e6)
    next(iter(source))
    assert source.waiting_s > 0


def test_nothing_waits_at_the_end(recording):
    source = FileSource(recording, speed=1e6)
    list(source)
    assert source.waiting_s == 0


def test_a_missing_recording_is_refused_before_anything_is_heard(tmp_path):
    with pytest.raises(UnusableInput, match="not there"):
        FileSource(tmp_path / "nothing.wav")


@pytest.mark.parametrize("speed", [0.0, -1.0])
def test_a_speed_that_is_not_positive_is_refused(recording, speed):
    with pytest.raises(ValueError, match="positive"):
        FileSource(recording, speed=speed)
