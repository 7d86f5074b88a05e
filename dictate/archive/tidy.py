"""What is done at a start: sound that has been kept for long enough is removed, and what was cut short is completed.

It reads no note and no lexicon, so that a start does not wait for it: the index tells of what did not change, the
journals of the rest, once. What is removed is always decided by the journal.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dictate.archive.errors import ArchiveError
from dictate.archive.folder import open_data, remove_never_begun
from dictate.archive.index import READ_AT_ONCE, Index
from dictate.archive.look import journals_that_differ
from dictate.archive.purge import complete_purge, purge_sound
from dictate.archive.rows import ExamRow, facts_of, reading_of
from dictate.archive.settings import Retention, read_retention
from dictate.archive.vault import Vault
from dictate.errors import DictateError
from dictate.journal.exam import exams_folder


@dataclass(frozen=True, slots=True)
class Tidied:
    """What was done. `sealed` counts exams that could not be looked at; `failed` are told as plain lines."""

    purged: tuple[str, ...] = ()  # exams whose sound was kept for long enough
    completed: tuple[str, ...] = ()  # exams whose removal of sound had been cut short
    never_begun: tuple[str, ...] = ()  # folders in which nothing was ever recorded
    sealed: int = 0
    failed: tuple[str, ...] = ()
    unfinished: tuple[str, ...] = ()  # exams that may not have ended, the newest first: damaged ones too


def tidy(data: Path, *, vault: Vault | None = None, now: datetime | None = None) -> Tidied:
    """Apply the retention that is set, and complete what a power cut left. Nothing is removed of an unfinished exam.

    Args:
        data: the data folder; nothing happens where there is none.
        vault: to reach sealed exams.
        now: the time of day; else this machine's.

    Raises:
        ArchiveError: the folder or its settings cannot be used.
    """
    if not open_data(data):
        return Tidied()
    retention = read_retention(data)
    moment = now or datetime.now(UTC)
    decrypt = vault.read if vault else None
    with Index(data, opener=vault, lexicon="") as index:  # it reads no note
        look = journals_that_differ(data, index.known(any_lexicon=True))
        same = set(look.exams).difference(look.differ)
        rows: list[tuple[ExamRow, bool]] = list(index.current(same))
        for start in range(0, len(look.differ), READ_AT_ONCE):
            some = look.differ[start : start + READ_AT_ONCE]
            fresh = [facts_of(exams_folder(data) / exam, decrypt=decrypt) for exam in some]
            index.put_facts(fresh)  # or an archive that is never searched would be read whole at every start
            rows += [(facts.row, facts.purging) for facts in fresh]
        purged, completed, failed = [], [], []
        for row, purging in rows:
            try:
                if purging:
                    _complete(data, row.exam, vault)
                    index.purge_completed(row.exam)
                    completed.append(row.exam)
                if row.sound and is_due(row, retention, moment):
                    now_is = facts_of(exams_folder(data) / row.exam, decrypt=decrypt).row
                    if is_due(now_is, retention, moment):
                        purge_sound(data, row.exam, why=_why(retention, now_is), vault=vault)
                        purged.append(row.exam)
            except DictateError as error:
                failed.append(str(error))
    never = remove_never_begun(data, [row.exam for row, _ in rows if row.damaged])
    sealed = sum(row.sealed for row, _ in rows)
    unfinished = sorted((row.exam for row, _ in rows if row.state == "unfinished" and not row.sealed), reverse=True)
    return Tidied(tuple(purged), tuple(completed), tuple(never), sealed, tuple(failed), tuple(unfinished))


def is_due(row: ExamRow, retention: Retention, now: datetime) -> bool:
    """Whether the sound of an exam has been kept for long enough. A damaged or unfinished exam keeps its sound."""
    if row.damaged is not None or row.sealed or row.state == "unfinished":
        return False
    if retention.sound_until_signed and row.state == "signed":
        return True
    days = retention.sound_days
    return days is not None and now - (row.ended or row.at) >= timedelta(days=days)


def _why(retention: Retention, row: ExamRow) -> str:
    if retention.sound_until_signed and row.state == "signed":
        return "the note is signed, and sound is kept until then"
    return f"sound is kept for {retention.sound_days} days"


def _complete(data: Path, exam: str, vault: Vault | None) -> None:
    folder = exams_folder(data) / exam
    reading = reading_of(folder, decrypt=vault.read if vault else None)
    if reading is None:
        raise ArchiveError(f"{exam} is sealed; give the passphrase to complete the removal of its sound")
    complete_purge(folder, reading.events)
