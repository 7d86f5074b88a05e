"""The key that exams are sealed with, and what it is wrapped by: a passphrase, or the system's keyring."""

from __future__ import annotations

import base64
import secrets
import tomllib
import unicodedata
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.archive.disk import told, write_whole
from dictate.archive.errors import ArchiveError
from dictate.archive.stream import KEY_ID_BYTES

SEALING_NAME = "sealing.toml"
SERVICE = "dictate"  # in the keyring
SHORTEST_PASSPHRASE = 15  # characters. Source: NIST SP 800-63B-4, for a secret that stands alone (from memory)
_NONCE_BYTES = 12


class PassphraseError(ArchiveError):
    """A passphrase that is not the right one, or cannot be used."""


class Cost(BaseModel):
    """What guessing one passphrase costs. Source: RFC 7914; OWASP Password Storage Cheat Sheet, scrypt: N=2^17, r=8."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    n: int = Field(default=1 << 17, ge=2, le=1 << 22)  # more than that would be a file made to stop the machine
    r: int = Field(default=8, ge=1, le=32)
    p: int = Field(default=1, ge=1, le=16)


class ByPassphrase(BaseModel):
    """The data key, wrapped by what scrypt makes of a passphrase."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    salt: str
    wrapped: str
    cost: Cost = Cost()


class Sealing(BaseModel):
    """What the data folder holds of its key: it opens nothing without the passphrase or the keyring."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    format: int = 1
    key_id: str = Field(pattern=f"^[0-9a-f]{{{2 * KEY_ID_BYTES}}}$")
    passphrase: ByPassphrase | None = None
    keyring: str | None = None  # the data key, wrapped by a key that the system's keyring keeps


def new_key() -> tuple[bytes, bytes]:
    """Return a new data key and its id."""
    return secrets.token_bytes(32), secrets.token_bytes(KEY_ID_BYTES)


def read_sealing(path: Path) -> Sealing | None:
    """Return how a folder is sealed; None if it is not. Raises ArchiveError if that file cannot be used."""
    try:
        sealing = Sealing.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, ValidationError) as error:
        raise ArchiveError(f"{path} cannot be used; restore it from a backup: nothing is opened without it") from error
    if sealing.format != 1:
        raise ArchiveError(f"{path} was written by a newer program; update this one")
    return sealing


def write_sealing(path: Path, sealing: Sealing) -> None:
    """Write how a folder is sealed. Raises ArchiveError."""
    lines = [
        "# The key of the sealed exams, wrapped. Without this file they cannot be opened: keep it with every backup.",
        f"format = {sealing.format}",
        f'key_id = "{sealing.key_id}"',
    ]
    if sealing.keyring is not None:
        lines.append(f'keyring = "{sealing.keyring}"')
    if sealing.passphrase is not None:
        way = sealing.passphrase
        lines += ["[passphrase]", f'salt = "{way.salt}"', f'wrapped = "{way.wrapped}"']
        lines += ["[passphrase.cost]", f"n = {way.cost.n}", f"r = {way.cost.r}", f"p = {way.cost.p}"]
    with told(f"{path} cannot be written"):
        write_whole(path, ("\n".join(lines) + "\n").encode())


def wrap_by_passphrase(key: bytes, key_id: bytes, passphrase: str, *, cost: Cost | None = None) -> ByPassphrase:
    """Return the data key wrapped by a passphrase. Raises PassphraseError if that is too short to protect anything."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise PassphraseError(
            f"a passphrase needs {SHORTEST_PASSPHRASE} characters or more; several words that do not belong together "
            "do: nothing was changed"
        )
    cost = cost or Cost()
    salt = secrets.token_bytes(16)
    return ByPassphrase(salt=salt.hex(), wrapped=_wrap(key, key_id, _stretched(passphrase, salt, cost)), cost=cost)


def unwrap_by_passphrase(sealing: Sealing, passphrase: str) -> bytes:
    """Return the data key. Raises PassphraseError if it is not the passphrase, or none was set."""
    if sealing.passphrase is None:
        raise PassphraseError("the archive was sealed with the keyring, not a passphrase; log in where that keyring is")
    way = sealing.passphrase
    try:
        return _unwrap(way.wrapped, sealing.key_id, _stretched(passphrase, bytes.fromhex(way.salt), way.cost))
    except (InvalidTag, ValueError) as error:
        raise PassphraseError("that is not the passphrase; nothing was opened or changed") from error
    except MemoryError as error:
        raise PassphraseError("there is not enough memory to try a passphrase; close other programs") from error


def wrap_by_keyring(key: bytes, key_id: bytes) -> str:
    """Return the data key wrapped by a new key in the system's keyring. Raises ArchiveError without a keyring."""
    other = secrets.token_bytes(32)
    import keyring
    from keyring.errors import KeyringError

    try:
        keyring.set_password(SERVICE, key_id.hex(), base64.b64encode(other).decode())
        kept = keyring.get_password(SERVICE, key_id.hex())
    except (KeyringError, RuntimeError) as error:
        raise _no_keyring() from error
    if kept != base64.b64encode(other).decode():
        raise _no_keyring()
    return _wrap(key, key_id, other)


def unwrap_by_keyring(sealing: Sealing) -> bytes | None:
    """Return the data key from the system's keyring; None if it does not have it."""
    if sealing.keyring is None:
        return None
    import keyring
    from keyring.errors import KeyringError

    try:
        kept = keyring.get_password(SERVICE, sealing.key_id)
        return _unwrap(sealing.keyring, sealing.key_id, base64.b64decode(kept)) if kept else None
    except (KeyringError, RuntimeError, InvalidTag, ValueError):
        return None


def forget_in_keyring(key_id: str) -> None:
    """Take the key out of the system's keyring, where it is in there."""
    import keyring
    from keyring.errors import KeyringError

    try:
        keyring.delete_password(SERVICE, key_id)
    except (KeyringError, RuntimeError):
        return


def _no_keyring() -> ArchiveError:
    return ArchiveError("no keyring of this system can be used; seal with a passphrase instead: nothing was changed")


def _stretched(passphrase: str, salt: bytes, cost: Cost) -> bytes:
    """Return the key that a passphrase gives; accents typed either way are the same (RFC 8265, NFC)."""
    typed = unicodedata.normalize("NFC", passphrase).encode()
    return Scrypt(salt=salt, length=32, n=cost.n, r=cost.r, p=cost.p).derive(typed)


def _wrap(key: bytes, key_id: bytes, other: bytes) -> str:
    nonce = secrets.token_bytes(_NONCE_BYTES)
    return (nonce + ChaCha20Poly1305(other).encrypt(nonce, key, b"dictate data key\0" + key_id)).hex()


def _unwrap(wrapped: str, key_id: str, other: bytes) -> bytes:
    content = bytes.fromhex(wrapped)
    bound = b"dictate data key\0" + bytes.fromhex(key_id)
    return ChaCha20Poly1305(other).decrypt(content[:_NONCE_BYTES], content[_NONCE_BYTES:], bound)
