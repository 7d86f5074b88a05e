"""What reading costs: an utterance, a larger lexicon, and the start of the program.

python -m benchmarks.language
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import time
from collections.abc import Iterable
from itertools import islice

from dictate.language.reader import Reader
from dictate.language.state import State
from dictate.lexicon.load import Lexicon, load_lexicon
from dictate.lexicon.model import Term
from dictate.recognise.events import Utterance
from tests.support.cases import fixtures, heldout

_SYLLABLES = ("ba", "ce", "dor", "fi", "gal", "hu", "jo", "kem", "li", "mar", "nox", "pe", "rin", "sto", "tur", "vex")
_START = """
import time
begin = time.perf_counter()
import dictate
from dictate.lexicon.load import load_lexicon
from dictate.language.reader import Reader
imported = time.perf_counter()
lexicon = load_lexicon()
loaded = time.perf_counter()
Reader(lexicon)
ready = time.perf_counter()
print(imported - begin, loaded - imported, ready - loaded, ready - begin)
"""


def narrations() -> list[list[str]]:
    """Return the lines of all fixtures and held-out narrations."""
    cases = [*fixtures(), *(case for name in ("knee", "regions", "final", "nonfinding") for case in heldout(name))]
    return [[line for line in case.said.splitlines() if line.strip()] for case in cases]


def costs_ms(reader: Reader, told: Iterable[list[str]]) -> list[float]:
    """Return the milliseconds that each utterance took, read in its narration."""
    costs = []
    for lines in told:
        state = State()
        for line in lines:
            utterance = Utterance.of_text(line)
            begin = time.perf_counter()
            state = reader.step(state, utterance)
            costs.append(1000 * (time.perf_counter() - begin))
    return costs


def percentile(values: list[float], share: float) -> float:
    """Return the value below which this share of the values lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def synthetic_terms(lexicon: Lexicon, times: int, *, seed: int = 1) -> list[Term]:
    """Return made-up terms: `times` as many as the lexicon has, each with as many made-up forms as its model."""
    rng = random.Random(seed)

    def name() -> str:
        return " ".join("".join(rng.choices(_SYLLABLES, k=rng.randint(2, 4))) for _ in range(rng.randint(1, 3)))

    made = []
    for number, term in enumerate(list(lexicon.terms) * times):
        forms = tuple(name() for _ in term.forms) or (name(),)
        made.append(Term(kind=term.kind, label=f"{name()} {number}", forms=forms, regions=term.regions))
    return made


def start_s() -> list[list[float]]:
    """Return seconds of five starts in fresh processes: import, lexicon, matchers, all."""
    command = [sys.executable, "-c", _START]
    runs = [subprocess.run(command, capture_output=True, text=True, check=True) for _ in range(5)]
    return [[float(value) for value in run.stdout.split()] for run in runs]


def main() -> None:
    lexicon, told = load_lexicon(), narrations()
    costs_ms(Reader(lexicon), islice(told, 5))  # warm
    sizes = {"as it is": Reader(lexicon)}
    for name, times in (("doubled", 1), ("quadrupled", 3)):
        sizes[name] = Reader(lexicon.with_terms(synthetic_terms(lexicon, times)))
    print(f"{len(told)} narrations, {sum(map(len, told))} utterances, {len(lexicon.terms)} terms")
    print(f"{'lexicon':<12} {'phrases':>8} {'mean ms':>8} {'p50 ms':>8} {'p95 ms':>8} {'p99 ms':>8} {'of means':>9}")
    base = 0.0
    for name, reader in sizes.items():
        costs = costs_ms(reader, told)
        mean = statistics.mean(costs)
        base = base or mean
        row = f"{name:<12} {len(reader.index.senses):8d} {mean:8.2f} {percentile(costs, 0.5):8.2f}"
        print(f"{row} {percentile(costs, 0.95):8.2f} {percentile(costs, 0.99):8.2f} {mean / base:9.2f}")
    starts = start_s()
    parts = ("import", "lexicon", "matchers", "all")
    for name, values in zip(parts, zip(*starts, strict=True), strict=True):
        print(f"start, {name:<9} median {statistics.median(values):.2f} s, worst {max(values):.2f} s")


if __name__ == "__main__":
    main()
