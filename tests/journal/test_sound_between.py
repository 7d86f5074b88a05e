"""The sound of some seconds of an exam, wherever it lies: a gap, and an exam that was resumed, begin another file."""

import numpy as np
import pytest

from dictate.audio.frame import SAMPLE_RATE_HZ
from tests.support.exams import kept_exam

FIRST, SECOND = 0.25, -0.5  # what each file holds, exact in 16 bits


@pytest.fixture
def exam(tmp_path):
    """Two seconds of sound, a gap of three, and two seconds more."""
    folder, journal = kept_exam(tmp_path, [], closed=False)
    for start_s, level in ((0.0, FIRST), (5.0, SECOND)):
        writer = folder.begin_sound(journal, start_s=start_s)
        writer.append(np.full(2 * SAMPLE_RATE_HZ, level, dtype=np.float32))
        writer.close()
    return folder, journal


def between(exam, from_s, to_s):
    folder, journal = exam
    samples = folder.sound_between(journal.events, from_s=from_s, to_s=to_s)
    return None if samples is None else samples.tolist()


def test_sound_within_a_file_is_just_that(exam):
    assert between(exam, 0.5, 1.0) == [FIRST] * (SAMPLE_RATE_HZ // 2)


def test_words_right_after_a_gap_are_heard_although_a_little_before_them_is_asked_for(exam):
    assert between(exam, 4.4, 6.0) == [SECOND] * SAMPLE_RATE_HZ


def test_sound_on_both_sides_of_a_gap_is_given_in_order(exam):
    assert between(exam, 1.5, 5.5) == [FIRST] * (SAMPLE_RATE_HZ // 2) + [SECOND] * (SAMPLE_RATE_HZ // 2)


def test_where_nothing_was_recorded_there_is_no_sound(exam):
    assert between(exam, 2.5, 4.5) is None


def test_sound_that_was_purged_is_not_replaced_by_other_sound(exam):
    folder, _ = exam
    (folder.path / "sound-002.wav").unlink()
    assert between(exam, 5.0, 6.0) is None
