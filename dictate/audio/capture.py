"""From the blocks of a device's callback to frames on one clock: nothing waits in the callback, nothing is lost unsaid.

The clock counts samples. Beside it runs the clock of the computer, which also counts while the computer sleeps. Where
the two come apart for good, sound is missing: that is a `Gap`. Where they come apart for a moment, the computer was
only late to fetch the sound.
"""

from __future__ import annotations

import queue
import sys
import time
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame, Samples
from dictate.audio.mix import channel_weights, mix
from dictate.audio.source import Gap

MOST_WAITING_S = 60.0  # sound kept for a reader that lags; 11 MB of stereo at 48 kHz
LATE_S = 0.3  # blocks up to this late are jitter of the system; project's choice
_HOLD_S = 0.5  # of late sound before the lateness counts as loss: a system that was busy catches up in less
_SLEPT_S = 1.0  # a suspended computer is away for longer than this
_DRIFT = 0.002  # share of a small lateness taken for drift of the device's clock, each block
_WEIGHED_S = 5.0  # the newest sound that decides how channels are mixed
_REWEIGH_S = 1.0


def now_s() -> float:
    """Return seconds on a clock that never runs back and that goes on while the computer sleeps."""
    if hasattr(time, "CLOCK_BOOTTIME"):  # Linux: the monotonic clock stops in suspend, this one does not
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":  # there, CLOCK_MONOTONIC goes on in sleep and time.monotonic does not
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


def awake_s() -> float:
    """Return seconds on a clock that stands still while the computer sleeps, where the system has one."""
    return time.monotonic()


@dataclass(frozen=True, slots=True)
class _Block:
    samples: NDArray[np.float32]  # of shape (samples, channels)
    came_s: float  # when it arrived, on the clock that counts sleep
    awake_s: float
    lost: int  # samples refused just before it, because too many were waiting
    overflow: bool  # the device says that it lost some, too


class Capture:
    """One opened device. `push` is called by the device's thread, everything else by the reader's."""

    def __init__(self, *, rate_hz: int, channels: int, most_waiting_s: float = MOST_WAITING_S) -> None:
        self._rate_hz = rate_hz
        self._most = round(most_waiting_s * rate_hz)
        self._queue: queue.SimpleQueue[_Block] = queue.SimpleQueue()
        self._pushed = self._taken = self._lost = 0  # samples
        self.last_push_s: float | None = None  # on the awake clock
        self._mixer = _Mixer(rate_hz=rate_hz, channels=channels)
        self._resampler: soxr.ResampleStream | None = None
        self._new_resampler()
        self._rest: Samples = np.zeros(0, dtype=np.float32)
        self._held: list[_Block] = []
        self._counted = 0  # samples of the device that the clock has counted, lost ones too
        self._zero_s: float | None = None  # when the first sample was, adjusted for drift
        self._asleep_s = 0.0  # how far the two clocks are apart
        self.origin_s: float | None = None  # when the first sample was, for the caller's clock
        self._at_s = 0.0  # of the next frame, from `origin_s`

    # -- the device's thread ------------------------------------------------------------------------------------------

    def push(self, samples: NDArray[np.float32], *, overflow: bool, came_s: float, awake_at_s: float) -> None:
        """Take a block of shape (samples, channels), which the caller may use again. Never waits, never raises."""
        self.last_push_s = awake_at_s
        if self._pushed - self._taken + len(samples) > self._most:
            self._lost += len(samples)
            return
        lost, self._lost = self._lost, 0
        self._pushed += len(samples)
        self._queue.put(_Block(samples.copy(), came_s, awake_at_s, lost, overflow))

    # -- the reader's thread ------------------------------------------------------------------------------------------

    @property
    def waiting_s(self) -> float:
        """Seconds of sound that came and were not taken yet."""
        return (self._pushed - self._taken) / self._rate_hz

    def take(self, timeout_s: float) -> list[Frame | Gap]:
        """Return what came of the next block, [] if none came in time. Times count from the first sample."""
        try:
            block = self._queue.get(timeout=timeout_s)
        except queue.Empty:
            return []
        self._taken += len(block.samples)
        return self._accept(block)

    def finish(self) -> list[Frame | Gap]:
        """Return what is still inside, once no more will come; the last frame may be short."""
        out: list[Frame | Gap] = []
        while not self._queue.empty():
            out += self.take(0.0)
        for block in self._held:
            out += self._frames(block)
        self._held = []
        return [*out, *self._flush()]

    def _accept(self, block: _Block) -> list[Frame | Gap]:
        if self._zero_s is None:
            self._zero_s = self.origin_s = block.came_s - len(block.samples) / self._rate_hz
            self._asleep_s = block.came_s - block.awake_s
        out: list[Frame | Gap] = []
        if block.lost:
            out += self._release()
            out += self._gap(block.lost / self._rate_hz, "the program was too busy to take the sound")
        slept = (block.came_s - block.awake_s) - self._asleep_s > _SLEPT_S
        late_s = self._late_s(block)
        if slept and late_s > LATE_S:
            self._asleep_s = block.came_s - block.awake_s
            out += self._release()
            out += self._gap(late_s, "the computer was asleep")
        elif block.overflow:
            out += self._release()
            out += self._gap(max(0.0, late_s), "the microphone's sound was not fetched in time")
        elif late_s > LATE_S:
            self._held.append(block)
            if sum(len(held.samples) for held in self._held) >= _HOLD_S * self._rate_hz:
                lasting_s = self._least_lateness()
                out += self._gap(lasting_s, "sound is missing between two blocks of the microphone")
                out += self._release()
            return out
        else:
            self._zero_s += late_s if late_s < 0 else _DRIFT * late_s
        out += self._release()
        out += self._frames(block)
        return out

    def _late_s(self, block: _Block) -> float:
        """Return how much later a block came than its place in the count of samples says."""
        held = sum(len(earlier.samples) for earlier in self._held)
        due_s = (self._zero_s or 0.0) + (self._counted + held + len(block.samples)) / self._rate_hz
        return block.came_s - due_s

    def _least_lateness(self) -> float:
        count, least = self._counted, float("inf")
        for block in self._held:
            count += len(block.samples)
            least = min(least, block.came_s - (self._zero_s or 0.0) - count / self._rate_hz)
        return least

    def _release(self) -> list[Frame | Gap]:
        held, self._held = self._held, []
        return [event for block in held for event in self._frames(block)]

    def _gap(self, length_s: float, why: str) -> list[Frame | Gap]:
        """Return the frames before a gap and the gap; the clock moves on by it."""
        out = self._flush()
        self._counted += round(length_s * self._rate_hz)
        gap = Gap(round(self._at_s, 3), round(self._at_s + length_s, 3), why)
        self._at_s += length_s
        return [*out, gap]

    def _frames(self, block: _Block) -> list[Frame | Gap]:
        self._counted += len(block.samples)
        sound = self._mixer.mix(block.samples)
        if self._resampler is not None:
            sound = self._resampler.resample_chunk(sound)
        sound = np.concatenate([self._rest, sound])
        whole = len(sound) // FRAME_SAMPLES * FRAME_SAMPLES
        self._rest = sound[whole:]
        return [self._frame(sound[start : start + FRAME_SAMPLES]) for start in range(0, whole, FRAME_SAMPLES)]

    def _flush(self) -> list[Frame | Gap]:
        """Return the last, short frame before sound that is missing; the resampler must not join over it."""
        sound = self._rest
        if self._resampler is not None:
            sound = np.concatenate([sound, self._resampler.resample_chunk(np.zeros(0, np.float32), last=True)])
            self._new_resampler()
        self._rest = np.zeros(0, dtype=np.float32)
        pieces = [sound[start : start + FRAME_SAMPLES] for start in range(0, len(sound), FRAME_SAMPLES)]
        return [self._frame(piece) for piece in pieces]

    def _frame(self, samples: Samples) -> Frame:
        frame = Frame(np.ascontiguousarray(samples, dtype=np.float32), self._at_s)
        self._at_s += len(samples) / SAMPLE_RATE_HZ
        return frame

    def _new_resampler(self) -> None:
        if self._rate_hz != SAMPLE_RATE_HZ:
            self._resampler = soxr.ResampleStream(self._rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32", quality="HQ")


class _Mixer:
    """From any number of channels to one, by the weights that `mix` gives for the newest seconds of sound."""

    def __init__(self, *, rate_hz: int, channels: int) -> None:
        self._rate_hz = rate_hz
        self._weights: NDArray[np.float32] | None = None
        self._channels = channels
        self._newest: list[NDArray[np.float32]] = []
        self._since = 0

    def mix(self, block: NDArray[np.float32]) -> Samples:
        """Return one channel of a block; a change of weights is spread over it, so that nothing clicks."""
        if self._channels == 1:
            return np.ascontiguousarray(block[:, 0], dtype=np.float32)
        self._newest.append(block)
        self._since += len(block)
        while sum(map(len, self._newest[1:])) > _WEIGHED_S * self._rate_hz:
            del self._newest[0]
        before = self._weights
        if before is None or self._since >= _REWEIGH_S * self._rate_hz:
            self._weights = channel_weights(self._newest, rate_hz=self._rate_hz)
            self._since = 0
        weights = self._weights
        if weights is None:  # cannot be: they were just made
            raise RuntimeError("no weights")
        if before is None or np.array_equal(before, weights):
            return mix(block, weights)
        share = np.linspace(0.0, 1.0, len(block), dtype=np.float32)
        return np.asarray(mix(block, before) * (1 - share) + mix(block, weights) * share, dtype=np.float32)
