"""Exams for tests: a transcript, or made-up words with times, in a journal of their own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from dictate import __version__
from dictate.interface import reader_of
from dictate.journal.events import Closed, HeardUtterance, Opened
from dictate.journal.exam import ExamFolder, lexicon_digest, new_exam_id
from dictate.journal.journal import Journal
from dictate.journal.replay import Replayed, replay
from dictate.recognise.events import Utterance, Word

SCRIPTS = Path(__file__).parents[2] / "audio_fixtures"


def script(name: str) -> list[str]:
    """Return the lines of a fixture's script."""
    return [line for line in (SCRIPTS / f"{name}.txt").read_text(encoding="utf-8").splitlines() if line.strip()]


def kept_exam(data: Path, said: Sequence[str | Utterance], *, closed: bool = True) -> tuple[ExamFolder, Journal]:
    """Return the exam of what was said, kept below `data`; lines of text become utterances without times."""
    opened = Opened(exam=new_exam_id(), program=__version__, lexicon=lexicon_digest(), source="text")
    folder, journal = ExamFolder.create(data, opened)
    for line in said:
        journal.append(HeardUtterance(utterance=Utterance.of_text(line) if isinstance(line, str) else line))
    if closed:
        journal.append(Closed(seconds=None))
    return folder, journal


def timed(text: str, *, start_s: float, confidence: float = 0.95, word_s: float = 0.3) -> Utterance:
    """Return an utterance whose words follow each other evenly, as if heard."""
    words = tuple(
        Word(text=word, start_s=start_s + i * word_s, end_s=start_s + (i + 1) * word_s, confidence=confidence)
        for i, word in enumerate(text.split())
    )
    return Utterance(words=words, endpoint_s=start_s + len(words) * word_s + 0.6)


def told(journal: Journal) -> Replayed:
    """Return the exam that a journal tells of, read with the built-in lexicon."""
    return replay(journal.events, reader_of(None))
