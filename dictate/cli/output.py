"""Where a note goes: standard output, and files that are written whole or not at all."""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from dictate.contract import Note
from dictate.errors import DictateError
from dictate.note.text import text_of

_STEERS = re.compile(r"\r(?!\n)|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")  # control characters, C0 and C1; no line ends


class OutputError(DictateError):
    """A folder that cannot be written to."""


def deliver(note: Note, *, out: Path | None, name: str, as_json: bool) -> None:
    """Write NAME.json and NAME.txt into `out`, if given, and print the note. Files first: a failure prints nothing.

    Raises:
        OutputError: the folder, or standard output, cannot be written to.
    """
    written = {f"{name}.json": note.to_json() + "\n", f"{name}.txt": text_of(note)}
    if out is not None:
        write_all(out, written)
    show(written[f"{name}.json"] if as_json else written[f"{name}.txt"])


def show(text: str) -> None:
    """Print text. Raises OutputError if it cannot all be written, so that a cut note never looks like a whole one."""
    try:
        sys.stdout.write(harmless(text))
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or Python tries again as it ends
        why = error.strerror or str(error)
        raise OutputError(
            f"cannot write the note to standard output ({why}); make room, or write it elsewhere"
        ) from error


def harmless(text: str) -> str:
    r"""Return text in which nothing steers a terminal (ECMA-48): words and names come from whoever spoke or typed them.

    The escapes are those of JSON, so that JSON stays the same JSON.

    >>> harmless("negative\x1b[2J")
    'negative\\u001b[2J'
    """
    return _STEERS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def write_all(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Write files so that none of them is ever seen half-written: all are written aside, then renamed.

    They are readable by their owner only: a note is about a patient.

    Raises:
        OutputError: the folder cannot be made or written to; files of the same name stay as they were.
    """
    aside: list[tuple[str, Path]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            handle, temporary = tempfile.mkstemp(prefix=f".{name}.", suffix=".part", dir=folder)
            aside.append((temporary, folder / name))
            with os.fdopen(handle, "wb") as stream:
                stream.write(content.encode() if isinstance(content, str) else content)
                stream.flush()
                os.fsync(stream.fileno())
        for temporary, final in aside:
            Path(temporary).replace(final)
    except OSError as error:
        why = error.strerror or str(error)
        raise OutputError(
            f"cannot write to {folder} ({why}); give another folder to --out, or make room there"
        ) from error
    finally:
        for temporary, _ in aside:
            Path(temporary).unlink(missing_ok=True)
