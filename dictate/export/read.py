"""A note read from a file: its own JSON, or our FHIR document."""

from __future__ import annotations

import json
from typing import Any

from pydantic import ValidationError

from dictate.contract import SCHEMA, Note
from dictate.export.errors import ImportRefused

_HINT = "give a note's JSON (`dictate text FILE --json`) or a FHIR document (`dictate export NOTE --to fhir`)"
LARGEST_BYTES = 50_000_000


def note_of(content: bytes, *, name: str) -> Note:
    """Return the note in the bytes of a file.

    Raises:
        ImportRefused: it holds no note that this program can read whole.
    """
    if len(content) > LARGEST_BYTES:
        raise ImportRefused(f"{name} has {len(content):,} bytes, more than any note; {_HINT}")
    try:
        document = json.loads(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ImportRefused(f"{name} is no JSON; {_HINT}") from error
    if not isinstance(document, dict):
        raise ImportRefused(f"{name} holds no note; {_HINT}")
    try:
        return _note_of(document)
    except ImportRefused as error:
        raise ImportRefused(f"{name}: {error}") from error


def _note_of(document: dict[str, Any]) -> Note:
    if "resourceType" in document:
        from dictate.export.fhir_read import note_from_fhir

        return note_from_fhir(document)
    if document.get("schema", SCHEMA) != SCHEMA:
        raise ImportRefused(
            f"the note has schema {document['schema']!r}, and this program reads {SCHEMA}; use a newer version of it"
        )
    try:
        return Note.model_validate(document)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(map(str, first["loc"])) or "the whole"
        raise ImportRefused(f"it is no note ({place}: {first['msg'].lower()}); {_HINT}") from error
