"""Files that are written whole or not at all, and folders that only their owner can open."""

from __future__ import annotations

import fcntl
import os
import secrets
import stat
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from dictate.archive.errors import ArchiveError
from dictate.journal.exam import sync_folder

PART = ".part-"  # in the name of a file that is being written; what is left of one means nothing
LOCK_NAME = "archive.lock"
_OTHERS = 0o077


@contextmanager
def told(what: str) -> Iterator[None]:
    """Say a failure of the disk in one plain line that begins with `what`."""
    try:
        yield
    except OSError as error:
        why = error.strerror or error
        raise ArchiveError(f"{what} ({why}); check the disk and the folder's permissions") from error


def write_all(handle: int, content: bytes) -> None:
    """Write all bytes to an open file."""
    written = 0
    while written < len(content):
        written += os.write(handle, content[written:])


def write_whole(path: Path, content: bytes | Iterable[bytes]) -> None:
    """Write a file so that it is there whole or not at all, also after a power cut. Raises OSError."""
    aside = path.with_name(f".{path.name}{PART}{secrets.token_hex(4)}")
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        try:
            for block in (content,) if isinstance(content, bytes) else content:
                write_all(handle, block)
            os.fsync(handle)
        finally:
            os.close(handle)
        os.replace(aside, path)  # noqa: PTH105  named so that the tests of power cuts see every call
    except BaseException:
        with suppress(OSError):
            aside.unlink()
        raise
    sync_folder(path.parent)


def make_private(path: Path) -> None:
    """Make a folder, or one that is there, open to its owner only.

    Raises:
        ArchiveError: it is a link, belongs to someone else, or cannot be made or mended.
    """
    with told(f"{path} cannot be made private"):
        path.mkdir(parents=True, exist_ok=True, mode=0o700)
    check_private(path)


def check_private(path: Path) -> None:
    """Take from others what they could read of a folder or file. Raises ArchiveError where that cannot be done."""
    with told(f"{path} cannot be looked at"):
        state = path.lstat()
    if stat.S_ISLNK(state.st_mode):
        raise ArchiveError(f"{path} is a link; exams are kept in true folders only: put the folder itself there")
    if state.st_uid != os.geteuid():
        raise ArchiveError(f"{path} belongs to another user, who could read the exams; use a folder of your own")
    if state.st_mode & _OTHERS:
        with told(f"{path} is open to other users and cannot be made private"):
            path.chmod(stat.S_IMODE(state.st_mode) & ~_OTHERS)


@contextmanager
def locked(data: Path, *, wait: bool = True) -> Iterator[bool]:
    """Hold the data folder against other commands that move exams about; yield whether it is held.

    Args:
        data: the data folder.
        wait: until another command is done; else yield False at once.
    """
    with told(f"{data} cannot be locked"):
        handle = os.open(data / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except BlockingIOError:
            yield False
            return
        yield True
    finally:
        os.close(handle)


def remove_tree(folder: Path) -> None:
    """Remove a folder of plain files and folders for good; links in it are removed, never followed. Raises OSError."""
    for entry in list(os.scandir(folder)):
        path = Path(entry.path)
        if entry.is_dir(follow_symlinks=False):
            remove_tree(path)
        else:
            path.unlink()
    folder.rmdir()
