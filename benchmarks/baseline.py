"""A general baseline beside ours, scored by the same scoring in one run.

python -m benchmarks.baseline                  # scripts of the fixtures and the held-out narrations, as text
python -m benchmarks.baseline --sound [NAME]   # fixtures' sound: faster-whisper over the whole file, and ours
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from faster_whisper import WhisperModel

from benchmarks.general import GeneralReader
from dictate import interpret, transcribe
from dictate.lexicon.load import load_lexicon
from dictate.recognise.weights import embedded_model_dir
from tests.support.cases import FIXTURES, Case, fixtures, heldout
from tests.support.reading import score
from tests.support.scoring import Score

USUAL = ("meniscus_left_notes", "postop_ranges_right")


def compare(name: str, cases: list[Case], general: GeneralReader) -> None:
    """Print both readers' figures on texts, and the ratio of their times."""
    ours, theirs = Score(), Score()
    seconds = [0.0, 0.0]
    for case in cases:
        begin = time.perf_counter()
        got = interpret(case.said).findings
        middle = time.perf_counter()
        other = general.read(case.said, region=str(case.context["region"]))
        seconds = [seconds[0] + middle - begin, seconds[1] + time.perf_counter() - middle]
        score(case, got, into=ours)
        score(case, other, into=theirs)
    print(ours.line(f"{name}: ours"))
    print(theirs.line(f"{name}: general"))
    print(f"  F1 general/ours {theirs.f1 / ours.f1:.3f}, time ours/general {seconds[0] / seconds[1]:.2f}")


def compare_sound(names: list[str], general: GeneralReader) -> None:
    """Print both pipelines' figures on recordings."""
    weights = WhisperModel(str(embedded_model_dir()), device="cpu", compute_type="int8", cpu_threads=2)
    ours, theirs = Score(), Score()
    seconds = [0.0, 0.0]
    for case in (case for case in fixtures() if case.name in names):
        sound: Path = FIXTURES / f"{case.name}.flac"
        begin = time.perf_counter()
        got = transcribe(sound, engine="whisper").findings
        middle = time.perf_counter()
        segments, _ = weights.transcribe(str(sound), language="en", vad_filter=True)
        text = "\n".join(segment.text.strip() for segment in segments)
        other = general.read(text, region=str(case.context["region"]))
        seconds = [seconds[0] + middle - begin, seconds[1] + time.perf_counter() - middle]
        score(case, got, into=ours)
        score(case, other, into=theirs)
    print(ours.line("sound: ours"))
    print(theirs.line("sound: general"))
    print(f"  F1 general/ours {theirs.f1 / ours.f1:.3f}, time ours/general {seconds[0] / seconds[1]:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sound", nargs="*", metavar="NAME", help="fixtures to hear; two of them if none is named")
    options = parser.parse_args()
    general = GeneralReader(load_lexicon())
    if options.sound is None:
        compare("scripts of the fixtures", fixtures(), general)
        for name in ("knee", "regions", "final"):
            compare(f"held out, {name}", heldout(name), general)
    else:
        compare_sound(options.sound or list(USUAL), general)


if __name__ == "__main__":
    main()
