"""Read the lexicon folder into memory, checking every key; a clinic's own folder may be laid over the built-in one."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from dictate.errors import LexiconError
from dictate.lexicon.cues import Cue, DeferForms, SectionForms
from dictate.lexicon.model import RegionFile, Term

_PACKAGED = Path(__file__).parent / "data"
_CHECKOUT = Path(__file__).parents[2] / "lexicon"
_TERM_DEFAULTS = ("kind", "regions", "sections", "part", "scale", "units")
_TABLES: Mapping[str, type[BaseModel]] = {"term": Term, "cue": Cue, "section": SectionForms, "defer": DeferForms}
_Model = TypeVar("_Model", bound=BaseModel)


def builtin_folder() -> Path:
    """Return the folder of the built-in lexicon: inside the installed package, or beside it in a checkout."""
    return _PACKAGED if _PACKAGED.is_dir() else _CHECKOUT


@dataclass(frozen=True)
class Lexicon:
    """Everything that the language room knows, as data."""

    terms: tuple[Term, ...]
    cues: tuple[Cue, ...]
    sections: tuple[SectionForms, ...]
    defers: tuple[DeferForms, ...]
    regions: Mapping[str, RegionFile]
    reference: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)  # by name of `REFERENCE_FILES`

    def with_terms(self, extra: Iterable[Term]) -> Lexicon:
        """Return the same lexicon with more terms (for benchmarks and tests)."""
        return replace(self, terms=self.terms + tuple(extra))


REFERENCE_FILES = (
    "levels",
    "scales",
    "rules",
    "red_flags",
    "words",
    "general",
    "grammar",
    "prompts",
    "control",
    "corrections",
    "this_patient",
    "small_words",
)


@lru_cache(maxsize=8)
def load_lexicon(overlay: Path | None = None) -> Lexicon:
    """Return the built-in lexicon, with the files of `overlay` laid over it: same kind, label and regions replace.

    Raises:
        LexiconError: a file cannot be read, or holds a key or value that the format does not know.
    """
    terms: dict[tuple[object, ...], Term] = {}
    cues: list[Cue] = []
    sections: list[SectionForms] = []
    defers: list[DeferForms] = []
    regions: dict[str, RegionFile] = {}
    reference: dict[str, Mapping[str, Any]] = {}
    for folder in (builtin_folder(), overlay):
        if folder is None:
            continue
        for path in data_files(folder):
            content = read_toml(path)
            if path.stem in REFERENCE_FILES and path.parent.name == "common":
                reference[path.stem] = content
            elif path.stem == "region":
                region = _checked(RegionFile, content, path, 0)
                regions[region.region] = region
            else:
                for name, entries in checked_tables(content, path).items():
                    for entry in entries:
                        if isinstance(entry, Term):
                            terms[(entry.kind, entry.label, entry.regions)] = entry
                        elif isinstance(entry, Cue):
                            cues.append(entry)
                        elif isinstance(entry, SectionForms):
                            sections.append(entry)
                        elif isinstance(entry, DeferForms):
                            defers.append(entry)
                        else:  # pragma: no cover - _TABLES and this chain list the same models
                            raise AssertionError(name)
    return Lexicon(tuple(terms.values()), tuple(cues), tuple(sections), tuple(defers), regions, reference)


def data_files(folder: Path) -> list[Path]:
    """Return the lexicon files below a folder, corpora left out, in a fixed order."""
    if not folder.is_dir():
        raise LexiconError(f"{folder}: no such lexicon folder; name one that holds .toml files")
    return sorted(path for path in folder.rglob("*.toml") if not path.name.endswith(".corpus.toml"))


def read_toml(path: Path) -> dict[str, Any]:
    """Return the content of one TOML file, or raise LexiconError with file and line."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise LexiconError(f"{path}: cannot be read ({error}); restore the file or remove it") from error
    except tomllib.TOMLDecodeError as error:
        raise LexiconError(f"{path}: not valid TOML: {error}") from error


def checked_tables(content: Mapping[str, Any], path: Path) -> dict[str, list[BaseModel]]:
    """Return the entries of a term or cue file as models, defaults from the top of the file merged in."""
    defaults = {key: content[key] for key in _TERM_DEFAULTS if key in content}
    unknown = set(content) - set(_TABLES) - set(defaults)
    if unknown:
        name = sorted(unknown)[0]
        raise LexiconError(f"{path}:{_line_of(path, name, 0)}: unknown key {name!r}; known: {', '.join(_TABLES)}")
    tables: dict[str, list[BaseModel]] = {}
    for name, model in _TABLES.items():
        for index, entry in enumerate(content.get(name, [])):
            merged = {**defaults, **entry} if model is Term else entry
            tables.setdefault(name, []).append(_checked(model, merged, path, index, name))
    return tables


def _checked(model: type[_Model], content: Mapping[str, Any], path: Path, index: int, table: str = "") -> _Model:
    try:
        return model.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or table or model.__name__
        label = content.get("label") or content.get("section") or ""
        line = _line_of(path, table, index)
        raise LexiconError(f"{path}:{line}: {label} {where}: {first['msg']}".replace("  ", " ")) from error


def _line_of(path: Path, table: str, index: int) -> int:
    """Return the line of the index-th `[[table]]`, or of a key; 1 when it cannot be told."""
    pattern = re.compile(rf"^\s*(\[\[{re.escape(table)}\]\]|{re.escape(table)}\s*=)") if table else None
    seen = -1
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if pattern and pattern.match(line):
            seen += 1
            if seen == index:
                return number
    return 1
