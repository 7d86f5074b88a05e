"""Signing: what was signed is what can be checked, and whatever was changed since shows."""

import json

import numpy as np
import pytest

from dictate.journal.events import Closed, Edited, Purged, Signed
from dictate.journal.journal import chained
from dictate.journal.signing import check, digest_of_line, with_digest
from tests.support.exams import kept_exam, told


@pytest.fixture
def exam(tmp_path):
    return kept_exam(tmp_path, ["Right knee, flexion one twenty.", "Lachman negative."])


def sign(journal, name="A. Tester"):
    note = told(journal).note
    signed = Signed(name=name, role="physiotherapist", note=note, digest="")
    return journal.append(with_digest(signed, journal.chain))


def test_an_untouched_exam_has_no_faults(exam):
    folder, journal = exam
    sign(journal)
    assert check(folder.journal_path).sound


def test_an_edit_after_signing_is_named_as_unsigned(exam):
    folder, journal = exam
    sign(journal)
    journal.append(Edited(action="remove", item="u0.0", by="B"))
    assert [edit.by for edit in check(folder.journal_path).edits_since] == ["B"]


def test_an_addendum_signs_the_edits_before_it(exam):
    folder, journal = exam
    sign(journal)
    journal.append(Edited(action="remove", item="u0.0", by="B"))
    sign(journal, name="B")
    found = check(folder.journal_path)
    assert not found.edits_since and len(found.signatures) == 2


def test_a_signature_over_another_note_shows(exam):
    folder, journal = exam
    note = told(journal).note
    emptied = note.model_copy(update={"findings": []})
    signed = with_digest(Signed(name="A", role="r", note=note, digest=""), journal.chain)
    journal.append(signed.model_copy(update={"note": emptied}))
    assert "is not what was signed" in check(folder.journal_path).faults[0]


def test_a_note_signed_before_a_field_was_added_to_notes_is_still_what_was_signed(exam):
    """As an earlier program wrote it: without a field that notes have had since, with a value of its own."""
    folder, journal = exam
    signed = Signed(name="A", role="r", note=told(journal).note, digest="", n=len(journal.events))
    event = json.loads(signed.model_dump_json(by_alias=True))
    del event["note"]["prompts"]
    event["digest"] = digest_of_line(json.dumps(event).encode(), journal.chain)
    body = json.dumps(event).encode()
    with folder.journal_path.open("ab") as file:
        file.write(body[:-1] + f',"chain":"{chained(journal.chain, body)}"}}\n'.encode())
    assert check(folder.journal_path).sound and len(check(folder.journal_path).signatures) == 1


def test_a_signature_under_another_name_shows(exam):
    folder, journal = exam
    signed = with_digest(Signed(name="A", role="r", note=told(journal).note, digest=""), journal.chain)
    journal.append(signed.model_copy(update={"name": "B"}))
    assert "is not what was signed" in check(folder.journal_path).faults[0]


def test_a_changed_journal_shows(exam):
    folder, journal = exam
    sign(journal)
    content = folder.journal_path.read_bytes()
    folder.journal_path.write_bytes(content.replace(b"twenty.", b"thirty.", 1))
    assert "line 2 of the journal" in check(folder.journal_path).faults[0]


def with_sound(exam):
    folder, journal = exam
    writer = folder.begin_sound(journal, start_s=0.0)
    writer.append(np.zeros(16_000, dtype=np.float32))
    writer.close()
    journal.append(Closed(seconds=1.0, sounds=folder.sound_digests(journal.events)))
    return folder, journal, writer.path


def test_kept_sound_is_as_it_was_recorded(exam):
    folder, _, _ = with_sound(exam)
    assert check(folder.journal_path).sound


def test_a_swapped_sound_file_shows(exam):
    folder, _, path = with_sound(exam)
    path.write_bytes(path.read_bytes()[:-2] + b"\x01\x01")
    assert check(folder.journal_path).faults == ("sound-001.wav is not the sound that was recorded",)


def test_lost_sound_shows(exam):
    folder, _, path = with_sound(exam)
    path.unlink()
    assert "no purge of it was recorded" in check(folder.journal_path).faults[0]


def test_purged_sound_is_no_fault(exam):
    folder, journal, path = with_sound(exam)
    journal.append(Purged(files=[path.name], why="kept long enough"))
    path.unlink()
    assert check(folder.journal_path).sound
