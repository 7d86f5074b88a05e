"""Three short sounds that tell an examiner who cannot look: understood, unsure, another section. Off by default.

They differ in direction, which is told apart without a trained ear: one note; two falling notes; three rising ones.
"""

from __future__ import annotations

import io
import wave
from functools import lru_cache
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from dictate.errors import DictateError
from dictate.live.view import SoundName

RATE_HZ = 44_100
PEAK = 0.2  # of full scale: modest beside speech that is played at full scale
NAMES: tuple[SoundName, ...] = get_args(SoundName)
_RAMP_S = 0.01  # up and down, or the note clicks
_GAP_S = 0.01

# (pitch in Hz, seconds) of each note. All below 2.5 kHz, which ears lose first with age (ISO 24500, from memory).
_NOTES: dict[SoundName, tuple[tuple[float, float], ...]] = {
    "understood": ((988.0, 0.09),),
    "unsure": ((440.0, 0.10), (330.0, 0.12)),
    "section": ((523.0, 0.06), (659.0, 0.06), (784.0, 0.09)),
}


@lru_cache
def earcon(name: SoundName) -> NDArray[np.float32]:
    """Return the samples of a sound, mono at `RATE_HZ`. Raises DictateError for a name that there is not."""
    if name not in _NOTES:
        raise DictateError(f"there is no sound {name!r}; there are: {', '.join(NAMES)}")
    gap = np.zeros(round(_GAP_S * RATE_HZ))
    pieces: list[NDArray[np.float64]] = []
    for pitch_hz, length_s in _NOTES[name]:
        pieces += [_note(pitch_hz, length_s), gap]
    samples = np.concatenate(pieces[:-1]).astype(np.float32)
    samples.flags.writeable = False  # it is the same array for everyone
    return samples


@lru_cache
def earcon_wav(name: SoundName) -> bytes:
    """Return a sound as a WAV file: mono, 16 bit. Raises DictateError for a name that there is not."""
    whole = np.round(earcon(name) * 32_767).astype("<i2")
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(whole.tobytes())
    return held.getvalue()


def play(name: SoundName) -> None:
    """Play a sound on this computer and return at once.

    Raises:
        DictateError: there is nothing to play it with.
    """
    try:
        import sounddevice  # only where something is played: it loads PortAudio

        sounddevice.play(earcon(name), RATE_HZ)
    except (ImportError, OSError) as error:
        raise DictateError("sounds need PortAudio (apt-get install libportaudio2); or leave them off") from error
    except sounddevice.PortAudioError as error:
        raise DictateError("no loudspeaker can be opened; plug one in, or leave the sounds off") from error


def _note(pitch_hz: float, length_s: float) -> NDArray[np.float64]:
    """Return one soft note: a sine with a little of its octave, raised and let down gently."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    wave_ = np.sin(2 * np.pi * pitch_hz * time_s) + 0.2 * np.sin(4 * np.pi * pitch_hz * time_s)
    ramp = round(_RAMP_S * RATE_HZ)
    envelope = np.ones_like(time_s)
    envelope[:ramp] = 0.5 - 0.5 * np.cos(np.pi * np.arange(ramp) / ramp)
    envelope[-ramp:] = envelope[:ramp][::-1]
    return np.asarray(PEAK * wave_ / 1.2 * envelope)
