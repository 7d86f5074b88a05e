"""A backup brings every exam back as it was, or nothing; it never overwrites one that is kept."""

from __future__ import annotations

import tarfile
from pathlib import Path

import pytest

from dictate.archive.about import tell_about
from dictate.archive.backup import MANIFEST_NAME, export_archive
from dictate.archive.errors import ArchiveError
from dictate.archive.folder import open_data
from dictate.archive.purge import purge_sound, remove_exam
from dictate.archive.removed import removed_exams
from dictate.archive.restore import import_archive
from dictate.archive.vault import begin_sealing, unlock
from dictate.journal.exam import ExamFolder, exam_ids, exams_folder
from dictate.journal.journal import Journal
from tests.archive.made import DATED, RIGHT_ANKLE, content_of, keep
from tests.archive.test_sealing import CHEAP, PASSPHRASE

FIRST, SECOND = DATED["2025-11-03"], DATED["2026-02-10"]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    keep(folder, exam=FIRST, sound_s=0.2, signed=True)
    keep(folder, RIGHT_ANKLE, exam=SECOND)
    open_data(folder)
    return folder


@pytest.fixture
def backup(data: Path, tmp_path: Path) -> Path:
    target = tmp_path / "backup.tar"
    export_archive(data, target)
    return target


@pytest.fixture
def empty(tmp_path: Path) -> Path:
    folder = tmp_path / "empty"
    open_data(folder, make=True)
    return folder


def _say_more(data: Path, exam: str, patient: str) -> None:
    journal = Journal(exams_folder(data) / exam / "journal.jsonl")
    tell_about(journal, patient=patient)
    journal.close()


def test_every_byte_comes_back(data: Path, backup: Path, empty: Path) -> None:
    assert import_archive(empty, backup).new == (FIRST, SECOND)
    assert content_of(exams_folder(empty)) == content_of(exams_folder(data))


def test_what_comes_back_is_its_owners_alone(backup: Path, empty: Path) -> None:
    import_archive(empty, backup)
    assert all(path.stat().st_mode & 0o077 == 0 for path in exams_folder(empty).rglob("*"))


def test_a_backup_is_a_plain_tar(backup: Path) -> None:
    # Source: POSIX.1-2001 (pax); read by the reference library, not by the code that wrote it.
    with tarfile.open(backup) as tar:
        assert tar.getnames()[-1] == MANIFEST_NAME and all(member.isreg() for member in tar)


def test_a_backup_is_its_owners_alone(backup: Path) -> None:
    assert backup.stat().st_mode & 0o777 == 0o600


def test_a_copied_folder_is_a_backup_too(data: Path, tmp_path: Path) -> None:
    import shutil

    shutil.copytree(data, tmp_path / "copy")
    open_data(tmp_path / "copy")
    assert exam_ids(tmp_path / "copy") == exam_ids(data)


def test_only_the_exams_that_are_named_are_written(data: Path, empty: Path, tmp_path: Path) -> None:
    export_archive(data, tmp_path / "one.tar", exams=[SECOND])
    assert import_archive(empty, tmp_path / "one.tar").new == (SECOND,)


def test_only_the_exams_that_are_named_are_taken(backup: Path, empty: Path) -> None:
    assert import_archive(empty, backup, exams=[SECOND]).new == (SECOND,)
    assert exam_ids(empty) == [SECOND]


def test_an_exam_that_is_not_there_is_not_backed_up_in_silence(data: Path, tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="no exam"):
        export_archive(data, tmp_path / "none.tar", exams=["2026-01-01T000000-zzzz"])
    assert not (tmp_path / "none.tar").exists()


def test_the_same_exams_are_not_taken_twice(data: Path, backup: Path) -> None:
    before = content_of(exams_folder(data))
    assert import_archive(data, backup).same == (FIRST, SECOND)
    assert content_of(exams_folder(data)) == before


def test_what_is_kept_and_goes_further_stays(data: Path, backup: Path) -> None:
    _say_more(data, FIRST, "K-017")
    before = content_of(exams_folder(data))
    assert import_archive(data, backup).older == (FIRST,)
    assert content_of(exams_folder(data)) == before


def test_what_goes_further_in_the_backup_is_offered_not_taken(data: Path, backup: Path, empty: Path) -> None:
    import_archive(empty, backup)
    _say_more(data, FIRST, "K-017")
    export_archive(data, backup)
    before = content_of(exams_folder(empty))
    with pytest.raises(ArchiveError, match="--extend"):
        import_archive(empty, backup)
    assert content_of(exams_folder(empty)) == before


def test_what_goes_further_is_appended_when_it_is_meant(data: Path, backup: Path, empty: Path) -> None:
    import_archive(empty, backup)
    _say_more(data, FIRST, "K-017")
    export_archive(data, backup)
    assert import_archive(empty, backup, extend=True).extended == (FIRST,)
    assert content_of(exams_folder(empty)) == content_of(exams_folder(data))


def test_sound_that_is_missing_is_put_back_when_it_is_meant(data: Path, backup: Path) -> None:
    sound = exams_folder(data) / FIRST / "sound-001.wav"
    was = sound.read_bytes()
    sound.unlink()
    import_archive(data, backup, extend=True)
    assert sound.read_bytes() == was


def test_sound_that_was_purged_is_not_put_back(data: Path, backup: Path) -> None:
    purge_sound(data, FIRST, why="test")
    import_archive(data, backup, extend=True)
    assert not (exams_folder(data) / FIRST / "sound-001.wav").exists()


def test_exams_that_went_on_in_two_ways_are_refused(data: Path, backup: Path, empty: Path) -> None:
    import_archive(empty, backup)
    _say_more(data, FIRST, "K-017")
    _say_more(empty, FIRST, "K-018")
    export_archive(data, backup)
    before = content_of(exams_folder(empty))
    with pytest.raises(ArchiveError, match="another way"):
        import_archive(empty, backup, extend=True)
    assert content_of(exams_folder(empty)) == before


def test_an_exam_that_was_removed_does_not_come_back_unasked(data: Path, backup: Path) -> None:
    remove_exam(data, FIRST, why="test")
    with pytest.raises(ArchiveError, match="--again"):
        import_archive(data, backup)
    assert exam_ids(data) == [SECOND]


def test_an_exam_that_was_removed_comes_back_when_it_is_meant_and_stays(data: Path, backup: Path) -> None:
    remove_exam(data, FIRST, why="test")
    import_archive(data, backup, again=True)
    open_data(data)
    assert exam_ids(data) == [FIRST, SECOND] and removed_exams(data) == {}


@pytest.mark.parametrize("cut", [1, 100, 512, 1024, 5_000, 10_240])
def test_a_backup_that_was_cut_off_gives_nothing(backup: Path, empty: Path, cut: int) -> None:
    content = backup.read_bytes()
    end = content.rstrip(b"\0")  # a tar ends in zeros, which may be lost without harm
    backup.write_bytes(end[:-cut])
    with pytest.raises(ArchiveError, match="nothing was taken"):
        import_archive(empty, backup)
    assert exam_ids(empty) == []


def test_any_changed_byte_of_a_file_in_a_backup_shows(backup: Path, empty: Path) -> None:
    content = backup.read_bytes()
    place = content.index(b"tender") if b"tender" in content else content.index(b'"kind":"heard"')
    backup.write_bytes(content[:place] + b"T" + content[place + 1 :])
    with pytest.raises(ArchiveError, match="not what its manifest says"):
        import_archive(empty, backup)
    assert exam_ids(empty) == []


NO_BACKUPS = (b"", b"no tar", b"\0" * 10_240, b"dictate sealed backup\n", b"\x1f\x8b" + b"x" * 600)


@pytest.mark.parametrize("content", NO_BACKUPS)
def test_a_file_that_is_no_backup_gets_one_line(empty: Path, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.tar").write_bytes(content)
    with pytest.raises(ArchiveError):
        import_archive(empty, tmp_path / "x.tar", passphrase=lambda: PASSPHRASE)


def test_a_failed_import_leaves_nothing_behind(backup: Path, empty: Path) -> None:
    before = content_of(empty)
    backup.write_bytes(backup.read_bytes()[:8_000])
    with pytest.raises(ArchiveError):
        import_archive(empty, backup)
    assert content_of(empty) == before and [path.name for path in exams_folder(empty).iterdir()] == []


def test_a_failed_export_leaves_the_earlier_backup(data: Path, backup: Path) -> None:
    was = backup.read_bytes()
    (exams_folder(data) / FIRST / "sound-002.wav").symlink_to("/etc/hostname")
    with pytest.raises(ArchiveError, match="nothing was written"):
        export_archive(data, backup)
    assert backup.read_bytes() == was and [path.name for path in backup.parent.glob(".*")] == []


def test_half_a_line_that_is_being_written_is_not_backed_up(data: Path, tmp_path: Path, empty: Path) -> None:
    path = exams_folder(data) / SECOND / "journal.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"n":9,"at"')
    export_archive(data, tmp_path / "b.tar")
    import_archive(empty, tmp_path / "b.tar")
    assert (exams_folder(empty) / SECOND / "journal.jsonl").read_bytes() == whole


# -- sealed ----------------------------------------------------------------------------------------------------------


def test_sealed_exams_stay_sealed_in_a_backup(data: Path, tmp_path: Path, empty: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    export_archive(data, tmp_path / "b.tar")
    assert b"RIFF" not in (tmp_path / "b.tar").read_bytes()
    import_archive(empty, tmp_path / "b.tar")
    vault = unlock(empty, lambda: PASSPHRASE)
    assert vault is not None
    vault.unseal_all()
    assert ExamFolder.of(empty, FIRST).journal_path.is_file()


def test_exams_sealed_with_another_key_are_refused(data: Path, tmp_path: Path, empty: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    begin_sealing(empty, passphrase=PASSPHRASE, cost=CHEAP)
    export_archive(data, tmp_path / "b.tar")
    with pytest.raises(ArchiveError, match="another key"):
        import_archive(empty, tmp_path / "b.tar")
    assert exam_ids(empty) == []


def test_a_backup_sealed_as_a_whole_opens_with_its_passphrase(data: Path, tmp_path: Path, empty: Path) -> None:
    target = tmp_path / "b.tar"
    export_archive(data, target, passphrase=PASSPHRASE, cost=CHEAP)
    assert b"RIFF" not in target.read_bytes() and FIRST.encode() not in target.read_bytes()
    import_archive(empty, target, passphrase=lambda: PASSPHRASE)
    assert content_of(exams_folder(empty)) == content_of(exams_folder(data))


@pytest.mark.parametrize("typed", ["another passphrase altogether", None])
def test_a_sealed_backup_does_not_open_otherwise(data: Path, tmp_path: Path, empty: Path, typed: str | None) -> None:
    target = tmp_path / "b.tar"
    export_archive(data, target, passphrase=PASSPHRASE, cost=CHEAP)
    with pytest.raises(ArchiveError, match="passphrase"):
        import_archive(empty, target, passphrase=lambda: typed)
    assert exam_ids(empty) == []


@pytest.mark.parametrize("cut", [1, 2_000, 70_000])
def test_a_sealed_backup_that_was_cut_off_gives_nothing(data: Path, tmp_path: Path, empty: Path, cut: int) -> None:
    keep(data, sound_s=4.0)
    target = tmp_path / "b.tar"
    export_archive(data, target, passphrase=PASSPHRASE, cost=CHEAP)
    target.write_bytes(target.read_bytes()[:-cut])
    with pytest.raises(ArchiveError, match="nothing was taken"):
        import_archive(empty, target, passphrase=lambda: PASSPHRASE)
    assert exam_ids(empty) == []
