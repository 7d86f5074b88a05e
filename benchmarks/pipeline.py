"""The whole pipeline against the bare model calls that it makes, timed in the same run; memory; time over length.

    python -m benchmarks.pipeline                    # three fixtures
    python -m benchmarks.pipeline FILE [FILE ...]
    python -m benchmarks.pipeline --long MINUTES     # fixtures joined to one long recording, for the peak of memory

Bare calls are those into the models: the weights (encode, decode, align) and the voice detector. All else is ours:
reading the file, cutting at pauses, reading the words, doubts, the note; opening the weights once is shown apart.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from dictate import transcribe
from dictate.audio.voice import VoiceDetector
from dictate.language.reader import Reader
from dictate.recognise.decoder import Decoder
from dictate.recognise.whisper import WhisperRecogniser

FIXTURES = Path(__file__).parents[1] / "audio_fixtures"
USUAL = ("meniscus_left_notes", "postop_ranges_right", "colleague_corrects")
_spent: dict[str, float] = {}


def _timed(owner: type, method: str, name: str) -> None:
    """Count the seconds spent in a method; a call from inside another counted one is not counted twice."""
    plain: Callable[..., Any] = getattr(owner, method)

    def counted(*args: Any, **kwargs: Any) -> Any:
        begin = time.perf_counter()
        try:
            return plain(*args, **kwargs)
        finally:
            _spent[name] = _spent.get(name, 0.0) + time.perf_counter() - begin

    setattr(owner, method, counted)


def measure(path: Path) -> dict[str, float]:
    """Transcribe one file in this process; return seconds by part, and the peak of memory in MB."""
    for method in ("encode", "read", "align", "words"):
        _timed(Decoder, method, "weights")
    _timed(VoiceDetector, "probabilities", "detector")
    _timed(Reader, "step", "reading")
    _timed(WhisperRecogniser, "__init__", "opening")
    before = time.perf_counter()
    note = transcribe(path, engine="whisper")
    whole = time.perf_counter() - before
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    result = {"whole": whole, "length": note.exam.seconds or 0.0, "peak_mb": peak_mb, "findings": len(note.findings)}
    return {**result, **_spent}


def in_fresh_process(path: Path) -> dict[str, float]:
    """Measure in a process of its own, so that the peak of memory is of this file alone."""
    command = [sys.executable, "-m", "benchmarks.pipeline", "--measure", str(path)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    if run.returncode:
        raise SystemExit(run.stderr)
    found: dict[str, float] = json.loads(run.stdout)
    return found


def joined(minutes: float, folder: Path) -> Path:
    """Write the fixtures one after the other, again and again, until the recording is long enough."""
    path = folder / f"joined_{minutes:g}_minutes.wav"
    written = 0
    with soundfile.SoundFile(str(path), "w", samplerate=16_000, channels=1, subtype="PCM_16") as sound:
        for source in cycle(sorted(FIXTURES.glob("*.flac"))):
            if written >= minutes * 60 * 16_000:
                return path
            samples, _ = soundfile.read(str(source), dtype="int16")
            sound.write(np.concatenate([samples, np.zeros(16_000, dtype=np.int16)]))
            written += len(samples) + 16_000
    return path


def report(path: Path) -> None:
    """Print one line for a recording."""
    found = in_fresh_process(path)
    bare = found["weights"] + found["detector"]
    parts = "  ".join(f"{name} {found.get(name, 0.0):.2f} s" for name in ("weights", "detector", "opening", "reading"))
    print(f"{path.stem}: {found['length']:.0f} s of sound, whole {found['whole']:.2f} s  ({parts})")
    print(
        f"  whole/bare {found['whole'] / bare:.3f}; opening apart {(found['whole'] - found['opening']) / bare:.3f}; "
        f"time/length {found['whole'] / found['length']:.3f}; peak {found['peak_mb']:.0f} MB"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--long", type=float, metavar="MINUTES")
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.measure:
        print(json.dumps(measure(options.measure)))
        return
    for path in options.files or [FIXTURES / f"{name}.flac" for name in USUAL if not options.long]:
        report(path)
    if options.long:
        with tempfile.TemporaryDirectory() as folder:
            report(joined(options.long, Path(folder)))


if __name__ == "__main__":
    main()
