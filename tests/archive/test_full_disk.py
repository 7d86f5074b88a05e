"""On a full disk an operation ends with one plain line, and nothing that was kept is lost or half there."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from dictate.archive.about import tell_about
from dictate.archive.backup import export_archive
from dictate.archive.folder import open_data
from dictate.archive.purge import purge_sound, remove_exam
from dictate.archive.restore import import_archive
from dictate.archive.settings import Retention, write_retention
from dictate.archive.vault import begin_sealing, unlock
from dictate.errors import DictateError
from dictate.journal.exam import exams_folder
from dictate.journal.journal import Journal
from tests.archive.made import DATED, content_of, keep
from tests.archive.test_sealing import CHEAP, PASSPHRASE

EXAM, OTHER = DATED["2025-11-03"], DATED["2026-02-10"]


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an exam, a key that seals nothing yet, and a backup of another exam beside it."""
    place = tmp_path_factory.mktemp("disk")
    keep(place / "other", exam=OTHER, sound_s=0.1)
    open_data(place / "other")
    export_archive(place / "other", place / "backup.tar")
    keep(place / "data", exam=EXAM, sound_s=0.1)
    open_data(place / "data")
    begin_sealing(place / "data", passphrase=PASSPHRASE, cost=CHEAP)
    return place


def _seal(data: Path) -> None:
    vault = unlock(data, lambda: PASSPHRASE)
    assert vault is not None
    vault.seal_all()


def _about(data: Path) -> None:
    journal = Journal(exams_folder(data) / EXAM / "journal.jsonl")
    tell_about(journal, patient="K-017")


OPERATIONS: dict[str, Callable[[Path], object]] = {
    "seal": _seal,
    "about": _about,
    "export": lambda data: export_archive(data, data / "new.tar"),
    "import": lambda data: import_archive(data, data.parent / "backup.tar"),
    "purge": lambda data: purge_sound(data, EXAM, why="test"),
    "remove": lambda data: remove_exam(data, EXAM, why="test"),
    "retention": lambda data: write_retention(data, Retention(sound_days=3)),
}


@contextmanager
def _full_from(number: int) -> Iterator[list[bool]]:
    """Let every write from the given one on fail for want of room; yield a list that is not empty once one did."""
    real, count, failed = os.write, 0, []

    def write(*values: Any) -> int:
        nonlocal count
        count += 1
        if count >= number:
            failed.append(True)
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(*values)

    os.write = write
    try:
        yield failed
    finally:
        os.write = real


@pytest.mark.parametrize("name", OPERATIONS)
def test_a_full_disk_ends_an_operation_with_one_line_and_loses_nothing(start: Path, tmp_path: Path, name: str) -> None:
    for number in range(1, 100):
        place = tmp_path / str(number)
        shutil.copytree(start, place)
        data = place / "data"
        before = content_of(exams_folder(data))
        with _full_from(number) as failed:
            said = _failure(OPERATIONS[name], data)
        if said is None:
            assert not failed
            return
        assert "\n" not in said
        open_data(data)  # the next start, with room again
        vault = unlock(data, lambda: PASSPHRASE)
        assert vault is not None
        vault.unseal_exam(exams_folder(data) / EXAM)
        assert content_of(exams_folder(data)) == before, number
        assert not (data / "new.tar").exists()
    raise AssertionError("it never had room enough")


def _failure(operation: Callable[[Path], object], data: Path) -> str | None:
    try:
        operation(data)
    except DictateError as error:
        return str(error)
    return None
