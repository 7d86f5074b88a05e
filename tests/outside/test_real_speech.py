"""Human speech that is no examination: words come out, findings do not.

Sound and transcripts: Debian's package `pocketsphinx-testdata`, LibriVox readings of Sense and Sensibility
(public domain) and a speaker naming playing cards. Word error rate as `jiwer` counts it.
"""

from __future__ import annotations

import re
from pathlib import Path

import jiwer
import pytest

from dictate.audio import frames_of_file
from dictate.language.reader import Reader
from dictate.note.fold import Heard, fold
from dictate.recognise.engines import open_recogniser
from dictate.recognise.events import Utterance
from dictate.recognise.protocol import Recogniser, recognise
from tests.support.reading import reader
from tests.support.show import show

DATA = Path("/usr/share/pocketsphinx/test/data")
MOST_ERRORS = 0.15  # of the words: tiny weights on five clear sentences, read well

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not (DATA / "librivox").is_dir(), reason="the Debian package pocketsphinx-testdata is not installed"
    ),
]


@pytest.fixture(scope="module")
def recogniser() -> Recogniser:
    return open_recogniser("whisper")


def transcripts() -> dict[Path, str]:
    """Return the recordings with what was read."""
    found = {}
    for line in (DATA / "librivox/transcription").read_text(encoding="utf-8").splitlines():
        match = re.fullmatch(r"<s> (.*) </s> \((.+)\)", line.strip())
        assert match, line
        found[DATA / "librivox" / f"{match[2]}.wav"] = match[1].strip()
    return found


def heard(path: Path, recogniser: Recogniser) -> list[Utterance]:
    return [event for event in recognise(frames_of_file(path), recogniser) if isinstance(event, Utterance)]


def plain(text: str) -> str:
    text = text.lower().replace("mr.", "mister").replace("-", " ")
    return " ".join(re.findall(r"[a-z']+", text))


def findings_of(utterances: list[Utterance], reader: Reader) -> list[str]:
    return [finding.finding for finding in fold(utterances, reader, heard=Heard()).state.findings()]


def test_read_prose(recogniser: Recogniser, capsys: pytest.CaptureFixture[str]) -> None:
    references, hypotheses, found = [], [], []
    for path, words in transcripts().items():
        utterances = heard(path, recogniser)
        references.append(words)
        hypotheses.append(plain(" ".join(utterance.text for utterance in utterances)))
        found += findings_of(utterances, reader())
    rate = jiwer.wer(references, hypotheses)
    show(capsys, f"read prose: word error rate {rate:.3f} over {sum(len(r.split()) for r in references)} words")
    assert len(references) >= 5
    assert rate <= MOST_ERRORS
    assert found == []


def test_playing_cards(recogniser: Recogniser) -> None:
    """Short utterances full of numbers give no findings."""
    paths = sorted((DATA / "cards").glob("*.wav"))
    assert len(paths) >= 5
    assert [finding for path in paths for finding in findings_of(heard(path, recogniser), reader())] == []
