"""Whether the sound that comes in can be recognised: too quiet, clipping, nothing heard, or good."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Literal

import numpy as np

from dictate.audio.frame import SAMPLE_RATE_HZ, Frame, Samples

Level = Literal["good", "quiet", "clipping", "silent"]

# Levels are RMS in decibels below full scale (a square wave of full scale is 0). Speech is best recorded near -26, the
# nominal level of ITU-T P.56 and of the speech that codecs are tested with; the spoken fixtures stand at about -30.
QUIET_DBFS = -50.0  # 24 dB below nominal: a microphone across the room, or turned down; project's choice
QUIET_ABOVE_ROOM_DB = 8.0  # speech less far above the room's noise is drowned in it; project's choice
SPEECH_ABOVE_ROOM_DB = 6.0  # sound less far above the room's noise is the room; project's choice
DEAD_DBFS = -80.0  # below the noise of any room that a microphone hears: muted, or not the right device
DEAD_AFTER_S = 3.0  # longer than the quiet at the start of a device
SILENT_AFTER_S = 30.0  # nobody examines that long without a word; project's choice
CLIPPED_LEVEL = 0.999  # of full scale
CLIPPED_SHARE = 0.001  # of the newest samples: speech that merely touches full scale stays far below
_CLIPPING_WINDOW_S = 3.0  # so long a word stays clipped for whoever looks
_WINDOW_S = 10.0  # of sound that the room's and the speaker's levels are taken from
_LEAST_WINDOW_S = 2.0
_FLOOR_DBFS = -120.0
_LEVELLED_SAMPLES = 32  # 2 ms: takes 15 dB off a hum of 50 Hz, more off rumble, and nothing off most of speech


@dataclass(frozen=True, slots=True)
class _Heard:
    length_s: float
    dbfs: float
    clipped: int
    samples: int
    voiced: bool | None


class LevelMeter:
    """Follows the level of a stream of frames. One instance hears one source, in order."""

    def __init__(self) -> None:
        self._newest: deque[_Heard] = deque()
        self._length_s = 0.0
        self._dead_s = 0.0
        self._wordless_s = 0.0
        self._level: Level = "good"

    @property
    def level(self) -> Level:
        """How the sound is now: the gravest of what is wrong with it."""
        return self._level

    def accept(self, frame: Frame, *, voiced: bool | None = None) -> Level:
        """Take the next frame and return the level.

        Args:
            frame: of any length.
            voiced: whether a voice detector heard speech in it; None where none was asked: loudness decides then.
        """
        if not len(frame.samples):
            return self._level
        power = _power(frame.samples)
        dbfs = max(_FLOOR_DBFS, 10 * np.log10(power)) if power > 0 else _FLOOR_DBFS
        clipped = int((np.abs(frame.samples) >= CLIPPED_LEVEL).sum())
        length_s = len(frame.samples) / SAMPLE_RATE_HZ
        self._newest.append(_Heard(length_s, dbfs, clipped, len(frame.samples), voiced))
        self._length_s += length_s
        while self._length_s - self._newest[0].length_s >= _WINDOW_S:
            self._length_s -= self._newest.popleft().length_s
        self._dead_s = self._dead_s + length_s if dbfs < DEAD_DBFS else 0.0
        self._level = self._judged(dbfs, voiced, length_s)
        return self._level

    def _judged(self, dbfs: float, voiced: bool | None, length_s: float) -> Level:
        levels = np.array([heard.dbfs for heard in self._newest])
        room = float(np.percentile(levels, 10))
        spoken = self._spoken(levels, room)
        loud = dbfs >= room + SPEECH_ABOVE_ROOM_DB and dbfs >= DEAD_DBFS
        self._wordless_s = 0.0 if (loud if voiced is None else voiced) else self._wordless_s + length_s
        if self._is_clipping():
            return "clipping"
        if self._dead_s >= DEAD_AFTER_S or self._wordless_s >= SILENT_AFTER_S:
            return "silent"
        if spoken is None or self._length_s < _LEAST_WINDOW_S:
            return "good"  # nothing was said that could be too quiet
        return "quiet" if spoken < QUIET_DBFS or spoken - room < QUIET_ABOVE_ROOM_DB else "good"

    def _spoken(self, levels: np.ndarray, room: float) -> float | None:
        """Return the level of the speech in the window, None where there is none."""
        told = [heard for heard in self._newest if heard.voiced is not None]
        if told:
            voiced = [heard.dbfs for heard in told if heard.voiced]
            return float(np.median(voiced)) if len(voiced) >= 3 else None
        loud = levels[(levels >= room + SPEECH_ABOVE_ROOM_DB) & (levels >= DEAD_DBFS)]
        return float(np.median(loud)) if len(loud) >= 3 else None

    def _is_clipping(self) -> bool:
        length_s, clipped, samples = 0.0, 0, 0
        for heard in reversed(self._newest):
            if length_s >= _CLIPPING_WINDOW_S:
                break
            length_s, clipped, samples = length_s + heard.length_s, clipped + heard.clipped, samples + heard.samples
        return clipped > CLIPPED_SHARE * samples


def _power(samples: Samples) -> float:
    """Return the mean power of samples once the mean of every 2 ms is removed: rumble and hum are not loudness."""
    whole = len(samples) // _LEVELLED_SAMPLES * _LEVELLED_SAMPLES
    if not whole:
        return 0.0
    stretches = samples[:whole].reshape(-1, _LEVELLED_SAMPLES).astype(np.float64)
    return float(np.mean(np.square(stretches - stretches.mean(axis=1, keepdims=True))))
