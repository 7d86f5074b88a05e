"""How long sound is kept, and what removing it leaves behind."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dictate.archive.errors import ArchiveError
from dictate.archive.folder import open_data
from dictate.archive.index import Index
from dictate.archive.purge import purge_sound, remove_exam
from dictate.archive.query import Query
from dictate.archive.removed import read_removals
from dictate.archive.settings import SETTINGS_NAME, Retention, read_retention, write_retention
from dictate.archive.tidy import tidy
from dictate.archive.vault import begin_sealing, unlock
from dictate.errors import JournalError
from dictate.journal.events import HeardUtterance, Purged
from dictate.journal.exam import ExamFolder, exam_ids
from dictate.journal.journal import Journal, read_journal
from dictate.journal.signing import check
from dictate.recognise.events import Utterance
from tests.archive.made import DATED, keep, sound_names
from tests.archive.test_sealing import CHEAP, PASSPHRASE

EXAM = DATED["2025-11-03"]
DAY = timedelta(days=1)


def _now() -> datetime:
    return datetime.now(UTC)


def test_sound_is_kept_where_nothing_else_was_set(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, signed=True)
    tidy(tmp_path, now=_now() + 10_000 * DAY)
    assert sound_names(folder) == ["sound-001.wav"]


@pytest.mark.parametrize(("days", "left"), [(29, ["sound-001.wav"]), (31, [])])
def test_sound_is_removed_so_many_days_after_the_exam(tmp_path: Path, days: int, left: list[str]) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    write_retention(tmp_path, Retention(sound_days=30))
    tidy(tmp_path, now=_now() + days * DAY)
    assert sound_names(folder) == left


@pytest.mark.parametrize(("signed", "left"), [(False, ["sound-001.wav"]), (True, [])])
def test_sound_is_removed_once_the_note_is_signed(tmp_path: Path, signed: bool, left: list[str]) -> None:
    folder = keep(tmp_path, sound_s=0.1, signed=signed)
    write_retention(tmp_path, Retention(sound_until_signed=True))
    tidy(tmp_path)
    assert sound_names(folder) == left


def test_an_unfinished_exam_keeps_its_sound(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, closed=False)
    write_retention(tmp_path, Retention(sound_days=0))
    tidy(tmp_path, now=_now() + 100 * DAY)
    assert sound_names(folder) == ["sound-001.wav"]


def test_a_damaged_exam_keeps_its_sound(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    path = folder.journal_path
    path.write_bytes(path.read_bytes().replace(b"ender", b"ENDER"))
    write_retention(tmp_path, Retention(sound_days=0))
    tidy(tmp_path, now=_now() + 100 * DAY)
    assert sound_names(folder) == ["sound-001.wav"]


def test_the_index_alone_never_decides_what_is_removed(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    write_retention(tmp_path, Retention(sound_until_signed=True))
    with Index(tmp_path) as index:
        index.refresh()
        index._base.execute("UPDATE exam SET state = 'signed'")
    tidy(tmp_path)
    assert sound_names(folder) == ["sound-001.wav"]


def test_removed_sound_is_written_down_with_the_reason(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    write_retention(tmp_path, Retention(sound_days=0))
    tidy(tmp_path)
    last = read_journal(folder.journal_path).events[-1]
    assert isinstance(last, Purged) and (last.files, last.why) == (["sound-001.wav"], "sound is kept for 0 days")


def test_an_exam_whose_sound_was_purged_is_as_it_was_signed(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, signed=True)
    purge_sound(tmp_path, folder.exam, why="test")
    assert check(folder.journal_path).faults == ()


def test_a_start_reads_no_note_and_no_lexicon(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    write_retention(tmp_path, Retention(sound_days=0))
    monkeypatch.setattr(Index, "_reader", lambda _: pytest.fail("the lexicon was read"))
    assert tidy(tmp_path).purged == (folder.exam,)


@pytest.mark.parametrize("indexed", [True, False])
def test_a_purge_that_was_cut_short_is_completed_once(tmp_path: Path, indexed: bool) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    journal = Journal(folder.journal_path)
    journal.append(Purged(files=["sound-001.wav"], why="test"))
    journal.close()
    if indexed:
        with Index(tmp_path) as index:
            index.refresh()
    assert (tidy(tmp_path).completed, sound_names(folder), tidy(tmp_path).completed) == ((folder.exam,), [], ())


def test_sound_that_was_deleted_by_hand_is_a_fault(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, signed=True)
    (folder.path / "sound-001.wav").unlink()
    assert "no purge of it was recorded" in check(folder.journal_path).faults[0]


def test_purging_twice_is_recorded_once(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    purge_sound(tmp_path, folder.exam, why="test")
    purge_sound(tmp_path, folder.exam, why="test")
    events = read_journal(folder.journal_path).events
    assert sum(isinstance(event, Purged) for event in events) == 1


def test_the_sound_of_an_exam_under_way_is_not_purged(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, closed=False)
    with pytest.raises(ArchiveError, match="under way"):
        purge_sound(tmp_path, folder.exam, why="test")


def test_an_exam_under_way_is_not_removed(tmp_path: Path) -> None:
    folder = keep(tmp_path, closed=False)
    open_data(tmp_path)
    with pytest.raises(ArchiveError, match="under way"):
        remove_exam(tmp_path, folder.exam, why="test")


def test_sealed_sound_is_purged_with_the_key(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    open_data(tmp_path)
    begin_sealing(tmp_path, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    write_retention(tmp_path, Retention(sound_days=0))
    vault = unlock(tmp_path, lambda: PASSPHRASE)
    assert tidy(tmp_path, vault=vault).purged == (folder.exam,)
    assert sound_names(folder) == [] and not folder.journal_path.exists()


def test_sealed_sound_is_told_where_there_is_no_key(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    open_data(tmp_path)
    begin_sealing(tmp_path, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    write_retention(tmp_path, Retention(sound_days=0))
    assert tidy(tmp_path).sealed == 1
    assert sound_names(folder) == ["sound-001.wav.sealed"]


def test_a_removed_exam_leaves_a_record_without_its_content(tmp_path: Path) -> None:
    folder = keep(tmp_path, sound_s=0.1, patient="K-017")
    open_data(tmp_path)
    remove_exam(tmp_path, folder.exam, why="asked for")
    assert exam_ids(tmp_path) == [] and not folder.path.exists()
    assert [record.exam for record in read_removals(tmp_path).records] == [folder.exam]
    assert b"K-017" not in (tmp_path / "removed.jsonl").read_bytes()


def test_a_damaged_exam_can_be_removed(tmp_path: Path) -> None:
    folder = keep(tmp_path)
    folder.journal_path.unlink()
    open_data(tmp_path)
    remove_exam(tmp_path, folder.exam, why="damaged")
    assert exam_ids(tmp_path) == []


def test_an_open_journal_of_a_removed_exam_takes_no_event_that_would_be_lost(tmp_path: Path) -> None:
    folder = keep(tmp_path)
    open_data(tmp_path)
    journal = Journal(folder.journal_path)
    remove_exam(tmp_path, folder.exam, why="test")
    with pytest.raises(JournalError, match="removed meanwhile"):
        journal.append(HeardUtterance(utterance=Utterance.of_text("lost")))


def test_a_folder_in_which_nothing_was_ever_recorded_is_cleared_after_a_while(tmp_path: Path) -> None:
    import os

    empty = ExamFolder(tmp_path / "exams" / EXAM)
    keep(tmp_path)
    empty.path.mkdir()
    empty.journal_path.write_bytes(b'{"n":0,"at":')
    long_ago = (_now() - DAY).timestamp()
    os.utime(empty.path, (long_ago, long_ago))
    assert tidy(tmp_path).never_begun == (EXAM,) and not empty.path.exists()


def test_a_folder_that_may_just_be_made_is_left_alone(tmp_path: Path) -> None:
    keep(tmp_path)
    (tmp_path / "exams" / EXAM).mkdir()
    assert tidy(tmp_path).never_begun == ()


@pytest.mark.parametrize(
    "text",
    [
        "[retention]\nsound_days = -1",
        "[retention]\nsound_dyas = 3",
        "retention = 3",
        "[retention",
        "[retention]\nsound_days = 1e9",
    ],
)
def test_settings_that_cannot_be_used_remove_nothing(tmp_path: Path, text: str) -> None:
    folder = keep(tmp_path, sound_s=0.1)
    (tmp_path / SETTINGS_NAME).write_text(text)
    with pytest.raises(ArchiveError):
        tidy(tmp_path, now=_now() + 1000 * DAY)
    assert sound_names(folder) == ["sound-001.wav"]


BOTH = Retention(sound_days=0, sound_until_signed=True)


@pytest.mark.parametrize("kept", [Retention(), Retention(sound_days=7), BOTH])
def test_settings_are_read_as_they_were_written(tmp_path: Path, kept: Retention) -> None:
    write_retention(tmp_path, kept)
    assert read_retention(tmp_path) == kept


def test_a_start_reads_a_journal_once_though_nobody_searches(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(tmp_path, exam=EXAM)
    tidy(tmp_path)
    monkeypatch.setattr("dictate.archive.tidy.facts_of", lambda *_, **__: pytest.fail("the journal was read again"))
    tidy(tmp_path)


def test_what_a_start_read_is_read_whole_before_it_is_searched(tmp_path: Path) -> None:
    keep(tmp_path, exam=EXAM)
    tidy(tmp_path)
    with Index(tmp_path) as index:
        assert (index.refresh(), index.refresh()) == (1, 0)
        assert [row.exam for row in index.search(Query(text="tender"))] == [EXAM]


@pytest.mark.parametrize("indexed", [True, False])
def test_a_start_tells_which_exams_may_not_have_ended(tmp_path: Path, indexed: bool) -> None:
    older, ended, newer = (f"2026-01-0{day}T090000-aaaa" for day in (1, 2, 3))
    keep(tmp_path, exam=older, closed=False)
    keep(tmp_path, exam=ended, sound_s=0.1)
    keep(tmp_path, exam=newer, closed=False)
    if indexed:
        with Index(tmp_path) as index:
            index.refresh()
    assert tidy(tmp_path).unfinished == (newer, older)
