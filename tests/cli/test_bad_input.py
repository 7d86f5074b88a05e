"""Whatever cannot be used: one plain line on standard error that says what to do, exit 2, no standard output."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from dictate.transcript import LONGEST_LINE, LONGEST_UTTERANCE, lines_of, utterances_of
from tests.cli.conftest import Run


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["bogus"],
        ["text"],
        ["text", "t.txt", "--bogus"],
        ["text", "t.txt", "--js"],
        ["text", "t.txt", "--region", "kne"],
        ["text", "t.txt", "--injured", "middle"],
        ["text", "t.txt", "--age", "old"],
        ["text", "t.txt", "--age", "-1"],
        ["text", "t.txt", "--age", "nan"],
        ["text", "t.txt", "--sex", "x"],
        ["text", "a.txt", "b.txt"],
        ["file"],
        ["file", "a.wav", "--engine", "ear"],
        ["lexicon"],
        ["lexicon", "bogus"],
        ["models", "bogus"],
    ],
    ids=" ".join,
)
def test_a_command_line_that_is_not_understood(dictate: Run, arguments: list[str]) -> None:
    assert dictate(*arguments).is_one_plain_error()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty (0 bytes)"),
        (b"Right knee\0\0\0 flexion", "NUL"),
        (b"\xff\xd8\xff\xe0\x00\x10JFIF", "not text"),
        (bytes(range(256)) * 4, "not text"),
        (b"\x7fELF\x02\x01\x01\x00\x00", "not text"),
        (b"flexion " * 1_300_000, "line 1"),
        (b"Right knee.\n" + b"x" * 10_000_000 + b"\n", "line 2"),
    ],
    ids=["empty", "NUL", "picture", "all bytes", "program", "10 MB of words in a line", "10 MB of one word"],
)
def test_a_transcript_that_is_none(dictate: Run, tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "t.txt"
    path.write_bytes(content)
    begin = time.perf_counter()
    outcome = dictate("text", path, "--json")
    assert outcome.is_one_plain_error()
    assert says in outcome.err
    assert "one utterance a line" in outcome.err
    assert time.perf_counter() - begin < 5


def test_a_missing_transcript(dictate: Run, tmp_path: Path) -> None:
    outcome = dictate("text", tmp_path / "none.txt")
    assert outcome.is_one_plain_error()
    assert "is not there" in outcome.err


def test_a_folder_for_a_transcript(dictate: Run, tmp_path: Path) -> None:
    outcome = dictate("text", tmp_path)
    assert outcome.is_one_plain_error()
    assert "folder" in outcome.err


def test_a_path_that_no_system_has(dictate: Run) -> None:
    assert dictate("text", "a\0b").is_one_plain_error()
    assert dictate("text", "x" * 5000).is_one_plain_error()


@pytest.mark.parametrize("content", [b"", b"not sound at all", b"RIFF\x00\x00"], ids=["empty", "text", "cut header"])
def test_a_recording_that_is_none(dictate: Run, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(content)
    outcome = dictate("file", path, "--json")
    assert outcome.is_one_plain_error()
    assert str(path) in outcome.err


def test_a_missing_recording(dictate: Run, tmp_path: Path) -> None:
    assert dictate("file", tmp_path / "none.wav").is_one_plain_error()


def test_a_model_folder_that_holds_no_model(dictate: Run, tmp_path: Path) -> None:
    sound = next((Path(__file__).parents[2] / "audio_fixtures").glob("*.flac"))
    outcome = dictate("file", sound, "--model", tmp_path)
    assert outcome.is_one_plain_error()
    assert str(tmp_path) in outcome.err


@pytest.mark.parametrize("names", [(), ("model.bin", "config.json", "tokenizer.json")], ids=["missing", "altered"])
def test_embedded_weights_that_are_missing_or_altered(
    dictate: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, names: tuple[str, ...]
) -> None:
    for name in names:
        (tmp_path / name).write_bytes(b"not what was measured")
    monkeypatch.setattr("dictate.recognise.whisper.embedded_model_dir", lambda: tmp_path)
    sound = next((Path(__file__).parents[2] / "audio_fixtures").glob("*.flac"))
    outcome = dictate("file", sound, "--engine", "whisper")
    assert outcome.is_one_plain_error()
    assert "pip install" in outcome.err


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("terms.toml", "[[term]\nlabel = 1"),
        ("terms.toml", '[[term]]\nkind = "test"\nlabel = "x test"\nformz = ["x"]'),
        ("terms.toml", "term = 3"),
        ("terms.toml", 'term = ["x"]'),
        ("terms.toml", '[term]\nkind = "test"'),
        ("terms.toml", "colour = 1"),
        ("region.toml", 'region = "elbou"\nforms = ["x"]'),
        ("common/words.toml", ""),
        ("common/general.toml", "colours = []"),
        ("common/grammar.toml", "order = 3"),
        ("common/corrections.toml", 'apologies = ["sorry"]'),
        ("common/this_patient.toml", 'in_them = ["him"]'),
        ("common/small_words.toml", "only = 3"),
        ("common/prompts.toml", "[[prompt]]\nid = 3"),
        ("common/rules.toml", "[[rule]]\nname = 3"),
    ],
)
def test_a_broken_lexicon_file(dictate: Run, tmp_path: Path, name: str, content: str) -> None:
    path = tmp_path / "own" / name
    path.parent.mkdir(parents=True)
    path.write_text(content, encoding="utf-8")
    transcript = tmp_path / "t.txt"
    transcript.write_text("Good morning.", encoding="utf-8")  # nothing that the file would be needed for
    assert dictate("text", transcript, "--json", "--lexicon", tmp_path / "own").is_one_plain_error()


def test_a_lexicon_folder_that_is_not_there(dictate: Run, tmp_path: Path) -> None:
    transcript = tmp_path / "t.txt"
    transcript.write_text("Right knee.", encoding="utf-8")
    assert dictate("text", transcript, "--lexicon", tmp_path / "none").is_one_plain_error()


def test_a_long_line_is_cut_at_ends_of_sentences_and_nothing_is_lost() -> None:
    line = "Lachman negative on the right. " * 1000
    pieces = utterances_of(line.strip())
    assert len(pieces) > 1
    assert all(len(piece) <= LONGEST_UTTERANCE and piece.endswith(".") for piece in pieces)
    assert " ".join(pieces).split() == line.split()


@pytest.mark.parametrize("line", ["word " * 3000, "x" * (3 * LONGEST_UTTERANCE + 1)], ids=["no stops", "no spaces"])
def test_a_long_line_without_sentences_is_cut_too(line: str) -> None:
    pieces = utterances_of(line.strip())
    assert max(map(len, pieces)) <= LONGEST_UTTERANCE
    assert "".join(pieces).replace(" ", "") == line.replace(" ", "")


def test_the_longest_line_that_is_taken_is_taken() -> None:
    assert lines_of(b"a" * LONGEST_LINE, name="t")
