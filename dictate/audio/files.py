"""Recordings as frames: any format that libsndfile reads, any rate, any channel count, in bounded memory."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame, Samples
from dictate.audio.mix import channel_weights, mix
from dictate.audio.truncation import refuse_truncated_wav
from dictate.errors import UnusableInput

_log = logging.getLogger(__name__)

SHORTEST_S = 0.1  # less than this is a slip of the button
_BLOCK_S = 1.0  # read at a time
_CLIPPED_LEVEL = 0.999  # of full scale
_CLIPPED_SHARE = 0.001  # of all samples at that level: speech that merely touches full scale stays far below
_UNKNOWN_FRAMES = 2**62  # libsndfile gives its largest number where a file does not tell its length


def duration_s(path: str | Path) -> float:
    """Return the length of a recording in seconds. Raises UnusableInput, as `frames_of_file` does."""
    info = _info(Path(path))
    if info.frames < _UNKNOWN_FRAMES:
        return float(info.frames) / float(info.samplerate)
    return sum(len(block) for block in _blocks(Path(path))) / float(info.samplerate)


def frames_of_file(path: str | Path) -> Iterator[Frame]:
    """Return the recording's frames, each of 0.1 s (the last may be shorter), read as they are asked for.

    Raises:
        UnusableInput: at once if the file is missing, empty, not sound, or cut off in a way that its header shows;
            while reading if it is damaged further on or holds samples that are not numbers.
    """
    path = Path(path)
    info = _info(path)
    refuse_truncated_wav(path)
    return _frames(path, info)


def _frames(path: Path, info: soundfile._SoundFileInfo) -> Iterator[Frame]:
    weights = np.ones(1, dtype=np.float32)
    if info.channels > 1:
        weights = channel_weights(_blocks(path), rate_hz=info.samplerate)
        _log.info("%s: %d channels, mixed with weights %s", path.name, info.channels, weights.round(2).tolist())
    resampler = _Resampler(info.samplerate)
    clipped = total = position = 0
    rest = np.zeros(0, dtype=np.float32)
    for block in _blocks(path):
        clipped += int((np.abs(block) >= _CLIPPED_LEVEL).any(axis=1).sum())
        total += len(block)
        rest = np.concatenate([rest, resampler.accept(mix(block, weights))])
        whole = len(rest) // FRAME_SAMPLES * FRAME_SAMPLES
        for start in range(0, whole, FRAME_SAMPLES):
            yield Frame(rest[start : start + FRAME_SAMPLES], (position + start) / SAMPLE_RATE_HZ)
        position, rest = position + whole, rest[whole:]
    _check_read(path, info, total)
    rest = np.concatenate([rest, resampler.flush()])
    for start in range(0, len(rest), FRAME_SAMPLES):
        yield Frame(rest[start : start + FRAME_SAMPLES], (position + start) / SAMPLE_RATE_HZ)
    if clipped > _CLIPPED_SHARE * total:
        _log.warning("%s is clipped (too loud) in %d samples; words may be misheard there", path.name, clipped)


class _Resampler:
    """A stream at any rate to one at 16 kHz."""

    def __init__(self, rate_hz: int) -> None:
        self._stream = None
        if rate_hz != SAMPLE_RATE_HZ:
            self._stream = soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32", quality="HQ")

    def accept(self, samples: Samples) -> Samples:
        return samples if self._stream is None else self._stream.resample_chunk(samples)

    def flush(self) -> Samples:
        nothing = np.zeros(0, dtype=np.float32)
        return nothing if self._stream is None else self._stream.resample_chunk(nothing, last=True)


def _info(path: Path) -> soundfile._SoundFileInfo:
    if not path.is_file():
        raise UnusableInput(f"{path} is not there or not a file; give the path of a recording")
    if path.stat().st_size == 0:
        raise UnusableInput(f"{path} is empty (0 bytes); record it again or give another file")
    try:
        info = soundfile.info(str(path))
    except (soundfile.LibsndfileError, RuntimeError, TypeError) as error:
        raise UnusableInput(
            f"{path} cannot be read as sound; give a WAV, FLAC, OGG or MP3 recording, or convert it to WAV"
        ) from error
    if info.frames < SHORTEST_S * info.samplerate:
        raise UnusableInput(f"{path} is shorter than {SHORTEST_S} s; give a recording with speech in it")
    return info


def _blocks(path: Path) -> Iterator[NDArray[np.float32]]:
    """Yield blocks of shape (samples, channels)."""
    try:
        with soundfile.SoundFile(str(path)) as sound:
            size = max(1, round(sound.samplerate * _BLOCK_S))
            while len(block := sound.read(size, dtype="float32", always_2d=True)):
                if not np.isfinite(block).all():
                    raise UnusableInput(f"{path} holds samples that are not numbers; export it again as 16-bit WAV")
                yield block
    except (soundfile.LibsndfileError, RuntimeError) as error:
        raise UnusableInput(f"{path} is damaged; copy it again from where it was recorded, or mend it") from error


def _check_read(path: Path, info: soundfile._SoundFileInfo, total: int) -> None:
    if info.frames < _UNKNOWN_FRAMES and total < info.frames - info.samplerate // 10:
        raise UnusableInput(
            f"{path} breaks off after {total / info.samplerate:.1f} s of {info.frames / info.samplerate:.1f} s; "
            "copy it again from where it was recorded, or save the readable part as a new file"
        )
