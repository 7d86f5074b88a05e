"""`dictate archive seal`, `unseal`, `export` and `import`: exams in another form or another place."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from dictate.cli.archive_access import (
    ArchiveUsage,
    exam_of,
    exams_were,
    index_of,
    needed_data,
    new_passphrase,
    open_vault,
    typed_passphrase,
)


def seal_exams(options: argparse.Namespace) -> None:
    """Encrypt all exams, their sound and the index. Without passphrase or keyring nothing opens them again."""
    from dictate.archive.vault import begin_sealing, is_sealed

    data = needed_data(options, make=True)
    if not is_sealed(data):
        typed = None if options.keyring else new_passphrase("Passphrase for the exams")
        vault = begin_sealing(data, passphrase=typed, keyring=options.keyring)
    else:
        opened = open_vault(data, needed=True)
        if opened is None:
            raise ArchiveUsage("the archive is sealed; give its passphrase")
        vault = opened
        if options.new_passphrase:
            vault.change_passphrase(new_passphrase("New passphrase for the exams"))
            print("the passphrase is changed")
    done = vault.seal_all()
    print(f"{exams_were(len(done.exams))} sealed")
    for exam in done.left:
        print(f"{exam} may be under way and is NOT sealed; end it, then seal again", file=sys.stderr)


def unseal_exams(options: argparse.Namespace) -> None:
    """Decrypt one exam to work on it, until the next `seal`; or all of them, for good."""
    from dictate.archive.vault import is_sealed
    from dictate.journal.exam import exams_folder

    data = needed_data(options)
    if not is_sealed(data):
        print("nothing is sealed here")
        return
    vault = open_vault(data, needed=True)
    if vault is None:
        raise ArchiveUsage("the archive is sealed; give its passphrase")
    if options.exam:
        vault.unseal_exam(exams_folder(data) / exam_of(data, options.exam))
        print(f"{options.exam} is plain on the disk until `dictate archive seal`")
    else:
        print(f"{exams_were(len(vault.unseal_all()))} unsealed; nothing is sealed any more")


def export_exams(options: argparse.Namespace) -> None:
    """Write exams to one file with checksums, whole or not at all. Sealed exams stay sealed in it."""
    from dictate.archive.backup import export_archive

    data = needed_data(options)
    typed = new_passphrase("Passphrase for the backup") if options.sealed else None
    done = export_archive(data, Path(options.file), exams=options.exams or None, passphrase=typed)
    print(f"{done.exams} exams, {done.files} files, {done.size / 1e6:.1f} MB written to {options.file}")


def import_exams(options: argparse.Namespace) -> None:
    """Take exams from a backup: all of it, or, if anything is amiss, nothing. No exam is ever overwritten."""
    from dictate.archive.restore import import_archive

    data = needed_data(options, make=True)
    vault = open_vault(data, needed=False)
    done = import_archive(
        data, Path(options.file), exams=options.exams or None, extend=options.extend, again=options.again,
        passphrase=lambda: typed_passphrase("Passphrase of the backup: "), decrypter=vault,
    )  # fmt: skip
    with index_of(data, vault) as index:
        index.refresh()
    print(
        f"{len(done.new)} exams taken, {len(done.extended)} extended, {len(done.same)} were here already, "
        f"{len(done.older)} go further here"
    )
