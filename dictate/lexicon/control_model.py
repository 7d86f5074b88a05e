"""The closed format of `lexicon/common/control.toml`: words that steer the program by voice."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, ValidationError

from dictate.errors import LexiconError
from dictate.lexicon.model import _Closed

ControlKind = Literal["correction", "disregard", "say_again", "read_back", "stand_by", "resume", "whats_left"]
FILE = "common/control.toml"


class ControlForms(_Closed):
    """How one control is said, and what may follow it."""

    kind: ControlKind
    meaning: str
    source: str
    where: Literal["alone", "section", "pause", "anything"]
    forms: tuple[str, ...]
    heard_as: tuple[str, ...] = ()
    heard_as_most_words: int | None = None
    tails: tuple[str, ...] = ()
    not_before: tuple[str, ...] = ()
    arguments: dict[str, tuple[str, ...]] = Field(default_factory=dict)


class ControlFile(_Closed):
    """`control.toml`."""

    fillers: tuple[str, ...]
    courtesies: tuple[str, ...]
    control: tuple[ControlForms, ...]


def control_file(reference: Mapping[str, Mapping[str, Any]]) -> ControlFile:
    """Return the control words of a lexicon. Raises LexiconError if the file is missing or has a key nobody knows."""
    content = reference.get("control")
    if content is None:
        raise LexiconError(f"{FILE} is missing; restore it")
    try:
        return ControlFile.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise LexiconError(f"{FILE}: {where}: {first['msg']}") from error
