"""Load the corpora beside the lexicon's files and the sets that were written without sight of the parser."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dictate.contract import Finding
from dictate.lexicon.load import builtin_folder

HELDOUT = Path(__file__).parents[1] / "heldout"


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


def _finding(raw: dict[str, Any], context: dict[str, Any]) -> tuple[Finding, tuple[str, ...] | None]:
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


def corpora(folder: Path | None = None) -> list[Case]:
    """Return every phrase of every corpus."""
    cases = []
    root = folder or builtin_folder()
    for path in sorted(root.rglob("*.corpus.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        shared = content.get("context", {})
        for raw in content.get("case", []):
            context = {**shared, **raw.get("context", {})}
            pairs = [_finding(finding, context) for finding in raw.get("findings", [])]
            for said in raw["said"]:
                name = f"{path.parent.name}/{path.name.removesuffix('.corpus.toml')}"
                findings, doubts = tuple(f for f, _ in pairs), tuple(d for _, d in pairs)
                cases.append(Case(name, said, findings, context, doubts, file=_file(path, root)))
    return cases


def _file(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix().removesuffix(".corpus.toml")


def heldout(kind: str) -> list[Case]:
    """Return the narrations of one held-out set: `knee`, `regions`, `final` or `nonfinding`."""
    cases = []
    for path in sorted((HELDOUT / kind).glob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        context = {"region": content.get("region", "knee")}
        pairs = [_finding(raw, context) for raw in content.get("finding", [])]
        cases.append(
            Case(path.stem, content["text"].strip(), tuple(f for f, _ in pairs), context, tuple(d for _, d in pairs))
        )
    return cases


FIXTURES = Path(__file__).parents[2] / "audio_fixtures"


def fixtures() -> list[Case]:
    """Return the spoken fixtures' scripts with their findings and what of each finding is not to be scored."""
    cases = []
    for path in sorted(FIXTURES.glob("*.json")):
        content = json.loads(path.read_text(encoding="utf-8"))
        context = {"region": content["exam"].get("region", "knee")}
        pairs, opens = [], []
        for raw in content["findings"]:
            opens.append(tuple(raw.get("open", ())))
            raw = {key: value for key, value in raw.items() if key not in ("open", "said")}
            pairs.append(_finding(raw, context))
        said = path.with_suffix(".txt").read_text(encoding="utf-8").strip()
        findings, doubts = tuple(f for f, _ in pairs), tuple(d for _, d in pairs)
        cases.append(Case(path.stem, said, findings, context, doubts, open_fields=tuple(opens)))
    return cases
