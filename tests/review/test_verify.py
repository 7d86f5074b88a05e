"""`dictate verify` tells what changed, by whom, when, and whether anything is not as it was written."""

import pytest

from dictate.cli.main import main
from dictate.journal.events import Edited, Purged
from dictate.review.sign import Signature
from tests.review.test_sign import remove_first, wish


@pytest.fixture
def on_desk(desk, exam):
    return desk.exam(exam[0].exam)


@pytest.fixture
def run(data, capsys):
    def work(*arguments):
        status = main(["verify", *arguments, "--data", str(data)])
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return work


def test_an_unsigned_exam_is_as_it_was_written(run, on_desk):
    status, out, _ = run()
    assert status == 0 and "not signed; as it was written" in out


def test_the_signature_is_told_with_its_digest(run, on_desk):
    signed = on_desk.sign(wish(on_desk)).signatures[0]
    out = run(on_desk.folder.exam)[1]
    assert "signed by A. Tester, physiotherapist" in out and signed.digest in out


def test_what_was_signed_as_open_is_told(run, on_desk):
    on_desk.sign(wish(on_desk))
    assert "signed as open: Lachman test: negative, left" in run()[1]


def test_a_change_since_is_told_with_its_author(run, on_desk):
    on_desk.sign(wish(on_desk))
    remove_first(on_desk)
    out = run()[1]
    assert "changed since, not signed" in out and "B: removed: Medial joint line tenderness" in out


def test_an_addendum_is_told_with_its_reason(run, on_desk):
    on_desk.sign(wish(on_desk))
    remove_first(on_desk)
    on_desk.sign(wish(on_desk, addendum="said of another patient"))
    assert "addendum signed by A. Tester, physiotherapist: said of another patient" in run()[1]


def test_a_changed_line_shows(run, on_desk, exam):
    on_desk.sign(wish(on_desk))
    path = exam[1].path
    path.write_bytes(path.read_bytes().replace(b"Lachman", b"Lochman", 1))
    status, out, _ = run()
    assert status == 1 and "! line 9 of the journal does not fit" in out


def test_a_swapped_sound_file_shows(run, on_desk, exam):
    sound = exam[0].path / "sound-001.wav"
    sound.write_bytes(sound.read_bytes()[:-200] + bytes(200))
    status, out, _ = run()
    assert status == 1 and "! sound-001.wav is not the sound that was recorded" in out


def test_sound_that_was_purged_is_no_fault(run, on_desk, exam):
    folder, journal = exam
    journal.append(Purged(files=["sound-001.wav"], why="kept for a year"))
    (folder.path / "sound-001.wav").unlink()
    status, out, _ = run()
    assert status == 0 and "sound removed for good (sound-001.wav): kept for a year" in out


def test_the_digest_of_a_handed_on_note_is_found(run, on_desk):
    digest = on_desk.sign(wish(on_desk)).signatures[0].digest
    assert run(on_desk.folder.exam, "--digest", digest)[0] == 0


def test_another_digest_is_not(run, on_desk):
    on_desk.sign(wish(on_desk))
    status, out, _ = run(on_desk.folder.exam, "--digest", "0" * 64)
    assert status == 1 and "that note is not what was signed here" in out


def test_a_folder_can_be_named(run, on_desk):
    assert on_desk.folder.exam in run(str(on_desk.folder.path))[1]


def test_the_folder_of_all_data_can_be_named(run, on_desk, data):
    assert on_desk.folder.exam in run(str(data))[1]


@pytest.mark.parametrize("named", ["2026-01-01T000000-aaaa", "/nowhere/at/all", "../../etc", "x" * 400])
def test_what_is_no_exam_gets_one_line(run, on_desk, named):
    status, out, err = run(named)
    assert (status, out, err.count("\n")) == (2, "", 1)


def test_names_do_not_steer_the_terminal(run, on_desk, exam):
    exam[1].append(Edited(action="remove", item="u0.0", by="\x1b[2Jnobody"))
    assert "\x1b" not in run("--all")[1]


def test_decisions_before_the_signature_are_listed_when_asked_for(run, on_desk):
    remove_first(on_desk)
    on_desk.sign(wish(on_desk))
    assert "B: removed" not in run()[1] and "B: removed" in run("--all")[1]


def test_a_signature_needs_a_name_here_too():
    with pytest.raises(ValueError, match="at most 120"):
        Signature(name="x" * 121, role="r", events=1)
