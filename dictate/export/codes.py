"""A clinic's own file of codes: from our labels to whatever code system the clinic has a licence for.

The program brings none of the licensed systems along. docs/export.md has a made-up example of the file.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.contract import Section, Severity, Side, Status
from dictate.export.errors import ExportError

CodeKind = Literal["document", "section", "finding", "structure", "side", "status", "severity"]
DOCUMENT_LABEL = "examination note"
_CLOSED: Mapping[CodeKind, tuple[str, ...]] = {
    "document": (DOCUMENT_LABEL,),
    "section": get_args(Section),
    "side": get_args(Side),
    "status": get_args(Status),
    "severity": get_args(Severity),
}
_HINT = "docs/export.md shows what a file of codes looks like"
_LEVEL = re.compile(r"[CTLS]\d{1,2} (dermatome|myotome)")
# FHIR R4B 2.24.0.1, Primitive Types: a code has no space at its ends nor two in a row; a uri has none at all.
_Code = Annotated[str, Field(pattern=r"^[^\s]+(\s[^\s]+)*$")]
_Uri = Annotated[str, Field(pattern=r"^(https?://|urn:)\S+$")]


class CodeEntry(BaseModel):
    """One code for one of our labels."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)

    kind: CodeKind
    label: Annotated[str, Field(min_length=1)]
    system: _Uri
    code: _Code
    display: Annotated[str, Field(min_length=1)]
    version: Annotated[str, Field(min_length=1)] | None = None


class _File(BaseModel):
    model_config = ConfigDict(extra="forbid")

    code: list[CodeEntry] = Field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Codes:
    """The codes of a file, by kind and label; several systems may have one each for the same label."""

    entries: Mapping[tuple[str, str], tuple[CodeEntry, ...]] = field(default_factory=dict)

    def of(self, kind: CodeKind, label: str | None) -> tuple[CodeEntry, ...]:
        """Return the codes of a label; none for one that the file does not have."""
        return self.entries.get((kind, label or ""), ())


NO_CODES = Codes()


def read_codes(path: str | Path, *, labels: Collection[str]) -> Codes:
    """Return the codes of a file.

    Args:
        path: TOML, a table `[[code]]` for each code.
        labels: the labels of findings and structures that exist, so that a misspelt one is found here.

    Raises:
        ExportError: it cannot be read, holds what the format does not know, a label that does not exist, or two
            codes of one system for one label.
    """
    try:
        content = tomllib.loads(Path(path).read_text(encoding="utf-8"))
        entries = _File.model_validate(content).code
    except OSError as error:
        raise ExportError(f"{path} cannot be read ({error.strerror}); give a file of codes to --codes") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ExportError(f"{path} is no TOML ({error}); {_HINT}") from error
    except ValidationError as error:
        raise ExportError(f"{path}: {_where(error)}; {_HINT}") from error
    found: dict[tuple[str, str], tuple[CodeEntry, ...]] = {}
    for number, entry in enumerate(entries, start=1):
        _check_label(path, number, entry, labels)
        before = found.get((entry.kind, entry.label), ())
        if any(other.system == entry.system for other in before):
            raise ExportError(f"{path}: code {number} is a second one of {entry.system} for {entry.label!r}; keep one")
        found[(entry.kind, entry.label)] = (*before, entry)
    return Codes(found)


def _check_label(path: str | Path, number: int, entry: CodeEntry, labels: Collection[str]) -> None:
    known: Collection[str] = _CLOSED.get(entry.kind, labels)
    if entry.label in known or (entry.kind == "structure" and _LEVEL.fullmatch(entry.label)):
        return
    close = difflib.get_close_matches(entry.label, list(known), n=1)
    meant = f"perhaps {close[0]!r} is meant" if close else "`dictate lexicon terms` lists what there is"
    raise ExportError(f"{path}: code {number}: there is no {entry.kind} {entry.label!r}; {meant}")


def _where(error: ValidationError) -> str:
    first = error.errors()[0]
    place = first["loc"]
    number = f"code {int(place[1]) + 1}" if len(place) > 1 and isinstance(place[1], int) else "the file"
    key = f", key {place[-1]!r}" if len(place) > 2 or place[-1] != "code" else ""
    return f"{number}{key}: {first['msg'].lower()}"
