"""Transcripts: text, one utterance a line. What cannot be a transcript is refused in one plain line."""

from __future__ import annotations

import sys
from pathlib import Path

from dictate.errors import UnusableInput

LONGEST_LINE = 200_000  # characters: some three hours of speech in one line; more is no transcript
LONGEST_UTTERANCE = 4_000  # characters, some five minutes: a longer line is cut at the ends of its sentences
LARGEST_BYTES = 50_000_000  # weeks of speech
STANDARD_INPUT = "-"
_HINT = "give plain text in UTF-8, one utterance a line"


def read_lines(source: str) -> list[str]:
    """Return the lines of a transcript that hold words, in order; `-` reads standard input.

    Raises:
        UnusableInput: it is missing, a folder, empty, not text, or holds a line that no speech could fill.
    """
    return lines_of(_content(source), name="standard input" if source == STANDARD_INPUT else source)


def lines_of(content: bytes, *, name: str) -> list[str]:
    """Return the lines of a transcript's bytes that hold words. Raises UnusableInput, as `read_lines` does."""
    if not content:
        raise UnusableInput(f"{name} is empty (0 bytes); {_HINT}")
    if len(content) > LARGEST_BYTES:
        raise UnusableInput(f"{name} has {len(content):,} bytes, more than any examination; {_HINT}")
    text = _decoded(content, name)
    lines = [line.strip() for line in text.splitlines()]
    for number, line in enumerate(lines, start=1):
        if len(line) > LONGEST_LINE:
            raise UnusableInput(
                f"{name}: line {number} has {len(line):,} characters, and {LONGEST_LINE:,} is the most; {_HINT}"
            )
    return [piece for line in lines if line for piece in utterances_of(line)]


def utterances_of(line: str) -> list[str]:
    """Cut a very long line into utterances, at the ends of sentences where it has any: reading stays fast.

    >>> utterances_of("Gait normal. No swelling.")
    ['Gait normal. No swelling.']
    """
    pieces = []
    while len(line) > LONGEST_UTTERANCE:
        head = line[:LONGEST_UTTERANCE]
        cut = max(head.rfind(end) for end in (". ", "? ", "! ")) + 1 or head.rfind(" ") or LONGEST_UTTERANCE
        cut = cut if cut > 0 else LONGEST_UTTERANCE
        pieces.append(line[:cut].strip())
        line = line[cut:].strip()
    return [*pieces, line] if line else pieces


def _content(source: str) -> bytes:
    try:
        if source == STANDARD_INPUT:
            return sys.stdin.buffer.read(LARGEST_BYTES + 1)
        path = Path(source)
        if path.is_dir():
            raise UnusableInput(f"{source} is a folder; give the path of one transcript")
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except FileNotFoundError as error:
        raise UnusableInput(f"{source} is not there; give the path of a transcript, or - for standard input") from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise UnusableInput(f"{source!r} cannot be read ({why}); give the path of a transcript") from error


def _decoded(content: bytes, name: str) -> str:
    encoding = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        raise UnusableInput(
            f"{name} is not text (byte {error.start} is not {encoding[:6].upper()}); {_HINT}"
        ) from error
    if "\0" in text:
        raise UnusableInput(f"{name} is not text (it holds NUL bytes); {_HINT}")
    return text
