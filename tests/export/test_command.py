"""`dictate export` and `dictate import`, as they are called."""

from __future__ import annotations

import csv
import io
import json
import re
import stat
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest

from dictate.cli.export_command import FORMATS
from dictate.contract import Note
from dictate.export.formats import Format, export_note
from tests.cli.conftest import Run, dictate
from tests.export.notes import fixture_note

__all__ = ["dictate"]
CODES = """
[[code]]
kind = "finding"
label = "effusion"
system = "https://codes.example.org/exam"
code = "EX-101"
display = "Joint effusion"
"""


@pytest.fixture
def note(tmp_path: Path) -> Path:
    path = tmp_path / "visit.json"
    path.write_text(fixture_note("mcl_football_slips").to_json(), encoding="utf-8")
    return path


def test_the_command_has_every_format() -> None:
    assert set(FORMATS) == set(get_args(Format))


@pytest.mark.parametrize("to", [one for one in FORMATS if one != "parquet"])
def test_a_format_is_printed(dictate: Run, note: Path, to: str) -> None:
    outcome = dictate("export", note, "--to", to)
    assert (outcome.status, outcome.err) == (0, "")
    assert "flexion" in outcome.out.lower()


@pytest.mark.parametrize("to", FORMATS)
def test_a_file_is_written_for_its_owner_only(dictate: Run, note: Path, tmp_path: Path, to: str) -> None:
    out = tmp_path / "handed" / "on.x"
    outcome = dictate("export", note, "--to", to, "--out", out)
    assert (outcome.status, outcome.out) == (0, "")
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    assert [path.name for path in out.parent.iterdir()] == ["on.x"]


@pytest.mark.parametrize("to", ["json", "fhir"])
def test_import_gives_the_same_note(dictate: Run, note: Path, tmp_path: Path, to: str) -> None:
    out = tmp_path / f"on.{to}"
    dictate("export", note, "--to", to, "--out", out)
    outcome = dictate("import", out, "--json")
    assert Note.model_validate_json(outcome.out) == fixture_note("mcl_football_slips")


def test_import_writes_the_note(dictate: Run, note: Path, tmp_path: Path) -> None:
    dictate("import", note, "--out", tmp_path / "back")
    assert sorted(path.name for path in (tmp_path / "back").iterdir()) == ["visit.json", "visit.txt"]


def test_several_notes_make_one_table(dictate: Run, note: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.json"
    other.write_text(fixture_note("ankle_sprain_left").to_json(), encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(dictate("export", note, other, "--to", "csv").out, newline="")))
    assert {row["note"] for row in rows} == {"visit", "other"}
    assert len(rows) == 40 + 28


def test_standard_input(dictate: Run, note: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(note.read_bytes())))
    assert dictate("export", "-", "--to", "text").out.startswith("Knee examination")


def test_what_is_known_of_the_exam_goes_along(dictate: Run, note: Path) -> None:
    about = ("--exam-id", "E-1", "--date", "2026-11-25T09:15+00:00", "--patient", "P-17", "--sex", "female")
    document = json.loads(dictate("export", note, "--to", "fhir", *about).out)
    patient = next(one["resource"] for one in document["entry"] if one["resource"]["resourceType"] == "Patient")
    assert patient["gender"] == "female"
    assert document["entry"][0]["resource"]["identifier"]["value"] == "E-1"


def test_codes_of_a_file_are_written(dictate: Run, note: Path, tmp_path: Path) -> None:
    codes = tmp_path / "codes.toml"
    codes.write_text(CODES, encoding="utf-8")
    assert "EX-101" in dictate("export", note, "--to", "fhir", "--codes", codes).out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("export", "{note}", "{note}", "--to", "fhir"), "takes one note"),
        (("export", "{tmp}/none.json", "--to", "text"), "cannot be read"),
        (("export", "{tmp}", "--to", "text"), "cannot be read"),
        (("export", "{note}", "--to", "text", "--codes", "x.toml"), "--codes belongs to --to fhir"),
        (("export", "{note}", "--to", "fhir", "--codes", "{tmp}/none.toml"), "cannot be read"),
        (("export", "{note}", "--to", "text", "--out", "{tmp}"), "is a folder"),
        (("export", "{note}", "--to", "text", "--date", "yesterday"), "no time such as"),
        (("export", "{note}", "{note}", "--to", "csv", "--age", "34"), "of one exam"),
        (("export", "{note}", "--to", "fax"), "invalid choice"),
        (("import", "{bad}"), "is no JSON"),
        (("import", "{list}"), "holds no note"),
        (("import", "{other}"), "it is no note"),
        (("import", "{newer}"), "schema 2"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(
    dictate: Run, note: Path, tmp_path: Path, arguments: tuple[str, ...], said: str
) -> None:
    files = {"bad": "{", "list": "[1]", "other": '{"exam": 1}', "newer": '{"schema": 2, "exam": {"region": "knee"}}'}
    names = {"note": str(note), "tmp": str(tmp_path)}
    for name, content in files.items():
        (tmp_path / name).write_text(content, encoding="utf-8")
        names[name] = str(tmp_path / name)
    outcome = dictate(*(argument.format(**names) for argument in arguments))
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.err.count("\n") == 1
    assert said in outcome.err


def test_a_failed_export_leaves_the_old_file(dictate: Run, note: Path, tmp_path: Path) -> None:
    out = tmp_path / "kept.txt"
    out.write_text("before", encoding="utf-8")
    dictate("export", tmp_path / "none.json", "--to", "text", "--out", out)
    assert out.read_text(encoding="utf-8") == "before"


@pytest.mark.parametrize(
    ("to", "missing", "said"),
    [("parquet", "pyarrow", "pip install 'dictate[research]'"),
     ("fhir", "fhir.resources.R4B.bundle", "pip install 'fhir.resources")],
)  # fmt: skip
def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch, to: str, missing: str, said: str) -> None:
    from dictate.export.errors import ExportError

    monkeypatch.setitem(sys.modules, missing, None)
    with pytest.raises(ExportError, match=re.escape(said)):
        export_note(fixture_note("mcl_football_slips"), to=to)  # type: ignore[arg-type]


def test_nothing_heavy_is_imported_before_it_is_needed() -> None:
    code = "import sys, dictate.cli.arguments as a; a.parser(); print({'pyarrow', 'fhir'} & {*sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
