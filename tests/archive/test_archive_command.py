"""`dictate archive`, as a person calls it."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from dictate.archive.errors import ArchiveError
from dictate.archive.index import Index
from dictate.archive.settings import Retention, write_retention
from dictate.archive.vault import begin_sealing
from dictate.cli.archive_keep import tidy_at_start
from dictate.contract import Note
from dictate.data_folder import chosen_lexicon
from dictate.journal.exam import exam_ids, exams_folder
from dictate.journal.journal import Journal, read_journal
from dictate.journal.replay import opened_of
from tests.archive.made import DATED, LEFT_KNEE, RIGHT_ANKLE, keep
from tests.archive.test_sealing import CHEAP, PASSPHRASE
from tests.cli.conftest import Run, dictate

__all__ = ["dictate"]  # a fixture

FIRST, SECOND = DATED["2025-11-03"], DATED["2026-02-10"]


@pytest.fixture(autouse=True)
def _no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO())


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    keep(folder, LEFT_KNEE, exam=FIRST, sound_s=0.1, patient="K-017")
    keep(folder, RIGHT_ANKLE, exam=SECOND, signed=True)
    return folder


@pytest.fixture
def passphrase(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "passphrase"
    path.write_text(PASSPHRASE + "\n")
    path.chmod(0o600)
    monkeypatch.setenv("DICTATE_PASSPHRASE_FILE", str(path))
    return path


def test_list_names_every_exam(dictate: Run, data: Path) -> None:
    outcome = dictate("archive", "list", "--data", data)
    assert outcome.status == 0 and FIRST in outcome.out and SECOND in outcome.out


def test_list_as_json_is_rows(dictate: Run, data: Path) -> None:
    rows = json.loads(dictate("archive", "list", "--json", "--data", data).out)
    assert {row["exam"]: row["state"] for row in rows} == {FIRST: "unsigned", SECOND: "signed"}


def test_search_shows_what_it_found(dictate: Run, data: Path) -> None:
    outcome = dictate("archive", "search", "joint line", "--side", "left", "--data", data)
    assert FIRST in outcome.out and SECOND not in outcome.out and "tenderness" in outcome.out


def test_search_that_finds_nothing_says_so(dictate: Run, data: Path) -> None:
    assert dictate("archive", "search", "zebra", "--data", data).out == "no exam is like that\n"


def test_list_of_no_folder_says_that_nothing_is_kept_and_makes_none(dictate: Run, tmp_path: Path) -> None:
    outcome = dictate("archive", "list", "--data", tmp_path / "none")
    assert (outcome.status, outcome.out) == (0, "no exam is kept yet\n") and not (tmp_path / "none").exists()


def test_a_damaged_exam_is_marked_in_the_list(dictate: Run, data: Path) -> None:
    path = exams_folder(data) / FIRST / "journal.jsonl"
    path.write_bytes(path.read_bytes().replace(b"ender", b"ENDER"))
    assert "DAMAGED" in dictate("archive", "list", "--data", data).out


def test_show_prints_the_note(dictate: Run, data: Path) -> None:
    out = dictate("archive", "show", FIRST, "--data", data).out
    assert "Patient: K-017" in out and "Not signed" in out and "tenderness" in out.casefold()


def test_show_says_who_signed(dictate: Run, data: Path) -> None:
    out = dictate("archive", "show", SECOND, "--data", data).out
    assert "Signed by A. Examiner, physiotherapist" in out and "Not signed" not in out


def test_show_of_a_signed_exam_is_the_signed_note(dictate: Run, data: Path) -> None:
    events = read_journal(exams_folder(data) / SECOND / "journal.jsonl").events
    note = Note.model_validate_json(dictate("archive", "show", SECOND, "--json", "--data", data).out)
    assert note == events[-1].note  # type: ignore[union-attr]


def test_about_changes_what_is_named_and_nothing_else(dictate: Run, data: Path) -> None:
    dictate("archive", "about", FIRST, "--age", 31, "--sex", "female", "--data", data)
    opened = opened_of(read_journal(exams_folder(data) / FIRST / "journal.jsonl").events)
    assert (opened.patient, opened.age, opened.sex) == ("K-017", 31, "female")


def test_about_forgets_when_told(dictate: Run, data: Path) -> None:
    dictate("archive", "about", FIRST, "--forget", "patient", "--data", data)
    assert opened_of(read_journal(exams_folder(data) / FIRST / "journal.jsonl").events).patient is None


@pytest.mark.parametrize("name", ["Jane Doe", "Doe", "", "17 Doe", "K-017\n", "é17", "x" * 41 + "1"])
def test_a_name_is_not_taken_for_a_pseudonym(dictate: Run, data: Path, name: str) -> None:
    before = (exams_folder(data) / FIRST / "journal.jsonl").read_bytes()
    outcome = dictate("archive", "about", FIRST, "--patient", name, "--data", data)
    taken = (exams_folder(data) / FIRST / "journal.jsonl").read_bytes() != before
    assert outcome.is_one_plain_error() != taken and (not taken or name.strip() == "K-017")


def test_purge_without_yes_and_without_a_person_removes_nothing(dictate: Run, data: Path) -> None:
    assert dictate("archive", "purge", FIRST, "--data", data).is_one_plain_error()
    assert exam_ids(data) == [FIRST, SECOND]


def test_purge_removes_only_sound_when_told(dictate: Run, data: Path) -> None:
    dictate("archive", "purge", FIRST, "--sound-only", "--yes", "--data", data)
    assert not (exams_folder(data) / FIRST / "sound-001.wav").exists() and exam_ids(data) == [FIRST, SECOND]


def test_purge_removes_the_exam(dictate: Run, data: Path) -> None:
    dictate("archive", "purge", FIRST, "--yes", "--why", "asked for", "--data", data)
    assert FIRST not in dictate("archive", "list", "--data", data).out


def test_retention_is_set_told_and_applied(dictate: Run, data: Path) -> None:
    set_to = dictate("archive", "retention", "--sound-days", 0, "--data", data).out
    told = dictate("archive", "retention", "--data", data).out
    dictate("archive", "tidy", "--data", data)
    assert set_to == told == "sound is kept for 0 days after the exam\n"
    assert not (exams_folder(data) / FIRST / "sound-001.wav").exists()


def test_export_and_import_bring_the_exams_elsewhere(dictate: Run, data: Path, tmp_path: Path) -> None:
    dictate("archive", "export", tmp_path / "b.tar", "--data", data)
    outcome = dictate("archive", "import", tmp_path / "b.tar", "--data", tmp_path / "other")
    assert outcome.out.startswith("2 exams taken") and exam_ids(tmp_path / "other") == [FIRST, SECOND]


def test_index_is_made_anew(dictate: Run, data: Path) -> None:
    assert dictate("archive", "index", "--data", data).out == "2 exams are in the index\n"


def test_a_sealed_archive_is_read_with_the_passphrase_file(dictate: Run, data: Path, passphrase: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    assert "2 exams were sealed" in dictate("archive", "seal", "--data", data).out
    assert "K-017" in dictate("archive", "list", "--data", data).out
    assert "tenderness" in dictate("archive", "show", FIRST, "--data", data).out.casefold()


def test_seal_makes_a_key_as_costly_as_is_recommended(dictate: Run, data: Path, passphrase: Path) -> None:
    # Source: OWASP, Password Storage Cheat Sheet: scrypt with at least N=2^17, r=8, p=1.
    dictate("archive", "seal", "--data", data)
    assert "n = 131072\nr = 8\np = 1\n" in (data / "sealing.toml").read_text()
    assert not list(exams_folder(data).rglob("*.jsonl")) and not list(exams_folder(data).rglob("*.wav"))


def test_about_of_a_sealed_exam_leaves_it_sealed(dictate: Run, data: Path, passphrase: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    dictate("archive", "about", FIRST, "--patient", "K-099", "--data", data)
    assert "K-099" in dictate("archive", "list", "--data", data).out
    assert not (exams_folder(data) / FIRST / "journal.jsonl").exists()


def test_a_sealed_archive_is_listed_without_content_where_nobody_has_the_passphrase(dictate: Run, data: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    outcome = dictate("archive", "list", "--data", data)
    assert outcome.out.count("sealed") == 2 and "K-017" not in outcome.out


def test_unseal_ends_the_sealing(dictate: Run, data: Path, passphrase: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    dictate("archive", "unseal", "--data", data)
    passphrase.unlink()
    assert "K-017" in dictate("archive", "list", "--data", data).out


def test_a_journal_that_is_written_to_shows_in_the_next_list(dictate: Run, data: Path) -> None:
    dictate("archive", "list", "--data", data)
    from dictate.archive.about import tell_about

    tell_about(Journal(exams_folder(data) / FIRST / "journal.jsonl"), patient="K-042")
    assert "K-042" in dictate("archive", "list", "--data", data).out


def _wrong(path: Path) -> None:
    path.write_text("another passphrase altogether\n")


@pytest.mark.parametrize(
    "arguments",
    [
        ("show", "2026-01-01T000000-zzzz"), ("show", "../../etc/passwd"), ("show", ""), ("about", FIRST),
        ("about", FIRST, "--age", "-1"), ("purge", "nothing", "--yes"), ("list", "--since", "yesterday"),
        ("list", "--region", "brain"), ("import", "/nonexistent.tar"), ("export", "/nonexistent/folder/b.tar"),
        ("export", "b.tar", "2026-01-01T000000-zzzz"), ("retention", "--keep", "--sound-days", "3"),
        ("retention", "--sound-days", "-3"), ("search",), ("search", "a " * 100), (), ("nothing",),
    ],
    ids=" ".join,
)  # fmt: skip
def test_what_cannot_be_done_gets_one_plain_line(dictate: Run, data: Path, arguments: tuple[str, ...]) -> None:
    where = ("--data", data) if arguments and arguments[0] != "nothing" else ()
    assert dictate("archive", *arguments, *where).is_one_plain_error()


NEEDING_THE_KEY = (
    ("list",), ("show", FIRST), ("about", FIRST, "--age", "3"), ("seal",), ("unseal",), ("index",), ("tidy",)
)  # fmt: skip


@pytest.mark.parametrize("action", NEEDING_THE_KEY)
def test_a_wrong_passphrase_gets_one_plain_line(
    dictate: Run, data: Path, passphrase: Path, action: tuple[str, ...]
) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    _wrong(passphrase)
    outcome = dictate("archive", *action, "--data", data)
    assert outcome.is_one_plain_error() and "not the passphrase" in outcome.err


def test_a_passphrase_file_that_others_can_read_is_refused(dictate: Run, data: Path, passphrase: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    passphrase.chmod(0o644)
    assert "chmod 600" in dictate("archive", "list", "--data", data).err


@pytest.mark.parametrize("action", ["show", "about"])
def test_a_sealed_exam_without_a_passphrase_gets_one_plain_line(dictate: Run, data: Path, action: str) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    more = ("--age", "3") if action == "about" else ()
    assert "DICTATE_PASSPHRASE_FILE" in dictate("archive", action, FIRST, *more, "--data", data).err


def test_a_start_tidies_up(data: Path) -> None:
    write_retention(data, Retention(sound_days=0))
    tidy_at_start(data)
    assert not (exams_folder(data) / FIRST / "sound-001.wav").exists()


def test_a_start_goes_on_where_it_cannot_tidy_and_says_so(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data / "settings.toml").write_text("[retention]\nsound_days = -1\n")
    tidy_at_start(data)
    assert "settings.toml" in capsys.readouterr().err


def test_a_start_does_not_go_on_in_the_folder_of_a_newer_program(data: Path) -> None:
    (data / "format.toml").write_text("format = 99\n")
    with pytest.raises(ArchiveError, match="newer program"):
        tidy_at_start(data)


def test_what_was_learned_on_this_machine_is_read_with(dictate: Run, data: Path) -> None:
    dictate("archive", "list", "--data", data)
    (data / "lexicon").mkdir()
    (data / "lexicon" / "own.toml").write_text("")
    with Index(data, lexicon_dir=data / "lexicon") as index:
        assert index.refresh() == 1  # the unsigned exam; the signed one is never read anew
    with Index(data, lexicon_dir=chosen_lexicon(None, data=data)) as index:
        assert index.refresh() == 0
