"""`dictate text`, `dictate file` and `dictate schema`: what is printed, what is written, and nothing else."""

from __future__ import annotations

import io
import json
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from dictate import __version__
from dictate.cli import output
from dictate.contract import Note
from dictate.note.text import CAUTION
from tests.cli.conftest import Run

SAID = "Right knee, lacks ten, flexes to one twenty.\nLachman negative.\n"


@pytest.fixture
def transcript(tmp_path: Path) -> Path:
    path = tmp_path / "visit.txt"
    path.write_text(SAID, encoding="utf-8")
    return path


def test_json_prints_the_contract_and_nothing_else(dictate: Run, transcript: Path) -> None:
    outcome = dictate("text", transcript, "--json")
    assert (outcome.status, outcome.err) == (0, "")
    note = Note.model_validate_json(outcome.out)
    assert [finding.degrees for finding in note.findings] == [-10, 120, None]
    raw = json.loads(outcome.out)
    assert list(raw) == ["schema", "exam", "findings", "sections", "prompts"]
    assert raw["schema"] == 1
    assert "with" in raw["findings"][0]
    assert "with_" not in raw["findings"][0]


def test_without_json_the_text_is_printed(dictate: Run, transcript: Path) -> None:
    outcome = dictate("text", transcript)
    assert outcome.status == 0
    assert outcome.out.startswith("Knee examination")
    assert CAUTION in outcome.out


def test_standard_input(dictate: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(SAID.encode())))
    assert len(json.loads(dictate("text", "-", "--json").out)["findings"]) == 3


@pytest.mark.parametrize(
    "content",
    [
        SAID.encode("utf-8-sig"),
        SAID.encode("utf-16"),
        SAID.replace("\n", "\r\n").encode(),
        ("\n\n" + SAID + "\n \n").encode(),
    ],
    ids=["utf-8 with a mark", "utf-16", "carriage returns", "empty lines"],
)
def test_transcripts_as_other_programs_write_them(dictate: Run, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "t.txt"
    path.write_bytes(content)
    assert len(json.loads(dictate("text", path, "--json").out)["findings"]) == 3


@pytest.mark.parametrize("content", [" \n", "Good morning, please sit down.\n"])
def test_a_valid_transcript_without_findings_is_a_note(dictate: Run, tmp_path: Path, content: str) -> None:
    path = tmp_path / "t.txt"
    path.write_text(content, encoding="utf-8")
    outcome = dictate("text", path, "--json")
    assert outcome.status == 0
    assert json.loads(outcome.out)["findings"] == []


def test_options_reach_the_note(dictate: Run, transcript: Path) -> None:
    outcome = dictate(
        "text", transcript, "--json", "--region", "ankle", "--injured", "left", "--age", "40", "--sex", "male"
    )
    exam = json.loads(outcome.out)["exam"]
    assert (exam["region"], exam["injured_side"]) == ("ankle", "left")


def test_out_writes_both_and_prints_too(dictate: Run, transcript: Path, tmp_path: Path) -> None:
    outcome = dictate("text", transcript, "--json", "--out", tmp_path / "notes" / "today")
    folder = tmp_path / "notes" / "today"
    assert sorted(path.name for path in folder.iterdir()) == ["visit.json", "visit.txt"]
    assert (folder / "visit.json").read_text(encoding="utf-8") == outcome.out
    assert CAUTION in (folder / "visit.txt").read_text(encoding="utf-8")


def test_a_full_disk_leaves_what_was_there_and_nothing_half_written(
    dictate: Run, transcript: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "notes"
    folder.mkdir()
    (folder / "visit.json").write_text("before", encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(output.os, "fsync", full)
    outcome = dictate("text", transcript, "--json", "--out", folder)
    assert outcome.is_one_plain_error()
    assert "No space left on device" in outcome.err
    assert [path.name for path in folder.iterdir()] == ["visit.json"]
    assert (folder / "visit.json").read_text(encoding="utf-8") == "before"


def test_out_that_is_a_file(dictate: Run, transcript: Path) -> None:
    assert dictate("text", transcript, "--out", transcript).is_one_plain_error()


def test_the_schema_describes_the_contract(dictate: Run) -> None:
    schema = json.loads(dictate("schema").out)
    assert {"schema", "exam", "findings", "sections", "prompts"} == set(schema["properties"])
    assert "with" in schema["$defs"]["Finding"]["properties"]


def test_a_full_standard_output_is_said_and_not_a_success(transcript: Path) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    with full.open("w") as sink:
        done = subprocess.run(
            [sys.executable, "-m", "dictate.cli.main", "text", str(transcript), "--json"],
            stdout=sink, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "standard output" in done.stderr


def test_the_command_starts_without_the_sound_rooms(transcript: Path) -> None:
    program = (
        "import sys; from dictate.cli.main import main; main(['text', sys.argv[1], '--json']);"
        "heavy = {'numpy', 'faster_whisper', 'vosk', 'soundfile', 'ctranslate2', 'onnxruntime', 'tqdm'};"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program, str(transcript)], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_the_version_is_the_packages(dictate: Run) -> None:
    assert dictate("--version").out == f"dictate {__version__}\n"


def test_the_module_is_the_command(transcript: Path) -> None:
    done = subprocess.run([sys.executable, "-m", "dictate", "text", str(transcript)], capture_output=True, check=True)
    assert done.stdout.startswith(b"Knee examination")


def test_help_comes_at_once() -> None:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "dictate", "--help"], capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime < 1.5  # seconds of work; about 0.3
