"""The folder of one exam: its journal and its sound, readable by their owner only."""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from dictate.audio.frame import SAMPLE_RATE_HZ, Samples
from dictate.data_folder import DATA_VARIABLE as DATA_VARIABLE
from dictate.data_folder import data_folder as data_folder
from dictate.errors import JournalError
from dictate.journal.events import Event, Opened, SoundBegun, now
from dictate.journal.journal import Journal
from dictate.journal.sound import SoundWriter, digest_of_sound, mend_header, samples_in, slice_of
from dictate.lexicon.load import builtin_folder, data_files

JOURNAL_NAME = "journal.jsonl"
SEALED = ".sealed"  # ends the name of a file that the archive has encrypted
_ID = re.compile(r"\d{4}-\d{2}-\d{2}T\d{6}-[a-z2-7]{4}")
_LETTERS = "abcdefghijkmnpqrstuvwxyz234567"  # easy to read aloud: no l, o, 0 or 1


def exams_folder(data: Path) -> Path:
    """Return the folder that holds the exams of a data folder."""
    return data / "exams"


def is_exam_id(name: str) -> bool:
    """Whether a name can be that of an exam's folder: nothing else is ever looked up on disk."""
    return _ID.fullmatch(name) is not None


def new_exam_id(at: datetime | None = None) -> str:
    """Return an id that sorts by time of day in UTC and says nothing of the patient."""
    moment = at or now()
    return f"{moment:%Y-%m-%dT%H%M%S}-{''.join(secrets.choice(_LETTERS) for _ in range(4))}"


def exam_ids(data: Path) -> list[str]:
    """Return the ids of the exams in a data folder, oldest first."""
    try:
        with os.scandir(exams_folder(data)) as entries:
            return sorted(entry.name for entry in entries if is_exam_id(entry.name) and entry.is_dir())
    except FileNotFoundError:
        return []
    except OSError as error:
        raise JournalError(f"{exams_folder(data)} cannot be read ({error.strerror}); check its permissions") from error


def lexicon_digest(overlay: Path | None = None) -> str:
    """Return what tells one state of the lexicon from another: a note read again with the same one is the same note."""
    digest = hashlib.sha256()
    for folder in (builtin_folder(), overlay):
        for path in data_files(folder) if folder else ():
            digest.update(f"{path.relative_to(folder or path)}\0".encode() + path.read_bytes() + b"\0")
    return digest.hexdigest()


@dataclass(frozen=True, slots=True)
class ExamFolder:
    """Where one exam lies, and what its files are called."""

    path: Path

    @property
    def exam(self) -> str:
        """The exam's id."""
        return self.path.name

    @property
    def journal_path(self) -> Path:
        """Its journal."""
        return self.path / JOURNAL_NAME

    @property
    def sealed_journal(self) -> Path:
        """Its journal while it is sealed; where both forms are there, somebody has it open."""
        return self.path / (JOURNAL_NAME + SEALED)

    @classmethod
    def of(cls, data: Path, exam: str) -> ExamFolder:
        """Return the folder of an exam by its id. Raises JournalError if there is no such exam."""
        folder = cls(exams_folder(data) / exam)
        # Nothing but an id is looked up, and what lies elsewhere is no exam of ours.
        if not is_exam_id(exam) or _is_linked(folder) or not folder.journal_path.is_file():
            if is_exam_id(exam) and folder.sealed_journal.is_file():
                raise JournalError(f"exam {exam} is sealed; open it first: `dictate archive unseal {exam}`")
            raise JournalError(f"there is no exam {exam[:60]!r} in {data}; `dictate review` lists those that there are")
        return folder

    @classmethod
    def create(cls, data: Path, opened: Opened) -> tuple[ExamFolder, Journal]:
        """Make the folder of a new exam and its journal, with the `opened` event in it (its `exam` is the folder)."""
        folder = cls(exams_folder(data) / opened.exam)
        try:
            data.mkdir(parents=True, exist_ok=True, mode=0o700)
            exams_folder(data).mkdir(exist_ok=True, mode=0o700)
            folder.path.mkdir(mode=0o700)
        except OSError as error:
            raise JournalError(f"{folder.path} cannot be made ({error.strerror}); check the disk, or --data") from error
        journal = Journal(folder.journal_path, new=True)
        journal.append(opened)
        sync_folder(folder.path)
        sync_folder(folder.path.parent)
        return folder, journal

    def begin_sound(self, journal: Journal, *, start_s: float) -> SoundWriter:
        """Begin the next sound file, at a time of the exam's clock."""
        file = f"sound-{len(sound_files(journal.events)) + 1:03}.wav"
        writer = SoundWriter(self.path / file)
        try:
            journal.append(SoundBegun(file=file, start_s=round(start_s, 4)))
        except JournalError:
            writer.close()
            writer.path.unlink(missing_ok=True)  # or the next attempt would find its name taken
            raise
        sync_folder(self.path)
        return writer

    def sound_digests(self, events: Iterable[Event]) -> dict[str, str]:
        """Return the sha256 of the samples of each sound file that is there, for the event that closes the exam."""
        digests = {sound.file: digest_of_sound(self.path / sound.file) for sound in sound_files(events)}
        return {file: digest for file, digest in digests.items() if digest}

    def sound_end_s(self, events: Iterable[Event]) -> float:
        """Return the time on the exam's clock at which its last sound ends; 0 without sound."""
        ends = [sound.start_s + samples_in(self.path / sound.file) / SAMPLE_RATE_HZ for sound in sound_files(events)]
        return max(ends, default=0.0)

    def mend_sound(self, events: Iterable[Event]) -> None:
        """Make the headers right of files whose writing was cut short."""
        for sound in sound_files(events):
            if (self.path / sound.file).is_file():
                mend_header(self.path / sound.file)

    def sound_between(self, events: Iterable[Event], *, from_s: float, to_s: float) -> Samples | None:
        """Return what is kept of the sound between two times of the exam's clock; None where nothing is (any more).

        It may lie in several files: a resumed exam has a cut, and so has every gap.
        """
        pieces = []
        for sound in sound_files(events):
            path = self.path / sound.file
            first, last = (round((moment - sound.start_s) * SAMPLE_RATE_HZ) for moment in (from_s, to_s))
            if path.is_file() and last > 0:
                pieces.append(slice_of(path, start_sample=max(0, first), end_sample=last))
        samples = np.concatenate(pieces) if pieces else None
        return samples if samples is not None and len(samples) else None


def _is_linked(folder: ExamFolder) -> bool:
    return folder.path.is_symlink() or folder.journal_path.is_symlink()


def sound_files(events: Iterable[Event]) -> list[SoundBegun]:
    """Return the sound files of an exam, in order."""
    return [event for event in events if isinstance(event, SoundBegun)]


def sync_folder(path: Path) -> None:
    """Bring a folder's own entries to the disk: a file is only safe when its name is."""
    handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
