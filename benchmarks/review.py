"""What reviewing costs: an exam of two hours with 600 findings, on the desk and in a browser.

python -m benchmarks.review
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from dictate.cli.review_exams import IndexedExams
from dictate.interface import reader_of
from dictate.review.actions import Decision
from dictate.review.alternatives import Chooser
from dictate.review.desk import Desk, version_of
from dictate.review.routes import ReviewRoutes
from dictate.review.views import card_view, note_view
from dictate.web.server import serve
from tests.review.exams import doubtful_exam, long_exam
from tests.support.browser import chromium, open_page

_KEYS = 20


def main() -> None:
    """Print the figures."""
    reader = reader_of(None)
    with tempfile.TemporaryDirectory() as made:
        data = Path(made)
        long, _ = long_exam(data)
        short, _ = doubtful_exam(data)
        for name, exam in (("2 h, 600 findings", long.exam), ("30 s, 9 findings", short.exam)):
            desk = Desk(data, reader)
            print(name)
            _on_the_desk(desk, exam)
            desk.close()
        desk = Desk(data, reader)
        with serve(ReviewRoutes(desk, IndexedExams(data)).routes()) as server, chromium() as browser:
            print("in a browser, 2 h, 600 findings")
            link = server.url.replace("/?", f"/review/{long.exam}?")
            began = time.perf_counter()
            with open_page(browser, link, viewport={"width": 1280, "height": 900}) as page:
                page.wait_for_selector("#card-title")
                print(f"  opened and shown            {time.perf_counter() - began:6.2f} s")
                waits = []
                for _ in range(_KEYS):
                    was = page.text_content("#status")
                    began = time.perf_counter()
                    page.keyboard.press("a")  # the status line changes once the next finding is shown
                    page.wait_for_function("was => document.querySelector('#status').textContent !== was", arg=was)
                    waits.append(time.perf_counter() - began)
                print(f"  key to the next finding     {statistics.median(waits):6.2f} s (median of {_KEYS})")
        desk.close()


def _on_the_desk(desk: Desk, exam: str) -> None:
    chooser = Chooser(desk.reader, desk.labels)
    on_desk = desk.exam(exam)
    standing = _timed("words read", on_desk.standing)
    _timed("note for the page", lambda: note_view(on_desk, standing))
    key = standing.queue()[0]
    item = standing.item(key)
    assert item is not None
    _timed("card with alternatives", lambda: card_view(item, standing, chooser, sound=True))
    wish = Decision(action="accept", item=key, version=version_of(item, standing.finding(item)))
    _timed("decision", lambda: on_desk.decide(wish))


def _timed(what: str, work: Callable[[], Any]) -> Any:
    began = time.perf_counter()
    done = work()
    print(f"  {what:27} {time.perf_counter() - began:6.2f} s")
    return done


if __name__ == "__main__":
    main()
