"""Cut the power at each call that changes the disk, one after the other, in a child process.

`every_cut` runs an operation again and again: the k-th time its process ends just before the k-th such call (or, for a
write, after half of it). What was written and not yet brought to the disk is then taken away again, as a power cut may
do. A rename or removal that was not brought to the disk may be there or not; here it is there.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

CHANGES = (
    "write", "pwrite", "fsync", "fdatasync", "replace", "rename", "unlink", "rmdir", "mkdir", "ftruncate", "truncate",
)  # fmt: skip
_CUT = 99


@dataclass(frozen=True)
class Cut:
    """One way in which the power went."""

    number: int
    call: str
    folder: Path  # what the disk holds after it


@dataclass
class _File:
    """A file that was written to: where it is now, and how much of it is on the disk for certain."""

    path: str
    synced: int


class _Power:
    """Counts the calls of this process, and ends it at the given one."""

    def __init__(self, at: int, told: int) -> None:
        self.at = at
        self.count = 0
        self._files: dict[tuple[int, int], _File] = {}  # by device and inode: a name may change
        self._told = told
        self._real: dict[str, Any] = {name: getattr(os, name) for name in (*CHANGES, "open")}

    def install(self) -> None:
        for name in CHANGES:
            setattr(os, name, self._watched(name))
        os.open = self._open

    def _open(self, path: Any, flags: int, *rest: Any, **more: Any) -> int:
        new = flags & os.O_CREAT and not os.path.lexists(path)
        handle: int = self._real["open"](path, flags, *rest, **more)
        if flags & (os.O_WRONLY | os.O_RDWR):
            state = os.fstat(handle)
            self._files.setdefault((state.st_dev, state.st_ino), _File(os.fspath(path), 0 if new else state.st_size))
        return handle

    def _watched(self, name: str) -> Callable[..., Any]:
        real = self._real[name]

        def call(*values: Any, **more: Any) -> Any:
            self.count += 1
            if self.count == self.at:
                if name in ("write", "pwrite"):
                    handle, content, *rest = values
                    real(handle, content[: len(content) // 2], *rest)
                self._go(name)
            result = real(*values, **more)
            if name in ("fsync", "fdatasync"):
                state = os.fstat(values[0])
                if (known := self._files.get((state.st_dev, state.st_ino))) is not None:
                    known.synced = state.st_size
            elif name in ("replace", "rename"):
                self._moved(os.fspath(values[0]), os.fspath(values[1]))
            return result

        return call

    def _moved(self, old: str, new: str) -> None:
        for file in self._files.values():
            if file.path == old or file.path.startswith(f"{old}/"):
                file.path = new + file.path[len(old) :]

    def _go(self, name: str) -> None:
        for (_, inode), file in self._files.items():
            there = os.path.lexists(file.path) and os.lstat(file.path).st_ino == inode
            if there and os.lstat(file.path).st_size > file.synced:
                self._real["truncate"](file.path, file.synced)
        self._real["write"](self._told, name.encode())
        os._exit(_CUT)


def every_cut(start: Path, operation: Callable[[Path], object], *, most: int = 400) -> Iterator[Cut]:
    """Yield the state of the disk after each cut of an operation on a copy of the folder `start`."""
    for number in range(1, most + 1):
        folder = start.with_name(f"{start.name}-cut-{number}")
        shutil.copytree(start, folder, symlinks=True)
        call = _run(folder, operation, number)
        if call is None:
            shutil.rmtree(folder)
            return
        yield Cut(number, call, folder)
        shutil.rmtree(folder)
    raise AssertionError(f"the operation makes more than {most} calls")


def _run(folder: Path, operation: Callable[[Path], object], at: int) -> str | None:
    """Run an operation in a child whose power goes at a call; return that call, None if it was over before."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            os.close(read)
            _Power(at, write).install()
            operation(folder)
            code = 0
        finally:
            os._exit(code)
    os.close(write)
    told = os.read(read, 100).decode()
    os.close(read)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    if code == _CUT:
        return told
    assert code == 0, f"the operation failed by itself at call {at}"
    return None
