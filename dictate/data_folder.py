"""Where this machine keeps what it keeps. Imports nothing heavy: every command may ask."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

DATA_VARIABLE = "DICTATE_DATA"  # environment variable: the folder that exams are kept in


def data_folder(named: str | Path | None = None) -> Path:
    """Return the folder of all data: the one named, else that of the environment variable, else the user's own."""
    chosen = named or os.environ.get(DATA_VARIABLE)
    return Path(chosen) if chosen else Path(platformdirs.user_data_dir("dictate", appauthor=False))


def lexicon_folder(data: Path) -> Path:
    """Return the folder of terms that were learned or added on this machine."""
    return data / "lexicon"


def chosen_lexicon(named: str | Path | None, *, data: str | Path | None = None) -> Path | None:
    """Return the folder to lay over the built-in lexicon.

    Args:
        named: by the user, who then gets that one only; else this machine's own, once something is in it.
        data: the folder of all data.
    """
    if named:
        return Path(named)
    own = lexicon_folder(data_folder(data))
    try:
        return own if any(own.rglob("*.toml")) else None
    except OSError:  # not readable: the same as none, as for a user who has none
        return None
