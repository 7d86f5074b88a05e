"""A kept exam is handed on as it was signed, with who signed; never as signed when it is not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dictate.archive.vault import begin_sealing
from dictate.export.errors import ExportError
from dictate.export.exam import exam_to_hand_on
from dictate.interface import reader_of
from dictate.journal.events import Edited, HeardUtterance, Purged, Signed
from dictate.journal.exam import ExamFolder
from dictate.journal.journal import Journal
from dictate.journal.replay import Replayed, replay
from dictate.journal.signed import standing
from dictate.journal.signing import with_digest
from dictate.recognise.events import Utterance
from tests.cli.conftest import Run, dictate
from tests.support.exams import kept_exam

__all__ = ["dictate"]
SAID = ["Right knee, flexion one twenty.", "Lachman negative."]


@pytest.fixture
def exam(tmp_path: Path) -> tuple[ExamFolder, Journal]:
    return kept_exam(tmp_path, SAID)


def told(journal: Journal) -> Replayed:
    return standing(journal.events, reader_of(None))


def sign(journal: Journal, *, name: str = "A. Tester", addendum: str | None = None) -> Signed:
    now = told(journal)
    signed = Signed(
        name=name, role="physiotherapist", note=now.note, digest="", keys=[item.key for item in now.shown],
        addendum=addendum,
    )  # fmt: skip
    signed = with_digest(signed, journal.chain)
    journal.append(signed)
    return signed


def remove_first(journal: Journal) -> None:
    now = told(journal)
    journal.append(Edited(action="remove", item=now.shown[0].key, before=now.note.findings[0], by="B"))


def test_an_unsigned_exam_is_a_draft(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    handed = exam_to_hand_on(folder, reader_of(None))
    assert handed.note == replay(journal.events, reader_of(None)).note
    assert not handed.handover.signed
    assert handed.handover.exam_id == folder.exam


def test_a_signed_exam_tells_who_signed_what(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    signed = sign(journal)
    signing = exam_to_hand_on(folder, reader_of(None)).handover.signing
    assert signing is not None
    assert (signing.name, signing.role, signing.digest) == ("A. Tester", "physiotherapist", signed.digest)


def test_a_note_changed_since_is_not_handed_on_as_signed(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    sign(journal)
    remove_first(journal)
    with pytest.raises(ExportError, match="sign the addendum first"):
        exam_to_hand_on(folder, reader_of(None))


def test_what_was_heard_since_is_not_handed_on_as_signed(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    sign(journal)
    journal.append(HeardUtterance(utterance=Utterance.of_text("Left knee, flexion one forty.")))
    with pytest.raises(ExportError, match="changed since it was signed"):
        exam_to_hand_on(folder, reader_of(None))


def test_what_was_signed_is_still_to_be_had(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    signed = sign(journal)
    remove_first(journal)
    assert exam_to_hand_on(folder, reader_of(None), as_signed=True).note == signed.note


def test_an_addendum_is_handed_on_with_its_note(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    sign(journal)
    remove_first(journal)
    second = sign(journal, name="B. Second", addendum="flexion was of another patient")
    handed = exam_to_hand_on(folder, reader_of(None))
    assert len(handed.note.findings) == 1
    assert [(one.name, one.text, one.digest) for one in handed.handover.addenda] == [
        ("B. Second", "flexion was of another patient", second.digest)
    ]
    assert handed.handover.signing is not None and handed.handover.signing.name == "A. Tester"


def test_a_journal_that_was_tampered_with_is_refused(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    sign(journal)
    content = folder.journal_path.read_bytes()
    folder.journal_path.write_bytes(content.replace(b"one", b"two", 1))
    with pytest.raises(ExportError, match="nothing is handed on"):
        exam_to_hand_on(folder, reader_of(None))


def test_a_note_that_is_not_what_was_signed_is_refused(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    note = told(journal).note
    signed = with_digest(Signed(name="A", role="r", note=note, digest=""), journal.chain)
    journal.append(signed.model_copy(update={"note": note.model_copy(update={"findings": []})}))
    with pytest.raises(ExportError, match="is not what was signed"):
        exam_to_hand_on(folder, reader_of(None))


def test_sound_that_was_purged_does_not_matter(exam: tuple[ExamFolder, Journal]) -> None:
    folder, journal = exam
    signed = sign(journal)
    journal.append(Purged(files=["sound-001.wav"], why="kept long enough"))
    assert exam_to_hand_on(folder, reader_of(None)).note == signed.note


# -- the command -----------------------------------------------------------------------------------------------------


def test_the_command_takes_an_exam_by_its_id(exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run) -> None:
    folder, journal = exam
    signed = sign(journal)
    outcome = dictate("export", folder.exam, "--data", tmp_path, "--to", "fhir")
    assert outcome.status == 0
    composition = json.loads(outcome.out)["entry"][0]["resource"]
    assert composition["status"] == "final"
    assert signed.digest in outcome.out


@pytest.fixture
def sealed(exam: tuple[ExamFolder, Journal], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Signed:
    """The exam, signed and sealed; its passphrase lies where the command looks for it."""
    passphrase = tmp_path / "passphrase"
    passphrase.write_text("a long passphrase of no use elsewhere\n")
    passphrase.chmod(0o600)
    monkeypatch.setenv("DICTATE_PASSPHRASE_FILE", str(passphrase))
    signed = sign(exam[1])
    exam[1].close()
    begin_sealing(tmp_path, passphrase="a long passphrase of no use elsewhere").seal_all()
    return signed


def test_a_sealed_exam_is_handed_on(
    sealed: Signed, exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run
) -> None:
    outcome = dictate("export", exam[0].exam, "--data", tmp_path, "--to", "fhir")
    assert sealed.digest in outcome.out


def test_a_sealed_exam_that_is_handed_on_is_never_plain_on_the_disk(
    sealed: Signed, exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run
) -> None:
    before = {path: path.stat().st_mtime_ns for path in exam[0].path.iterdir()}
    dictate("export", exam[0].exam, "--data", tmp_path, "--to", "text")
    assert {path: path.stat().st_mtime_ns for path in exam[0].path.iterdir()} == before


def test_without_the_passphrase_it_is_said_that_the_exam_is_sealed(
    sealed: Signed, exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("DICTATE_PASSPHRASE_FILE")
    outcome = dictate("export", exam[0].exam, "--data", tmp_path, "--to", "text")
    assert outcome.is_one_plain_error()
    assert "sealed" in outcome.err


def test_every_signature_has_its_provenance(exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run) -> None:
    folder, journal = exam
    digests = [sign(journal).digest]
    remove_first(journal)
    digests.append(sign(journal, addendum="another patient").digest)
    document = json.loads(dictate("export", folder.exam, "--data", tmp_path, "--to", "fhir").out)
    found = [
        one["resource"]["entity"][0]["what"]["identifier"]["value"]
        for one in document["entry"]
        if one["resource"]["resourceType"] == "Provenance"
    ]
    assert found == digests


@pytest.mark.parametrize(
    ("more", "said"),
    [(("--age", "30"), "own record"), (("--data", "nowhere"), "there is no exam")],
)  # fmt: skip
def test_what_does_not_fit_an_exam_is_said(
    exam: tuple[ExamFolder, Journal], tmp_path: Path, dictate: Run, more: tuple[str, ...], said: str
) -> None:
    outcome = dictate("export", exam[0].exam, "--data", tmp_path, "--to", "text", *more)
    assert outcome.is_one_plain_error()
    assert said in outcome.err


def test_a_name_is_no_pseudonym(tmp_path: Path, dictate: Run) -> None:
    outcome = dictate("export", tmp_path / "x.json", "--to", "text", "--patient", "Jane Example")
    assert outcome.is_one_plain_error()
    assert "no pseudonym" in outcome.err
