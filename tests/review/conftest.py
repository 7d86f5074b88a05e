"""A review page over a folder of made-up exams."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from dictate.cli.review_exams import IndexedExams
from dictate.interface import reader_of
from dictate.review.desk import Desk
from dictate.review.routes import ReviewRoutes
from dictate.web.limits import Limits
from dictate.web.server import RunningServer, serve
from tests.review.exams import doubtful_exam
from tests.support.browser import browser  # noqa: F401  (a fixture)

QUICK = Limits(wrong_token_delay_s=0.01)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def exam(data):
    """A doubtful exam: its folder and its journal."""
    return doubtful_exam(data)


@pytest.fixture
def desk(data) -> Iterator[Desk]:
    desk = Desk(data, reader_of(None))
    yield desk
    desk.close()


@pytest.fixture
def server(desk, data) -> Iterator[RunningServer]:
    exams = IndexedExams(data)
    with serve(ReviewRoutes(desk, exams, reviewer="R. Tester").routes(), limits=QUICK) as running:
        yield running
    exams.close()
