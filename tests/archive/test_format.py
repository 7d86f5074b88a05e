"""A folder of an older format is migrated step by step; one of a newer program is left alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.archive.errors import ArchiveError
from dictate.archive.folder import FORMAT, FORMAT_NAME, STEPS, migrate, open_data
from dictate.journal.exam import exam_ids
from tests.archive.made import content_of, keep


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A folder as it was before formats: nothing says its format, and others may read it."""
    folder = keep(tmp_path, sound_s=0.1)
    for path in (tmp_path, tmp_path / "exams", folder.path):
        path.chmod(0o755)
    for path in folder.path.iterdir():
        path.chmod(0o644)
    return tmp_path


def test_a_folder_of_before_formats_is_made_private_throughout(old: Path) -> None:
    open_data(old)
    assert all(path.stat().st_mode & 0o077 == 0 for path in (old, *old.rglob("*")))


def test_a_migrated_folder_says_its_format(old: Path) -> None:
    open_data(old)
    assert f"format = {FORMAT}\n" in (old / FORMAT_NAME).read_text()


def test_a_migration_keeps_every_byte_of_the_exams(old: Path) -> None:
    before = content_of(old / "exams")
    open_data(old)
    assert content_of(old / "exams") == before


def test_there_is_a_step_to_each_format() -> None:
    assert len(STEPS) == FORMAT


def test_each_step_is_done_once_and_in_order(old: Path) -> None:
    done: list[int] = []
    steps = [lambda _, number=number: done.append(number) for number in range(3)]  # type: ignore[misc]
    migrate(old, steps)
    migrate(old, steps)
    assert done == [0, 1, 2]


def test_a_step_that_fails_is_done_again_at_the_next_start(old: Path) -> None:
    done: list[str] = []

    def fail(_: Path) -> None:
        done.append("failed")
        raise OSError(28, "No space left on device")

    with pytest.raises(ArchiveError, match="format 2"):
        migrate(old, [lambda _: done.append("first"), fail])
    migrate(old, [lambda _: done.append("first again"), lambda _: done.append("second")])
    assert done == ["first", "failed", "second"]


def test_a_newer_folder_is_refused_and_left_alone(old: Path) -> None:
    open_data(old)
    (old / FORMAT_NAME).write_text("format = 99\n")
    before = content_of(old)
    with pytest.raises(ArchiveError, match="newer program"):
        open_data(old)
    assert content_of(old) == before


@pytest.mark.parametrize("text", ["", "format = 'one'", "format = true", "format = -1", "format", "\0"])
def test_a_format_that_cannot_be_read_is_told(old: Path, text: str) -> None:
    (old / FORMAT_NAME).write_text(text)
    with pytest.raises(ArchiveError, match="format"):
        open_data(old)


def test_a_folder_that_is_not_there_is_not_made_unasked(tmp_path: Path) -> None:
    assert not open_data(tmp_path / "none") and not (tmp_path / "none").exists()


def test_a_folder_that_is_a_link_to_a_larger_disk_can_be_used(old: Path) -> None:
    link = old.parent / f"{old.name}-link"
    link.symlink_to(old)
    assert open_data(link) and len(exam_ids(link)) == 1
