"""Load the corpora beside the lexicon's files and the sets that were written without sight of the parser."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

from dictate import lexicon_corpus
from dictate.lexicon.load import builtin_folder
from dictate.lexicon_corpus import Case, finding_of

__all__ = ["FIXTURES", "HELDOUT", "Case", "corpora", "fixtures", "heldout"]

HELDOUT = Path(__file__).parents[1] / "heldout"


def corpora(folder: Path | None = None) -> list[Case]:
    """Return every phrase of every corpus of the built-in lexicon, or of a folder."""
    return lexicon_corpus.corpora(folder or builtin_folder())


def heldout(kind: str) -> list[Case]:
    """Return the narrations of one set, by the name of its folder; `tests/heldout/README.md` says what each is for."""
    cases = []
    for path in sorted((HELDOUT / kind).glob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        context = {"region": content.get("region", "knee")}
        raws = content.get("finding", [])
        opens = tuple(tuple(raw.pop("open", ())) for raw in raws)
        pairs = [finding_of(raw, context) for raw in raws]
        findings, doubts = tuple(f for f, _ in pairs), tuple(d for _, d in pairs)
        cases.append(Case(path.stem, content["text"].strip(), findings, context, doubts, open_fields=opens))
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
            pairs.append(finding_of(raw, context))
        said = path.with_suffix(".txt").read_text(encoding="utf-8").strip()
        findings, doubts = tuple(f for f, _ in pairs), tuple(d for _, d in pairs)
        cases.append(Case(path.stem, said, findings, context, doubts, open_fields=tuple(opens)))
    return cases


def unpunctuated(text: str, *, one_line: bool = False) -> str:
    """Return a text as a recogniser that streams would give it: lower case, no punctuation; lines kept or joined."""
    bare = re.sub(r"(?<!\d)[.,;:!?]|[.,;:!?](?!\d)|\s[–—-]\s|[–—\"]", " ", text).lower()
    lines = [" ".join(line.split()) for line in bare.splitlines()]
    return (" " if one_line else "\n").join(lines)
