"""Writing exams to one file: a tar, each file as it lies in the data folder, and at its end what each must be."""

from __future__ import annotations

import hashlib
import io
import os
import secrets
import tarfile
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from dictate.archive.disk import PART, locked, told, write_all
from dictate.archive.errors import ArchiveError
from dictate.archive.keys import SEALING_NAME, Cost, Sealing, new_key, wrap_by_passphrase
from dictate.archive.removed import removed_exams
from dictate.archive.rows import SEALED
from dictate.archive.stream import Sealer
from dictate.journal.exam import JOURNAL_NAME, exam_ids, exams_folder, is_exam_id, sync_folder

BACKUP_FORMAT = 1
MANIFEST_NAME = "manifest.json"
BACKUP_NAME = "backup"  # what a sealed backup is sealed under
HEAD_MAGIC = b"dictate sealed backup\n"  # then the wrapped key as one line of JSON, then the sealed tar
_BLOCK = 1 << 18


class FileRecord(BaseModel):
    """What a file of the backup must be."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str
    size: int = Field(ge=0)
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")


class Manifest(BaseModel):
    """What a backup holds; its last member, so that a backup that was cut off has none."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    format: int = BACKUP_FORMAT
    program: str
    files: list[FileRecord]


@dataclass(frozen=True, slots=True)
class Exported:
    """What a backup was made of."""

    exams: int
    files: int
    size: int  # bytes of the exams' files


def export_archive(
    data: Path, target: Path, *, exams: Sequence[str] | None = None, passphrase: str | None = None,
    cost: Cost | None = None,
) -> Exported:  # fmt: skip
    """Write exams to one file, whole or not at all; a file of that name is replaced. Sealed exams stay sealed in it.

    Args:
        data: the data folder.
        target: the file to write.
        exams: their ids; else all.
        passphrase: seals the whole file, beside what is sealed already.
        cost: of guessing it.

    Raises:
        ArchiveError: an exam is not there, or the file cannot be written.
    """
    from dictate import __version__

    with locked(data):
        gone = removed_exams(data)
        there = [exam for exam in exam_ids(data) if exam not in gone]
        chosen = there if exams is None else list(dict.fromkeys(exams))
        for exam in chosen:
            if exam not in there:
                raise ArchiveError(f"there is no exam {exam[:60]!r} in {data}; nothing was written")
        files = [path for exam in chosen for path in _files_of(exams_folder(data) / exam)]
        if any(path.name.endswith(SEALED) for path in files):
            files.insert(0, data / SEALING_NAME)
        with told(f"{target} cannot be written"), _Output(target, passphrase=passphrase, cost=cost) as output:
            records = []
            stream: Any = output  # tarfile needs no more of a file than its `write`
            with tarfile.open(fileobj=stream, mode="w|", format=tarfile.PAX_FORMAT) as tar:
                for path in files:
                    name = path.relative_to(data).as_posix()
                    records.append(_add(tar, path, name))
                manifest = Manifest(program=__version__, files=records).model_dump_json(indent=1).encode()
                tar.addfile(_member(MANIFEST_NAME, len(manifest)), io.BytesIO(manifest))
            output.commit()
    return Exported(len(chosen), len(records), sum(record.size for record in records))


def is_backup_file_of_exam(name: str) -> bool:
    """Whether a file of an exam belongs into a backup, by its name: the journal, sound, and torn ends set aside."""
    plain = name.removesuffix(SEALED)
    if plain == JOURNAL_NAME:
        return True
    stem, dot, end = plain.partition(".")
    if stem.startswith("sound-") and (dot, end) == (".", "wav"):
        return stem[6:].isascii() and stem[6:].isdigit() and 3 <= len(stem[6:]) <= 6
    torn = plain.removeprefix(f"{JOURNAL_NAME}.torn-")
    return torn != plain and torn.isascii() and torn.isdigit() and len(torn) <= 6


def _files_of(folder: Path) -> list[Path]:
    """Return the files of an exam; of one that is there plain and sealed the plain one, which is the truth."""
    own = [path for path in folder.iterdir() if is_backup_file_of_exam(path.name)]
    for path in own:
        if path.is_symlink() or not path.is_file():
            raise ArchiveError(f"{path} is a link or no plain file; take it away: nothing was written")
    names = {path.name for path in own}
    return sorted(path for path in own if not path.name.endswith(SEALED) or path.name[: -len(SEALED)] not in names)


def _add(tar: tarfile.TarFile, path: Path, name: str) -> FileRecord:
    """Add a file as it is now: what is appended while it is read comes into the next backup."""
    with path.open("rb") as file:
        size = os.fstat(file.fileno()).st_size
        if path.name == JOURNAL_NAME:
            size = _whole_lines(file.read(size))
            file.seek(0)
        digest = hashlib.sha256()
        tar.addfile(_member(name, size), _Hashed(file.read, digest.update))
    return FileRecord(name=name, size=size, sha256=digest.hexdigest())


def _whole_lines(content: bytes) -> int:
    return content.rfind(b"\n") + 1


def _member(name: str, size: int) -> tarfile.TarInfo:
    member = tarfile.TarInfo(name)
    member.size = size
    member.mode = 0o600  # no owner, no time: a backup tells no more than it must
    return member


class _Hashed(io.RawIOBase):
    """A file that is read through a digest."""

    def __init__(self, read: Callable[[int], bytes], watch: Callable[[bytes], object]) -> None:
        self._read, self._watch = read, watch

    def read(self, size: int = -1, /) -> bytes:
        content = self._read(size)
        self._watch(content)
        return content


class _Output:
    """The file under way: written aside, and given its name only by `commit`."""

    def __init__(self, target: Path, *, passphrase: str | None, cost: Cost | None) -> None:
        self._target = target
        self._aside = target.with_name(f".{target.name}{PART}{secrets.token_hex(4)}")
        self._sealer: Sealer | None = None
        head = b""
        if passphrase is not None:
            key, key_id = new_key()
            way = wrap_by_passphrase(key, key_id, passphrase, cost=cost)
            head = HEAD_MAGIC + Sealing(key_id=key_id.hex(), passphrase=way).model_dump_json().encode() + b"\n"
            self._sealer = Sealer(key, key_id=key_id, name=BACKUP_NAME)
        for left in target.parent.glob(f".{target.name}{PART}*"):  # of an export that was cut short
            left.unlink()
        self._handle = os.open(self._aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        write_all(self._handle, head)

    def __enter__(self) -> _Output:
        return self

    def write(self, content: bytes) -> int:
        """Take bytes of the tar."""
        write_all(self._handle, self._sealer.update(content) if self._sealer else content)
        return len(content)

    def commit(self) -> None:
        """Finish the file, bring it to the disk, and give it its name."""
        if self._sealer:
            write_all(self._handle, self._sealer.finish())
        os.fsync(self._handle)
        os.replace(self._aside, self._target)  # noqa: PTH105  as in `disk`
        sync_folder(self._target.absolute().parent)

    def __exit__(self, *_: object) -> None:
        os.close(self._handle)
        with suppress(OSError):
            self._aside.unlink()  # there only if it was not committed


def split_name(name: str) -> tuple[str, str] | None:
    """Return exam and file of a member's name; None if it is none that a backup has."""
    parts = name.split("/")
    if len(parts) == 3 and parts[0] == "exams" and is_exam_id(parts[1]) and is_backup_file_of_exam(parts[2]):
        return parts[1], parts[2]
    return None
