"""From any number of channels to one, decided before the first frame and in bounded memory.

Mixing is right for two microphones in one room. It is wrong when one channel is dead or far quieter (it only adds
noise), and when two channels carry the same sound with opposite signs (a balanced line recorded as stereo): the sum
would be silence.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from dictate.audio.frame import Samples

QUIETER_DB = 12.0  # a channel this much below the loudest is left out; common practice, no source
_LEVELLED_S = 0.002  # takes 15 dB off a hum of 50 Hz and nothing off most of speech
CANCELLED_SHARE = 0.5  # a mix with less power than this share of what unrelated channels would give has cancelled


def channel_weights(blocks: Iterable[NDArray[np.float32]], *, rate_hz: int) -> NDArray[np.float32]:
    """Return the weight of each channel in the mix, from blocks of shape (samples, channels).

    Power is taken after the mean of every 2 ms is removed, so that hum and a constant offset count for little.
    """
    power: NDArray[np.float64] | None = None  # covariance between channels, not divided by the count
    size = max(2, round(_LEVELLED_S * rate_hz))
    for block in blocks:
        whole = block[: max(1, len(block) // size) * size].astype(np.float64)
        stretches = whole.reshape(-1, min(size, len(whole)), whole.shape[1])
        varying = (stretches - stretches.mean(axis=1, keepdims=True)).reshape(-1, whole.shape[1])
        power = varying.T @ varying + (0.0 if power is None else power)
    if power is None:
        raise ValueError("channel_weights needs at least one block")
    own = np.diag(power)
    loudest = int(np.argmax(own))
    kept = own >= own[loudest] * 10 ** (-QUIETER_DB / 10)
    weights = kept / kept.sum()
    mixed = float(weights @ power @ weights)
    unrelated = (weights**2 * own).sum()
    if kept.sum() > 1 and mixed < CANCELLED_SHARE * unrelated:
        weights = np.arange(len(own)) == loudest
    return np.asarray(weights, dtype=np.float32)


def mix(block: NDArray[np.float32], weights: NDArray[np.float32]) -> Samples:
    """Return one channel from a block of shape (samples, channels)."""
    return np.asarray(block @ weights, dtype=np.float32)
