"""Exams for the tests of the archive: few words, short sound."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from dictate.interface import reader_of
from dictate.journal.events import Closed, HeardUtterance, Opened, Signed
from dictate.journal.exam import ExamFolder, new_exam_id
from dictate.journal.journal import Journal
from dictate.journal.replay import replay
from dictate.journal.signing import digest_of
from dictate.recognise.events import Utterance

LEFT_KNEE = ("Left knee.", "Medial joint line tender.", "No effusion.", "Flexion one twenty.")
RIGHT_ANKLE = ("Right ankle.", "Anterior drawer positive.", "Swelling over the lateral malleolus.")
DATED = {"2025-11-03": "2025-11-03T101500-aaaa", "2026-02-10": "2026-02-10T090000-bbbb"}


def keep(
    data: Path, said: tuple[str, ...] = LEFT_KNEE, *, exam: str | None = None, sound_s: float = 0.0,
    closed: bool = True, signed: bool = False, source: str = "live", **about: Any,
) -> ExamFolder:  # fmt: skip
    """Keep an exam of what was said, and return its folder."""
    opened = Opened(exam=exam or new_exam_id(), program="test", lexicon="0" * 64, source=source, **about)
    folder, journal = ExamFolder.create(data, opened)
    if sound_s:
        writer = folder.begin_sound(journal, start_s=0.0)
        writer.append(np.zeros(int(sound_s * 16_000), dtype=np.float32))
        writer.close()
    for line in said:
        journal.append(HeardUtterance(utterance=Utterance.of_text(line)))
    if closed:
        journal.append(Closed(seconds=sound_s or None, sounds=folder.sound_digests(journal.events)))
    if signed:
        sign(journal)
    journal.close()
    return folder


def sign(journal: Journal, *, name: str = "A. Examiner") -> Signed:
    """Sign the note as it stands."""
    told = replay(journal.events, reader_of(None))
    keys = [item.key for item in told.shown]
    signed = Signed(name=name, role="physiotherapist", note=told.note, digest="", keys=keys)
    signed = signed.model_copy(update={"digest": digest_of(signed, journal.chain)})
    event = journal.append(signed)
    assert isinstance(event, Signed)
    return event


def sound_names(folder: ExamFolder) -> list[str]:
    """Return the names of the sound files that are on disk."""
    return sorted(path.name for path in folder.path.iterdir() if path.name.startswith("sound-"))


def content_of(folder: Path) -> dict[str, bytes]:
    """Return all files below a folder with their content."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


