"""A data folder with its key at hand: sealing exams, opening them, and taking the seal away again.

Beside a file that is sealed there may be its plain form: while the exam is open, or after an accident. A plain file is
only ever there whole and is at least as new as the sealed one, so the plain one is always the truth.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from dictate.archive.disk import PART, locked, told, write_whole
from dictate.archive.errors import ArchiveError
from dictate.archive.index import INDEX_NAME, remove_index
from dictate.archive.keys import (
    SEALING_NAME,
    Cost,
    Sealing,
    forget_in_keyring,
    new_key,
    read_sealing,
    unwrap_by_keyring,
    unwrap_by_passphrase,
    wrap_by_keyring,
    wrap_by_passphrase,
    write_sealing,
)
from dictate.archive.removed import removed_exams
from dictate.archive.rows import SEALED, reading_of
from dictate.archive.stream import HEADER_BYTES, SealError, key_id_of, opened_blocks, sealed_blocks
from dictate.journal.exam import JOURNAL_NAME, ExamFolder, exam_ids, exams_folder, is_exam_id, sync_folder
from dictate.journal.replay import ending_of

RECORDING_S = 600.0  # an exam without an end, written to since, may be under way: it is left alone
_BLOCK = 1 << 18


@dataclass(frozen=True, slots=True)
class Sealed:
    """What sealing did. `left` are exams that may be under way, and stay plain."""

    exams: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


class Vault:
    """The data key of one folder. Opens and makes sealed files; see `unlock` and `begin_sealing`."""

    def __init__(self, data: Path, key: bytes, sealing: Sealing) -> None:
        self.data = data
        self.sealing = sealing
        self._key = key
        self._key_id = bytes.fromhex(sealing.key_id)

    # -- single files ------------------------------------------------------------------------------------------------

    def read(self, path: Path) -> bytes:
        """Return the content of a sealed file, in memory. Raises ArchiveError if it is not what was sealed."""
        return b"".join(self.blocks(path))

    def blocks(self, path: Path) -> Iterator[bytes]:
        """Yield the content of a sealed file. Raises ArchiveError."""
        with told(f"{path} cannot be read"), path.open("rb") as file:
            header = file.read(HEADER_BYTES)
            if key_id_of(header) != self._key_id:
                raise SealError(f"{path} was sealed with another key than that of this archive")
            file.seek(0)
            yield from opened_blocks(_blocks(file.read), self._key, name=name_of(path))

    def write(self, path: Path, content: bytes) -> None:
        """Write content to a sealed file, whole or not at all. Raises ArchiveError."""
        with told(f"{path} cannot be written"):
            write_whole(path, self._sealed((content,), name_of(path)))

    def _sealed(self, blocks: Iterable[bytes], name: str) -> Iterator[bytes]:
        return sealed_blocks(blocks, self._key, key_id=self._key_id, name=name)

    # -- one exam ----------------------------------------------------------------------------------------------------

    def seal_exam(self, folder: Path) -> None:
        """Seal what is plain of an exam. Cut short, it leaves both forms, and the next run completes it.

        Raises:
            ArchiveError: a file cannot be written, or does not open again; the plain one stays then.
        """
        _remove_parts(folder)
        journal = folder / JOURNAL_NAME
        if not journal.exists():
            self._seal_files(folder)
            return
        with told(f"{journal} cannot be sealed"), journal.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_EX)  # nobody appends to it any more: a journal that was unlinked says so
            self._seal_files(folder)

    def _seal_files(self, folder: Path) -> None:
        for plain in plain_files(folder):
            sealed = plain.with_name(plain.name + SEALED)
            with told(f"{plain} cannot be sealed"):
                digest = hashlib.sha256()
                with plain.open("rb") as file:
                    write_whole(sealed, self._sealed(_watched(_blocks(file.read), digest.update), name_of(plain)))
                again = hashlib.sha256()
                for block in self.blocks(sealed):
                    again.update(block)
                if again.digest() != digest.digest():
                    sealed.unlink()
                    raise ArchiveError(f"{plain} did not open again once sealed; it stays as it is: check the disk")
                plain.unlink()
                sync_folder(folder)

    def unseal_exam(self, folder: Path, *, journal_only: bool = False, keep_sealed: bool = False) -> None:
        """Make an exam's plain files, the journal last: it is plain only when all else is. Raises ArchiveError."""
        sealed = sealed_files(folder)
        for path in sealed:
            plain = path.with_name(path.name.removesuffix(SEALED))
            if journal_only and plain.name != JOURNAL_NAME:
                continue
            if not plain.exists():
                with told(f"{plain} cannot be made"):
                    write_whole(plain, self.blocks(path))
        if not keep_sealed:
            with told(f"{folder} cannot be unsealed"):
                for path in sealed:
                    if path.with_name(path.name.removesuffix(SEALED)).exists():
                        path.unlink()
                sync_folder(folder)

    @contextmanager
    def opened(self, exam: str, *, journal_only: bool = False) -> Iterator[ExamFolder]:
        """Give an exam in its plain form, and seal it again. An exam that was plain before stays so."""
        folder = exams_folder(self.data) / exam
        if not is_exam_id(exam) or not sealed_files(folder):
            yield ExamFolder.of(self.data, exam)
            return
        try:
            self.unseal_exam(folder, journal_only=journal_only, keep_sealed=True)
            yield ExamFolder.of(self.data, exam)
        finally:
            if folder.is_dir():
                self.close_exam(folder)

    def close_exam(self, folder: Path) -> None:
        """Seal what was opened: a file that did not change needs no more than its plain form removed."""
        for plain in plain_files(folder):
            sealed = plain.with_name(plain.name + SEALED)
            if plain.name != JOURNAL_NAME and sealed.exists() and self._same(plain, sealed):
                with told(f"{plain} cannot be removed"):
                    plain.unlink()
        self.seal_exam(folder)

    def _same(self, plain: Path, sealed: Path) -> bool:
        one, other = hashlib.sha256(), hashlib.sha256()
        with plain.open("rb") as file:
            for block in _blocks(file.read):
                one.update(block)
        for block in self.blocks(sealed):
            other.update(block)
        return one.digest() == other.digest()

    # -- all exams ---------------------------------------------------------------------------------------------------

    def seal_all(self) -> Sealed:
        """Seal every exam that is not under way, and remove the plain index. Raises ArchiveError."""
        sealed, left = [], []
        with locked(self.data):
            for exam in _exams(self.data):
                folder = exams_folder(self.data) / exam
                _remove_parts(folder)
                if not plain_files(folder):
                    continue
                if may_be_under_way(folder):
                    left.append(exam)
                    continue
                self.seal_exam(folder)
                sealed.append(exam)
            with told(f"the index of {self.data} cannot be removed"):
                remove_index(self.data)
        return Sealed(tuple(sealed), tuple(left))

    def unseal_all(self) -> list[str]:
        """Unseal every exam and end the sealing of this folder. Cut short, the next run completes it."""
        unsealed = []
        with locked(self.data):
            for exam in _exams(self.data):
                folder = exams_folder(self.data) / exam
                if sealed_files(folder):
                    self.unseal_exam(folder)
                    unsealed.append(exam)
            with told(f"{self.data} cannot be unsealed"):
                (self.data / (INDEX_NAME + SEALED)).unlink(missing_ok=True)
                (self.data / SEALING_NAME).unlink(missing_ok=True)
                sync_folder(self.data)
        if self.sealing.keyring is not None:
            forget_in_keyring(self.sealing.key_id)
        return unsealed

    def change_passphrase(self, passphrase: str, *, cost: Cost | None = None) -> None:
        """Wrap the key by another passphrase; the exams stay sealed with the same key. Raises PassphraseError."""
        way = wrap_by_passphrase(self._key, self._key_id, passphrase, cost=cost)
        self.sealing = self.sealing.model_copy(update={"passphrase": way})
        write_sealing(self.data / SEALING_NAME, self.sealing)


def begin_sealing(data: Path, *, passphrase: str | None, keyring: bool = False, cost: Cost | None = None) -> Vault:
    """Make the key of a folder that has none. Raises ArchiveError if it has one, or the passphrase cannot be used."""
    with locked(data):  # a second key in the place of the first would lose what that one sealed
        if read_sealing(data / SEALING_NAME) is not None:
            raise ArchiveError(f"{data} is sealed already; give its passphrase")
        key, key_id = new_key()
        sealing = Sealing(
            key_id=key_id.hex(),
            passphrase=wrap_by_passphrase(key, key_id, passphrase, cost=cost) if passphrase is not None else None,
            keyring=wrap_by_keyring(key, key_id) if keyring else None,
        )
        write_sealing(data / SEALING_NAME, sealing)
    return Vault(data, key, sealing)


def is_sealed(data: Path) -> bool:
    """Whether a data folder has a key. Raises ArchiveError if that cannot be told."""
    return read_sealing(data / SEALING_NAME) is not None


def unlock(data: Path, passphrase: Callable[[], str | None]) -> Vault | None:
    """Return the vault of a sealed folder; None if it is not sealed, or nobody gave a passphrase.

    Args:
        data: the data folder.
        passphrase: asked only if the system's keyring does not have the key.

    Raises:
        PassphraseError: it is not the passphrase.
        ArchiveError: the file of the key cannot be used.
    """
    sealing = read_sealing(data / SEALING_NAME)
    if sealing is None:
        return None
    key = unwrap_by_keyring(sealing)
    if key is None:
        typed = passphrase()
        if typed is None:
            return None
        key = unwrap_by_passphrase(sealing, typed)
    return Vault(data, key, sealing)


def may_be_under_way(folder: Path) -> bool:
    """Whether an exam has no end and was written to in the last minutes."""
    reading = reading_of(folder)
    if reading is None or ending_of(reading.events) is not None:
        return False
    if reading.events and reading.events[0].kind == "opened" and reading.events[0].source == "text":
        return False
    newest = max((path.lstat().st_mtime for path in folder.iterdir()), default=0.0)
    return time.time() - newest < RECORDING_S


def plain_files(folder: Path) -> list[Path]:
    """Return the plain files of an exam that are to be sealed, the journal last."""
    return _files(folder, sealed=False)


def sealed_files(folder: Path) -> list[Path]:
    """Return the sealed files of an exam, the journal last."""
    return _files(folder, sealed=True)


def name_of(path: Path) -> str:
    """Return the name that a file is sealed under: with its exam's id, wherever the data folder lies."""
    name = path.name.removesuffix(SEALED)
    return f"{path.parent.name}/{name}" if is_exam_id(path.parent.name) else name


def _files(folder: Path, *, sealed: bool) -> list[Path]:
    if not folder.is_dir() or folder.is_symlink():
        return []
    own = [path for path in folder.iterdir() if path.is_file() and not path.is_symlink() and path.name[0] != "."]
    chosen = [path for path in own if path.name.endswith(SEALED) == sealed]
    return sorted(chosen, key=lambda path: (path.name.removesuffix(SEALED) == JOURNAL_NAME, path.name))


def _remove_parts(folder: Path) -> None:
    """Remove what is left of files whose writing was cut short: some of them may be plain."""
    with told(f"{folder} cannot be put in order"):
        for left in folder.glob(f".*{PART}*"):
            left.unlink()


def _exams(data: Path) -> list[str]:
    gone = removed_exams(data)
    return [exam for exam in exam_ids(data) if exam not in gone and not (exams_folder(data) / exam).is_symlink()]


def _blocks(read: Callable[[int], bytes]) -> Iterator[bytes]:
    while block := read(_BLOCK):
        yield block


def _watched(blocks: Iterable[bytes], watch: Callable[[bytes], object]) -> Iterator[bytes]:
    for block in blocks:
        watch(block)
        yield block


def passphrase_file(path: Path) -> str:
    """Return the passphrase in a file, its first line. Raises ArchiveError if others can read it, or it is none."""
    with told(f"{path} cannot be read"):
        state = path.stat()
        if state.st_mode & 0o077 or state.st_uid not in (0, os.geteuid()):
            raise ArchiveError(f"{path} can be read by others; make it yours alone (chmod 600), then try again")
        lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    if not lines or not lines[0]:
        raise ArchiveError(f"{path} is empty; write the passphrase into its first line")
    return lines[0]
