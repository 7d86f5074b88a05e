"""Where live sound comes from: what a microphone, a browser and a recording played in real time have in common.

One clock for all of them: `Frame.start_s` is seconds since the source was first iterated, missing sound included. So
a `Gap` always stands between the frame before it and the frame after it, whose time has moved on by its length:

    for event in source:
        if isinstance(event, Gap):
            ...  # flush the recogniser: words must not be joined over missing sound; note the gap; go on
        else:
            ...  # a Frame of 16 kHz mono sound

A source may raise `MicrophoneLost`. Iterate it again to wait for the device: that raises `MicrophoneLost` again while
it is away, and else goes on with a `Gap` for the time in between, on the same clock.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from dictate.audio.files import frames_of_file
from dictate.audio.frame import Frame


@dataclass(frozen=True, slots=True)
class Gap:
    """Sound that is missing, in seconds on the source's clock; `why` is one plain line for the note and the page."""

    from_s: float
    to_s: float
    why: str


class Source(Protocol):
    """Live sound. One thread iterates it; `close` may be called from any."""

    def __iter__(self) -> Iterator[Frame | Gap]:
        """Yield sound as it comes, each frame of 0.1 s (the last may be shorter), until closed or at its end.

        Raises:
            dictate.errors.MicrophoneLost: the device went away or stopped giving sound. Iterate again to go on.
            dictate.errors.MicrophoneError: at the first iteration, if there is no such device or no library for it.
        """
        ...

    @property
    def lost(self) -> bool:
        """Whether the device is away at the moment."""
        ...

    @property
    def waiting_s(self) -> float:
        """Seconds of sound that came and were not taken yet: how far the reader of this source lags behind."""
        ...

    def close(self) -> None:
        """Stop: what was captured so far is still yielded, and then iteration ends. Closing twice does no harm."""
        ...


class FileSource:
    """A recording as a source: in real time, faster, or at once."""

    def __init__(self, path: str | Path, *, speed: float | None = 1.0) -> None:
        """Open a recording.

        Args:
            path: WAV, FLAC, OGG, Opus or MP3; any rate and number of channels.
            speed: 1.0 is real time, 4.0 four times as fast; None gives the frames as fast as they are taken.

        Raises:
            dictate.errors.UnusableInput: the recording cannot be read.
            ValueError: `speed` is not positive.
        """
        if speed is not None and not speed > 0:
            raise ValueError(f"speed is {speed}; give a positive number, or None for no waiting")
        self._frames = frames_of_file(path)
        self._speed = speed
        self._closed = threading.Event()
        self._began: float | None = None  # on the monotonic clock
        self._given_s = 0.0
        self._ended = False

    def __iter__(self) -> Iterator[Frame | Gap]:
        """Yield each frame once its last sample would have been spoken. Iterating again goes on where it stopped."""
        if self._began is None:
            self._began = time.monotonic()
        for frame in self._frames:
            if self._speed is not None:
                due = self._began + frame.end_s / self._speed
                self._closed.wait(max(0.0, due - time.monotonic()))
            if self._closed.is_set():
                return
            self._given_s = frame.end_s
            yield frame
        self._ended = True

    @property
    def lost(self) -> bool:
        """A recording is never away."""
        return False

    @property
    def waiting_s(self) -> float:
        """Seconds of the recording that are due and were not taken yet; 0 when it is not paced."""
        if self._speed is None or self._began is None or self._ended:
            return 0.0
        return max(0.0, (time.monotonic() - self._began) * self._speed - self._given_s)

    def close(self) -> None:
        """Stop at once, also while waiting for the next frame to be due."""
        self._closed.set()
