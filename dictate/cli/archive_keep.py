"""`dictate archive retention`, `tidy` and `purge`: how long things stay, and what goes."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from dictate.cli.archive_access import ArchiveUsage, exam_of, index_of, needed_data, open_vault
from dictate.errors import DictateError

if TYPE_CHECKING:
    from dictate.archive.tidy import Tidied


def set_retention(options: argparse.Namespace) -> None:
    """Set how long sound is kept, or tell. It is applied by `tidy`, and whenever a review or a live exam begins."""
    from dictate.archive.settings import MOST_DAYS, Retention, read_retention, write_retention

    data = needed_data(options, make=True)
    ways = options.sound_days is not None or options.sound_until_signed
    if options.keep and ways:
        raise ArchiveUsage("--keep goes with nothing else; give either it or a limit")
    if options.sound_days is not None and not 0 <= options.sound_days <= MOST_DAYS:
        raise ArchiveUsage(f"--sound-days takes a number of days from 0 to {MOST_DAYS}")
    if options.keep or ways:
        write_retention(data, Retention(sound_days=options.sound_days, sound_until_signed=options.sound_until_signed))
    kept = read_retention(data)
    limits = [f"for {kept.sound_days} days after the exam"] if kept.sound_days is not None else []
    limits += ["until the note is signed"] if kept.sound_until_signed else []
    print(f"sound is kept {' or '.join(limits) or 'until it is removed by hand'}")


def tidy_now(options: argparse.Namespace) -> int:
    """Remove the sound that was kept for long enough, and complete what was cut short."""
    from dictate.archive.tidy import tidy

    data = needed_data(options)
    done = tidy(data, vault=open_vault(data, needed=False))
    print(f"sound removed of {len(done.purged)} exams; {len(done.completed)} removals completed")
    if done.never_begun:
        print(f"{len(done.never_begun)} folders removed in which nothing was ever recorded")
    if done.sealed:
        print(f"{done.sealed} sealed exams were not looked at; give the passphrase", file=sys.stderr)
    for line in done.failed:
        print(f"dictate: {line}", file=sys.stderr)
    return 1 if done.failed else 0


def tidy_at_start(data: Path) -> Tidied | None:
    """Put the data folder in order before exams are reviewed or begun. What could not be tidied is told, and waits.

    Return what was done; None if nothing is kept, or it could not be looked at.

    Raises:
        ArchiveError: the folder cannot be used: it was written by a newer program, or belongs to someone else.
    """
    from dictate.archive.folder import open_data
    from dictate.archive.tidy import tidy

    if not open_data(data):
        return None
    try:
        done = tidy(data)
    except DictateError as error:
        print(f"dictate: {error}", file=sys.stderr)
        return None
    for line in done.failed:
        print(f"dictate: {line}", file=sys.stderr)
    return done


def purge_exam(options: argparse.Namespace) -> None:
    """Remove an exam for good, or only its sound. Backups and the cells of a solid-state disk may keep copies."""
    from dictate.archive.purge import purge_sound, remove_exam

    data = needed_data(options)
    exam = exam_of(data, options.exam)
    what = "its sound" if options.sound_only else "the whole exam, its note and its sound"
    if not options.yes:
        if not sys.stdin.isatty():
            raise ArchiveUsage(f"this removes {what} for good; say --yes to do it without being asked")
        if input(f"Remove {exam}: {what}, for good? Type yes: ").strip().casefold() != "yes":
            print("nothing was removed")
            return
    vault = open_vault(data, needed=options.sound_only)
    if options.sound_only:
        gone = purge_sound(data, exam, why=options.why or "by hand", vault=vault)
        print(f"{exam}: {len(gone) or 'no'} sound file{'' if len(gone) == 1 else 's'} removed")
    else:
        remove_exam(data, exam, why=options.why)
        print(f"{exam} was removed; that it was is written down")
    with index_of(data, vault) as index:
        index.update(exam)
