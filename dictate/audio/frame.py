"""The one form of sound that the rest of the program sees: 16 kHz, one channel, 32-bit float from -1 to 1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE_HZ = 16_000
FRAME_SAMPLES = 1_600  # 0.1 s: short enough for partial words on a page, long enough to cost next to nothing

Samples = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A block of sound: `samples` is one-dimensional float32 at 16 kHz, `start_s` counts from the recording's start."""

    samples: Samples
    start_s: float

    @property
    def end_s(self) -> float:
        """Seconds from the start of the recording to just after the last sample."""
        return self.start_s + len(self.samples) / SAMPLE_RATE_HZ
