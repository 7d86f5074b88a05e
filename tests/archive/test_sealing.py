"""Sealing: what was sealed opens only with its passphrase, and any change to it shows."""

from __future__ import annotations

import secrets
from pathlib import Path

import keyring
import pytest
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from hypothesis import given
from hypothesis import strategies as st
from keyring.backend import KeyringBackend

from dictate.archive import keys
from dictate.archive.errors import ArchiveError
from dictate.archive.folder import open_data
from dictate.archive.index import INDEX_NAME, Index
from dictate.archive.keys import SEALING_NAME, Cost, PassphraseError
from dictate.archive.query import Query
from dictate.archive.rows import SEALED
from dictate.archive.stream import CHUNK_BYTES, HEADER_BYTES, TAG_BYTES, SealError, opened_blocks, sealed_blocks
from dictate.archive.vault import Vault, begin_sealing, unlock
from dictate.errors import JournalError
from dictate.journal.events import HeardUtterance
from dictate.journal.exam import exams_folder
from dictate.journal.journal import Journal
from dictate.recognise.events import Utterance
from tests.archive.made import DATED, LEFT_KNEE, content_of, keep

PASSPHRASE = "plum gravel lantern sofa"
CHEAP = Cost(n=16, r=1, p=1)  # the tests try many passphrases; what a real one costs is not what they are about
KEY, KEY_ID = bytes(range(32)), b"k" * 16
EXAM = DATED["2025-11-03"]
CHUNK = CHUNK_BYTES + TAG_BYTES


def _sealed(content: bytes, name: str = "a") -> bytes:
    return b"".join(sealed_blocks([content], KEY, key_id=KEY_ID, name=name))


def _opened(sealed: bytes, name: str = "a", *, step: int = 70_001) -> bytes:
    return b"".join(opened_blocks((sealed[i : i + step] for i in range(0, len(sealed), step)), KEY, name=name))


# -- the stream ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [0, 1, CHUNK_BYTES - 1, CHUNK_BYTES, CHUNK_BYTES + 1, 3 * CHUNK_BYTES, 200_000])
@pytest.mark.parametrize("step", [1 << 20, 70_001, CHUNK])
def test_what_was_sealed_opens_again(size: int, step: int) -> None:
    content = secrets.token_bytes(size)
    assert _opened(_sealed(content), step=step) == content


@given(st.lists(st.binary(max_size=200), max_size=8))
def test_blocks_of_any_size_give_the_same_content(blocks: list[bytes]) -> None:
    sealed = b"".join(sealed_blocks(blocks, KEY, key_id=KEY_ID, name="a"))
    assert _opened(sealed, step=7) == b"".join(blocks)


def test_a_chunk_is_chacha20_poly1305_under_a_key_by_hkdf() -> None:
    # Source: RFC 8439 (ChaCha20-Poly1305) and RFC 5869 (HKDF), by the reference library, put together by hand here.
    sealed = _sealed(b"content", "name")
    header = sealed[:HEADER_BYTES]
    key = HKDF(algorithm=SHA256(), length=32, salt=header[-32:], info=b"dictate sealed file\0name").derive(KEY)
    last = b"\0" * 11 + b"\1"
    assert ChaCha20Poly1305(key).decrypt(last, sealed[HEADER_BYTES:], header) == b"content"


LONG = _sealed(secrets.token_bytes(3 * CHUNK_BYTES + 100))
_BODY = LONG[HEADER_BYTES:]
_CHUNKS = [_BODY[i : i + CHUNK] for i in range(0, len(_BODY), CHUNK)]
_HEAD = LONG[:HEADER_BYTES]


@pytest.mark.parametrize(
    "harmed",
    [
        pytest.param(LONG[:-1], id="a byte cut off"),
        pytest.param(_HEAD + b"".join(_CHUNKS[:-1]), id="the last chunk cut off"),
        pytest.param(_HEAD + b"".join(_CHUNKS[:2]), id="cut at the end of a chunk"),
        pytest.param(_HEAD, id="only the header"),
        pytest.param(LONG[:20], id="half a header"),
        pytest.param(b"", id="nothing"),
        pytest.param(_HEAD + _CHUNKS[1] + _CHUNKS[0] + b"".join(_CHUNKS[2:]), id="two chunks changed places"),
        pytest.param(_HEAD + b"".join(_CHUNKS[1:]), id="a chunk left out"),
        pytest.param(_HEAD + _CHUNKS[0] + b"".join(_CHUNKS), id="a chunk twice"),
        pytest.param(LONG + b"x", id="a byte added"),
        pytest.param(LONG + _CHUNKS[-1], id="a chunk added"),
        pytest.param(LONG[:-20] + bytes([LONG[-20] ^ 1]) + LONG[-19:], id="a bit changed"),
        pytest.param(LONG[:10] + bytes([LONG[10] ^ 1]) + LONG[11:], id="a bit of the header changed"),
    ],
)
def test_harm_to_a_sealed_file_shows(harmed: bytes) -> None:
    with pytest.raises(SealError):
        _opened(harmed)


def test_two_sealed_files_cannot_change_places() -> None:
    with pytest.raises(SealError):
        _opened(_sealed(b"one", "exam-1/journal.jsonl"), "exam-2/journal.jsonl")


def test_the_same_content_is_never_sealed_alike() -> None:
    assert _sealed(b"content") != _sealed(b"content")


# -- the passphrase --------------------------------------------------------------------------------------------------


def test_a_passphrase_is_stretched_as_the_standard_says() -> None:
    # Source: RFC 7914, section 12, third test vector; its first 32 of 64 bytes, which scrypt makes alike.
    wanted = "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"
    assert keys._stretched("pleaseletmein", b"SodiumChloride", Cost(n=16384, r=8, p=1)).hex() == wanted


def test_guessing_costs_what_is_recommended() -> None:
    # Source: OWASP, Password Storage Cheat Sheet: scrypt with at least N=2^17, r=8, p=1.
    cost = Cost()
    assert (cost.n, cost.r, cost.p) == (1 << 17, 8, 1)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    keep(folder, LEFT_KNEE, exam=EXAM, sound_s=0.1, patient="K-017")
    open_data(folder)
    return folder


@pytest.fixture
def vault(data: Path) -> Vault:
    made = begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    made.seal_all()
    return made


def test_a_wrong_passphrase_is_told_and_changes_nothing(data: Path, vault: Vault) -> None:
    before = content_of(data)
    with pytest.raises(PassphraseError, match="not the passphrase"):
        unlock(data, lambda: "another passphrase altogether")
    assert content_of(data) == before


def test_a_passphrase_that_is_too_short_seals_nothing(data: Path) -> None:
    before = content_of(data)
    with pytest.raises(PassphraseError):
        begin_sealing(data, passphrase="short")
    assert content_of(data) == before


def test_a_second_key_never_takes_the_place_of_the_first(data: Path, vault: Vault) -> None:
    before = (data / SEALING_NAME).read_bytes()
    with pytest.raises(ArchiveError, match="sealed already"):
        begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    assert (data / SEALING_NAME).read_bytes() == before


def test_accents_typed_in_two_ways_are_one_passphrase(data: Path) -> None:
    # Source: RFC 8265, section 4.2 (OpaqueString): Unicode Normalization Form C.
    begin_sealing(data, passphrase="caf\u00e9 plum gravel lantern", cost=CHEAP)
    assert unlock(data, lambda: "cafe\u0301 plum gravel lantern") is not None


def test_the_passphrase_can_be_changed(data: Path, vault: Vault) -> None:
    vault.change_passphrase("another passphrase altogether", cost=CHEAP)
    with pytest.raises(PassphraseError):
        unlock(data, lambda: PASSPHRASE)
    opened = unlock(data, lambda: "another passphrase altogether")
    assert opened is not None and opened.read(exams_folder(data) / EXAM / f"journal.jsonl{SEALED}")


def test_a_file_of_keys_made_to_stop_the_machine_is_refused(data: Path, vault: Vault) -> None:
    path = data / SEALING_NAME
    path.write_text(path.read_text().replace("n = 16\n", f"n = {1 << 40}\n"))
    with pytest.raises(ArchiveError, match="cannot be used"):
        unlock(data, lambda: PASSPHRASE)


# -- exams -----------------------------------------------------------------------------------------------------------


def test_nothing_that_was_said_or_recorded_is_left_readable(data: Path, vault: Vault) -> None:
    everything = b"".join(content_of(data).values())
    assert not any(word in everything for word in (b"tender", b"K-017", b"RIFF", b"effusion"))


def test_unsealing_gives_back_every_byte(tmp_path: Path) -> None:
    data = tmp_path / "data"
    keep(data, exam=EXAM, sound_s=5.0)
    open_data(data)
    before = content_of(exams_folder(data))
    vault = begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP)
    vault.seal_all()
    vault.unseal_all()
    assert content_of(exams_folder(data)) == before
    assert not (data / SEALING_NAME).exists()


def test_an_exam_that_may_be_under_way_is_left_plain_and_told(data: Path) -> None:
    running = keep(data, closed=False).exam
    done = begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    assert (done.exams, done.left) == ((EXAM,), (running,))


def test_a_sealed_exam_is_listed_without_its_content(data: Path, vault: Vault) -> None:
    with Index(data) as index:
        index.refresh()
        (row,) = index.search()
    assert (row.sealed, row.patient, row.findings, row.damaged) == (True, None, 0, None)


def test_a_sealed_exam_is_found_with_the_passphrase(data: Path, vault: Vault) -> None:
    with Index(data, opener=vault) as index:
        index.refresh()
        (row,) = index.search(Query(text="joint line"))
    assert (row.exam, row.sealed, row.patient) == (EXAM, False, "K-017")


def test_the_index_of_sealed_exams_is_sealed_too(data: Path, vault: Vault) -> None:
    with Index(data, opener=vault) as index:
        index.refresh()
    assert not (data / INDEX_NAME).exists()
    assert b"tender" not in (data / (INDEX_NAME + SEALED)).read_bytes()


def test_a_sealed_index_is_read_again_and_not_made_anew(data: Path, vault: Vault) -> None:
    with Index(data, opener=vault) as index:
        index.refresh()
    with Index(data, opener=vault) as index:
        assert index.refresh() == 0
        assert len(index.search(Query(text="tender"))) == 1


def test_a_sealed_index_that_was_changed_is_made_anew(data: Path, vault: Vault) -> None:
    with Index(data, opener=vault) as index:
        index.refresh()
    path = data / (INDEX_NAME + SEALED)
    path.write_bytes(path.read_bytes()[:-5] + b"xxxxx")
    with Index(data, opener=vault) as index:
        assert index.refresh() == 1


def test_an_opened_exam_is_sealed_again_with_what_was_added(data: Path, vault: Vault) -> None:
    with vault.opened(EXAM) as folder:
        journal = Journal(folder.journal_path)
        journal.append(HeardUtterance(utterance=Utterance.of_text("one more")))
        journal.close()
    folder_path = exams_folder(data) / EXAM
    assert all(name.endswith(SEALED) for name in content_of(folder_path))
    assert b'"more"' in vault.read(folder_path / f"journal.jsonl{SEALED}")


def test_a_journal_that_was_sealed_meanwhile_takes_no_event_that_would_be_lost(data: Path) -> None:
    journal = Journal(exams_folder(data) / EXAM / "journal.jsonl")
    begin_sealing(data, passphrase=PASSPHRASE, cost=CHEAP).seal_all()
    with pytest.raises(JournalError, match="sealed or removed meanwhile"):
        journal.append(HeardUtterance(utterance=Utterance.of_text("lost")))


def test_a_sealed_journal_of_another_exam_does_not_open(data: Path, vault: Vault) -> None:
    other = DATED["2026-02-10"]
    keep(data, exam=other)
    vault.seal_all()
    exams = exams_folder(data)
    (exams / EXAM / f"journal.jsonl{SEALED}").replace(exams / other / f"journal.jsonl{SEALED}")
    with Index(data, opener=vault) as index:
        index.refresh()
        row = index.row(other)
    assert row is not None and "changed" in (row.damaged or "")


# -- the keyring -----------------------------------------------------------------------------------------------------


class _Memory(KeyringBackend):
    priority = 1  # type: ignore[assignment]

    def __init__(self) -> None:
        super().__init__()
        self.kept: dict[tuple[str, str], str] = {}

    def get_password(self, service: str, username: str) -> str | None:
        return self.kept.get((service, username))

    def set_password(self, service: str, username: str, password: str) -> None:
        self.kept[service, username] = password

    def delete_password(self, service: str, username: str) -> None:
        del self.kept[service, username]


def test_the_keyring_opens_without_a_passphrase(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    backend = _Memory()
    monkeypatch.setattr(keyring.core, "_keyring_backend", backend)
    begin_sealing(data, passphrase=None, keyring=True).seal_all()
    opened = unlock(data, lambda: pytest.fail("no passphrase is needed"))
    assert opened is not None and opened.read(exams_folder(data) / EXAM / f"journal.jsonl{SEALED}")


def test_the_key_on_disk_does_not_open_without_the_keyring(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    backend = _Memory()
    monkeypatch.setattr(keyring.core, "_keyring_backend", backend)
    begin_sealing(data, passphrase=None, keyring=True).seal_all()
    backend.kept.clear()
    with pytest.raises(PassphraseError, match="keyring"):
        unlock(data, lambda: PASSPHRASE)


def test_without_a_keyring_one_line_says_so(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from keyring.backends.fail import Keyring

    monkeypatch.setattr(keyring.core, "_keyring_backend", Keyring())
    with pytest.raises(ArchiveError, match="no keyring"):
        begin_sealing(data, passphrase=None, keyring=True)
    assert not (data / SEALING_NAME).exists()
