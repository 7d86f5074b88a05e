"""How the commands of `dictate archive` reach what is kept: the data folder, an exam in it, the vault, passphrases."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dictate.errors import DictateError

if TYPE_CHECKING:
    from dictate.archive.index import Index
    from dictate.archive.vault import Vault

PASSPHRASE_VARIABLE = "DICTATE_PASSPHRASE_FILE"  # noqa: S105  the environment variable's name
SHOWN = 50  # exams, unless all are asked for


class ArchiveUsage(DictateError):
    """Options that do not go together, or something that only a person at a terminal can say."""


def data_of(options: argparse.Namespace, *, make: bool = False) -> Path | None:
    """Return the data folder, put in order; None if there is none."""
    from dictate.archive.folder import open_data
    from dictate.data_folder import data_folder

    data = data_folder(options.data)
    return data if open_data(data, make=make) else None


def needed_data(options: argparse.Namespace, *, make: bool = False) -> Path:
    """Return the data folder, put in order. Raises ArchiveUsage if there is none."""
    data = data_of(options, make=make)
    if data is None:
        raise ArchiveUsage("no exam is kept yet; name another data folder with --data, or record one first")
    return data


def exam_of(data: Path, exam: str) -> str:
    """Return the id of an exam that is kept, open or sealed. Raises ArchiveUsage if there is no such exam."""
    from dictate.journal.exam import exams_folder, is_exam_id

    if not is_exam_id(exam) or not os.path.lexists(exams_folder(data) / exam):
        raise ArchiveUsage(f"there is no exam {exam[:60]!r} in {data}; `dictate archive list` shows what there is")
    return exam


def index_of(data: Path, vault: Vault | None) -> Index:
    """Return the index, read with what was learned on this machine."""
    from dictate.archive.index import Index
    from dictate.data_folder import chosen_lexicon

    return Index(data, opener=vault, lexicon_dir=chosen_lexicon(None, data=data))  # as the review page reads them


def is_sealed(folder: Path) -> bool:
    """Return whether an exam's folder holds sealed files."""
    from dictate.archive.vault import sealed_files

    return bool(sealed_files(folder))


def opened(data: Path, exam: str, vault: Vault | None, *, journal_only: bool) -> Any:
    """Return a context that gives an exam in its plain form."""
    from contextlib import nullcontext

    from dictate.journal.exam import ExamFolder

    exam = exam_of(data, exam)
    return vault.opened(exam, journal_only=journal_only) if vault else nullcontext(ExamFolder.of(data, exam))


def open_vault(data: Path, *, needed: bool) -> Vault | None:
    """Return the vault of a sealed archive. `needed`: say so where nobody gives a passphrase."""
    from dictate.archive.vault import unlock

    def passphrase() -> str | None:
        typed = typed_passphrase("Passphrase: ")
        if typed is None and needed:
            raise ArchiveUsage(
                f"the exams are sealed; give the passphrase at a terminal, or name a file with it in "
                f"${PASSPHRASE_VARIABLE}"
            )
        return typed

    return unlock(data, passphrase)


def typed_passphrase(asked: str) -> str | None:
    """Return a passphrase from the file that the environment names, else from the terminal; None without either."""
    from dictate.archive.vault import passphrase_file

    named = os.environ.get(PASSPHRASE_VARIABLE)
    if named:
        return passphrase_file(Path(named))
    return (getpass.getpass(asked) or None) if sys.stdin.isatty() else None


def new_passphrase(asked: str) -> str:
    """Return a passphrase for later use; at a terminal it is asked for twice. Raises ArchiveUsage without one."""
    typed = typed_passphrase(f"{asked}: ")
    if typed is None:
        raise ArchiveUsage(f"give a passphrase at a terminal, or name a file with it in ${PASSPHRASE_VARIABLE}")
    if not os.environ.get(PASSPHRASE_VARIABLE) and getpass.getpass("The same again: ") != typed:
        raise ArchiveUsage("the two are not the same; nothing was changed")
    return typed


def exams_are(number: int) -> str:
    """Return the number as the beginning of a sentence."""
    return "1 exam is" if number == 1 else f"{number} exams are"


def exams_were(number: int) -> str:
    """Return the number as the beginning of a sentence about the past."""
    return "1 exam was" if number == 1 else f"{number} exams were"
