"""Sealed bytes: authenticated encryption in chunks, so that a long sound file is never held in memory.

The construction is STREAM (Hoang, Reyhanitabar, Rogaway, Vizár: Online Authenticated-Encryption and its Nonce-Reuse
Misuse-Resistance, 2015) over ChaCha20-Poly1305 (RFC 8439): the nonce counts the chunks and marks the last one, so that
chunks that were cut off, left out or put in another order show. Each file has a key of its own (HKDF, RFC 5869), made
from a random salt and the file's name, so that two sealed files cannot change places either.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from dictate.archive.errors import ArchiveError

MAGIC = b"dictate1"
KEY_ID_BYTES = 16
SALT_BYTES = 32
HEADER_BYTES = len(MAGIC) + KEY_ID_BYTES + SALT_BYTES
CHUNK_BYTES = 64 * 1024
TAG_BYTES = 16


class SealError(ArchiveError):
    """Sealed bytes that are not what was sealed, or were sealed with another key."""


class Sealer:
    """Seals bytes as they come: `update` any number of times, then `finish`."""

    def __init__(self, key: bytes, *, key_id: bytes, name: str) -> None:
        """Begin a file that is sealed with the data key, under the name that it is opened by."""
        self.header = MAGIC + key_id + secrets.token_bytes(SALT_BYTES)
        self._cipher = ChaCha20Poly1305(_file_key(key, self.header, name))
        self._held = b""
        self._count = 0
        self._begun = False

    def update(self, content: bytes) -> bytes:
        """Return what is to be written next; the last chunk is held back, as it must be marked."""
        held = self._held + content
        sealed = [] if self._begun else [self.header]
        self._begun = True
        start = 0
        while len(held) - start > CHUNK_BYTES:
            sealed.append(self._chunk(held[start : start + CHUNK_BYTES], last=False))
            start += CHUNK_BYTES
        self._held = held[start:]
        return b"".join(sealed)

    def finish(self) -> bytes:
        """Return the end of the file."""
        return self.update(b"") + self._chunk(self._held, last=True)

    def _chunk(self, content: bytes, *, last: bool) -> bytes:
        sealed = self._cipher.encrypt(_nonce(self._count, last=last), content, self.header)
        self._count += 1
        return sealed


def sealed_blocks(blocks: Iterable[bytes], key: bytes, *, key_id: bytes, name: str) -> Iterator[bytes]:
    """Yield the sealed form of a file's blocks."""
    sealer = Sealer(key, key_id=key_id, name=name)
    for block in blocks:
        yield sealer.update(block)
    yield sealer.finish()


def opened_blocks(blocks: Iterable[bytes], key: bytes, *, name: str) -> Iterator[bytes]:
    """Yield the content of a sealed file, each chunk once it is found to be what was sealed.

    Raises:
        SealError: some of it is not; what was yielded before is true, but not all of the file.
    """
    held = b""
    source = iter(blocks)
    while len(held) < HEADER_BYTES and (block := next(source, b"")):
        held += block
    header, held = held[:HEADER_BYTES], held[HEADER_BYTES:]
    key_id_of(header)
    cipher = ChaCha20Poly1305(_file_key(key, header, name))
    count, size = 0, CHUNK_BYTES + TAG_BYTES
    for block in source:
        held += block
        start = 0
        while len(held) - start > size:
            yield _opened(cipher, held[start : start + size], header, count, name, last=False)
            count, start = count + 1, start + size
        held = held[start:]
    while len(held) > size:  # a short file is all in the first block
        yield _opened(cipher, held[:size], header, count, name, last=False)
        count, held = count + 1, held[size:]
    yield _opened(cipher, held, header, count, name, last=True)


def key_id_of(header: bytes) -> bytes:
    """Return which key a file was sealed with. Raises SealError if it is no sealed file of a form known here."""
    if len(header) < HEADER_BYTES or not header.startswith(MAGIC):
        raise SealError("it is no sealed file of a form that this program knows, or its beginning is lost")
    return header[len(MAGIC) : len(MAGIC) + KEY_ID_BYTES]


def _opened(cipher: ChaCha20Poly1305, content: bytes, header: bytes, count: int, name: str, *, last: bool) -> bytes:
    try:
        return cipher.decrypt(_nonce(count, last=last), content, header)
    except InvalidTag as error:
        raise SealError(f"the sealed {name} was changed, cut off or damaged; restore it from a backup") from error


def _nonce(count: int, *, last: bool) -> bytes:
    return count.to_bytes(11, "big") + (b"\1" if last else b"\0")


def _file_key(key: bytes, header: bytes, name: str) -> bytes:
    salt = header[-SALT_BYTES:]
    return HKDF(algorithm=SHA256(), length=32, salt=salt, info=b"dictate sealed file\0" + name.encode()).derive(key)
