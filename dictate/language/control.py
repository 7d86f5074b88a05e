"""Control by voice: procedure words that stand alone in an utterance or open it, and nowhere else.

"Stand by." is a command; "stand by the wall for me" is not, and neither is "the correction holds". The words are data:
`lexicon/common/control.toml`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dictate.lexicon.control_model import ControlForms, ControlKind, control_file
from dictate.lexicon.load import Lexicon

_PIECES = re.compile(r"[^\W_]+(?:'[^\W_]+)*")
_PAUSE = re.compile(r"[,.;:?!…—–-]+[\"')\]]*$")
_QUOTES = str.maketrans({"’": "'", "‘": "'", "`": "'"})


@dataclass(frozen=True, slots=True)
class Control:
    """What the speaker asks of the program.

    `argument` is a section, "last" or "all" for `read_back`; the words that follow, as said, for `correction`,
    `disregard`, `stand_by` and `resume`; else empty. `opening` is how many spoken words the command itself took.
    `misheard`: it was taken from words that only sound like it.
    """

    kind: ControlKind
    argument: str = ""
    opening: int = 0
    misheard: bool = False


@dataclass(frozen=True, slots=True)
class _Piece:
    """One word as matched, the place of the spoken word it is of, and whether a pause follows."""

    norm: str
    place: int
    pause: bool


@dataclass(frozen=True, slots=True)
class _Form:
    norms: tuple[str, ...]
    control: ControlForms
    misheard: bool


class Controls:
    """The control words of a lexicon."""

    def __init__(self, lexicon: Lexicon) -> None:
        data = control_file(lexicon.reference)
        self._fillers = _longest_first(data.fillers)
        self._courtesies = _longest_first(data.courtesies)
        forms = [
            _Form(_norms(form), control, misheard)
            for control in data.control
            for misheard, group in ((False, control.forms), (True, control.heard_as))
            for form in group
        ]
        self._by_first: dict[str, list[_Form]] = {}
        for form in sorted(forms, key=lambda form: -len(form.norms)):
            self._by_first.setdefault(form.norms[0], []).append(form)
        self._sections = {_norms(form): entry.section for entry in lexicon.sections for form in entry.forms}
        self._sections |= {_norms(section.replace("_", " ")): section for section in self._sections.values()}

    def control_of(self, words: Sequence[str]) -> Control | None:
        """Return what an utterance asks of the program, None for one that only tells.

        Args:
            words: the spoken words of one whole utterance, punctuation clinging to them.
        """
        pieces = _pieces(words)
        start = self._after_fillers(pieces)
        for place in range(start + 1):  # "no, correction" as well as a form that begins with a filler
            for form in self._by_first.get(pieces[place].norm, ()) if place < len(pieces) else ():
                end = place + len(form.norms)
                if tuple(piece.norm for piece in pieces[place:end]) != form.norms:
                    continue
                argument = self._argument(form, pieces, end, words)
                if argument is not None:
                    opening = pieces[end - 1].place + 1
                    return Control(form.control.kind, argument, opening, form.misheard)
        return None

    def _argument(self, form: _Form, pieces: Sequence[_Piece], end: int, words: Sequence[str]) -> str | None:
        """Return what follows the form, None when what follows shows that it is no command."""
        control = form.control
        rest = self._without_courtesies([piece.norm for piece in pieces[end:]])
        if not rest:
            return ""
        most = control.heard_as_most_words
        if form.misheard and most is not None and len(pieces) > most:
            return None
        if tuple(rest) in {_norms(tail) for tail in control.tails}:
            return ""
        if control.where == "section":
            return self._named(control.arguments, rest)
        paused = pieces[end - 1].pause and control.where in ("pause", "anything")
        free = control.where == "anything" and rest[0] not in control.not_before
        return " ".join(words[pieces[end].place :]) if paused or free else None

    def _named(self, arguments: Mapping[str, Sequence[str]], rest: Sequence[str]) -> str | None:
        said = tuple(word for word in rest if word != "the")
        for name, forms in arguments.items():
            if said in {_norms(form) for form in forms}:
                return name
        return self._sections.get(said) or self._sections.get(tuple(rest))

    def _after_fillers(self, pieces: Sequence[_Piece]) -> int:
        place = 0
        while place < len(pieces):
            step = next((len(f) for f in self._fillers if _norms_at(pieces, place, len(f)) == f), 0)
            if not step:
                break
            place += step
        return place

    def _without_courtesies(self, rest: list[str]) -> list[str]:
        while rest:
            step = next((len(c) for c in self._courtesies if tuple(rest[-len(c) :]) == c), 0)
            if not step:
                break
            rest = rest[:-step]
        return rest


def _pieces(words: Sequence[str]) -> list[_Piece]:
    out: list[_Piece] = []
    for place, word in enumerate(words):
        norms = _norms(word)
        if not norms and out and _PAUSE.search(word):  # a dash that stands by itself
            out[-1] = _Piece(out[-1].norm, out[-1].place, True)
        for index, norm in enumerate(norms):
            out.append(_Piece(norm, place, index == len(norms) - 1 and bool(_PAUSE.search(word))))
    return out


def _norms(phrase: str) -> tuple[str, ...]:
    """Return the words of a phrase without case, accents ("Résumé.") and apostrophes."""
    plain = unicodedata.normalize("NFKD", phrase.translate(_QUOTES))
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter)).lower()
    return tuple(piece.replace("'", "") for piece in _PIECES.findall(plain))


def _norms_at(pieces: Sequence[_Piece], place: int, length: int) -> tuple[str, ...]:
    return tuple(piece.norm for piece in pieces[place : place + length])


def _longest_first(phrases: Sequence[str]) -> list[tuple[str, ...]]:
    return sorted((_norms(phrase) for phrase in phrases), key=len, reverse=True)
