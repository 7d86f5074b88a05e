"""Keep what a transcript or a recording gives as an exam: a journal and sound on disk, to be reviewed and signed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from dictate import __version__
from dictate.contract import Note, Region
from dictate.errors import DictateError
from dictate.interface import Progress, hear_frames, reader_of, watched
from dictate.journal.events import Closed, Gap, HeardUtterance, Opened
from dictate.journal.exam import ExamFolder, lexicon_digest, new_exam_id
from dictate.journal.journal import Journal
from dictate.journal.pseudonym import pseudonym
from dictate.journal.replay import replay
from dictate.journal.sound import SoundWriter
from dictate.note.assemble import InjuredSide, Sex
from dictate.note.fold import start
from dictate.recognise.events import Utterance

if TYPE_CHECKING:
    from dictate.audio.frame import Frame


@dataclass(frozen=True, slots=True)
class Kept:
    """An exam that was kept, and its note."""

    exam: str
    note: Note


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What is known of an exam beforehand; `patient` is a pseudonym."""

    region: Region | None = None
    injured_side: InjuredSide | None = None
    age: float | None = None
    sex: Sex | None = None
    patient: str | None = None
    lexicon_dir: Path | None = None


def keep_transcript(lines: Iterable[str], *, data: Path, about: About) -> Kept:
    """Keep a transcript, one utterance a line, and return its note: the same as `dictate.interpret` gives.

    Raises:
        dictate.errors.JournalError: it cannot be kept.
        dictate.errors.LexiconError: a lexicon file cannot be used.
    """
    reader = reader_of(about.lexicon_dir)
    folder, journal = _opened(data, about, source="text", engine=None)
    for line in lines:
        journal.append(HeardUtterance(utterance=Utterance.of_text(line)))
    journal.append(Closed(seconds=None))
    journal.close()
    return Kept(folder.exam, replay(journal.events, reader).note)


def keep_recording(
    audio_path: str | Path, *, data: Path, about: About, engine: str | None = None,
    model_dir: str | Path | None = None, progress: Progress | None = None,
) -> Kept:  # fmt: skip
    """Keep a recording, as 16 kHz sound and what was heard in it, and return its note.

    The note is the same as `dictate.transcribe` gives. A recording that is damaged further on is kept up to there, and
    the rest of it is noted as missing.

    Raises:
        dictate.errors.UnusableInput: the recording cannot be read.
        dictate.errors.RecogniserError: weights or library of the recogniser are missing or unfit.
        dictate.errors.JournalError: it cannot be kept.
        dictate.errors.LexiconError: a lexicon file cannot be used.
    """
    from dictate.audio import duration_s, frames_of_file
    from dictate.recognise.engines import open_recogniser

    seconds = duration_s(audio_path)
    frames = frames_of_file(audio_path)
    reader = reader_of(about.lexicon_dir)
    recogniser = open_recogniser(engine=engine, model_dir=model_dir)
    folder, journal = _opened(data, about, source="file", engine=engine)
    sound = folder.begin_sound(journal, start_s=0.0)
    frames = _written(watched(frames, progress, seconds) if progress else frames, sound)
    said = _Journalled(journal)
    missing = "reading it was broken off here"
    try:
        opening = start(reader, region=about.region, injured_side=about.injured_side)
        for _ in hear_frames(frames, recogniser, reader, heard=opening, said=said):
            pass
        missing = ""
    except DictateError as error:
        missing = f"the recording cannot be read further ({error})"
        raise
    finally:
        sound.close()
        length_s = round(sound.seconds if missing else seconds, 3)
        if missing:
            journal.append(Gap(from_s=length_s, to_s=max(length_s, round(seconds, 3)), why=missing))
        journal.append(Closed(seconds=length_s, sounds=folder.sound_digests(journal.events)))
        journal.close()
    return Kept(folder.exam, replay(journal.events, reader).note)


class _Journalled(list[Utterance]):
    """A list whose utterances are in the journal before anything is made of them."""

    def __init__(self, journal: Journal) -> None:
        super().__init__()
        self._journal = journal

    def append(self, utterance: Utterance) -> None:
        self._journal.append(HeardUtterance(utterance=utterance))
        super().append(utterance)


def _opened(
    data: Path, about: About, *, source: Literal["text", "file"], engine: str | None
) -> tuple[ExamFolder, Journal]:  # fmt: skip
    opened = Opened(
        exam=new_exam_id(), program=__version__, lexicon=lexicon_digest(about.lexicon_dir), source=source,
        engine=engine, region=about.region, injured_side=about.injured_side, age=about.age, sex=about.sex,
        patient=pseudonym(about.patient) if about.patient else None,
    )  # fmt: skip
    return ExamFolder.create(data, opened)


def _written(frames: Iterable[Frame], sound: SoundWriter) -> Iterator[Frame]:
    """Yield frames once they are on disk."""
    for frame in frames:
        sound.append(frame.samples)
        yield frame
