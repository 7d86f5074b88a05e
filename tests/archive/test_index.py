"""The index finds exams, is only derived, and mends itself."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from dictate.archive import index as index_module
from dictate.archive.about import tell_about
from dictate.archive.folder import open_data
from dictate.archive.index import INDEX_NAME, Index, rebuild
from dictate.archive.purge import remove_exam
from dictate.archive.query import MOST_MATCHES, Query
from dictate.archive.rows import ExamRow
from dictate.contract import Finding
from dictate.journal.events import Edited
from dictate.journal.exam import exams_folder
from dictate.journal.journal import Journal
from tests.archive.made import DATED, LEFT_KNEE, RIGHT_ANKLE, keep, sign

KNEE, ANKLE = DATED["2025-11-03"], DATED["2026-02-10"]


def _fill(data: Path) -> None:
    keep(data, LEFT_KNEE, exam=KNEE, patient="K-017", age=31, sex="female")
    keep(data, RIGHT_ANKLE, exam=ANKLE, patient="K-018", closed=False)
    open_data(data)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two exams that no test changes."""
    data = tmp_path_factory.mktemp("archive") / "data"
    _fill(data)
    return data


@pytest.fixture(params=[True, False], ids=["full text", "plain SQL"])
def index(filled: Path, request: pytest.FixtureRequest) -> Iterator[Index]:
    with Index(filled, full_text=request.param) as made:
        made.refresh()
        yield made


def _found(index: Index, **asked: object) -> set[str]:
    return {row.exam for row in index.search(Query(**asked))}  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("asked", "wanted"),
    [
        ({}, {KNEE, ANKLE}),
        ({"text": "tenderness"}, {KNEE}),
        ({"text": "tend"}, {KNEE}),
        ({"text": "LINE joint"}, {KNEE}),
        ({"text": "effusion"}, {KNEE}),
        ({"text": "joint swelling"}, set()),
        ({"text": "derness"}, set()),
        ({"text": "tenderness", "side": "left"}, {KNEE}),
        ({"text": "tenderness", "side": "right"}, set()),
        ({"side": "right"}, {ANKLE}),
        ({"region": "ankle"}, {ANKLE}),
        ({"region": "knee", "text": "swelling"}, set()),
        ({"patient": "K-017"}, {KNEE}),
        ({"patient": "K-01"}, set()),
        ({"state": "unfinished"}, {ANKLE}),
        ({"state": "unsigned"}, {KNEE}),
        ({"state": "signed"}, set()),
        ({"state": "damaged"}, set()),
        ({"limit": 0}, set()),
        ({"since": date.min, "until": date.max}, {KNEE, ANKLE}),
        ({"since": date.max}, set()),
        ({"until": date.min}, set()),
    ],
)
def test_a_query_finds_the_exams_that_it_means(index: Index, asked: dict[str, object], wanted: set[str]) -> None:
    assert _found(index, **asked) == wanted


def test_what_was_denied_is_shown_as_denied(index: Index) -> None:
    (row,) = index.search(Query(text="effusion"))
    assert row.matches == ("effusion: absent (left)",)


def test_a_count_knows_no_limit(index: Index) -> None:
    assert index.page(Query(limit=1)).further == 1


def test_the_newest_exam_comes_first(tmp_path: Path) -> None:
    first = keep(tmp_path, exam=KNEE).exam
    second = keep(tmp_path, exam=ANKLE).exam
    with Index(tmp_path) as index:
        index.refresh()
        assert [row.exam for row in index.search()] == [second, first]


def test_dates_are_days_of_this_machine_and_inclusive(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        (row,) = index.search()
        day = row.at.astimezone().date()
        assert _found(index, since=day, until=day) == {KNEE}
        assert _found(index, until=date.fromordinal(day.toordinal() - 1)) == set()
        assert _found(index, since=date.fromordinal(day.toordinal() + 1)) == set()


def test_a_new_event_is_seen_at_the_next_refresh(tmp_path: Path) -> None:
    folder = keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        tell_about(Journal(folder.journal_path), patient="K-099")
        assert index.refresh() == 1
        assert _found(index, patient="K-099") == {KNEE}


def test_what_did_not_change_is_not_read_again(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        assert (index.refresh(), index.refresh()) == (1, 0)


def test_an_exam_read_with_another_lexicon_is_read_anew(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        index._lexicon = "another"
        assert index.refresh() == 1


def test_a_signed_exam_is_not_read_anew_with_another_lexicon(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE, signed=True)
    with Index(tmp_path) as index:
        index.refresh()
        index._lexicon = "another"
        assert index.refresh() == 0


def test_a_signature_is_in_the_row(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE, signed=True)
    with Index(tmp_path) as index:
        index.refresh()
        (row,) = index.search(Query(state="signed"))
    assert row.signed_by == "A. Examiner" and row.signed_at is not None


def _change_after_signing(data: Path) -> Journal:
    folder = keep(data, exam=KNEE, signed=True)
    journal = Journal(folder.journal_path)
    added = Finding(section="palpation", region="knee", side="left", finding="bruising", status="present")
    journal.append(Edited(action="add", item="a1", after=added))
    return journal


def test_a_change_after_signing_waits_for_a_signature(tmp_path: Path) -> None:
    _change_after_signing(tmp_path)
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, state="unsigned") == _found(index, state="changed") == {KNEE}


def test_a_change_after_signing_is_found_by_its_words(tmp_path: Path) -> None:
    _change_after_signing(tmp_path)
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, text="bruising") == {KNEE}


def test_a_change_that_was_undone_leaves_the_exam_signed(tmp_path: Path) -> None:
    journal = _change_after_signing(tmp_path)
    journal.append(Edited(action="undo", item="a1", undoes=len(journal.events) - 1))
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, state="signed") == {KNEE}


def test_an_addendum_makes_it_signed_again(tmp_path: Path) -> None:
    sign(_change_after_signing(tmp_path))
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, state="signed") == {KNEE}


def test_open_doubts_are_found(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    keep(tmp_path, ("Left knee.", "Flexion thirteen fifty degrees."), exam=ANKLE)
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, open_doubts=True) == {ANKLE}


def test_a_removed_exam_is_gone_from_the_index(tmp_path: Path) -> None:
    _fill(tmp_path)
    with Index(tmp_path) as index:
        index.refresh()
        remove_exam(tmp_path, KNEE, why="test")
        index.refresh()
        assert _found(index) == {ANKLE} and index.search(Query(text="tender")) == []


def test_nothing_of_a_forgotten_exam_stays_in_the_file(tmp_path: Path) -> None:
    _fill(tmp_path)
    with Index(tmp_path) as index:
        index.refresh()
        index.forget(KNEE)
    left = b"".join(path.read_bytes() for path in tmp_path.glob(f"{INDEX_NAME}*"))
    assert b"tender" not in left and b"K-017" not in left


@pytest.mark.parametrize("full_text", [True, False])
def test_the_index_made_anew_is_the_same(filled: Path, full_text: bool) -> None:
    with Index(filled, full_text=full_text) as index:
        index.refresh()
        before = index.search(Query(text="joint"))
    rebuild(filled)
    with Index(filled, full_text=full_text) as index:
        index.refresh()
        assert index.search(Query(text="joint")) == before


@pytest.mark.parametrize(
    "harm",
    [
        pytest.param(lambda path: path.write_bytes(b"no database at all" * 100), id="not a database"),
        pytest.param(lambda path: path.write_bytes(path.read_bytes()[:5000]), id="cut off"),
        pytest.param(lambda path: path.write_bytes(path.read_bytes()[:4096] + b"\0" * 90_000), id="pages of zeros"),
        pytest.param(lambda path: path.write_bytes(b""), id="empty"),
        pytest.param(lambda path: _execute(path, "UPDATE meta SET value = '0' WHERE key = 'version'"), id="old"),
        pytest.param(lambda path: _execute(path, "UPDATE meta SET value = '99' WHERE key = 'version'"), id="newer"),
        pytest.param(lambda path: _execute(path, "DROP TABLE finding"), id="a table lost"),
    ],
)
def test_an_index_that_cannot_be_used_is_made_anew(tmp_path: Path, harm: object) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
    harm(tmp_path / INDEX_NAME)  # type: ignore[operator]
    with Index(tmp_path) as index:
        index.refresh()
        assert _found(index, text="tender") == {KNEE}


def _execute(path: Path, sql: str) -> None:
    base = sqlite3.connect(path)
    base.execute(sql)
    base.commit()
    base.close()


def test_the_index_is_its_owners_alone(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        modes = {path.name: path.stat().st_mode & 0o777 for path in tmp_path.glob(f"{INDEX_NAME}*")}
    assert set(modes.values()) == {0o600}, modes


def test_the_index_is_written_ahead(tmp_path: Path) -> None:
    with Index(tmp_path / "data" if open_data(tmp_path / "data", make=True) else tmp_path) as index:
        assert index._base.execute("PRAGMA journal_mode").fetchone()[0] == "wal"


def test_two_processes_may_use_the_index_at_once(tmp_path: Path) -> None:
    _fill(tmp_path)
    with Index(tmp_path) as one, Index(tmp_path) as other:
        one.refresh()
        assert other.refresh() == 0 and len(other.search()) == 2


def test_the_columns_of_the_index_are_the_fields_of_a_row_in_their_order() -> None:
    assert index_module._COLUMNS[: len(ExamRow._fields) - 1] == ExamRow._fields[:-1]


def test_a_row_comes_out_of_the_index_as_it_was_read(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE, patient="K-017", age=31, sex="female", sound_s=0.1, signed=True)
    with Index(tmp_path) as index:
        index.refresh()
        assert index.row(KNEE) == index.entry(KNEE).row


@pytest.mark.parametrize("text", ["tender", "line med", "flex 120", "left", "n"])
def test_what_is_shown_as_found_is_what_the_full_text_search_found(filled: Path, text: str) -> None:
    query = Query(text=text, side="left")
    with Index(filled) as index:
        index.refresh()
        found = index._base.execute(
            "SELECT text FROM finding WHERE id IN (SELECT rowid FROM finding_text WHERE finding_text MATCH ?)",
            (f"words : ({' AND '.join(f'{word} *' for word in text.split())}) AND side : (left OR both)",),
        ).fetchall()
        (row,) = index.search(query)
    assert row.matches == tuple(text for (text,) in found[:MOST_MATCHES])


# -- a list in parts -------------------------------------------------------------------------------------------------

AGES = [f"2026-01-{day:02}T090000-aaaa" for day in range(1, 8)]


@pytest.fixture
def week(tmp_path: Path) -> Path:
    for exam in AGES:
        keep(tmp_path, ("Left knee.", "No effusion."), exam=exam, source="text")
    return tmp_path


@pytest.mark.parametrize("asked", [{}, {"text": "effusion"}, {"side": "left"}], ids=str)
def test_parts_of_a_list_are_together_the_whole_list(week: Path, asked: dict[str, Any]) -> None:
    with Index(week) as index:
        index.refresh()
        seen: list[str] = []
        left = len(AGES)
        while left:
            part = index.page(Query(**asked, limit=3, after=seen[-1] if seen else None))
            seen += [row.exam for row in part.rows]
            left -= len(part.rows)
            assert part.further == left
        assert seen == [row.exam for row in index.search(Query(**asked))]
        assert sorted(seen) == AGES


def test_a_list_goes_on_where_it_was_though_a_newer_exam_came(week: Path) -> None:
    with Index(week) as index:
        index.refresh()
        first = index.page(Query(limit=3)).rows
        keep(week, exam="2026-02-01T090000-bbbb")
        index.refresh()
        second = index.page(Query(limit=3, after=first[-1].exam)).rows
        whole = [row.exam for row in index.search()]
    assert [row.exam for row in (*first, *second)] == whole[1:7]


def test_a_list_goes_on_behind_nothing_where_its_last_exam_was_removed(week: Path) -> None:
    """Better nothing than exams left out: the page says that the list has to be asked for anew."""
    with Index(week) as index:
        index.refresh()
        assert index.page(Query(after="2026-01-04T090000-zzzz")) == ((), 0)


def test_a_long_list_is_made_in_portions_and_complete(week: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_module, "MADE_AT_ONCE", 2)
    with Index(week) as index:
        index.refresh()
        assert [row.exam for row in index.each(Query())] == AGES[::-1]


def test_exams_in_which_a_name_was_put_right_are_found(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        before = _found(index, corrected=True)
        journal = Journal(exams_folder(tmp_path) / KNEE / "journal.jsonl")
        seen = Finding(section="special_tests", region="knee", side="left", finding="lachman test", status="negative")
        after = seen.model_copy(update={"finding": "pivot shift"})
        journal.append(Edited(action="change", item="u1.0", before=seen, after=after))
        index.refresh()
        assert (before, _found(index, corrected=True)) == (set(), {KNEE})


# -- what changed is never missed ------------------------------------------------------------------------------------


def test_a_journal_changed_in_place_is_seen_though_its_folder_and_size_are_as_they_were(tmp_path: Path) -> None:
    path = keep(tmp_path, exam=KNEE).journal_path
    with Index(tmp_path) as index:
        index.refresh()
        folder, size = path.parent.stat().st_mtime_ns, path.stat().st_size
        with path.open("r+b") as file:
            file.seek(path.read_bytes().index(b"ender"))
            file.write(b"ENDER")
        assert (path.parent.stat().st_mtime_ns, path.stat().st_size) == (folder, size)
        assert index.refresh() == 1
        assert _found(index, state="damaged") == {KNEE}


def test_a_line_that_is_appended_is_seen_though_the_time_was_put_back(tmp_path: Path) -> None:
    folder = keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        was = folder.journal_path.stat()
        tell_about(Journal(folder.journal_path), patient="K-099")
        os.utime(folder.journal_path, ns=(was.st_atime_ns, was.st_mtime_ns))
        assert index.refresh() == 1


def test_a_journal_that_is_not_there_any_more_is_seen_once(tmp_path: Path) -> None:
    path = keep(tmp_path, exam=KNEE).journal_path
    with Index(tmp_path) as index:
        index.refresh()
        path.unlink()
        assert (index.refresh(), index.refresh()) == (1, 0)
        assert _found(index, state="damaged") == {KNEE}


def test_an_exam_that_came_and_one_that_went_are_both_seen(tmp_path: Path) -> None:
    keep(tmp_path, exam=KNEE)
    with Index(tmp_path) as index:
        index.refresh()
        shutil.rmtree(exams_folder(tmp_path) / KNEE)
        keep(tmp_path, exam=ANKLE)
        index.refresh()
        assert _found(index) == {ANKLE}


def _in_child(work: Callable[[], object]) -> int:
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        finally:
            os._exit(code)
    return child


def test_several_processes_may_make_the_index_at_once(tmp_path: Path) -> None:
    _fill(tmp_path)

    def make() -> None:
        with Index(tmp_path) as index:
            index.refresh()
            assert len(index.search()) == 2

    children = [_in_child(make) for _ in range(4)]
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0, 0, 0]


def test_an_index_whose_writer_was_killed_is_whole(tmp_path: Path) -> None:
    _fill(tmp_path)
    with Index(tmp_path) as index:
        index.refresh()
        entries = [index.entry(KNEE), index.entry(ANKLE)]

    def write_on() -> None:
        with Index(tmp_path) as index:
            while True:
                index.put(entries)

    for wait_s in (0.02, 0.1, 0.3):
        child = _in_child(write_on)
        time.sleep(wait_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with Index(tmp_path) as index:
            assert index._base.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            assert _found(index, text="tender") == {KNEE}
