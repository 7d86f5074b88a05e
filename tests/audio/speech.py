"""Read speech with its transcripts, if the machine has it.

From Debian's pocketsphinx-testdata: five sentences of Jane Austen, Sense and Sensibility, read for LibriVox, whose
recordings are in the public domain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

FOLDER = Path("/usr/share/pocketsphinx/test/data/librivox")
MISSING = "needs the read speech of Debian's pocketsphinx-testdata: apt-get install pocketsphinx-testdata"


@dataclass(frozen=True)
class Spoken:
    text: str
    sound: np.ndarray


@lru_cache
def _all() -> tuple[Spoken, ...]:
    lines = (FOLDER / "transcription").read_text().splitlines()
    found = []
    for line in lines:
        text, name = re.fullmatch(r"<s> (.*) </s> \((\S+)\)", line.strip()).groups()
        found.append(Spoken(text, soundfile.read(FOLDER / f"{name}.wav", dtype="float32")[0]))
    return tuple(found)


def speech() -> tuple[Spoken, ...]:
    """Return the sentences; skip the test that asks, with the reason, where they are not installed."""
    if not FOLDER.is_dir():
        pytest.skip(MISSING)
    return _all()
