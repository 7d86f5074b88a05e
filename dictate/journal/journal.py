"""The journal file: one event a line, only ever appended to, each line chained to all lines before it.

The chain is a sha256 over the chain before and the bytes of the line without its `chain`, so that a change anywhere
shows in every line after it. A line counts once it is whole and on disk.
"""

from __future__ import annotations

import errno
import fcntl
import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

from pydantic import ValidationError

from dictate.errors import JournalError
from dictate.journal.events import EVENT, FORMAT, Event, Opened

START = "0" * 64  # the chain before the first line
_PREFIX, _END = ',"chain":"', '"}'
_TAIL = len(_PREFIX) + 64 + len(_END)


@dataclass(frozen=True, slots=True)
class Reading:
    """What a journal file holds. `torn` is the tail of a write that never ended; `broken_line` counts from 1."""

    events: tuple[Event, ...]
    chain: str
    size: int  # bytes of the whole lines that were read
    torn: bytes = b""
    broken_line: int | None = None  # the first line that is not what was written
    why: str = ""


def chained(chain: str, body: bytes) -> str:
    """Return the chain after a line whose bytes without its chain are `body`."""
    return hashlib.sha256(chain.encode() + body).hexdigest()


def read_journal(path: Path) -> Reading:
    """Read a journal as far as it is sound. Raises JournalError if there is none, or it cannot be read at all."""
    return parse_journal(journal_content(path))


def journal_content(path: Path) -> bytes:
    """Return the bytes of a journal file. Raises JournalError if there is none, or it cannot be read at all."""
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        raise JournalError(f"{path.parent} holds no exam (no {path.name}); give the folder of an exam") from error
    except OSError as error:
        raise JournalError(f"{path} cannot be read ({error.strerror}); check its permissions and the disk") from error


def parse_journal(content: bytes) -> Reading:
    """Read the content of a journal file as far as it is sound."""
    return _parse(content, START, first=0)


def _parse(content: bytes, chain: str, *, first: int) -> Reading:
    """Read lines that follow a journal of `first` events with the chain so far."""
    events: list[Event] = []
    size = 0
    while size < len(content):
        end = content.find(b"\n", size)
        if end < 0:
            return Reading(tuple(events), chain, size, torn=content[size:])
        line = content[size:end]
        body, own = line[:-_TAIL] + b"}", line[-_TAIL:].decode("ascii", "replace")
        after = chained(chain, body)
        last = end + 1 == len(content)
        if own != f"{_PREFIX}{after}{_END}":
            if last and b"\0" in line:  # a power cut can leave a tail of zeros where a line was being written
                return Reading(tuple(events), chain, size, torn=content[size:])
            why = "does not fit the lines before it: it was changed, or a line is missing"
            return Reading(tuple(events), chain, size, broken_line=first + len(events) + 1, why=why)
        try:
            event = EVENT.validate_json(body)
        except ValidationError as error:
            why = _unknown_form(body) or f"is of another form than this program knows ({error.error_count()} faults)"
            return Reading(tuple(events), chain, size, broken_line=first + len(events) + 1, why=why)
        if isinstance(event, Opened) and event.format > FORMAT:
            return Reading(
                tuple(events), chain, size, broken_line=first + len(events) + 1, why=_unknown_form(body) or ""
            )
        events.append(event)
        chain, size = after, end + 1
    return Reading(tuple(events), chain, size)


def _unknown_form(body: bytes) -> str | None:
    """Return what to say of a line that a newer program wrote; None if none did."""
    with suppress(ValueError, AttributeError):
        form = json.loads(body).get("format")
        if isinstance(form, int) and form > FORMAT:
            return f"was written by a newer program (format {form}; this one knows {FORMAT}): update this one"
    return None


class Journal:
    """A journal open for appending. Several processes may hold one: each append sees what the others wrote."""

    def __init__(self, path: Path, *, new: bool = False) -> None:
        """Open a journal; `new` makes one. A torn tail is set aside in a file beside it, so that nothing is lost.

        Raises:
            JournalError: there is none, there is one already, it is damaged, or the folder cannot be written.
        """
        self.path = path
        self._lock = Lock()
        flags = os.O_RDWR | os.O_APPEND | (os.O_CREAT | os.O_EXCL if new else 0)
        with _told(path):
            self._file = os.open(path, flags, 0o600)
        self._events: list[Event] = []
        self._chain, self._size = START, 0
        with self._locked():
            self._catch_up()

    @property
    def events(self) -> tuple[Event, ...]:
        """The events known so far."""
        return tuple(self._events)

    @property
    def chain(self) -> str:
        """The chain after the last event known: it stands for all of the journal."""
        return self._chain

    def refresh(self) -> tuple[Event, ...]:
        """Read what other processes appended, and return all events."""
        with self._lock, self._locked():
            self._catch_up()
        return self.events

    def append(self, event: Event, *, expected: int | None = None) -> Event:
        """Append an event; return it with its number once it is on disk.

        Args:
            event: its `n` is given here.
            expected: the number of events that the caller has seen. When there are more, nothing is written.

        Raises:
            JournalError: it could not be written whole (nothing of it is left), or `expected` was overtaken.
        """
        with self._lock, self._locked():
            self._catch_up()
            if expected is not None and expected != len(self._events):
                raise JournalError("the exam was changed elsewhere meanwhile; look at it again, then decide")
            event = event.model_copy(update={"n": len(self._events)})
            body = event.model_dump_json(by_alias=True).encode()
            chain = chained(self._chain, body)
            line = body[:-1] + f"{_PREFIX}{chain}{_END}\n".encode()
            self._write(line)
            self._events.append(event)
            self._chain, self._size = chain, self._size + len(line)
        return event

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            if self._file >= 0:
                os.close(self._file)
                self._file = -1

    def _write(self, line: bytes) -> None:
        try:
            written = 0
            while written < len(line):
                written += os.write(self._file, line[written:])
            os.fsync(self._file)
        except OSError as error:
            with suppress(OSError):
                os.ftruncate(self._file, self._size)  # half a line would look like damage
            raise _unwritable(self.path, error) from error

    def _catch_up(self) -> None:
        """Read what was appended since; refuse a journal that is not what was written."""
        with _told(self.path):
            size = os.fstat(self._file).st_size
            content = os.pread(self._file, size - self._size, self._size) if size > self._size else b""
        if size < self._size:
            raise JournalError(f"{self.path} became shorter: it was tampered with or damaged; restore it from a backup")
        reading = _parse(content, self._chain, first=len(self._events))
        if reading.broken_line is not None:
            raise JournalError(
                f"{self.path}, line {reading.broken_line} {reading.why}; nothing is added to it; "
                "`dictate verify` shows what can be trusted"
            )
        if reading.torn:
            self._set_aside(reading.torn, self._size + reading.size)
        self._events += reading.events
        self._chain, self._size = reading.chain, self._size + reading.size

    def _set_aside(self, torn: bytes, size: int) -> None:
        """Keep the torn tail in a file of its own, then cut it off: the lock is held, so that nobody is writing it."""
        with _told(self.path):
            name = f"{self.path.name}.torn-{len(list(self.path.parent.glob('*.torn-*'))) + 1}"
            aside = os.open(self.path.with_name(name), os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            try:
                os.write(aside, torn)
                os.fsync(aside)
            finally:
                os.close(aside)
            os.ftruncate(self._file, size)
            os.fsync(self._file)

    @contextmanager
    def _locked(self) -> Iterator[None]:
        """Hold the journal against other processes, for as long as one append takes."""
        if self._file < 0:
            raise JournalError(f"{self.path} was closed; open the exam again")
        with _told(self.path):
            fcntl.flock(self._file, fcntl.LOCK_EX)
        try:
            if os.fstat(self._file).st_nlink == 0:  # what were written now would be lost
                raise JournalError(f"{self.path} was sealed or removed meanwhile; open the exam again")
            yield
        finally:
            fcntl.flock(self._file, fcntl.LOCK_UN)


@contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except FileNotFoundError as error:
        raise JournalError(f"{path.parent} holds no exam (no {path.name}); give the folder of an exam") from error
    except FileExistsError as error:
        raise JournalError(f"{path} is there already; an exam is never begun over another one") from error
    except OSError as error:
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: OSError) -> JournalError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return JournalError(f"the disk of {path.parent} is full; make room there: what was recorded so far is safe")
    return JournalError(f"{path} cannot be written ({error.strerror}); check its permissions and the disk")
