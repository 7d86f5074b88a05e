"""What finding an exam costs among 20 000 of them, and what sealing costs.

The rows are made up in bulk, but go through the function that keeps every row. Each exam also has a folder with a
small journal file, so that the look at what changed since has as much to look at as it would have.

    python -m benchmarks.archive [exams]
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

from dictate.archive.folder import open_data
from dictate.archive.index import INDEX_NAME, Index
from dictate.archive.keys import Cost
from dictate.archive.query import Query
from dictate.archive.rows import Entry, ExamRow, FindingText, Stamp, findings_of, stamp_of
from dictate.archive.vault import begin_sealing
from dictate.interface import interpret
from dictate.journal.exam import exams_folder, new_exam_id

EXAMS = 20_000
GOAL_MS = 200.0
REPEATS = 7
SCRIPTS = Path(__file__).parents[1] / "audio_fixtures"


def main(exams: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as place:
        data = Path(place) / "data"
        open_data(data, make=True)
        pool = _pool()
        start = time.perf_counter()
        kept = list(_entries(data, exams, pool))
        print(f"{exams} exams, {sum(len(entry.findings) for entry in kept)} findings")
        print(f"  folders made in {time.perf_counter() - start:.1f} s (not part of the program)")
        with Index(data) as index:
            start = time.perf_counter()
            for first in range(0, exams, 500):
                index.put(kept[first : first + 500])
            size = (data / INDEX_NAME).stat().st_size / 1e6
            print(f"  kept in {time.perf_counter() - start:.1f} s; index {size:.0f} MB")
            index._lexicon = ""  # the rows are of no lexicon: nothing is to be read anew
            _figures(index, exams)
        _sealing(Path(place) / "sealed")


def _figures(index: Index, exams: int) -> None:
    day = datetime.now(UTC).date() - timedelta(days=30)
    timed: dict[str, Callable[[], int]] = {
        "look for what changed since (each start)": index.refresh,
        "list the newest 50": lambda: len(index.search(Query(limit=50))),
        "list all": lambda: len(index.search(Query())),
        "the last 30 days": lambda: len(index.search(Query(since=day))),
        "waiting for a signature, newest 50": lambda: len(index.search(Query(state="unsigned", limit=50))),
        "one pseudonym": lambda: len(index.search(Query(patient="K-00017"))),
        "open doubts in the ankle, newest 50": lambda: len(
            index.search(Query(open_doubts=True, region="ankle", limit=50))
        ),
        "a rare word": lambda: len(index.search(Query(text="hamstring", limit=50))),
        "a frequent word, newest 50": lambda: len(index.search(Query(text="tenderness", limit=50))),
        "two words and a side, newest 50": lambda: len(index.search(Query(text="joint tender", side="left", limit=50))),
        "the beginning of a word, newest 50": lambda: len(index.search(Query(text="e", limit=50))),
        "a frequent word, all": lambda: len(index.search(Query(text="tenderness"))),
        "count of a frequent word": lambda: index.count(Query(text="tenderness")),
        "a side alone, newest 50": lambda: len(index.search(Query(side="left", limit=50))),
        "nothing that is there": lambda: len(index.search(Query(text="zebra"))),
    }
    print(f"  {'':<42} {'median':>9} {'worst':>9} {'processor':>10}")
    slowest = ""
    most = 0.0
    for name, call in timed.items():
        took, used = [], []
        for _ in range(REPEATS):
            start, busy = time.perf_counter(), time.process_time()
            found = call()
            took.append((time.perf_counter() - start) * 1000)
            used.append((time.process_time() - busy) * 1000)  # what it takes on a machine with nothing else to do
        if median(took) > most:
            slowest, most = name, median(took)
        print(f"  {name:<42} {median(took):6.1f} ms {max(took):6.1f} ms {median(used):7.1f} ms  {found} found")
    print(f"  slowest: {slowest}, {most:.0f} ms; goal {GOAL_MS:.0f} ms for {exams} exams")


def _sealing(data: Path) -> None:
    """Print how fast an hour of sound is sealed and opened, and what one passphrase costs."""
    open_data(data, make=True)
    start = time.perf_counter()
    vault = begin_sealing(data, passphrase="plum gravel lantern sofa", cost=Cost())
    print(f"sealing\n  one passphrase: {time.perf_counter() - start:.2f} s")
    folder = exams_folder(data) / new_exam_id()
    folder.mkdir()
    content = os.urandom(3600 * 32_000)
    (folder / "sound-001.wav").write_bytes(content)
    (folder / "journal.jsonl").write_bytes(b"{}\n")
    start = time.perf_counter()
    vault.seal_exam(folder)
    print(f"  an hour of sound sealed, checked and synced in {time.perf_counter() - start:.2f} s")
    start = time.perf_counter()
    vault.unseal_exam(folder)
    print(f"  and opened in {time.perf_counter() - start:.2f} s")


def _pool() -> list[tuple[ExamRow, tuple[FindingText, ...]]]:
    """Return what real notes give, to draw from."""
    pool = []
    for path in sorted(SCRIPTS.glob("*.txt"))[:12]:
        note = interpret(path.read_text(encoding="utf-8"))
        row = ExamRow(
            exam="", at=datetime.now(UTC), region=note.exam.region, injured_side=note.exam.injured_side,
            findings=len(note.findings), doubts=sum(bool(finding.doubts) for finding in note.findings),
        )  # fmt: skip
        if note.findings:
            pool.append((row, findings_of(note)))
    return pool


def _entries(data: Path, exams: int, pool: list[tuple[ExamRow, tuple[FindingText, ...]]]) -> Iterator[Entry]:
    draw = random.Random(17)
    now = datetime.now(UTC)
    for number in range(exams):
        row, findings = draw.choice(pool)
        at = now - timedelta(minutes=37 * number)
        exam = new_exam_id(at)
        folder = exams_folder(data) / exam
        folder.mkdir()
        (folder / "journal.jsonl").write_bytes(b"{}\n")
        chosen = tuple(draw.sample(findings, k=max(1, round(len(findings) * draw.uniform(0.6, 1)))))
        state = draw.choice(("unsigned", "signed", "signed", "signed", "changed", "unfinished"))
        whose = f"K-{draw.randrange(6000):05}"
        row = row._replace(exam=exam, at=at, patient=whose, state=state, source="live")
        yield Entry(row, stamp_of(folder) if folder.exists() else Stamp(), chosen)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else EXAMS)
