"""What a patient may be called here: a pseudonym, never a name."""

from __future__ import annotations

import re

from dictate.errors import DictateError

_PSEUDONYM = re.compile(r"(?=.*\d)[A-Za-z0-9][A-Za-z0-9._-]{0,39}")


class PseudonymError(DictateError):
    """A text that is not used as a pseudonym."""


def pseudonym(text: str) -> str:
    """Return a pseudonym as it is kept. Raises PseudonymError if it could be a name.

    A program cannot know a name when it sees one; asking for a digit and refusing spaces keeps most of them out.

    >>> pseudonym(" K-017 ")
    'K-017'
    """
    plain = text.strip()
    if _PSEUDONYM.fullmatch(plain) is None:
        raise PseudonymError(
            f"{plain[:40]!r} is no pseudonym; give one word of letters, digits, - . _ with a digit in it, such as "
            "K-017, and never a name"
        )
    return plain
