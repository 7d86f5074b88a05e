"""The data folder as a whole: private, of a format that this program knows, and with nothing left half-done."""

from __future__ import annotations

import os
import time
import tomllib
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from dictate.archive.disk import PART, check_private, locked, make_private, remove_tree, told, write_whole
from dictate.archive.errors import ArchiveError
from dictate.archive.removed import removed_exams
from dictate.journal.exam import JOURNAL_NAME, exams_folder, is_exam_id, sync_folder

FORMAT = 1  # of the data folder
FORMAT_NAME = "format.toml"
_NEVER_BEGUN_S = 3600.0  # an exam folder without a single event is left alone for so long: it may be under way

_UNDER_WAY_S = 600.0  # a file that is being written by another command is younger

Step = Callable[[Path], None]


def open_data(data: Path, *, make: bool = False) -> bool:
    """Make a data folder fit for use; return whether there is one.

    It is made private, brought to this program's format, and what a power cut left half-done is completed or undone.

    Args:
        data: the data folder.
        make: make it where there is none.

    Raises:
        ArchiveError: it was written by a newer program, is open to others and cannot be mended, or cannot be written.
    """
    if not make and not data.exists():
        return False
    data = Path(os.path.realpath(data))  # the folder itself may be a link to a larger disk; nothing in it may be one
    make_private(data)
    make_private(exams_folder(data))
    found = _format_of(data)
    if found > FORMAT:
        raise ArchiveError(
            f"{data} was written by a newer program (format {found}; this one knows {FORMAT}); update this one: "
            "nothing was changed"
        )
    with locked(data, wait=found < FORMAT) as held:
        if held:
            migrate(data)
            recover(data)
    return True


def migrate(data: Path, steps: Sequence[Step] | None = None) -> None:
    """Bring a folder to this program's format, a step at a time. A step that is cut short is done again."""
    for number, step in enumerate(STEPS if steps is None else steps):
        if _format_of(data) == number:
            with told(f"{data} cannot be brought to format {number + 1}"):
                step(data)
                write_whole(data / FORMAT_NAME, _format_text(number + 1))


def recover(data: Path) -> None:
    """Complete or undo what was cut short. The lock is held."""
    from dictate.archive.restore import complete_import

    with told(f"{data} cannot be put in order"):
        complete_import(data)
        for path in data.glob(f".*{PART}*"):
            if path.is_dir() and not path.is_symlink():  # of an import: it would hold the lock
                remove_tree(path)
            elif time.time() - path.lstat().st_mtime > _UNDER_WAY_S:
                path.unlink()
        for exam in removed_exams(data):
            remove_exam_files(data, exam)


def remove_exam_files(data: Path, exam: str) -> None:
    """Remove the folder of an exam that is recorded as removed. Raises OSError."""
    folder = exams_folder(data) / exam
    if not is_exam_id(exam) or not os.path.lexists(folder):
        return
    if folder.is_symlink():
        folder.unlink()
    else:
        remove_tree(folder)
    sync_folder(folder.parent)


def remove_never_begun(data: Path, exams: Sequence[str]) -> list[str]:
    """Remove folders of exams that hold no event and no sound: their making was cut short. Return their names."""
    gone = []
    for exam in exams:
        folder = exams_folder(data) / exam
        with suppress(OSError):
            names = {path.name: path.lstat() for path in folder.iterdir()}
            young = time.time() - folder.lstat().st_mtime < _NEVER_BEGUN_S
            if young or folder.is_symlink() or set(names) - {JOURNAL_NAME}:
                continue
            if names and b"\n" in (folder / JOURNAL_NAME).read_bytes():
                continue
            remove_tree(folder)
            sync_folder(folder.parent)
            gone.append(exam)
    return gone


def _format_of(data: Path) -> int:
    """Return the format of a data folder; 0 for those from before formats were written down."""
    path = data / FORMAT_NAME
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8")).get("format")
    except FileNotFoundError:
        return 0
    except (OSError, ValueError) as error:
        raise ArchiveError(f"{path} cannot be read; restore it from a backup, or write `format = {FORMAT}`") from error
    if not isinstance(found, int) or isinstance(found, bool) or found < 0:
        raise ArchiveError(f"{path} names no format; restore it from a backup, or write `format = {FORMAT}` into it")
    return found


def _format_text(number: int) -> bytes:
    return f"# A program that does not know this format leaves the folder alone.\nformat = {number}\n".encode()


def _private_throughout(data: Path) -> None:
    """Format 0 to 1: folders from before took their permissions from the system; from 1 on all are their owner's."""
    for folder in sorted(exams_folder(data).iterdir()):
        if not is_exam_id(folder.name) or folder.is_symlink() or not folder.is_dir():
            continue
        check_private(folder)
        for path in folder.iterdir():
            if not path.is_symlink():
                check_private(path)


STEPS: tuple[Step, ...] = (_private_throughout,)  # the first brings format 0 to 1
