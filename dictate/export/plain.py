"""Text that any format can hold: no control characters, which could move, hide or run something where it is shown."""

from __future__ import annotations


def printable(text: str) -> str:
    """Return text with a space for every character that is not printed: controls, and marks that turn text around."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def one_line(text: str) -> str:
    """Return text on one line, with single spaces.

    >>> one_line("a\\n b\\x07\\u202ec ")
    'a b c'
    """
    return " ".join(printable(text).split())
