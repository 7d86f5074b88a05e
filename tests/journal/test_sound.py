"""The sound of an exam: a WAV file that can be read while it grows, and after whatever stopped it."""

import numpy as np
import pytest
import soundfile

from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.errors import JournalError
from dictate.journal.sound import (
    HEADER_BYTES,
    SoundWriter,
    digest_of_sound,
    from_pcm,
    mend_header,
    samples_in,
    slice_of,
    to_pcm,
    wav_of,
)  # fmt: skip

RAMP = (np.arange(-32_768, 32_768, 7) / 32_768).astype(np.float32)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "sound-001.wav"


def written(path, samples=RAMP, block=1000):
    writer = SoundWriter(path)
    for start in range(0, len(samples), block):
        writer.append(samples[start : start + block])
    return writer


def test_libsndfile_reads_back_what_was_written(path):
    written(path).close()
    samples, rate = soundfile.read(path, dtype="float32")
    assert rate == SAMPLE_RATE_HZ
    assert np.array_equal(samples, RAMP)


def test_sixteen_bit_sound_survives_exactly():
    assert np.array_equal(from_pcm(to_pcm(RAMP)), RAMP)


def test_full_scale_does_not_wrap_round():
    loud = np.array([1.0, -1.0, 7.0], dtype=np.float32)
    assert from_pcm(to_pcm(loud)).tolist() == [32_767 / 32_768, -1.0, 32_767 / 32_768]


def test_it_can_be_read_while_it_grows(path):
    writer = written(path)
    assert samples_in(path) == writer.samples == len(RAMP)
    assert np.array_equal(slice_of(path, start_sample=100, end_sample=300), RAMP[100:300])


def test_a_file_whose_writing_was_cut_short_is_mended(path):
    written(path, block=999)  # never closed: its header is behind
    with path.open("ab") as file:
        file.write(b"\x01")  # half a sample
    mend_header(path)
    samples, _ = soundfile.read(path, dtype="float32")
    assert np.array_equal(samples, RAMP)


def test_a_recording_is_never_written_over(path):
    written(path).close()
    with pytest.raises(JournalError, match="cannot be made"):
        SoundWriter(path)


def test_the_digest_is_of_the_sound_not_of_the_header(path):
    written(path)
    before = digest_of_sound(path)
    mend_header(path)
    assert digest_of_sound(path) == before != ""


def test_another_sound_has_another_digest(path, tmp_path):
    written(path).close()
    other = tmp_path / "other.wav"
    changed = RAMP.copy()
    changed[5] = 0.5
    written(other, changed).close()
    assert digest_of_sound(path) != digest_of_sound(other)


def test_a_wav_in_memory_is_whole():
    content = wav_of(RAMP)
    assert len(content) == HEADER_BYTES + 2 * len(RAMP) and content[:4] == b"RIFF"
