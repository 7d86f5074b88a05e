"""Check a lexicon folder for its author: every problem with its file and line, and what may have been meant."""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from rapidfuzz import fuzz, process, utils

from dictate.contract import Finding
from dictate.errors import LexiconError
from dictate.lexicon.control_model import ControlFile
from dictate.lexicon.cues import Cue, DeferForms, SectionForms
from dictate.lexicon.general_model import GeneralWords
from dictate.lexicon.load import data_files, load_lexicon, read_toml
from dictate.lexicon.model import RegionFile, Term
from dictate.lexicon.reference_model import LevelsFile, RedFlagsFile, RulesFile, ScalesFile
from dictate.lexicon.word_lists import CorrectionWords, SmallWords, ThisPatientWords
from dictate.note.prompt_texts import PromptTexts

_TABLES: Mapping[str, type[BaseModel]] = {"term": Term, "cue": Cue, "section": SectionForms, "defer": DeferForms}
_TERM_DEFAULTS = ("kind", "regions", "sections", "part", "scale", "units")
_WHOLE_FILES: Mapping[str, type[BaseModel]] = {
    "region": RegionFile, "levels": LevelsFile, "scales": ScalesFile, "rules": RulesFile, "red_flags": RedFlagsFile,
    "prompts": PromptTexts, "control": ControlFile, "general": GeneralWords,
    **{model.file: model for model in (CorrectionWords, SmallWords, ThisPatientWords)},
}  # fmt: skip
_FREE_FILES = frozenset({"words", "grammar"})  # checked by what reads them
_CORPUS_KEYS = frozenset({*Finding.model_fields, "with"} - {"with_"})
_NEAR = 70  # letters in common (rapidfuzz, 0 to 100) from which something is worth naming as a near miss
_NEAR_TERM = 75


@dataclass
class Report:
    """What a check found. Problems must be mended; remarks may be meant."""

    files: int = 0
    terms: int = 0
    corpora: int = 0
    problems: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def check(folder: Path) -> Report:
    """Return what is wrong in the lexicon files and corpora below a folder.

    Raises:
        LexiconError: there is no such folder, or no lexicon file in it.
    """
    report = Report()
    terms: list[tuple[Term, str]] = []
    regions: list[tuple[RegionFile, Path]] = []
    paths = data_files(folder)
    corpora = sorted(folder.rglob("*.corpus.toml"))
    if not paths and not corpora:
        raise LexiconError(f"{folder} holds no .toml file; name a lexicon folder")
    for path in paths:
        report.files += 1
        try:
            content = read_toml(path)
        except LexiconError as error:
            report.problems.append(_with_line(str(error), path))
            continue
        whole = _whole_file(path)
        if whole:
            entry = _model(whole, content, path, "", 0, report)
            if isinstance(entry, RegionFile):
                regions.append((entry, path))
        elif path.stem not in _FREE_FILES:
            terms += _entries(content, path, report)
    report.terms = len(terms)
    if not report.problems:
        _check_labels([term for term, _ in terms], regions, corpora, report)
    report.remarks += _collisions(terms)
    return report


def terms_like(query: str, terms: Sequence[Term]) -> list[Term]:
    """Return the terms whose label or any wording is like the query, the best first."""
    wordings = {(index, form): form for index, term in enumerate(terms) for form in (term.label, *term.forms)}
    found = process.extract(
        query, wordings, scorer=fuzz.WRatio, processor=utils.default_process, limit=200, score_cutoff=_NEAR_TERM
    )
    return [terms[index] for index in dict.fromkeys(key[0] for _, _, key in found)]


# -- one file --------------------------------------------------------------------------------------------------------


def _whole_file(path: Path) -> type[BaseModel] | None:
    """Return the model of a file that is one thing, not a list of terms or cues."""
    if path.stem == "region" or path.parent.name == "common":
        return _WHOLE_FILES.get(path.stem)
    return None


def _entries(content: Mapping[str, Any], path: Path, report: Report) -> Iterator[tuple[Term, str]]:
    defaults = {key: content[key] for key in _TERM_DEFAULTS if key in content}
    known = [*_TABLES, *_TERM_DEFAULTS]
    for key in content:
        if key not in known:
            report.problems.append(f"{path}:{_line(path, key, 0)}: unknown key {key!r}{_near(key, known)}")
    for name, model in _TABLES.items():
        entries = content.get(name, [])
        if not isinstance(entries, list):
            report.problems.append(f"{path}:{_line(path, name, 0)}: write [[{name}]], with two brackets")
            continue
        for index, raw in enumerate(entries):
            entry = _model(model, {**defaults, **raw} if model is Term else raw, path, name, index, report)
            if isinstance(entry, Term):
                yield entry, f"{path}:{_line(path, name, index)}"


def _model(
    model: type[BaseModel], content: Mapping[str, Any], path: Path, table: str, index: int, report: Report
) -> BaseModel | None:  # fmt: skip
    """Return the entry, or None after reporting all that is wrong with it."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        label = content.get("label") or content.get("section") or content.get("region") or ""
        for found in error.errors():
            where = ".".join(str(part) for part in found["loc"])
            hint = _near(str(found["loc"][-1]), model.model_fields) if found["type"] == "extra_forbidden" else ""
            what = "unknown key" if found["type"] == "extra_forbidden" else found["msg"]
            if found["type"] == "literal_error":
                hint = _near(str(found["input"]), re.findall(r"'([^']+)'", found["msg"]))
                what = f"{found['input']!r} is not one of its values"
            named = [part for part in found["loc"] if isinstance(part, str)]  # an entry of a list has only its place
            key_line = _line(path, named[-1], 0, after=_line(path, table, index)) if named else 1
            report.problems.append(f"{path}:{key_line}: {label}: {where}: {what}{hint}".replace(": : ", ": "))
        return None


def _line(path: Path, key: str, index: int, *, after: int = 1) -> int:
    """Return the line of the index-th `[[key]]` or `key =`, from line `after` on; `after` when there is none."""
    pattern = re.compile(rf"^\s*(\[\[?{re.escape(key)}\]?\]|{re.escape(key)}\s*=)") if key else None
    seen = -1
    for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        if pattern and number >= after and pattern.match(text):
            seen += 1
            if seen == index:
                return number
    return after


def _with_line(message: str, path: Path) -> str:
    """Put the line of a TOML error where an editor looks for it: after the file's name."""
    found = re.search(r"at line (\d+)", message)
    return message.replace(f"{path}:", f"{path}:{found[1]}:", 1) if found else message


def _near(wrong: str, known: Iterable[str]) -> str:
    best = process.extractOne(wrong, list(known), scorer=fuzz.WRatio, score_cutoff=_NEAR)
    return f"; did you mean {best[0]!r}?" if best else ""


# -- between files ---------------------------------------------------------------------------------------------------


def _check_labels(
    own: Sequence[Term],
    regions: Sequence[tuple[RegionFile, Path]],
    corpora: Sequence[Path],
    report: Report,
) -> None:
    """Check that plans and corpora name labels that exist, here or in the built-in lexicon."""
    terms = [*load_lexicon().terms, *own]
    labels = {term.label for term in terms} | {label for term in terms for label in term.places.values()}
    for region, path in regions:
        for section in region.plan:
            for item in section.items:
                for pattern in item.any_of:
                    for name in filter(None, (part.strip() for part in pattern.split("@"))):
                        if name not in labels and not _composed(name, labels):
                            line = _line_holding(path, name)
                            report.problems.append(
                                f"{path}:{line}: plan: no term has the label {name!r}{_near(name, labels)}"
                            )
    for path in corpora:
        report.corpora += 1
        _check_corpus(path, labels, report)


# Findings that the reader makes without a term of that name, and structures that are spinal levels.
_MADE = frozenset({
    "strength", "reflex", "reflexes", "pulse", "pulses", "range of motion", "sensation", "light touch", "pin prick",
    "neurological status", "vascular status", "pain", "girth", "palpation", "inspection",
})  # fmt: skip
_LEVEL_LABEL = re.compile(r"[CTLS]\d{1,2}( (dermatome|myotome|level|.+))?")


def _composed(name: str, labels: set[str]) -> bool:
    return name in _MADE or _LEVEL_LABEL.fullmatch(name) is not None or name.replace("_", " ") in labels


def _check_corpus(path: Path, labels: set[str], report: Report) -> None:
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        report.problems.append(_with_line(f"{path}: not valid TOML: {error}", path))
        return
    for index, case in enumerate(content.get("case", [])):
        line = _line(path, "case", index)
        if not case.get("said"):
            report.problems.append(f"{path}:{line}: a case needs `said`, a list of phrases")
        for finding in case.get("findings", []):
            for key in finding:
                if key not in _CORPUS_KEYS:
                    report.problems.append(f"{path}:{line}: unknown key {key!r}{_near(key, _CORPUS_KEYS)}")
            for key in ("finding", "structure"):
                name = finding.get(key)
                if name and name not in labels and not _composed(name, labels):
                    report.remarks.append(f"{path}:{line}: no term has the label {name!r}{_near(name, labels)}")


def _line_holding(path: Path, text: str) -> int:
    lines = path.read_text(encoding="utf-8").splitlines()
    return next((number for number, line in enumerate(lines, start=1) if text in line), 1)


def _collisions(terms: Sequence[tuple[Term, str]]) -> list[str]:
    """Return the wordings that name two terms of one kind in one region: only the context could tell them apart."""
    claims: dict[tuple[str, str], list[tuple[Term, str]]] = defaultdict(list)
    for term, place in terms:
        for form in dict.fromkeys(form.lower() for form in term.forms):
            claims[form, term.kind].append((term, place))
    remarks = []
    for (form, _), claimants in claims.items():
        for number, (term, place) in enumerate(claimants):
            for other, other_place in claimants[:number]:
                meet = not term.regions or not other.regions or set(term.regions) & set(other.regions)
                if meet and term.label != other.label:
                    remarks.append(f"{place}: {form!r} names both {term.label!r} and {other.label!r} ({other_place})")
    return remarks
