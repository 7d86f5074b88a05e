"""Exams to review: with doubts of every kind, and with made-up sound whose pitch tells where in the exam it is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from dictate import __version__
from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.journal.events import Closed, HeardUtterance, Opened
from dictate.journal.exam import ExamFolder, lexicon_digest, new_exam_id
from dictate.journal.journal import Journal
from dictate.recognise.events import Hypothesis, Utterance, Word
from tests.support.exams import timed

SAID = (
    "Right knee.",
    "Medial joint line tender, lateral joint line non-tender.",
    "Active flexion two hundred and fifteen degrees.",
    "Passive flexion one fifteen with a soft end feel.",
    "The supraspinatus is non-tender.",
    "The L5 patellar reflex is two plus.",
    "Left Lachman negative.",
    "McMurray positive medially with a click.",
    "Now, what I always tell my students is to compare both sides.",
    "Gait normal.",
)


def unclear(said: Utterance, *words: str, confidence: float = 0.2) -> Utterance:
    """Return the utterance with these words heard unclearly."""
    worse = [
        replace(word, confidence=confidence) if word.text.strip(" ,.").lower() in words else word for word in said.words
    ]
    return replace(said, words=tuple(worse))


def also(said: Utterance, *readings: str) -> Utterance:
    """Return the utterance with other readings of its sound."""
    return replace(said, alternatives=tuple(Hypothesis(text=text, score=-0.4, favoured=True) for text in readings))


def doubtful_exam(data: Path, *, closed: bool = True, sound: bool = True) -> tuple[ExamFolder, Journal]:
    """Return a kept exam with eight utterances of findings, most of them doubtful, said at known times."""
    opened = Opened(
        exam=new_exam_id(), program=__version__, lexicon=lexicon_digest(), source="live", engine="whisper",
        patient="K-17",
    )  # fmt: skip
    folder, journal = ExamFolder.create(data, opened)
    writer = folder.begin_sound(journal, start_s=0.0) if sound else None
    at_s = 1.0
    for text in SAID:
        said = timed(text, start_s=at_s)
        if "one fifteen" in text:
            said = also(unclear(said, "fifteen"), text.replace("fifteen", "fifty"))
        if "Gait" in text:
            said = unclear(said, "gait", confidence=0.3)
        journal.append(HeardUtterance(utterance=said))
        at_s = said.words[-1].end_s + 1.0
    if writer is not None:
        times = np.arange(round(at_s * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
        writer.append((0.2 * np.sin(2 * np.pi * (200 + 20 * times) * times)).astype(np.float32))
        writer.close()
    if closed:
        journal.append(Closed(seconds=round(at_s, 3), sounds=folder.sound_digests(journal.events)))
    return folder, journal


def long_exam(data: Path, *, findings: int = 600) -> tuple[ExamFolder, Journal]:
    """Return an exam of two hours with many findings, a quarter of them doubtful."""
    opened = Opened(exam=new_exam_id(), program=__version__, lexicon=lexicon_digest(), source="live", region="knee")
    folder, journal = ExamFolder.create(data, opened)
    step_s = 7200 / findings
    for number in range(findings):
        side = ("Right", "Left")[number % 2]
        text = (
            f"{side} active flexion {90 + number % 50} degrees.", f"{side} medial joint line tender.",
            f"{side} Lachman negative.", f"{side} quadriceps strength four out of five.",
        )[number // 2 % 4]  # fmt: skip
        said = timed(text, start_s=number * step_s)
        if number % 4 == 0:
            last = said.words[-1]
            said = replace(said, words=(*said.words[:-1], replace(last, confidence=0.3)))
        journal.append(HeardUtterance(utterance=said))
    journal.append(Closed(seconds=7200.0))
    return folder, journal


__all__ = ["SAID", "Word", "also", "doubtful_exam", "long_exam", "unclear"]
