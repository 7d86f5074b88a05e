"""`--keep`: the same note as without it, and an exam that can be reviewed, with its sound."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from dictate.data_folder import DATA_VARIABLE
from dictate.interface import reader_of
from dictate.journal.exam import ExamFolder, exam_ids
from dictate.journal.journal import read_journal
from dictate.journal.replay import replay
from dictate.journal.signing import check
from tests.cli.conftest import Run
from tests.support.cases import FIXTURES, fixtures

SPOKEN = FIXTURES / "both_knees_ellipsis.flac"
CLIP_S = 20  # of it: enough for several utterances


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    samples, rate = soundfile.read(SPOKEN, dtype="int16")
    path = tmp_path / "clip.flac"
    soundfile.write(path, samples[: CLIP_S * rate], rate)
    return path


def kept(data: Path) -> ExamFolder:
    (exam,) = exam_ids(data)
    return ExamFolder.of(data, exam)


@pytest.mark.parametrize("name", [case.name for case in fixtures()])
def test_a_kept_transcript_has_the_note_of_one_that_is_not_kept(dictate: Run, data: Path, name: str) -> None:
    plain = dictate("text", FIXTURES / f"{name}.txt", "--json")
    assert dictate("text", FIXTURES / f"{name}.txt", "--json", "--keep").out == plain.out
    note = replay(read_journal(kept(data).journal_path).events, reader_of(None)).note
    assert note.to_json() + "\n" == plain.out


def test_the_exam_is_named_on_standard_error_only(dictate: Run, data: Path) -> None:
    outcome = dictate("text", FIXTURES / "both_knees_ellipsis.txt", "--json", "--keep")
    assert kept(data).exam in outcome.err and kept(data).exam not in outcome.out


def test_a_name_is_refused_as_a_pseudonym_and_nothing_is_kept(dictate: Run, data: Path) -> None:
    outcome = dictate("text", FIXTURES / "both_knees_ellipsis.txt", "--keep", "--patient", "Anna Reyes")
    assert outcome.status == 2 and outcome.err.count("\n") == 1
    assert exam_ids(data) == []


def test_what_only_a_kept_exam_has_is_refused_without_keeping(dictate: Run) -> None:
    outcome = dictate("text", FIXTURES / "both_knees_ellipsis.txt", "--patient", "K-1")
    assert outcome.status == 2 and "add --keep" in outcome.err


def test_a_kept_transcript_is_read_with_what_was_learned_where_it_is_kept(dictate: Run, tmp_path: Path) -> None:
    (tmp_path / "named" / "lexicon").mkdir(parents=True)
    (tmp_path / "named" / "lexicon" / "learned.toml").write_text("no lexicon")
    outcome = dictate("text", FIXTURES / "both_knees_ellipsis.txt", "--keep", "--data", tmp_path / "named")
    assert outcome.is_one_plain_error() and "learned.toml" in outcome.err


@pytest.mark.slow
def test_a_kept_recording_has_its_note_and_its_sound(dictate: Run, data: Path, recording: Path) -> None:
    plain = dictate("file", recording, "--json")
    assert '"said"' in plain.out
    assert dictate("file", recording, "--json", "--keep").out == plain.out
    folder = kept(data)
    recorded, _ = soundfile.read(recording, dtype="float32")
    sound, _ = soundfile.read(folder.path / "sound-001.wav", dtype="float32")
    assert (recorded == sound).all()
    assert check(folder.journal_path).sound


@pytest.mark.slow
def test_a_recording_that_is_damaged_further_on_is_kept_up_to_there(
    dictate: Run, data: Path, tmp_path: Path, recording: Path
) -> None:  # fmt: skip
    damaged = tmp_path / "damaged.flac"
    content = recording.read_bytes()
    damaged.write_bytes(content[: len(content) // 2])
    assert dictate("file", damaged, "--keep").status == 2
    assert soundfile.info(kept(data).path / "sound-001.wav").duration > CLIP_S / 4
    note = dictate("archive", "show", kept(data).exam, "--json").out
    assert "Sound is missing at" in note
