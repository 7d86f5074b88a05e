"""A look at all exams that there are: which of them are not as they were when they were last read."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path

from dictate.archive.errors import ArchiveError
from dictate.archive.removed import removed_exams
from dictate.archive.rows import stamp_of
from dictate.journal.exam import JOURNAL_NAME, exams_folder, is_exam_id


@dataclass(frozen=True, slots=True)
class Look:
    """What is in the folder. A link or a file that is called as an exam is one of them, and is listed as damaged."""

    exams: Sequence[str]  # without those that are recorded as removed
    differ: Sequence[str]  # those of them whose journal is not as it was, oldest first
    gone: Sequence[str]  # that were known, and are removed or not there any more


def journals_that_differ(data: Path, known: Mapping[str, tuple[int, int]]) -> Look:
    """Look at the size and time of every exam's journal. Raises ArchiveError if the folder cannot be read.

    Every journal is looked at each time. That of its folder would not do: a line that is appended changes the journal
    alone. What can be spared is the way there, for there are thousands: names are resolved from the folder that holds
    them, and what is known by name is not matched again.

    Args:
        data: the data folder.
        known: size and time in nanoseconds of each journal when it was last read.
    """
    folder = exams_folder(data)
    removed = removed_exams(data)
    try:
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except FileNotFoundError:
        return Look([], [], sorted(known))
    except OSError as error:
        raise _unreadable(folder, error) from error
    try:
        exams = _exams(os.listdir(handle), known.keys(), removed.keys())  # noqa: PTH208  a Path lists no open folder
        differ = _differing(handle, folder, exams, known)
    except OSError as error:
        raise _unreadable(folder, error) from error
    finally:
        os.close(handle)
    return Look(exams, sorted(differ), sorted(known.keys() - set(exams)))


def _exams(names: list[str], known: Set[str], removed: Set[str]) -> list[str]:
    """Return those of the names that are of exams, in their order. Sets do it: most often there is nothing else."""
    others = {name for name in set(names) - known if not is_exam_id(name)} | removed
    return [name for name in names if name not in others] if others else names


def _differing(handle: int, folder: Path, exams: Iterable[str], known: Mapping[str, tuple[int, int]]) -> list[str]:
    differ = []
    stat, was, inside = os.stat, known.get, f"/{JOURNAL_NAME}"  # once, not for each of thousands
    for exam in exams:
        try:
            state = stat(exam + inside, dir_fd=handle, follow_symlinks=False)
            stamp = (state.st_size, state.st_mtime_ns)
        except OSError:  # sealed, or gone
            stamp = stamp_of(folder / exam)
        if was(exam) != stamp:
            differ.append(exam)
    return differ


def _unreadable(folder: Path, error: OSError) -> ArchiveError:
    return ArchiveError(f"{folder} cannot be read ({error.strerror}); check its permissions")
