"""The sound of an exam: 16 kHz mono 16-bit WAV files that grow while people speak, and can be read while they grow."""

from __future__ import annotations

import errno
import hashlib
import os
import struct
from contextlib import suppress
from pathlib import Path

import numpy as np

from dictate.audio.frame import SAMPLE_RATE_HZ, Samples
from dictate.errors import JournalError

HEADER_BYTES = 44
SAMPLE_BYTES = 2
_FULL_SCALE = 32_768  # as libsndfile reads 16-bit sound, so that writing and reading change nothing
_SYNC_SAMPLES = SAMPLE_RATE_HZ // 4  # a power cut loses at most this much that was spoken, beside the frame under way


class SoundWriter:
    """Appends sound to a new WAV file. Whatever `append` returned from is with the system; a kill does not lose it."""

    def __init__(self, path: Path) -> None:
        """Make the file. Raises JournalError if it is there already or cannot be made."""
        self.path = path
        self.samples = 0  # in the file
        self._unsynced = 0
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError as error:
            raise JournalError(f"{path} cannot be made ({error.strerror}); check the disk and the folder") from error
        try:
            if os.write(self._file, _header(0)) < HEADER_BYTES:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(self._file)
        except OSError as error:
            os.close(self._file)
            path.unlink(missing_ok=True)  # or the next attempt would find its name taken
            raise JournalError(f"{path} cannot be made ({error.strerror}); check the disk and the folder") from error

    @property
    def seconds(self) -> float:
        """Length of the file in seconds."""
        return self.samples / SAMPLE_RATE_HZ

    def append(self, samples: Samples) -> None:
        """Write samples (float32, -1 to 1) at the end. Raises OSError when they cannot all be written; none is then."""
        content = to_pcm(samples)
        end = HEADER_BYTES + self.samples * SAMPLE_BYTES
        try:
            written = 0
            while written < len(content):
                written += os.pwrite(self._file, content[written:], end + written)
        except OSError:
            with suppress(OSError):
                os.ftruncate(self._file, end)
            raise
        self.samples += len(samples)
        self._unsynced += len(samples)
        if self._unsynced >= _SYNC_SAMPLES:
            self.sync()

    def sync(self) -> None:
        """Bring the sound to the disk, and the header up to date."""
        os.pwrite(self._file, _header(self.samples), 0)
        os.fdatasync(self._file)
        self._unsynced = 0

    def close(self) -> None:
        """Finish the file."""
        if self._file >= 0:
            with suppress(OSError):
                self.sync()
            os.close(self._file)
            self._file = -1


def to_pcm(samples: Samples) -> bytes:
    """Return samples as little-endian 16-bit PCM."""
    return np.clip((samples * _FULL_SCALE).round(), -_FULL_SCALE, _FULL_SCALE - 1).astype("<i2").tobytes()


def from_pcm(content: bytes) -> Samples:
    """Return little-endian 16-bit PCM as samples from -1 to 1, as libsndfile reads them."""
    return np.frombuffer(content, dtype="<i2").astype(np.float32) / np.float32(_FULL_SCALE)


def digest_of_sound(path: Path) -> str:
    """Return the sha256 of a sound file's samples; its header may still be put right. Empty when there is no file."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            file.seek(HEADER_BYTES)
            while block := file.read(1 << 20):
                digest.update(block)
    except FileNotFoundError:
        return ""
    return digest.hexdigest()


def samples_in(path: Path) -> int:
    """Return how many whole samples a sound file holds by its size, whatever its header says."""
    try:
        return max(0, path.stat().st_size - HEADER_BYTES) // SAMPLE_BYTES
    except OSError:
        return 0


def slice_of(path: Path, *, start_sample: int, end_sample: int) -> Samples:
    """Return the samples from `start_sample` up to `end_sample`, fewer where the file ends."""
    start = max(0, start_sample)
    with path.open("rb") as file:
        file.seek(HEADER_BYTES + start * SAMPLE_BYTES)
        content = file.read(max(0, end_sample - start) * SAMPLE_BYTES)
    return from_pcm(content[: len(content) // SAMPLE_BYTES * SAMPLE_BYTES])


def mend_header(path: Path) -> None:
    """Write the true length into the header of a file whose writing was cut short."""
    with path.open("r+b") as file:
        file.write(_header(samples_in(path)))


def wav_of(samples: Samples) -> bytes:
    """Return samples as a whole WAV file in memory."""
    return _header(len(samples)) + to_pcm(samples)


def _header(samples: int) -> bytes:
    """Return a RIFF WAVE header, PCM. Source: Multimedia Programming Interface and Data Specifications 1.0, 1991."""
    data = samples * SAMPLE_BYTES
    rate = SAMPLE_RATE_HZ
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + data, b"WAVE", b"fmt ", 16, 1, 1, rate, rate * SAMPLE_BYTES, SAMPLE_BYTES,
        16, b"data", data,
    )  # fmt: skip
