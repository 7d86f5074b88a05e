"""An exam that stopped, by being closed or by an accident, goes on: what is on disk is heard, then new sound."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from dictate.errors import JournalError
from dictate.journal.events import Closed, Event, Gap, HeardUtterance, Resumed
from dictate.journal.exam import JOURNAL_NAME, ExamFolder, exam_ids, exams_folder, sound_files
from dictate.journal.journal import Journal, read_journal
from dictate.journal.lock import ExamLock, is_running
from dictate.journal.replay import ending_of, opened_of, signatures_of, utterances_of
from dictate.journal.sound import samples_in
from dictate.live.ear import HEARD_PAST, heard_to_s
from dictate.live.session import Resumption
from dictate.live.track import Stretch

WHY = "the program had stopped here"
_TAIL_BYTES = 1 << 16  # of a journal: its last event fits, but for a signed note
_ENDED = ("closed", "signed", "purged")  # kinds that only an exam that ended has last


@dataclass(frozen=True, slots=True)
class Unfinished:
    """An exam that was never closed. `seconds` is the length of its sound."""

    exam: str
    begun: datetime
    utterances: int
    seconds: float


def unfinished(data: Path, likely: Iterable[str] | None = None) -> list[Unfinished]:
    """Return the live exams that were not closed and that no program listens to, the newest first; none is sealed.

    Args:
        data: the data folder.
        likely: the exams that may be such, the newest first, where the archive knows; else all are looked at.
    """
    found = []
    for exam in reversed(exam_ids(data)) if likely is None else likely:
        folder = ExamFolder(exams_folder(data) / exam)
        if _surely_ended(folder.path / JOURNAL_NAME) or folder.sealed_journal.exists():
            continue
        try:
            events = read_journal(folder.journal_path).events
            opened = opened_of(events)
        except JournalError:  # `dictate verify` tells of it; it cannot be gone on with
            continue
        if opened.source == "live" and ending_of(events) is None and not is_running(folder.path):
            seconds = folder.sound_end_s(events)
            found.append(Unfinished(exam, opened.at, len(utterances_of(events)), seconds))
    return found


def resume(data: Path, exam: str) -> Resumption:
    """Take up an exam: mend its sound files, note in the journal that it goes on, and find what was not heard yet.

    Raises:
        JournalError: there is no such exam, it is damaged, signed or sealed, or another program listens to it.
    """
    folder = ExamFolder.of(data, exam)
    if folder.sealed_journal.exists():  # it is open elsewhere and sealed again there, under the hands of who writes
        raise JournalError(f"exam {exam} is sealed or being reviewed; open it first: `dictate archive unseal {exam}`")
    lock = ExamLock(folder.path)
    try:
        journal = Journal(folder.journal_path)
        events = journal.events
        opened = opened_of(events)
        if opened.source != "live":
            raise JournalError(f"exam {exam} came from a {opened.source}; only a live exam can go on")
        if signatures_of(events):
            raise JournalError(f"exam {exam} is signed; begin a new one, or add to it in `dictate review`")
        folder.mend_sound(events)
        end_s = folder.sound_end_s(events)
        journal.append(Resumed())
        journal.append(Gap(from_s=round(end_s, 3), to_s=round(end_s, 3), why=WHY))
    except BaseException:
        lock.release()
        raise
    position_s = position_of(events)
    return Resumption(
        folder=folder, journal=journal, lock=lock, opened=opened, said=utterances_of(events), heard_to_s=position_s,
        end_s=end_s, unheard=tuple(_unheard(folder, events, position_s)),
    )  # fmt: skip


def position_of(events: Iterable[Event]) -> float:
    """Return up to where the sound of an exam was heard, on its clock."""
    position_s = 0.0
    for event in events:
        if isinstance(event, HeardUtterance):
            position_s = max(position_s, heard_to_s(event.utterance))
        elif isinstance(event, Gap) and event.why in HEARD_PAST and event.to_s is not None:
            position_s = max(position_s, event.to_s)
        elif isinstance(event, Closed):
            position_s = max(position_s, event.seconds or 0.0)
    return position_s


def _unheard(folder: ExamFolder, events: Sequence[Event], position_s: float) -> Iterable[Stretch]:
    for sound in sound_files(events):
        path = folder.path / sound.file
        stretch = Stretch(path, sound.start_s, samples_in(path), ended=True)
        if stretch.end_s > position_s:
            yield stretch


def _surely_ended(journal_path: Path) -> bool:
    """Whether the last event tells that the exam ended, read from the end: thousands of exams may lie there."""
    try:
        with journal_path.open("rb") as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(max(0, size - _TAIL_BYTES))
            lines = file.read().split(b"\n")
        return json.loads(lines[-2]).get("kind") in _ENDED
    except (OSError, ValueError, IndexError, AttributeError):
        return False
