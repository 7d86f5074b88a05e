"""The closed format of `lexicon/common/general.toml`: words by which general speech and orders are told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from dictate.errors import LexiconError
from dictate.lexicon.model import _Closed

FILE = "common/general.toml"


class GeneralWords(_Closed):
    """`general.toml`, where each list says what its words tell."""

    examining_hand: frozenset[str]
    tissue_states: frozenset[str]
    felt_signs: frozenset[str]
    bare_answers: frozenset[str]
    disease_endings: tuple[str, ...]
    done_to_the_patient: frozenset[str]
    patient_moves: frozenset[str]
    short_verbs: frozenset[str]
    lasting_times: frozenset[str]


def general_words(reference: Mapping[str, Mapping[str, Any]]) -> GeneralWords:
    """Return these words of a lexicon. Raises LexiconError if the file is missing or has a key nobody knows."""
    content = reference.get("general")
    if content is None:
        raise LexiconError(f"{FILE} is missing; restore it")
    try:
        return GeneralWords.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise LexiconError(f"{FILE}: {where}: {first['msg']}") from error
