"""How likely each short window of sound is to hold speech: the Silero voice detector, run as a stream.

The detector ships inside faster-whisper, whose own helper wants the whole recording at once. Here its memory (two state
vectors and the last 64 samples) is carried from call to call: a two-hour recording needs no more room than a short one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dictate.audio.frame import Samples

WINDOW_SAMPLES = 512  # 32 ms at 16 kHz; fixed by the detector
_CONTEXT_SAMPLES = 64  # of the window before; fixed by the detector
_STATE_SHAPE = (1, 1, 128)


class VoiceDetector:
    """Speech probabilities of consecutive windows. One instance hears one recording, in order."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model  # seconds to import: whoever only reads or writes sound is spared

        self._session = get_vad_model().session  # loaded once a process; the state is ours
        self._hidden = np.zeros(_STATE_SHAPE, dtype=np.float32)
        self._cell = np.zeros(_STATE_SHAPE, dtype=np.float32)
        self._context = np.zeros(_CONTEXT_SAMPLES, dtype=np.float32)

    def probabilities(self, windows: Samples) -> NDArray[np.float32]:
        """Return the probability of speech, 0 to 1, of each row of `windows` (any count, each of WINDOW_SAMPLES)."""
        if not len(windows):
            return np.zeros(0, dtype=np.float32)
        tails = windows[:, -_CONTEXT_SAMPLES:]
        contexts = np.concatenate([self._context[None, :], tails[:-1]])
        self._context = tails[-1].copy()
        inputs = np.ascontiguousarray(np.concatenate([contexts, windows], axis=1), dtype=np.float32)
        output, self._hidden, self._cell = self._session.run(
            None, {"input": inputs, "h": self._hidden, "c": self._cell}
        )
        return np.asarray(output, dtype=np.float32).reshape(-1)
