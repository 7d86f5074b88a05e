"""At every write the power may go: the exam is then as before or as after, and the next start ends what was begun."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from dictate.archive.about import tell_about
from dictate.archive.backup import export_archive
from dictate.archive.folder import FORMAT_NAME, open_data
from dictate.archive.keys import PassphraseError
from dictate.archive.purge import purge_sound, remove_exam
from dictate.archive.removed import removed_exams
from dictate.archive.restore import import_archive
from dictate.archive.rows import SEALED, purged_files, reading_of
from dictate.archive.settings import Retention, read_retention, write_retention
from dictate.archive.tidy import tidy
from dictate.archive.vault import begin_sealing, unlock
from dictate.journal.events import HeardUtterance, Opened
from dictate.journal.exam import ExamFolder, exam_ids, exams_folder
from dictate.journal.journal import Journal, read_journal
from dictate.journal.signing import check
from dictate.journal.sound import SoundWriter, samples_in
from dictate.recognise.events import Utterance
from tests.archive.made import DATED, LEFT_KNEE, content_of, keep, sign, sound_names
from tests.archive.test_sealing import CHEAP, PASSPHRASE
from tests.support.powercut import every_cut

EXAM = DATED["2025-11-03"]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    keep(folder, LEFT_KNEE, exam=EXAM, sound_s=0.1)
    open_data(folder)
    return folder


def _folder(data: Path, exam: str = EXAM) -> ExamFolder:
    return ExamFolder(exams_folder(data) / exam)


def test_an_event_is_in_the_journal_whole_or_not_at_all(data: Path) -> None:
    def append(data: Path) -> None:
        Journal(_folder(data).journal_path).append(HeardUtterance(utterance=Utterance.of_text("one more")))

    before = read_journal(_folder(data).journal_path).events
    for cut in every_cut(data, append):
        journal = Journal(_folder(cut.folder).journal_path)  # sets a torn line aside
        assert journal.events[: len(before)] == before and len(journal.events) - len(before) in (0, 1), cut


def test_after_a_cut_append_a_journal_takes_events_again(data: Path) -> None:
    def append(data: Path) -> None:
        Journal(_folder(data).journal_path).append(HeardUtterance(utterance=Utterance.of_text("one more")))

    for cut in every_cut(data, append):
        append(cut.folder)
        assert read_journal(_folder(cut.folder).journal_path).broken_line is None, cut


def test_a_new_exam_is_there_with_its_opening_or_holds_nothing(data: Path) -> None:
    new = DATED["2026-02-10"]

    def create(data: Path) -> None:
        ExamFolder.create(data, Opened(exam=new, program="test", lexicon="0" * 64, source="live"))

    for cut in every_cut(data, create):
        events = read_journal(_folder(cut.folder, new).journal_path).events if _made(cut.folder, new) else ()
        assert len(events) in (0, 1), cut
        assert reading_of(_folder(cut.folder).path) is not None, cut


def _made(data: Path, exam: str) -> bool:
    return _folder(data, exam).journal_path.exists()


def test_sound_that_was_synced_stays_and_its_file_can_be_read(data: Path) -> None:
    block = np.full(8_000, 0.25, dtype=np.float32)

    def record(data: Path) -> None:
        writer = SoundWriter(_folder(data).path / "sound-002.wav")
        for _ in range(2):
            writer.append(block)
            (data / "said-to-be-safe").write_text(str(writer.samples))
        writer.close()

    for cut in every_cut(data, record):
        safe = cut.folder / "said-to-be-safe"
        promised = int(safe.read_text()) if safe.exists() else 0
        assert samples_in(_folder(cut.folder).path / "sound-002.wav") >= promised, cut


def test_sound_is_purged_with_a_record_of_it(data: Path) -> None:
    for cut in every_cut(data, lambda data: purge_sound(data, EXAM, why="test")):
        reading = read_journal(_folder(cut.folder).journal_path)
        gone = not sound_names(_folder(cut.folder))
        assert not gone or purged_files(reading.events), cut


def test_the_next_start_completes_a_purge_that_was_begun(data: Path) -> None:
    for cut in every_cut(data, lambda data: purge_sound(data, EXAM, why="test")):
        Journal(_folder(cut.folder).journal_path).close()  # a torn line is set aside, as any writer does
        begun = bool(purged_files(read_journal(_folder(cut.folder).journal_path).events))
        tidy(cut.folder)
        assert bool(sound_names(_folder(cut.folder))) != begun, cut


def test_an_exam_is_removed_with_a_record_or_whole(data: Path) -> None:
    before = content_of(_folder(data).path)
    for cut in every_cut(data, lambda data: remove_exam(data, EXAM, why="test")):
        if EXAM not in removed_exams(cut.folder):
            assert content_of(_folder(cut.folder).path) == before, cut


def test_the_next_start_completes_a_removal_that_was_begun(data: Path) -> None:
    for cut in every_cut(data, lambda data: remove_exam(data, EXAM, why="test")):
        open_data(cut.folder)
        assert (EXAM in exam_ids(cut.folder)) != (EXAM in removed_exams(cut.folder)), cut


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    other = tmp_path / "other"
    for exam in DATED.values():
        keep(other, LEFT_KNEE, exam=exam, sound_s=0.1)
    target = tmp_path / "backup.tar"
    open_data(other)
    export_archive(other, target)
    return target


def test_a_backup_is_taken_in_whole_or_not_at_all(tmp_path: Path, backup: Path) -> None:
    empty = tmp_path / "empty"
    open_data(empty, make=True)
    wanted = sorted(DATED.values())
    for cut in every_cut(empty, lambda data: import_archive(data, backup)):
        open_data(cut.folder)  # the next start
        assert exam_ids(cut.folder) in ([], wanted), cut
        assert not list(cut.folder.glob(".incoming*")) and not list(cut.folder.glob("incoming*")), cut


def test_what_was_taken_in_after_a_cut_is_what_was_backed_up(tmp_path: Path, backup: Path) -> None:
    empty = tmp_path / "empty"
    open_data(empty, make=True)
    wanted = content_of(exams_folder(tmp_path / "other"))
    for cut in every_cut(empty, lambda data: import_archive(data, backup)):
        open_data(cut.folder)
        assert content_of(exams_folder(cut.folder)) in ({}, wanted), cut


def test_an_exam_is_extended_wholly_after_the_next_start(tmp_path: Path, data: Path) -> None:
    short = content_of(_folder(data).path)
    longer = tmp_path / "longer"
    import_archive_into(longer, data, tmp_path / "first.tar")
    Journal(_folder(longer).journal_path).append(HeardUtterance(utterance=Utterance.of_text("one more")))
    target = tmp_path / "second.tar"
    export_archive(longer, target)
    long = content_of(_folder(longer).path)
    for cut in every_cut(data, lambda data: import_archive(data, target, extend=True)):
        open_data(cut.folder)
        assert content_of(_folder(cut.folder).path) in (short, long), cut


def import_archive_into(new: Path, data: Path, target: Path) -> None:
    export_archive(data, target)
    open_data(new, make=True)
    import_archive(new, target)


def test_a_backup_file_is_there_whole_or_not_at_all(data: Path) -> None:
    for cut in every_cut(data, lambda data: export_archive(data, data / "backup.tar")):
        target = cut.folder / "backup.tar"
        if target.exists():
            new = cut.folder / "new"
            open_data(new, make=True)
            assert import_archive(new, target).new == (EXAM,), cut


@pytest.mark.parametrize("seals", [True, False], ids=["seal", "unseal"])
def test_no_cut_of_sealing_or_unsealing_loses_a_byte(data: Path, seals: bool) -> None:
    before = content_of(_folder(data).path)
    vault = begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    if not seals:
        vault.seal_all()

    def operation(data: Path) -> None:
        opened = unlock(data, lambda: PASSPHRASE)
        assert opened is not None
        if seals:
            opened.seal_all()
        else:
            opened.unseal_exam(_folder(data).path)

    for cut in every_cut(data, operation):
        opened = unlock(cut.folder, lambda: PASSPHRASE)
        assert opened is not None
        opened.unseal_exam(_folder(cut.folder).path)
        left = {name: held for name, held in content_of(_folder(cut.folder).path).items() if not name.startswith(".")}
        assert left == before, cut


def test_sealing_that_was_cut_short_is_completed_by_the_next_run(data: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)

    def seal(data: Path) -> None:
        vault = unlock(data, lambda: PASSPHRASE)
        assert vault is not None
        vault.seal_all()

    for cut in every_cut(data, seal):
        seal(cut.folder)
        assert all(name.endswith(SEALED) for name in content_of(_folder(cut.folder).path)), cut


def test_an_edit_of_a_sealed_exam_is_kept_or_was_never_made(data: Path) -> None:
    vault = begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    vault.seal_all()

    def edit(data: Path) -> None:
        vault = unlock(data, lambda: PASSPHRASE)
        assert vault is not None
        with vault.opened(EXAM) as folder:
            tell_about(Journal(folder.journal_path), patient="K-017")

    before = _sealed_events(data)
    for cut in every_cut(data, edit):
        assert _sealed_events(cut.folder) - before in (0, 1), cut


def _sealed_events(data: Path) -> int:
    vault = unlock(data, lambda: PASSPHRASE)
    assert vault is not None
    reading = reading_of(_folder(data).path, decrypt=vault.read)
    assert reading is not None and reading.broken_line is None
    return len(reading.events)


def test_settings_are_the_old_or_the_new_ones(data: Path) -> None:
    old, new = Retention(sound_days=30), Retention(sound_until_signed=True)
    write_retention(data, old)
    for cut in every_cut(data, lambda data: write_retention(data, new)):
        assert read_retention(cut.folder) in (old, new), cut


def test_a_migration_that_was_cut_short_is_done_at_the_next_start(data: Path) -> None:
    (data / FORMAT_NAME).unlink()
    _folder(data).path.chmod(0o755)
    for cut in every_cut(data, open_data):
        open_data(cut.folder)
        assert _folder(cut.folder).path.stat().st_mode & 0o077 == 0, cut


def test_the_record_of_removals_is_not_broken_by_a_cut(data: Path) -> None:
    second = keep(data, LEFT_KNEE, exam=DATED["2026-02-10"]).exam
    remove_exam(data, second, why="before")
    for cut in every_cut(data, lambda data: remove_exam(data, EXAM, why="test")):
        remove_exam_again(cut.folder)
        assert set(removed_exams(cut.folder)) == {second, EXAM}, cut


def remove_exam_again(data: Path) -> None:
    open_data(data)
    if EXAM in exam_ids(data):
        remove_exam(data, EXAM, why="again")


# -- keys, signatures, and ends of sealing ----------------------------------------------------------------------------


def test_a_signature_is_there_whole_or_not_at_all(data: Path) -> None:
    def put_name_to(data: Path) -> None:
        sign(Journal(_folder(data).journal_path))

    for cut in every_cut(data, put_name_to):
        path = _folder(cut.folder).journal_path
        Journal(path).close()  # sets a torn line aside
        found = check(path)
        assert found.faults == () and len(found.signatures) in (0, 1), cut


def test_the_first_key_opens_all_or_nothing_is_sealed(data: Path) -> None:
    before = content_of(_folder(data).path)
    for cut in every_cut(data, lambda data: begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)):
        if unlock(cut.folder, lambda: PASSPHRASE) is None:
            begin_sealing(cut.folder, passphrase=PASSPHRASE, cost=CHEAP)
        assert content_of(_folder(cut.folder).path) == before, cut


def test_a_passphrase_is_the_old_or_the_new_one(data: Path) -> None:
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    new = "another passphrase altogether"

    def change(data: Path) -> None:
        vault = unlock(data, lambda: PASSPHRASE)
        assert vault is not None
        vault.change_passphrase(new, cost=CHEAP)

    for cut in every_cut(data, change):
        assert _opens(cut.folder, PASSPHRASE) != _opens(cut.folder, new), cut


def _opens(data: Path, passphrase: str) -> bool:
    try:
        vault = unlock(data, lambda: passphrase)
    except PassphraseError:
        return False
    return vault is not None and b"opened" in vault.read(_folder(data).sealed_journal)


def test_an_end_of_sealing_that_was_cut_short_loses_no_byte(data: Path) -> None:
    before = content_of(_folder(data).path)
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()

    def unseal(data: Path) -> None:
        vault = unlock(data, lambda: PASSPHRASE)
        if vault is not None:
            vault.unseal_all()

    for cut in every_cut(data, unseal):
        unseal(cut.folder)
        left = {name: held for name, held in content_of(_folder(cut.folder).path).items() if not name.startswith(".")}
        assert left == before and unlock(cut.folder, lambda: PASSPHRASE) is None, cut
