"""Taking exams from a backup: read into a folder aside, checked, and then taken in whole.

The folder aside is given a name of its own once everything in it is checked and on disk; that is the moment from which
on the exams are taken in, and a start after a power cut goes on with it. No exam that is kept is ever overwritten.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import secrets
import tarfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, Literal, Protocol

from pydantic import ValidationError

from dictate.archive.backup import (
    BACKUP_FORMAT,
    BACKUP_NAME,
    HEAD_MAGIC,
    MANIFEST_NAME,
    FileRecord,
    Manifest,
    split_name,
)
from dictate.archive.disk import PART, locked, remove_tree, told, write_all
from dictate.archive.errors import ArchiveError
from dictate.archive.keys import SEALING_NAME, PassphraseError, Sealing, read_sealing, unwrap_by_passphrase
from dictate.archive.removed import Record, record_removals, removed_exams
from dictate.archive.rows import SEALED, purged_files
from dictate.archive.stream import SealError, opened_blocks
from dictate.journal.exam import JOURNAL_NAME, exams_folder, is_exam_id, sync_folder
from dictate.journal.journal import parse_journal

READY_NAME = "incoming.ready"
_BLOCK = 1 << 18
_LONGEST_HEAD = 4096
_LONGEST_MANIFEST = 64 << 20

Compared = Literal["new", "same", "older", "longer"]


class Decrypter(Protocol):
    """What opens sealed files: see `dictate.archive.vault`."""

    def read(self, path: Path) -> bytes:
        """Return the content of a sealed file."""


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of the exams of a backup. `older` are kept as they are: what is kept goes further."""

    new: tuple[str, ...] = ()
    extended: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    older: tuple[str, ...] = ()


@dataclass
class _Incoming:
    """A backup that was read into a folder aside."""

    folder: Path
    files: dict[str, FileRecord] = field(default_factory=dict)
    manifest: Manifest | None = None


def import_archive(
    data: Path, source: Path, *, exams: Sequence[str] | None = None, extend: bool = False, again: bool = False,
    passphrase: Callable[[], str | None] = lambda: None, decrypter: Decrypter | None = None,
) -> Imported:  # fmt: skip
    """Take exams from a backup into the data folder: all of them, or, if anything is amiss, none.

    Args:
        data: the data folder, opened.
        source: the backup.
        exams: only these.
        extend: append what a backup knows further of an exam that is kept, and put back sound that is missing.
        again: take also exams that were removed here since.
        passphrase: of the backup, asked only if it is sealed as a whole.
        decrypter: opens sealed exams of this folder, to compare them.

    Raises:
        ArchiveError: the backup is damaged, or holds what would overwrite or contradict what is kept.
    """
    with locked(data):
        aside = data / f".incoming{PART}{secrets.token_hex(4)}"
        try:
            with told(f"{source} cannot be taken in"):
                aside.mkdir(mode=0o700)
                incoming = _read(source, aside, passphrase)
            _check(incoming, source)
            chosen = _chosen(incoming, exams, source)
            compared = {exam: _compare(data, incoming, exam, decrypter) for exam in chosen}
            _refuse(data, compared, extend=extend, again=again)
            taken = [exam for exam, how in compared.items() if how == "new" or (how == "longer" and extend)]
            with told(f"{source} cannot be taken in"):
                _keep_only(incoming, taken, data)
                if taken:
                    restored = [exam for exam in taken if exam in removed_exams(data)]
                    if restored:
                        record_removals(data, [Record(kind="restored", exam=exam) for exam in restored])
                    os.rename(aside, data / READY_NAME)  # noqa: PTH104  as in `disk`
                    sync_folder(data)
                    complete_import(data)
        finally:
            if aside.exists():
                remove_tree(aside)

    def those(how: Compared) -> tuple[str, ...]:
        return tuple(exam for exam, was in compared.items() if was == how)

    return Imported(those("new"), those("longer"), those("same"), those("older"))


def complete_import(data: Path) -> None:
    """Take in what is ready: each step may have been done before. The lock is held. Raises OSError, ArchiveError."""
    ready = data / READY_NAME
    if not ready.is_dir() or ready.is_symlink():
        return
    key = ready / SEALING_NAME
    if key.exists():
        if not (data / SEALING_NAME).exists():
            os.rename(key, data / SEALING_NAME)  # noqa: PTH104
            sync_folder(data)
        else:
            key.unlink()
    for folder in sorted(ready.iterdir()):
        kept = exams_folder(data) / folder.name
        if not is_exam_id(folder.name):
            continue
        if not kept.exists():
            os.rename(folder, kept)  # noqa: PTH104
            sync_folder(kept.parent)
        else:
            _extend(kept, folder)
    remove_tree(ready)
    sync_folder(data)


def _extend(kept: Path, folder: Path) -> None:
    """Add to a kept exam what a backup has further. Sound first: the journal names it. Done twice, it is the same."""
    for path in sorted(folder.iterdir(), key=lambda path: path.name == JOURNAL_NAME):
        own = kept / path.name
        if path.name == JOURNAL_NAME:
            _append_rest(own, path.read_bytes())
        elif not own.exists() or own.lstat().st_size < path.lstat().st_size:
            os.replace(path, own)  # noqa: PTH105
            sync_folder(kept)


def _append_rest(path: Path, content: bytes) -> None:
    handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        own = os.pread(handle, os.fstat(handle).st_size, 0)
        if content.startswith(own):
            write_all(handle, content[len(own) :])
            os.fsync(handle)
    finally:
        os.close(handle)


# -- reading ---------------------------------------------------------------------------------------------------------


def _read(source: Path, folder: Path, passphrase: Callable[[], str | None]) -> _Incoming:
    """Read a backup into a folder aside. Nothing in it can lead out of that folder."""
    incoming = _Incoming(folder)
    with source.open("rb") as file:
        blocks = _Stream(_content(file, passphrase))
        stream: Any = blocks  # tarfile needs no more of a file than its `read`
        try:
            with tarfile.open(fileobj=stream, mode="r|") as tar:
                for member in tar:
                    _take(tar, member, incoming)
            for _ in blocks.rest():  # so that the end of a sealed backup is checked as well
                pass
        except (tarfile.TarError, EOFError, UnicodeError, SealError) as error:
            raise ArchiveError(f"{source} is no backup, or cut off or damaged ({error}); nothing was taken") from error
    return incoming


def _take(tar: tarfile.TarFile, member: tarfile.TarInfo, incoming: _Incoming) -> None:
    if member.isdir() and member.name.strip("/") in ("", "."):
        return
    if hasattr(tarfile, "data_filter"):  # Python 3.11.4; what follows is stricter, and raises a TarError as it does
        tarfile.data_filter(member, str(incoming.folder))
    place = split_name(member.name)
    if not member.isreg() or (place is None and member.name not in (MANIFEST_NAME, SEALING_NAME)):
        raise tarfile.TarError(f"it holds {member.name[:80]!r}, which no backup does")
    if member.name in incoming.files or (member.name == MANIFEST_NAME and incoming.manifest is not None):
        raise tarfile.TarError(f"it holds {member.name[:80]!r} twice")
    content = tar.extractfile(member)
    if content is None:
        raise tarfile.TarError(f"{member.name[:80]!r} has no content")
    if member.name == MANIFEST_NAME:
        incoming.manifest = _manifest(content.read(_LONGEST_MANIFEST))
        return
    target = incoming.folder / (f"{place[0]}/{place[1]}" if place else SEALING_NAME)
    if not target.parent.exists():
        target.parent.mkdir(mode=0o700)
    digest, size = hashlib.sha256(), 0
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    try:
        while block := content.read(_BLOCK):
            write_all(handle, block)
            digest.update(block)
            size += len(block)
        os.fsync(handle)
    finally:
        os.close(handle)
    incoming.files[member.name] = FileRecord(name=member.name, size=size, sha256=digest.hexdigest())


def _manifest(content: bytes) -> Manifest:
    try:
        return Manifest.model_validate_json(content)
    except ValidationError as error:
        raise tarfile.TarError("its manifest cannot be read") from error


def _content(file: BinaryIO, passphrase: Callable[[], str | None]) -> Iterator[bytes]:
    """Yield the tar of a backup, opened if it is sealed as a whole."""
    head = file.read(len(HEAD_MAGIC))
    if head != HEAD_MAGIC:
        yield head
        while block := file.read(_BLOCK):
            yield block
        return
    try:
        sealing = Sealing.model_validate_json(file.readline(_LONGEST_HEAD))
    except ValidationError as error:
        raise SealError("its beginning cannot be read") from error
    typed = passphrase()
    if typed is None:
        raise PassphraseError("the backup is sealed; give its passphrase: nothing was taken")
    key = unwrap_by_passphrase(sealing, typed)
    yield from opened_blocks(iter(lambda: file.read(_BLOCK), b""), key, name=BACKUP_NAME)


class _Stream:
    """Blocks as a file to read from."""

    def __init__(self, blocks: Iterator[bytes]) -> None:
        self._blocks = blocks
        self._held = b""

    def read(self, size: int) -> bytes:
        """Return so many bytes, fewer only at the end."""
        parts, there = [self._held], len(self._held)
        while there < size and (block := next(self._blocks, b"")):
            parts.append(block)
            there += len(block)
        content = b"".join(parts)
        self._held = content[size:]
        return content[:size]

    def rest(self) -> Iterator[bytes]:
        """Yield what is left."""
        yield self._held
        yield from self._blocks


# -- checking --------------------------------------------------------------------------------------------------------


def _check(incoming: _Incoming, source: Path) -> None:
    """Raise ArchiveError unless the files are those that the manifest names, each with its checksum."""
    manifest = incoming.manifest
    if manifest is None:
        raise ArchiveError(f"{source} is no backup, or it is cut off: its manifest is missing; nothing was taken")
    if manifest.format > BACKUP_FORMAT:
        raise ArchiveError(f"{source} was written by a newer program; update this one: nothing was taken")
    wanted = {record.name: record for record in manifest.files}
    if wanted != incoming.files:
        files = incoming.files
        amiss = min(name for name in wanted.keys() | files.keys() if wanted.get(name) != files.get(name))
        raise ArchiveError(f"{source} is damaged: {amiss[:80]} is not what its manifest says; nothing was taken")


def _chosen(incoming: _Incoming, exams: Sequence[str] | None, source: Path) -> list[str]:
    there = sorted({place[0] for name in incoming.files if (place := split_name(name))})
    for exam in exams or ():
        if exam not in there:
            raise ArchiveError(f"{source} holds no exam {exam[:60]!r}; nothing was taken")
    return there if exams is None else [exam for exam in there if exam in set(exams)]


def _compare(data: Path, incoming: _Incoming, exam: str, decrypter: Decrypter | None) -> Compared:
    """Tell how an exam of a backup stands to the one that is kept. Raises ArchiveError if they contradict."""
    kept = exams_folder(data) / exam
    if exam in removed_exams(data) or not os.path.lexists(kept):
        return "new"
    if _same_sealed(kept, incoming.folder / exam):
        return "same"
    own, other = _journal(kept, decrypter), _journal(incoming.folder / exam, decrypter)
    own = own[: own.rfind(b"\n") + 1]
    if own == other:
        return "longer" if _missing_sound(kept, incoming.folder / exam, own) else "same"
    if other.startswith(own):
        return "longer"
    if own.startswith(other):
        return "older"
    raise ArchiveError(
        f"{exam} is kept here and went on in another way than in the backup; neither is overwritten: name the exams to "
        "take, without it; nothing was taken"
    )


def _same_sealed(kept: Path, other: Path) -> bool:
    one, two = kept / (JOURNAL_NAME + SEALED), other / (JOURNAL_NAME + SEALED)
    plain = (kept / JOURNAL_NAME).exists()
    return not plain and one.is_file() and two.is_file() and one.read_bytes() == two.read_bytes()


def _journal(folder: Path, decrypter: Decrypter | None) -> bytes:
    plain, sealed = folder / JOURNAL_NAME, folder / (JOURNAL_NAME + SEALED)
    with told(f"the journal of {folder.name} cannot be read"):
        if plain.is_file():
            return plain.read_bytes()
        if not sealed.is_file():
            raise ArchiveError(f"{folder.name} has no journal; nothing was taken")
    if decrypter is None:
        raise ArchiveError(f"{folder.name} is sealed; give the passphrase to compare it: nothing was taken")
    return decrypter.read(sealed)


def _missing_sound(kept: Path, other: Path, journal: bytes) -> bool:
    purged = purged_files(parse_journal(journal).events)
    names = {path.name for path in other.iterdir() if path.name.startswith("sound-")} - purged
    return any(not (kept / name).exists() and not (kept / (name + SEALED)).exists() for name in names)


def _refuse(data: Path, compared: dict[str, Compared], *, extend: bool, again: bool) -> None:
    """Raise ArchiveError where a person has to say first that it is meant."""
    removed = removed_exams(data)
    back = [exam for exam in compared if exam in removed]
    if back and not again:
        raise ArchiveError(
            f"{back[0]}{f' and {len(back) - 1} more' if len(back) > 1 else ''} was removed here on "
            f"{removed[back[0]]:%Y-%m-%d}; to bring it back, say --again: nothing was taken"
        )
    longer = [exam for exam, how in compared.items() if how == "longer"]
    if longer and not extend:
        raise ArchiveError(
            f"{longer[0]}{f' and {len(longer) - 1} more' if len(longer) > 1 else ''} goes further in the backup than "
            "here; to append what is missing, say --extend: nothing was taken"
        )


def _keep_only(incoming: _Incoming, taken: Sequence[str], data: Path) -> None:
    """Leave in the folder aside what is to be taken in, all of it on disk."""
    key = incoming.folder / SEALING_NAME
    sealed = False
    for folder in list(incoming.folder.iterdir()):
        if not folder.is_dir():
            continue
        if folder.name not in taken:
            remove_tree(folder)
            continue
        sealed = sealed or any(path.name.endswith(SEALED) for path in folder.iterdir())
        kept = exams_folder(data) / folder.name
        if kept.exists():
            if sealed or any(path.name.endswith(SEALED) for path in kept.iterdir()):
                raise ArchiveError(f"{folder.name} is sealed; unseal it to append to it: nothing was taken")
            purged = purged_files(parse_journal((folder / JOURNAL_NAME).read_bytes()).events)
            for name in purged:
                (folder / name).unlink(missing_ok=True)
        sync_folder(folder)
    own = read_sealing(data / SEALING_NAME)
    if sealed:
        theirs = read_sealing(key)
        if theirs is None:
            raise ArchiveError("the backup holds sealed exams without their key; nothing was taken")
        if own is not None and own.key_id != theirs.key_id:
            raise ArchiveError(
                "the backup was sealed with another key than this archive; unseal the one it came from, and export "
                "again: nothing was taken"
            )
    if key.exists() and (not sealed or own is not None):
        key.unlink()
    sync_folder(incoming.folder)
