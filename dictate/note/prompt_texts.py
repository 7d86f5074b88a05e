"""The closed format of `prompts.toml`: the wordings of prompts, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from dictate.contract import Prompt, PromptKind, Region
from dictate.errors import LexiconError
from dictate.lexicon.load import Lexicon

_FILE = "lexicon/common/prompts.toml"


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Wording(_Closed):
    """One prompt. `text` and `source` may hold {names} that are filled in."""

    id: str
    kind: PromptKind
    text: str
    source: str


class Position(_Closed):
    """Findings that only make sense from an angle of the joint on (degrees)."""

    region: Region
    findings: tuple[str, ...]
    from_deg: float
    why: str
    source: str


class MeasureLimit(_Closed):
    """A measure above which a person should look again, for patients of an age (years) and sex."""

    finding: str
    unit: str
    above: float
    age_from: float | None = None
    sex: Literal["female", "male"] | None = None
    whom: str
    source: str

    def fits(self, *, age: float | None, sex: str | None) -> bool:
        """Whether the limit is known to be the one for this patient."""
        if self.age_from is not None and (age is None or age < self.age_from):
            return False
        return self.sex is None or self.sex == sex


class PromptTexts(_Closed):
    """`prompts.toml`."""

    prompt: tuple[Wording, ...]
    position: tuple[Position, ...] = ()
    measure_limit: tuple[MeasureLimit, ...] = ()

    def make(self, name: str, *, findings: list[int] | None = None, **values: object) -> Prompt:
        """Return a prompt with its {names} filled in. Raises LexiconError if the file lacks or misspells it."""
        wording = next((entry for entry in self.prompt if entry.id == name), None)
        if wording is None:
            raise LexiconError(f"{_FILE}: no prompt has the id {name!r}; restore it")
        try:
            text, source = wording.text.format(**values), wording.source.format(**values)
        except (KeyError, IndexError, ValueError) as error:
            raise LexiconError(f"{_FILE}: prompt {name!r} holds a name that is not filled in ({error})") from error
        return Prompt(kind=wording.kind, text=text[:1].upper() + text[1:], source=source, findings=findings or [])


def prompt_texts(lexicon: Lexicon) -> PromptTexts:
    """Return the wordings of a lexicon. Raises LexiconError if the file is missing or has a key that nobody knows."""
    content: Mapping[str, Any] | None = lexicon.reference.get("prompts")
    if content is None:
        raise LexiconError(f"{_FILE} is missing; restore it")
    try:
        return PromptTexts.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise LexiconError(f"{_FILE}: {where}: {first['msg']}") from error
