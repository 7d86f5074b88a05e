"""The Python interface, and hearing a recording through a recogniser that says what it is told to."""

from __future__ import annotations

import doctest
import importlib
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile

import dictate
from dictate.audio import Frame
from dictate.favour import MOST_TERMS, favoured_terms
from dictate.interface import hear_frames, interpret, reader_of, transcribe
from dictate.language.state import Context
from dictate.lexicon.load import load_lexicon
from dictate.note.fold import start
from dictate.recognise import engines
from dictate.recognise.events import Partial, Utterance, Word

ANKLE_SOUND_S = 2.0


class Scripted:
    """A recogniser that says one line of its script for each frame, and remembers what it was asked to favour."""

    def __init__(self, *script: str) -> None:
        self._script = list(script)
        self.favoured: list[tuple[str, ...]] = []

    def favour(self, terms: Sequence[str]) -> None:
        self.favoured.append(tuple(terms))

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        if self._script:
            words = tuple(
                Word(text=word, start_s=frame.start_s, end_s=frame.end_s, confidence=0.99)
                for word in self._script.pop(0).split()
            )
            yield Partial(words=words[:1])
            yield Utterance(words=words)

    def flush(self) -> Iterator[Partial | Utterance]:
        yield from ()


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    path = tmp_path / "a.wav"
    soundfile.write(path, np.zeros(round(ANKLE_SOUND_S * 8000), dtype=np.float32), 8000)
    return path


def test_a_recording_becomes_a_note(sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scripted = Scripted("Right knee flexion one twenty.", "Lachman negative.")
    monkeypatch.setattr(engines, "open_recogniser", lambda **_: scripted)
    heard: list[tuple[float, float]] = []
    note = transcribe(sound, progress=lambda now, whole: heard.append((now, whole)))
    assert [finding.finding for finding in note.findings] == ["flexion", "lachman test"]
    assert (note.exam.source, note.exam.seconds) == ("file", ANKLE_SOUND_S)
    assert note.findings[1].time is not None
    assert [now for now, _ in heard] == sorted(now for now, _ in heard)
    assert heard[-1][1] == ANKLE_SOUND_S


def test_partial_words_are_never_read() -> None:
    frames = [Frame(np.zeros(1600, dtype=np.float32), 0.0)]
    steps = list(hear_frames(frames, Scripted("Lachman negative."), reader_of(), heard=start(reader_of())))
    assert len(steps) == 1
    assert len(steps[0].state.entries) == 1


def test_what_is_favoured_follows_the_exam() -> None:
    scripted = Scripted("Right knee. Vascular.", "Dorsalis pedis two plus.")
    frames = [Frame(np.zeros(1600, dtype=np.float32), place / 10) for place in range(2)]
    list(hear_frames(frames, scripted, reader_of(), heard=start(reader_of())))
    assert len(scripted.favoured) >= 2
    assert "dorsalis pedis" not in scripted.favoured[0][:5]
    assert any("dorsalis pedis" in terms[:5] for terms in scripted.favoured[1:])


@pytest.mark.parametrize("region", sorted(load_lexicon().regions))
def test_favoured_terms_are_few_and_each_once(region: str) -> None:
    lexicon = load_lexicon()
    for section in (None, "palpation", "special_tests", "measurement"):
        terms = favoured_terms(Context(region=region, section=section), lexicon)  # type: ignore[arg-type]
        assert 0 < len(terms) <= MOST_TERMS
        assert len(set(terms)) == len(terms)


def test_a_region_without_a_plan_favours_nothing() -> None:
    lexicon = load_lexicon()
    without = type(lexicon)(lexicon.terms, lexicon.cues, lexicon.sections, lexicon.defers, {}, lexicon.reference)
    assert favoured_terms(Context(region="knee"), without) == ()


def test_everything_that_the_front_door_names_is_there() -> None:
    for name in dictate.__all__:
        assert getattr(dictate, name) is not None
    assert set(dictate.__all__) <= set(dir(dictate))


def test_the_front_door_has_nothing_else() -> None:
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        _ = dictate.nothing_of_the_kind


def test_importing_costs_next_to_nothing() -> None:
    program = "import sys, dictate; print(len([name for name in sys.modules if name.startswith('dictate')]))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "1"


def test_interpret_takes_a_lexicon_of_ones_own(tmp_path: Path) -> None:
    (tmp_path / "tests.toml").write_text(
        'kind = "test"\nregions = ["knee"]\nsections = ["special_tests"]\n'
        '[[term]]\nlabel = "harbour test"\nforms = ["harbour test"]\n',
        encoding="utf-8",
    )
    note = interpret("Right knee. Harbour test positive.", lexicon_dir=tmp_path)
    assert [(finding.finding, finding.status) for finding in note.findings] == [("harbour test", "positive")]


MODULES = (
    "dictate", "dictate.interface", "dictate.transcript", "dictate.note.asked", "dictate.note.coverage",
    "dictate.note.describe",
)  # fmt: skip


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_run(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0


def test_everyday_words_are_not_favoured() -> None:
    terms = favoured_terms(Context(region="knee", section="inspection"), load_lexicon())
    assert "antalgic gait" in terms
    assert not {"skin", "stairs", "pain"} & set(terms)
