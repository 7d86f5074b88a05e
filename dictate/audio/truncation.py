"""WAV files that promise more sound than they hold: libsndfile reads what is there and is silent about the rest."""

from __future__ import annotations

import struct
from pathlib import Path

from dictate.errors import UnusableInput

_OPEN_ENDED = {0, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF}  # written by recorders that do not know the length beforehand
_SLACK_BYTES = 4096  # a recorder may round the length up


def refuse_truncated_wav(path: Path) -> None:
    """Raise UnusableInput if a RIFF WAV file's header promises clearly more data than the file holds.

    Source of the layout: IBM and Microsoft, Multimedia Programming Interface and Data Specifications 1.0, 1991.
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(12)
        if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"WAVE":
            return
        while len(chunk := file.read(8)) == 8:
            name, length = struct.unpack("<4sI", chunk)
            if name == b"data":
                there = size - file.tell()
                if length not in _OPEN_ENDED and length > there + _SLACK_BYTES:
                    raise UnusableInput(
                        f"{path} is cut off: {there} of {length} bytes of sound are there; copy it again from where "
                        "it was recorded, or save the readable part as a new file"
                    )
                return
            file.seek(length + length % 2, 1)
