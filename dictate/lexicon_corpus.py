"""The corpora beside the lexicon's files: phrases with the findings that they mean, loaded, read, and compared."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from dictate.contract import Finding
from dictate.errors import LexiconError
from dictate.language.reader import Reader
from dictate.language.state import Context, State
from dictate.recognise.events import Utterance

ENDING = ".corpus.toml"
_NOT_COMPARED = {"confidence", "doubts", "said", "time", "replaced"}


@dataclass(frozen=True)
class Case:
    """A phrase or narration with the findings that it means."""

    name: str
    said: str
    findings: tuple[Finding, ...]
    context: dict[str, Any]
    doubts: tuple[tuple[str, ...] | None, ...]  # the reasons expected of each finding; None: not stated
    open_fields: tuple[tuple[str, ...], ...] = ()  # of each finding, what the scribe's rules do not settle; () for none
    file: str = ""  # of a corpus: the region's folder and the file, without its ending


def corpora(folder: Path) -> list[Case]:
    """Return every phrase of every corpus below a folder. Raises LexiconError for a case that is no finding's."""
    return [case for path in sorted(folder.rglob(f"*{ENDING}")) for case in _cases(path, folder)]


def _cases(path: Path, root: Path) -> Iterator[Case]:
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    shared = content.get("context", {})
    file = path.relative_to(root).as_posix().removesuffix(ENDING)
    name = f"{path.parent.name}/{path.name.removesuffix(ENDING)}"
    for number, raw in enumerate(content.get("case", []), start=1):
        context = {**shared, **raw.get("context", {})}
        try:
            pairs = [finding_of(finding, context) for finding in raw.get("findings", [])]
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(part) for part in first["loc"])
            raise LexiconError(f"{path}: case {number}: {where}: {first['msg']}") from error
        for said in raw["said"]:
            yield Case(name, said, tuple(f for f, _ in pairs), context, tuple(d for _, d in pairs), file=file)


def finding_of(raw: dict[str, Any], context: dict[str, Any]) -> tuple[Finding, tuple[str, ...] | None]:
    """Return a finding as an author writes it, what is not said taken from the context; and its reasons for doubt."""
    raw = dict(raw)
    doubts = raw.pop("doubts", None)
    raw.setdefault("section", context.get("section") or "palpation")
    raw.setdefault("region", context.get("region", "knee"))
    if "side" not in raw and context.get("side"):
        raw["side"] = context["side"]
    if raw.get("side") in ("none", ""):
        raw["side"] = None
    for note in raw.get("replaced", []):
        note.setdefault("said", "")
        if isinstance(note.get("value"), dict):
            note["value"] = str(note["value"].get("value"))
    if isinstance(raw.get("measure"), dict):
        raw["measure"] = {"comparator": None, **raw["measure"]}
    return Finding.model_validate(raw), tuple(doubts) if doubts is not None else None


def context_of(case: Case) -> Context:
    """Return the context that a corpus states for a phrase."""
    side = case.context.get("side")
    return Context(
        region=case.context.get("region", "knee"),
        region_said=True,
        section=case.context.get("section"),
        side="" if side in (None, "none") else side,
    )


def read(text: str, reader: Reader, *, context: Context | None = None) -> State:
    """Return the state after a text, one utterance a line; without a context, from what the whole text is about."""
    utterances = [Utterance.of_text(line) for line in text.split("\n") if line.strip()]
    state = State(context=context) if context else reader.open(utterances)
    for utterance in utterances:
        state = reader.step(state, utterance)
    return state


def disagreements(cases: Sequence[Case], reader: Reader) -> Iterator[str]:
    """Yield one plain line for each phrase that gives other findings than are written beside it."""
    for case in cases:
        got = read(case.said, reader, context=context_of(case)).findings()
        if list(map(_meaning, got)) != list(map(_meaning, case.findings)):
            wanted = "; ".join(map(_words, case.findings)) or "nothing"
            found = "; ".join(map(_words, got)) or "nothing"
            yield f"{case.file}{ENDING}: “{case.said}” gives {found}; the corpus says {wanted}"


def _meaning(finding: Finding) -> dict[str, Any]:
    return finding.model_dump(exclude=_NOT_COMPARED)


def _words(finding: Finding) -> str:
    filled = finding.model_dump(exclude=_NOT_COMPARED, exclude_defaults=True, by_alias=True)
    return ", ".join(f"{name} {_plain(value)}" for name, value in filled.items())


def _plain(value: Any) -> str:
    if isinstance(value, dict):
        return " ".join(str(part) for part in value.values() if part is not None)
    return ", ".join(value) if isinstance(value, list) else str(value)
