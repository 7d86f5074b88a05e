"""What finding an exam costs among 20 000 of them, and what sealing costs.

The rows are made up in bulk, but go through the function that keeps every row. Each exam also has a folder with a
small journal file, so that the look at what changed since has as much to look at as it would have.

Times are medians of several calls. Processor time is what counts here: the machine may be busy with other work.

    python -m benchmarks.archive [exams]
"""

from __future__ import annotations

import io
import os
import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

from dictate.archive.folder import open_data
from dictate.archive.index import INDEX_NAME, Index
from dictate.archive.keys import Cost
from dictate.archive.query import Query
from dictate.archive.rows import SEALED, Entry, ExamRow, FindingText, Stamp, findings_of, stamp_of
from dictate.archive.vault import begin_sealing
from dictate.cli.archive_keep import tidy_at_start
from dictate.cli.main import main as command
from dictate.cli.review_exams import IndexedExams
from dictate.interface import interpret, reader_of
from dictate.journal.exam import exams_folder, new_exam_id
from dictate.review.desk import Desk
from dictate.review.exams import AT_ONCE, Wanted
from dictate.review.routes import ReviewRoutes
from dictate.web.answers import json_answer
from dictate.web.server import serve
from tests.support.browser import chromium, open_page

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
            _print("of the index alone", _of_the_index(index))
        _print("the machine itself", _bare(data))
        slowest = [
            _print("a start of `dictate review` or `dictate listen`", _of_a_start(data)),
            _print("the list of the review page as it is served: looked for what changed, found, written", _page(data)),
            _print("commands, all that they do but the start of Python", _commands(data)),
        ]
        print(f"goal: {GOAL_MS:.0f} ms of processor time for {exams} exams; most: {max(slowest):.0f} ms")
        _print("commands that print all, which no screen waits for", _long_commands(data), repeats=3)
        _first_lines(data)
        _in_a_browser(data)
        _print("with the key at hand, the index of a sealed archive", _sealed_index(data), repeats=3)
        _sealing(Path(place) / "sealed")


def _of_the_index(index: Index) -> dict[str, Callable[[], int]]:
    day = datetime.now(UTC).date() - timedelta(days=30)

    def newest(**asked: Any) -> Callable[[], int]:
        def call() -> int:
            page = index.page(Query(**asked, limit=AT_ONCE))
            return len(page.rows) + page.further

        return call

    return {
        "look for what changed since": index.refresh,
        "list the newest 50": newest(),
        "the last 30 days": newest(since=day),
        "waiting for a signature": newest(state="unsigned"),
        "one pseudonym": newest(patient="K-00017"),
        "open doubts in the ankle": newest(open_doubts=True, region="ankle"),
        "a rare word": newest(text="hamstring"),
        "a frequent word": newest(text="tenderness"),
        "two words and a side": newest(text="joint tender", side="left"),
        "the beginning of a word": newest(text="e"),
        "a side alone": newest(side="left"),
        "nothing that is there": newest(text="zebra"),
    }


def _bare(data: Path) -> dict[str, Callable[[], int]]:
    """Return a yardstick: how long this machine takes now for the calls without which nothing can be known."""
    folder = exams_folder(data)

    def look() -> int:
        names = os.listdir(folder)  # noqa: PTH208  as the look itself does
        for name in names:
            os.lstat(f"{folder}/{name}/journal.jsonl")
        return len(names)

    return {"one lstat of every journal": look}


def _of_a_start(data: Path) -> dict[str, Callable[[], int]]:
    def start() -> int:
        done = tidy_at_start(data)
        return len(done.unfinished) if done else 0

    return {"tidied, with what may be unfinished": start}


def _page(data: Path) -> dict[str, Callable[[], int]]:
    exams = IndexedExams(data)  # as the page has it: it stays open
    middle = exams.part(Wanted()).exams[-1].exam

    def served(**asked: Any) -> Callable[[], int]:
        def call() -> int:
            part = exams.part(Wanted.model_validate(asked))
            json_answer(asdict(part) | {"exams": [asdict(one) | {"opened_at": ""} for one in part.exams]})
            return len(part.exams) + part.further

        return call

    return {
        "opened": served(),
        "older ones": served(after=middle),
        "the last 30 days": served(since=(datetime.now(UTC) - timedelta(days=30)).date().isoformat()),
        "findings to check in the ankle": served(region="ankle", state="to_check"),
        "one pseudonym": served(patient="K-00017"),
        "a rare word": served(text="hamstring"),
        "a frequent word": served(text="tenderness"),
        "two words and a side": served(text="joint tender", side="left"),
        "the beginning of a word": served(text="e"),
        "a side alone": served(side="left"),
        "what can be learned: which exams": lambda: len(exams.corrected()),
    }


def _commands(data: Path) -> dict[str, Callable[[], int]]:
    return {
        "archive list": _command(data, "list"),
        "archive list --region --doubts": _command(data, "list", "--region", "ankle", "--doubts"),
        "archive list --patient": _command(data, "list", "--patient", "K-00017"),
        "archive search, a frequent word": _command(data, "search", "tenderness"),
        "archive search, two words and a side": _command(data, "search", "joint tender", "--side", "left"),
    }


def _long_commands(data: Path) -> dict[str, Callable[[], int]]:
    return {
        "archive list --all": _command(data, "list", "--all"),
        "archive list --json": _command(data, "list", "--json"),
        "archive search --all, a frequent word": _command(data, "search", "tenderness", "--all"),
    }


def _command(data: Path, *arguments: str) -> Callable[[], int]:
    """Return a command of `dictate archive` as a call that returns how many lines it printed."""

    def call() -> int:
        printed = io.StringIO()
        with redirect_stdout(printed), redirect_stderr(io.StringIO()):
            assert command(["archive", *arguments, "--data", str(data)]) == 0
        return printed.getvalue().count("\n")

    return call


def _first_lines(data: Path) -> None:
    """Print what it takes until the first of all rows are made: a person reads from there."""
    for text in (None, "tenderness"):
        used = []
        for _ in range(REPEATS):
            busy = time.process_time()
            with Index(data) as index:
                index.refresh()
                next(index.each(Query(text=text)))
            used.append((time.process_time() - busy) * 1000)
        print(f"  {'the first rows of all' + (', a frequent word' if text else ''):<42} {median(used):27.1f} ms")


def _print(title: str, timed: dict[str, Callable[[], int]], *, repeats: int = REPEATS) -> float:
    """Print what calls take; return the processor time of the slowest in ms."""
    print(f"{title}\n  {'':<42} {'median':>9} {'worst':>9} {'processor':>10}")
    most = 0.0
    for name, call in timed.items():
        took, used = [], []
        for _ in range(repeats):
            start, busy = time.perf_counter(), time.process_time()
            found = call()
            took.append((time.perf_counter() - start) * 1000)
            used.append((time.process_time() - busy) * 1000)  # what it takes on a machine with nothing else to do
        most = max(most, median(used))
        print(f"  {name:<42} {median(took):6.1f} ms {max(took):6.1f} ms {median(used):7.1f} ms  {found} found")
    return most


def _in_a_browser(data: Path) -> None:
    """Print what a person waits for, and what of it the browser itself works."""
    print("the list in a browser: from the key or the address to the rows on the screen; the page's own work in it")
    desk = Desk(data, reader_of(None))
    with (
        serve(ReviewRoutes(desk, IndexedExams(data)).routes()) as server,
        chromium() as browser,
        open_page(browser, server, viewport={"width": 1280, "height": 900}) as page,
    ):
        work = page.context.new_cdp_session(page)
        work.send("Performance.enable")

        def worked() -> float:
            figures = work.send("Performance.getMetrics")["metrics"]
            return next(float(one["value"]) for one in figures if one["name"] == "TaskDuration") * 1000

        def until(rows: int, act: Callable[[], object]) -> tuple[float, float]:
            page.evaluate("() => document.querySelector('#exams').replaceChildren()") if rows == AT_ONCE else None
            start, busy = time.perf_counter(), worked()
            act()
            page.wait_for_function("n => document.querySelectorAll('#exams tbody tr').length === n", arg=rows)
            after = worked()
            return (
                time.perf_counter() - start
            ) * 1000, after - busy if after > busy else after  # a new page counts anew

        def told(name: str, rows: int, act: Callable[[], object], repeats: int = REPEATS) -> None:
            figures = [until(rows, act) for _ in range(repeats)]
            waited, busy = (median(column) for column in zip(*figures, strict=True))
            print(f"  {name:<42} {waited:6.1f} ms {'':>9} {busy:7.1f} ms")

        page.wait_for_selector("#exams tbody tr")
        told("opened", AT_ONCE, page.reload)
        page.get_by_label("Words of a finding").fill("tenderness")
        told("a frequent word", AT_ONCE, lambda: page.get_by_label("Words of a finding").press("Enter"))
        for part in range(2, 5):
            older = page.get_by_role("button", name="Show older ones")
            told(f"older ones, {part * AT_ONCE} rows in all", part * AT_ONCE, lambda: older.press("Enter"), 1)  # noqa: B023
    desk.close()


def _sealed_index(data: Path) -> dict[str, Callable[[], int]]:
    """Return a list from an index that is sealed; the journals stay plain, which does not matter for it."""
    vault = begin_sealing(data, passphrase="plum gravel lantern sofa", cost=Cost())
    with closing(sqlite3.connect(data / INDEX_NAME)) as plain, closing(sqlite3.connect(":memory:")) as copy:
        plain.backup(copy)
        content = bytearray(copy.serialize())
    content[18:20] = b"\x01\x01"  # no write-ahead log, as in an index that was sealed (SQLite's file format, 1.3.3)
    vault.write(data / (INDEX_NAME + SEALED), bytes(content))

    def call() -> int:
        with Index(data, opener=vault, lexicon="") as index:
            index.refresh()
            page = index.page(Query(limit=AT_ONCE))
            return len(page.rows) + page.further

    return {"opened, looked for what changed, listed": call}


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
        (state,) = draw.choices(("signed", "unsigned", "changed", "unfinished"), weights=(90, 6, 3, 1))  # a guess
        whose = f"K-{draw.randrange(6000):05}"
        row = row._replace(exam=exam, at=at, patient=whose, state=state, source="live")
        yield Entry(row, stamp_of(folder) if folder.exists() else Stamp(), chosen)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else EXAMS)
