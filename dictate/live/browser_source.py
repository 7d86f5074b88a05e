"""Sound that an open page sends, as a source."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from dictate.errors import MicrophoneLost
from dictate.journal.sound import SAMPLE_BYTES, from_pcm

LOST_AFTER_S = 3.0  # without sound from a page that gave some; it may come back with what it kept
MOST_WAITING_S = 60.0  # of sound that was not taken yet; then the page has to wait
_FRAME_BYTES = FRAME_SAMPLES * SAMPLE_BYTES
_LOST = "no open page sends sound; open the page again, or let it use the microphone"


class BrowserSource:
    """Takes sound by `accept`, from any thread, and gives it as frames."""

    def __init__(self) -> None:
        self._news = threading.Condition()
        self._waiting: deque[bytes | float] = deque()  # sound, and seconds of it that are missing
        self._bytes = 0  # of sound that waits
        self._rest = b""  # less than a frame
        self._at = 0  # samples given, missing ones too
        self._closed = False
        self._came_at: float | None = None

    def accept(self, pcm: bytes) -> None:
        """Take 16-bit little-endian mono samples at 16 kHz; wait while too many are not taken yet."""
        with self._news:
            self._news.wait_for(lambda: self._closed or self.waiting_s < MOST_WAITING_S)
            self._waiting.append(pcm)
            self._bytes += len(pcm)
            self._came_at = time.monotonic()
            self._news.notify_all()

    def missed(self, seconds: float) -> None:
        """Note that so much sound is missing after what was accepted so far."""
        with self._news:
            self._waiting.append(seconds)
            self._news.notify_all()

    def __iter__(self) -> Iterator[Frame | Gap]:
        """Yield the sound as it comes. Raises MicrophoneLost when a page that gave sound gives none any more."""
        while True:
            with self._news:
                self._news.wait_for(lambda: self._waiting or self._closed, timeout=1.0)
                piece = self._waiting.popleft() if self._waiting else None
                if isinstance(piece, bytes):
                    self._bytes -= len(piece)
                    self._news.notify_all()
            if isinstance(piece, bytes):
                yield from self._frames(piece)
            elif piece is not None:
                yield from self._gap(piece)
            elif self._closed:
                yield from self._flushed()
                return
            elif self.lost:
                yield from self._flushed()
                raise MicrophoneLost(_LOST)

    @property
    def lost(self) -> bool:
        """Whether sound came, and comes no more."""
        return self._came_at is not None and time.monotonic() - self._came_at > LOST_AFTER_S

    @property
    def waiting_s(self) -> float:
        """Seconds of sound that were not taken yet."""
        return self._bytes / SAMPLE_BYTES / SAMPLE_RATE_HZ

    def close(self) -> None:
        """Stop: what came so far is still given."""
        with self._news:
            self._closed = True
            self._news.notify_all()

    def _frames(self, pcm: bytes) -> Iterator[Frame]:
        self._rest += pcm
        while len(self._rest) >= _FRAME_BYTES:
            content, self._rest = self._rest[:_FRAME_BYTES], self._rest[_FRAME_BYTES:]
            yield self._frame(content)

    def _flushed(self) -> Iterator[Frame]:
        content, self._rest = self._rest[: len(self._rest) // SAMPLE_BYTES * SAMPLE_BYTES], b""
        if content:
            yield self._frame(content)

    def _frame(self, content: bytes) -> Frame:
        frame = Frame(from_pcm(content), self._at / SAMPLE_RATE_HZ)
        self._at += len(frame.samples)
        return frame

    def _gap(self, seconds: float) -> Iterator[Frame | Gap]:
        yield from self._flushed()
        start_s = self._at / SAMPLE_RATE_HZ
        self._at += round(seconds * SAMPLE_RATE_HZ)
        yield Gap(round(start_s, 3), round(self._at / SAMPLE_RATE_HZ, 3), "sound of the page was lost")
