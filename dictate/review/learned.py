"""The terms that this machine has learned: a small lexicon folder that is laid over the built-in one."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from dictate.data_folder import lexicon_folder
from dictate.errors import DictateError
from dictate.language.reader import Reader
from dictate.language.state import Context, State
from dictate.lexicon.load import checked_tables, load_lexicon, read_toml
from dictate.lexicon.model import Term
from dictate.lexicon_check import check
from dictate.recognise.events import Utterance
from dictate.review.learn import Offer

LEARNED_NAME = "learned.toml"
DECLINED_NAME = "declined.json"
_HEAD = (
    "# Mishearings learned from corrections on the review page. Each entry is a whole term: it stands in the place of",
    "# the built-in one of the same kind, label and regions. Remove an entry, or the file, to forget it.",
)


class LearnError(DictateError):
    """A mishearing that cannot be learned; nothing was written."""


class Learned:
    """The personal lexicon of one data folder."""

    def __init__(self, data: Path) -> None:
        self.folder = lexicon_folder(data)

    def declined(self) -> frozenset[str]:
        """Return the ids of the offers that somebody declined."""
        try:
            known = json.loads((self.folder / DECLINED_NAME).read_text(encoding="utf-8"))
        except (OSError, ValueError):  # there is none, or it is not usable: what is in it is only asked again
            return frozenset()
        return frozenset(one for one in known if isinstance(one, str)) if isinstance(known, list) else frozenset()

    def decline(self, offer: Offer) -> None:
        """Never offer this again."""
        self._write(DECLINED_NAME, json.dumps(sorted({*self.declined(), offer.id}), indent=1))

    def accept(self, offer: Offer, *, by: str, at: datetime) -> Path:
        """Write the term with its new mishearing; return the file.

        Raises:
            LearnError: the folder has problems, or the sentences would still not be read as that term.
        """
        with tempfile.TemporaryDirectory(prefix="dictate-lexicon-") as made:
            trial = Path(made) / "lexicon"
            if self.folder.is_dir():
                shutil.copytree(self.folder, trial)
            trial.mkdir(exist_ok=True)
            content = self._with(offer, by=by, at=at)
            (trial / LEARNED_NAME).write_text(content, encoding="utf-8")
            report = check(trial)
            if report.problems:
                raise LearnError(f"not learned: {report.problems[0]}".replace(str(trial), str(self.folder)))
            _try(offer, Reader(load_lexicon(trial)))
        return self._write(LEARNED_NAME, content)

    def _with(self, offer: Offer, *, by: str, at: datetime) -> str:
        """Return the file with one more mishearing in it."""
        path = self.folder / LEARNED_NAME
        terms: dict[tuple[object, ...], Term] = {}
        remarks: list[str] = []
        if path.exists():
            terms = {
                _key(term): term
                for term in checked_tables(read_toml(path), path).get("term", ())
                if isinstance(term, Term)
            }
            lines = path.read_text(encoding="utf-8").splitlines()
            remarks = [line for line in lines if line.startswith("#") and line not in _HEAD]
        base = terms.get(_key(offer.term), offer.term)
        heard_as = tuple(dict.fromkeys([*offer.term.heard_as, *base.heard_as, offer.heard]))
        terms[_key(offer.term)] = offer.term.model_copy(update={"heard_as": heard_as})
        exams = ", ".join(dict.fromkeys(one.exam for one in offer.corrections))
        who = (
            " ".join("".join(letter if letter.isprintable() else " " for letter in by).split())
            or "somebody who gave no name"
        )
        remarks.append(f"# {at:%Y-%m-%d}, {who}: {offer.heard!r} is {offer.term.label!r}, as corrected in {exams}")
        return "\n".join([*_HEAD, *remarks, "", *(f"[[term]]\n{_toml(term)}" for term in terms.values())])

    def _write(self, name: str, content: str) -> Path:
        path = self.folder / name
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, half = tempfile.mkstemp(dir=self.folder, prefix=f".{name}-")
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(half).replace(path)
        except OSError as error:
            raise LearnError(
                f"{path} cannot be written ({error.strerror}); check its permissions and the disk"
            ) from error
        return path


def _try(offer: Offer, reader: Reader) -> None:
    """Read the corrected sentences with what was learned: a lesson that changes nothing is none."""
    for one in offer.corrections:
        state = State(context=Context(region=one.region, region_said=True, section=_section(one.edit.after)))
        found = [entry.finding for entry in reader.step(state, Utterance.of_text(one.sentence)).entries]
        right = [finding for finding in found if offer.term.label in (finding.structure, finding.finding)]
        if not right:
            raise LearnError(
                f"not learned: “{one.sentence}” would still not be read as {offer.term.label}; "
                "add a wording by hand (docs/lexicon.md)"
            )
        if not any(doubt.reason == "sounds_like" for finding in right for doubt in finding.doubts):
            raise LearnError(f"not learned: {offer.term.label} would be read without a doubt, which is not wanted")


def _section(finding: Any) -> Any:
    return finding.section if finding is not None else None


def _key(term: Term) -> tuple[object, ...]:
    return (term.kind, term.label, term.regions)


# -- TOML ------------------------------------------------------------------------------------------------------------


def _toml(term: Term) -> str:
    content = term.model_dump(mode="json", exclude_defaults=True)
    return "".join(f"{name} = {_value(value)}\n" for name, value in content.items())


def _value(value: object) -> str:
    """Return a value as TOML 1.0 writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Mapping):
        return (
            "{ "
            + ", ".join(f"{_value(str(name))} = {_value(one)}" for name, one in value.items() if one is not None)
            + " }"
        )
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(_value(one) for one in value)}]"
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
