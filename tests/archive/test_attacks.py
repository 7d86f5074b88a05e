"""What was made to do harm: it is text, it is refused, or it is shown as damaged; it never hides the other exams."""

from __future__ import annotations

import io
import json
import os
import tarfile
from contextlib import suppress
from pathlib import Path

import pytest

from dictate.archive.backup import MANIFEST_NAME, Manifest
from dictate.archive.errors import ArchiveError
from dictate.archive.folder import open_data
from dictate.archive.index import INDEX_NAME, Index
from dictate.archive.purge import complete_purge, purge_sound, remove_exam
from dictate.archive.query import Query
from dictate.archive.removed import REMOVED_NAME, read_removals, removed_exams
from dictate.archive.restore import import_archive
from dictate.archive.tidy import tidy
from dictate.errors import DictateError
from dictate.journal.events import EVENT
from dictate.journal.exam import ExamFolder, exam_ids, exams_folder
from dictate.journal.journal import START, chained, read_journal
from tests.archive.made import DATED, content_of, keep

EXAM, OTHER = DATED["2025-11-03"], DATED["2026-02-10"]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    keep(folder, exam=EXAM, sound_s=0.1)
    keep(folder, exam=OTHER)
    open_data(folder)
    return folder


HARMFUL = (
    "'; DROP TABLE exam; --", '" OR 1=1', "tender' OR 'x'='x", "words : tender", "NEAR(tender joint)", "tend* OR left",
    "NOT tender", "(", ")", '"', "*", "^tender", "-tender", "tender AND", "{words side} : left", "%", "_", "\\", "\0",
    "a" * 100_000, "a " * 50_000, "\udc80", "🦵",
)  # fmt: skip


@pytest.mark.parametrize("full_text", [True, False])
@pytest.mark.parametrize("text", HARMFUL, ids=lambda text: repr(text[:12]))
def test_a_search_text_is_only_text(data: Path, text: str, full_text: bool) -> None:
    with Index(data, full_text=full_text) as index:
        index.refresh()
        with suppress(ArchiveError):  # far too long a text
            index.search(Query(text=text))
            index.search(Query(text=text, side="left", region="knee", patient=text))
        assert len(index.search()) == 2


@pytest.mark.parametrize("full_text", [True, False])
@pytest.mark.parametrize("text", ["tender OR zzz", "NOT tender", "tend* zzz", "% zzz", "_ender"])
def test_signs_of_a_query_language_have_no_meaning(data: Path, text: str, full_text: bool) -> None:
    with Index(data, full_text=full_text) as index:
        index.refresh()
        assert index.search(Query(text=text)) == []


@pytest.mark.parametrize("field", ["side", "region"])
def test_a_side_or_region_that_is_none_finds_nothing(data: Path, field: str) -> None:
    with Index(data) as index:
        index.refresh()
        query = Query(text="tender", **{field: 'left" OR words : "tender'})  # type: ignore[arg-type]
        assert index.search(query) == []


TRAVERSALS = ("../exams/" + EXAM, "..", ".", "/etc", EXAM + "/..", EXAM + "\n", "", EXAM.upper(), "٢" + EXAM[1:])


@pytest.mark.parametrize("exam", TRAVERSALS)
def test_an_id_never_leads_out_of_the_folder(data: Path, exam: str) -> None:
    before = content_of(data)
    with pytest.raises(DictateError):
        purge_sound(data, exam, why="")
    with pytest.raises(DictateError):
        remove_exam(data, exam, why="")
    assert content_of(data) == before


# -- journals --------------------------------------------------------------------------------------------------------


def _forge(path: Path, change: object) -> None:
    """Write a journal anew with a change and a chain that fits: what someone who knows the format can do."""
    lines, chain = [], START
    for line in path.read_text(encoding="utf-8").splitlines():
        fields = json.loads(line)
        fields.pop("chain")
        fields = change(fields)  # type: ignore[operator]
        body = json.dumps(fields, separators=(",", ":")).encode()
        chain = chained(chain, body)
        lines.append(body[:-1] + f',"chain":"{chain}"}}\n'.encode())
    path.write_bytes(b"".join(lines))


def _listed(data: Path) -> dict[str, str | None]:
    with Index(data) as index:
        index.refresh()
        return {row.exam: row.damaged for row in index.search()}


@pytest.mark.parametrize(
    "harm",
    [
        pytest.param(lambda path: path.write_bytes(path.read_bytes().replace(b"ender", b"ENDER")), id="changed"),
        pytest.param(lambda path: path.write_bytes(b"\n".join(path.read_bytes().split(b"\n")[2:])), id="lines cut"),
        pytest.param(lambda path: path.write_bytes(b"\xff\xfe\n" * 10), id="no text"),
        pytest.param(lambda path: path.write_bytes(b""), id="empty"),
        pytest.param(lambda path: path.write_bytes(b"{}\n"), id="no events"),
        pytest.param(lambda path: (path.unlink(), path.mkdir()), id="a folder"),
        pytest.param(lambda path: (path.unlink(), path.symlink_to("/etc/hostname")), id="a link"),
        pytest.param(lambda path: (path.unlink(), os.mkfifo(path)), id="a pipe"),
        pytest.param(lambda path: path.unlink(), id="gone"),
        pytest.param(lambda path: _forge(path, lambda e: e | {"exam": OTHER} if "exam" in e else e), id="another's"),
        pytest.param(lambda path: _forge(path, lambda e: e | {"format": 99} if "exam" in e else e), id="newer"),
        pytest.param(lambda path: _forge(path, lambda e: e | {"kind": "wiped"} if e["n"] == 2 else e), id="unknown"),
    ],
)
def test_a_damaged_journal_is_listed_as_damaged_beside_the_others(data: Path, harm: object) -> None:
    harm(exams_folder(data) / EXAM / "journal.jsonl")  # type: ignore[operator]
    listed = _listed(data)
    assert listed[EXAM] and listed[OTHER] is None


def test_a_journal_of_a_newer_program_is_told_as_that(data: Path) -> None:
    _forge(exams_folder(data) / EXAM / "journal.jsonl", lambda e: e | {"format": 99} if "exam" in e else e)
    assert "newer program" in (_listed(data)[EXAM] or "")


def test_a_link_in_place_of_an_exam_is_listed_as_damaged(data: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    (exams_folder(data) / EXAM).rename(elsewhere)
    (exams_folder(data) / EXAM).symlink_to(elsewhere)
    assert "link" in (_listed(data)[EXAM] or "")


@pytest.mark.parametrize("name", [".", "journal.jsonl"])
def test_an_exam_is_not_opened_through_a_link(data: Path, tmp_path: Path, name: str) -> None:
    place = exams_folder(data) / EXAM / name
    place.rename(tmp_path / "elsewhere")
    place.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(DictateError):
        ExamFolder.of(data, EXAM)


def test_a_sound_file_is_never_named_outside_the_exam(data: Path) -> None:
    path = exams_folder(data) / EXAM / "journal.jsonl"
    _forge(path, lambda e: e | {"file": "../../../secret.wav"} if "file" in e else e)
    assert read_journal(path).broken_line == 2


def test_a_forged_purge_removes_nothing_outside_the_exam(data: Path, tmp_path: Path) -> None:
    victim = tmp_path / "victim.wav"
    victim.write_bytes(b"x")
    path = exams_folder(data) / EXAM / "journal.jsonl"
    purge = {"kind": "purged", "files": ["../../../victim.wav"], "why": ""}
    _forge(path, lambda e: {"n": e["n"], "at": e["at"]} | purge if e["kind"] == "closed" else e)
    tidy(data)
    assert victim.exists()


def test_an_event_cannot_be_made_with_a_path_for_a_name() -> None:
    with pytest.raises(ValueError, match="pattern"):
        EVENT.validate_python({"kind": "purged", "files": ["../sound-001.wav"], "why": ""})


def test_only_files_that_the_journal_began_are_removed(data: Path) -> None:
    folder = exams_folder(data) / EXAM
    (folder / "sound-900.wav").write_bytes(b"x")
    complete_purge(folder, read_journal(folder / "journal.jsonl").events)
    assert (folder / "sound-900.wav").exists()


# -- the data folder -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [".", "exams"])
def test_a_folder_open_to_others_is_made_private(data: Path, name: str) -> None:
    (data / name).chmod(0o777)
    open_data(data)
    assert (data / name).stat().st_mode & 0o777 == 0o700


def test_a_link_in_place_of_the_exams_is_refused(data: Path, tmp_path: Path) -> None:
    exams_folder(data).rename(tmp_path / "elsewhere")
    exams_folder(data).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(ArchiveError, match="link"):
        open_data(data)


@pytest.mark.parametrize("name", [INDEX_NAME, "archive.lock", REMOVED_NAME])
def test_a_link_in_place_of_a_file_of_the_archive_is_not_followed(data: Path, tmp_path: Path, name: str) -> None:
    victim = tmp_path / "victim"
    victim.write_bytes(b"precious")
    (data / name).unlink(missing_ok=True)
    (data / name).symlink_to(victim)
    with pytest.raises(ArchiveError):
        _listed_after_opening(data)
    assert victim.read_bytes() == b"precious"


def _listed_after_opening(data: Path) -> None:
    open_data(data)
    _listed(data)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give a folder away")
def test_a_folder_of_another_user_is_refused(data: Path) -> None:
    os.chown(exams_folder(data), 65534, 65534)
    with pytest.raises(ArchiveError, match="another user"):
        open_data(data)


def test_a_changed_record_of_removals_removes_nothing(data: Path) -> None:
    remove_exam(data, OTHER, why="test")
    path = data / REMOVED_NAME
    path.write_bytes(path.read_bytes().replace(OTHER.encode(), EXAM.encode()))
    open_data(data)
    assert exam_ids(data) == [EXAM] and read_removals(data).broken_line == 1


def test_a_changed_record_of_removals_takes_no_further_one(data: Path) -> None:
    remove_exam(data, OTHER, why="test")
    path = data / REMOVED_NAME
    path.write_bytes(path.read_bytes().replace(b"test", b"TEST"))
    with pytest.raises(ArchiveError, match="line 1"):
        remove_exam(data, EXAM, why="test")
    assert exam_ids(data) == [EXAM]


def test_a_removed_exam_can_be_told_from_one_that_never_was(data: Path) -> None:
    remove_exam(data, OTHER, why="asked for by the patient")
    (record,) = read_removals(data).records
    assert (record.exam, record.why) == (OTHER, "asked for by the patient") and set(removed_exams(data)) == {OTHER}


# -- backups ---------------------------------------------------------------------------------------------------------


def _tar(path: Path, members: list[tuple[tarfile.TarInfo, bytes]], *, manifest: bool = True) -> Path:
    import hashlib

    with tarfile.open(path, "w") as tar:
        files = []
        for member, content in members:
            member.size = len(content)
            tar.addfile(member, io.BytesIO(content))
            digest = hashlib.sha256(content).hexdigest()
            files.append({"name": member.name, "size": len(content), "sha256": digest})
        if manifest:
            text = Manifest(program="x", files=files).model_dump_json().encode()  # type: ignore[arg-type]
            last = tarfile.TarInfo(MANIFEST_NAME)
            last.size = len(text)
            tar.addfile(last, io.BytesIO(text))
    return path


def _member(name: str, kind: bytes = tarfile.REGTYPE, link: str = "") -> tarfile.TarInfo:
    member = tarfile.TarInfo(name)
    member.type, member.linkname = kind, link
    return member


NEW = "2026-03-01T080000-cccc"


@pytest.mark.parametrize(
    "member",
    [
        _member("../evil"), _member("/tmp/evil"), _member(f"exams/{NEW}/../../evil"), _member("exams/../../evil"),
        _member(f"exams/{NEW}/evil.sh"), _member(f"exams/{NEW}/journal.jsonl/x"), _member("settings.toml"),
        _member("removed.jsonl"), _member("index.sqlite"), _member(f"exams/{NEW}/.hidden"),
        _member(f"exams/{NEW}/journal.jsonl", tarfile.SYMTYPE, "/etc/passwd"),
        _member(f"exams/{NEW}/journal.jsonl", tarfile.LNKTYPE, "exams/x"),
        _member(f"exams/{NEW}/journal.jsonl", tarfile.FIFOTYPE), _member(f"exams/{NEW}/sound-001.wav", tarfile.CHRTYPE),
        _member(f"exams/{NEW}/sound-٠٠١.wav"), _member("exams\\..\\evil"),
    ],
    ids=lambda member: f"{member.name} {member.linkname}",
)  # fmt: skip
def test_a_member_that_no_backup_has_is_refused(data: Path, tmp_path: Path, member: tarfile.TarInfo) -> None:
    before = content_of(tmp_path)
    source = _tar(tmp_path / "evil.tar", [(member, b"" if not member.isreg() else b"evil")])
    with pytest.raises(ArchiveError, match="nothing was taken"):
        import_archive(data, source)
    source.unlink()
    assert content_of(tmp_path) == before


def test_a_member_that_comes_twice_is_refused(data: Path, tmp_path: Path) -> None:
    name = f"exams/{NEW}/journal.jsonl"
    source = _tar(tmp_path / "twice.tar", [(_member(name), b"one"), (_member(name), b"two")])
    with pytest.raises(ArchiveError, match="twice"):
        import_archive(data, source)


def test_a_backup_without_its_manifest_is_refused(data: Path, tmp_path: Path) -> None:
    source = _tar(tmp_path / "none.tar", [(_member(f"exams/{NEW}/journal.jsonl"), b"one")], manifest=False)
    with pytest.raises(ArchiveError, match="manifest is missing"):
        import_archive(data, source)
