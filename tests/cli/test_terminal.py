"""What was spoken, typed or received never steers the terminal that it is shown in (control functions of ECMA-48)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dictate.cli.output import harmless
from tests.cli.conftest import Run

STEERING = "Lachman \x1b[31m negative \x9b2J on the \x07right."
CONTROLS = {chr(code) for code in (*range(0x20), *range(0x7F, 0xA0))} - {"\n", "\t"}


@pytest.fixture
def transcript(tmp_path: Path) -> Path:
    path = tmp_path / "visit.txt"
    path.write_text(f"Right knee.\n{STEERING}\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_note_holds_nothing_that_steers(transcript: Path, dictate: Run, more: tuple[str, ...]) -> None:
    assert CONTROLS.isdisjoint(dictate("text", transcript, *more).out)


def test_json_stays_what_it_was(transcript: Path, dictate: Run, tmp_path: Path) -> None:
    printed = dictate("text", transcript, "--json", "--out", tmp_path / "out").out
    assert json.loads(printed) == json.loads((tmp_path / "out" / "visit.json").read_text(encoding="utf-8"))


def test_an_error_holds_nothing_that_steers(dictate: Run) -> None:
    outcome = dictate("text", "no\x1b[2Jfile")
    assert outcome.is_one_plain_error() and CONTROLS.isdisjoint(outcome.err)


def test_the_line_ends_of_csv_stay() -> None:
    assert harmless("a\r\nb\r") == "a\r\nb\\u000d"
