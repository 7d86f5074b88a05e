"""Sound that an open page sends: each sample once, in order, whatever the socket did meanwhile.

A page keeps what it recorded until it is told that it arrived, and sends it again after a lost connection. So each
message says where it belongs: 8 bytes, little-endian, the number of its first sample since the page's microphone was
opened; then 16-bit mono samples at 16 kHz.
"""

from __future__ import annotations

import struct
import time
from collections.abc import Callable
from dataclasses import dataclass

from dictate.errors import DictateError

SAMPLE_RATE_HZ = 16_000
SAMPLE_BYTES = 2
HEADER = struct.Struct("<Q")
NOTICED_S = 0.5  # a shorter pause between two pages' microphones is not told (project's choice)


class BadSound(DictateError):
    """A message of sound that is not what it should be."""


class MicrophoneTaken(DictateError):
    """Another page gives the sound of this exam."""


@dataclass
class _Stream:
    name: str
    expected: int  # number of the next sample
    holder: object | None  # the page that sends it; None while it is away


class Intake:
    """Takes the sound of one page at a time.

    Args:
        take: is given samples, 16-bit little-endian.
        missed: is told of seconds of sound that will not come any more.
        clock: seconds, never running backwards.
    """

    def __init__(
        self, take: Callable[[bytes], None], missed: Callable[[float], None], *,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self._take, self._missed, self._clock = take, missed, clock
        self._stream: _Stream | None = None
        self._taking = False
        self._until_s: float | None = None  # on our clock: when the last sound came

    @property
    def quiet_for_s(self) -> float | None:
        """Seconds since sound came; None before the first, and 0 while a piece waits to be taken."""
        if self._taking:
            return 0.0
        return None if self._until_s is None else self._clock() - self._until_s

    def begin(self, holder: object, name: str, *, sample: int) -> int:
        """Let a page send a stream, new or again, and return the number of the sample that is wanted next.

        Args:
            holder: the page.
            name: of the stream; a page that opens its microphone anew gives a new one.
            sample: the first one that the page still has.

        Raises:
            MicrophoneTaken: another page is sending.
        """
        now = self._stream
        if now and now.name == name:  # it is back, perhaps before we noticed that it was gone
            now.holder = holder
            return now.expected
        if now and now.holder is not None and now.holder is not holder:
            raise MicrophoneTaken("another page gives the sound of this examination; this one only shows it")
        self._stream = _Stream(name, sample, holder)
        if now and self._until_s is not None and self._clock() - self._until_s > NOTICED_S:
            self._missed(self._clock() - self._until_s)
        return sample

    def leave(self, holder: object) -> None:
        """The page is gone; it may come back with what it kept."""
        if self._stream and self._stream.holder is holder:
            self._stream.holder = None

    def message(self, holder: object, message: bytes) -> int:
        """Take a message and return the number of the sample that is wanted next.

        Raises:
            BadSound: the page did not begin a stream, or the message has no whole number of samples.
        """
        stream = self._stream
        if stream is None or stream.holder is not holder:
            raise BadSound("sound came from a page that was not asked for it; reload the page")
        if len(message) < HEADER.size or (len(message) - HEADER.size) % SAMPLE_BYTES:
            raise BadSound("a piece of sound was damaged on the way; reload the page")
        (first,) = HEADER.unpack_from(message)
        samples = message[HEADER.size :]
        known = max(0, stream.expected - first)  # samples that came before, over a connection that was lost
        samples = samples[known * SAMPLE_BYTES :]
        if first > stream.expected:
            self._missed((first - stream.expected) / SAMPLE_RATE_HZ)
            stream.expected = first
        if samples:
            self._taking = True  # which may wait, when the program is far behind
            try:
                self._take(samples)
            finally:
                self._taking = False
            stream.expected += len(samples) // SAMPLE_BYTES
        self._until_s = self._clock()
        return stream.expected
