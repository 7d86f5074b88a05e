"""How well and how fast the embedded recogniser hears the spoken fixtures, setting by setting.

    python benchmarks/recognisers.py                      the shipped settings, over all fixtures
    python benchmarks/recognisers.py --compare NAME ...   every setting, over the named fixtures

Columns: word error rate against the script (numbers as figures); words rarer than Zipf 3.6 that were heard, of those
said; numbers that were heard, of those said; time on the clock and on the processors, each divided by the length of the
sound; share of the clock spent outside the recogniser's own calls; and the most memory held, in MB.
"""

from __future__ import annotations

import argparse
import json
import re
import resource
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import jiwer
from wordfreq import zipf_frequency

from dictate.audio import duration_s, frames_of_file
from dictate.favour import favoured_terms
from dictate.language.state import Context
from dictate.lexicon.load import load_lexicon
from dictate.recognise import decoder, whisper
from dictate.recognise.protocol import recognise

FIXTURES = Path(__file__).parents[1] / "audio_fixtures"
RARE_ZIPF = 3.6
SMALL = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
]  # fmt: skip
TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
FIGURES = {word: value for value, word in enumerate(SMALL)} | {word: 10 * n for n, word in enumerate(TENS, start=2)}
CALLS = ("encode", "read", "align", "words")


@dataclass(frozen=True, kw_only=True)
class Setting:
    name: str
    favour: bool = True
    beams: int = 5
    short_window_s: float = 15.0
    prompt_tokens: int = decoder.PROMPT_TOKENS


SHIPPED = Setting(name="shipped")
SETTINGS = (
    SHIPPED,
    Setting(name="no favouring", favour=False),
    Setting(name="1 beam", beams=1),
    Setting(name="3 beams", beams=3),
    Setting(name="30 s window", short_window_s=0.0),
    Setting(name="40 prompt tokens", prompt_tokens=40),
    Setting(name="90 prompt tokens", prompt_tokens=90),
)


def normal(text: str) -> list[str]:
    """Return the words in lower case without marks, and every number as one figure ("one fifteen": 115)."""
    text = text.lower().replace("-", " ").replace("+", " plus ").replace("/", " out of ").replace("'", "")
    words = [str(FIGURES.get(word, word)) for word in re.findall(r"[a-z0-9]+", text)]
    return list(_joined(words))


def _joined(words: list[str]) -> Iterator[str]:
    place = 0
    while place < len(words):
        word, place = words[place], place + 1
        if not word.isdigit():
            yield word
            continue
        value = int(word)
        while place < len(words):
            following = int(words[place]) if words[place].isdigit() else None
            if words[place] == "hundred" and value < 10:
                value *= 100
                place += place + 2 < len(words) and words[place + 1] == "and" and words[place + 2].isdigit()
            elif following is None:
                break
            elif value % 10 == 0 and value % 100 >= 20 and 0 < following < 10:
                value += following
            elif value in (1, 2) and 10 <= following < 100:
                value = 100 * value + following
            elif value >= 100 and value % 100 == 0 and following < 100:
                value += following
            else:
                break
            place += 1
        yield str(value)


@dataclass
class Tally:
    said: list[str]
    heard: list[str]
    rare: int = 0
    rare_heard: int = 0
    numbers: int = 0
    numbers_heard: int = 0

    def add(self, said: list[str], heard: list[str]) -> None:
        self.said.append(" ".join(said))
        self.heard.append(" ".join(heard))
        left = Counter(heard)
        for word in said:
            found = left[word] > 0
            left[word] -= found
            if word.isdigit():
                self.numbers, self.numbers_heard = self.numbers + 1, self.numbers_heard + found
            elif zipf_frequency(word, "en") < RARE_ZIPF:
                self.rare, self.rare_heard = self.rare + 1, self.rare_heard + found


def apply(setting: Setting) -> None:
    whisper._BEAMS, whisper._HYPOTHESES = setting.beams, min(setting.beams, 3)
    decoder.SHORT_WINDOW_S, decoder.PROMPT_TOKENS = setting.short_window_s, setting.prompt_tokens


class Clock:
    """Seconds spent inside the recogniser's own calls."""

    def __init__(self) -> None:
        self.inside_s = 0.0
        for name in CALLS:
            setattr(decoder.Decoder, name, self._timed(getattr(decoder.Decoder, name)))

    def _timed(self, call):
        def timed(*args, **options):
            begin = time.perf_counter()
            try:
                return call(*args, **options)
            finally:
                self.inside_s += time.perf_counter() - begin

        return timed


def measure(setting: Setting, names: list[str], clock: Clock) -> str:
    apply(setting)
    recogniser, lexicon, tally = whisper.WhisperRecogniser(), load_lexicon(), Tally([], [])
    clock.inside_s = seconds = 0.0
    begin, begin_cpu = time.perf_counter(), time.process_time()
    for name in names:
        region = json.loads((FIXTURES / f"{name}.json").read_text())["exam"]["region"]
        recogniser.favour(favoured_terms(Context(region=region), lexicon) if setting.favour else ())
        path = FIXTURES / f"{name}.flac"
        heard = " ".join(event.text for event in recognise(frames_of_file(path), recogniser))
        tally.add(normal((FIXTURES / f"{name}.txt").read_text()), normal(heard))
        seconds += duration_s(path)
    clock_s, cpu_s = time.perf_counter() - begin, time.process_time() - begin_cpu
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return (
        f"{setting.name:<18} WER {jiwer.wer(tally.said, tally.heard):.3f}  rare {tally.rare_heard}/{tally.rare}  "
        f"numbers {tally.numbers_heard}/{tally.numbers}  "
        f"clock {clock_s / seconds:.3f}  processors {cpu_s / seconds:.3f}  "
        f"outside {1 - clock.inside_s / clock_s:.3f}  memory {memory_mb:.0f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", help="fixtures; all when none is named")
    parser.add_argument("--compare", action="store_true", help="measure every setting")
    args = parser.parse_args()
    names = args.names or sorted(path.stem for path in FIXTURES.glob("*.flac"))
    clock = Clock()
    for setting in SETTINGS if args.compare else (SHIPPED,):
        print(measure(setting, names, clock), flush=True)


if __name__ == "__main__":
    main()
