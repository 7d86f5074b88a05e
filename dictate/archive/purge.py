"""Removing sound, or a whole exam, for good. It is written down first, so that a removal cut short is completed."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path

from dictate.archive.disk import locked, told
from dictate.archive.errors import ArchiveError
from dictate.archive.folder import remove_exam_files
from dictate.archive.removed import Record, record_removals
from dictate.archive.rows import SEALED, purged_files
from dictate.archive.vault import Vault, may_be_under_way, sealed_files
from dictate.journal.events import Event, Purged
from dictate.journal.exam import ExamFolder, exams_folder, is_exam_id, sound_files, sync_folder
from dictate.journal.journal import Journal


def purge_sound(data: Path, exam: str, *, why: str, vault: Vault | None = None) -> list[str]:
    """Remove the sound of an exam; its notes and words stay. Return the names of the files that were there.

    Raises:
        ArchiveError: the exam may be under way, is sealed and there is no key, or a file cannot be removed.
        JournalError: there is no such exam, or its journal is damaged.
    """
    folder = exams_folder(data) / exam
    if vault is None and is_exam_id(exam) and sealed_files(folder):
        raise ArchiveError(f"{exam} is sealed; give the passphrase to remove its sound")
    if is_exam_id(exam) and folder.is_dir() and may_be_under_way(folder):
        raise ArchiveError(f"{exam} may still be under way; end it first, then remove its sound")
    opened = vault.opened(exam, journal_only=True) if vault else nullcontext(ExamFolder.of(data, exam))
    with opened as kept:
        journal = Journal(kept.journal_path)
        try:
            there = _sound_there(kept.path, journal.events)
            new = [name for name in there if name not in purged_files(journal.events)]
            if new:
                journal.append(Purged(files=new, why=why))
            _unlink(kept.path, there)
            return there
        finally:
            journal.close()


def complete_purge(folder: Path, events: Sequence[Event]) -> list[str]:
    """Remove the sound that a journal says was removed, where it is still there; return the files' names."""
    left = [name for name in _sound_there(folder, events) if name in purged_files(events)]
    _unlink(folder, left)
    return left


def remove_exam(data: Path, exam: str, *, why: str) -> None:
    """Remove an exam for good; that there was one stays written down, with the reason.

    Raises:
        ArchiveError: there is no such exam, it may be under way, or it cannot be removed.
    """
    folder = exams_folder(data) / exam
    if not is_exam_id(exam) or not folder.is_dir() or folder.is_symlink():
        raise ArchiveError(f"there is no exam {exam[:60]!r} in {data}; `dictate archive list` shows what there is")
    with locked(data):
        if not _damaged(folder) and may_be_under_way(folder):
            raise ArchiveError(f"{exam} may still be under way; end it first, then remove it")
        record_removals(data, [Record(kind="removed", exam=exam, why=why)])
        with told(f"{exam} cannot be removed whole (the next start goes on with it)"):
            remove_exam_files(data, exam)


def _damaged(folder: Path) -> bool:
    """Whether the journal cannot be read: such an exam can be removed all the same."""
    from dictate.errors import DictateError

    try:
        may_be_under_way(folder)
    except DictateError:
        return True
    return False


def _sound_there(folder: Path, events: Sequence[Event]) -> list[str]:
    """Return the sound files of an exam that are on disk, plain or sealed, under their plain names."""
    names = [sound.file for sound in sound_files(events)]
    return [name for name in names if any((folder / form).is_file() for form in (name, name + SEALED))]


def _unlink(folder: Path, names: Sequence[str]) -> None:
    with told(f"sound in {folder} cannot be removed"):
        for name in names:
            for form in (name, name + SEALED):
                (folder / form).unlink(missing_ok=True)
        if names:
            sync_folder(folder)
