"""Cut an utterance into word tokens that keep their place in it. Punctuation is a property of the word before it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

# A break after a token: none, a comma-like pause, or the end of a sentence. A question mark ends a sentence too.
NO_BREAK, COMMA, STOP, QUESTION = "", ",", ".", "?"
_BREAKS = {",": COMMA, ";": STOP, ":": COMMA, ".": STOP, "!": STOP, "?": QUESTION, "…": COMMA, "—": COMMA, "–": COMMA}
_OPENING = "\"'([{“‘*"
_QUOTED = ('"', "“")
_CLOSING = "\"')]}”’*"

_IRREGULAR_NOT = {"can't": "can", "won't": "will", "shan't": "shall"}
_MOST_WORDS_KEPT = 50_000
_QUOTES = str.maketrans({"’": "'", "‘": "'", "“": '"', "”": '"', "−": "-", "º": "°"})
_LEVEL = r"[ctls]\d{1,2}"
_GRADE_SIGN = re.compile(r"(\d)([+-])(?=$|\s)")
_HUNDREDS_HYPHEN = re.compile(r"1-(\d\d)")
_PIECES = re.compile(
    rf"{_LEVEL}/\d{{1,2}}|{_LEVEL}/{_LEVEL}|\d+(?:\.\d+)?|[+°%<>=@&≥/-]|[^\W\d_]+(?:'[^\W\d_]+)*|{_LEVEL}",
    re.IGNORECASE,
)
_MARKED_DOUBTFUL = re.compile(r"\?[,;.]")  # no question ends so
_JOINED_LEVELS = re.compile(r"([cls]\d|t\d{1,2})2([ctls]\d{1,2})")
_LEVEL_AND_GRADE = re.compile(r"([ls]([1-5]))([02-5])")
_LEVEL_WORD = re.compile(rf"({_LEVEL})(?:[-/](?:({_LEVEL})|(\d{{1,2}})))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Token:
    """One word as matched (`norm`: lower case, no plural s or possessive 's) with its place among the spoken words."""

    norm: str
    text: str  # lower case, as said
    word: int  # index of the spoken word that it came from
    break_after: str = NO_BREAK
    heads: bool = False  # a colon follows it: what comes is about it


class Tokeniser:
    """Splits and normalises words by `lexicon/common/words.toml`; text and lexicon forms go the same way."""

    def __init__(self, words: Mapping[str, Any]) -> None:
        self._keep_s = frozenset(words["keep_s"])
        self._contracted = frozenset(words["contracted_s"])
        self._spellings: Mapping[str, str] = words["spellings"]
        self._split_words: dict[str, tuple[tuple[str, ...], str]] = {}
        self._norms: dict[str, tuple[str, ...]] = {}  # of the words of lexicon forms

    def tokens(self, words: list[str] | tuple[str, ...]) -> list[Token]:
        """Return the tokens of spoken words, in order."""
        out: list[Token] = []
        spoken = _spoken_punctuation(words)
        for index, word in enumerate(words):
            if index in spoken:
                if out and spoken[index]:
                    out[-1] = replace(out[-1], break_after=spoken[index], heads=_bare(word) == "colon")
                continue
            if out and out[-1].break_after == COMMA and word.startswith(_QUOTED):
                out[-1] = replace(out[-1], break_after=STOP)  # "… on the right..." "That's his left."
            pieces, break_after = self._pieces(word)
            if out and re.fullmatch(r"\.\d+", word.rstrip(".,")) and out[-1].text.isdigit():  # "46 .5"
                whole = out.pop()
                out.append(
                    Token(whole.norm + word.rstrip(".,"), whole.text + word.rstrip(".,"), whole.word, break_after)
                )
                continue
            if not pieces and out and break_after:
                pieces_to_mark = out.pop()
                out.append(Token(pieces_to_mark.norm, pieces_to_mark.text, pieces_to_mark.word, break_after))
            for position, piece in enumerate(pieces):
                last = position == len(pieces) - 1
                heads = last and word.endswith(":")
                out.append(Token(self.norm(piece), piece, index, break_after if last else NO_BREAK, heads))
        return out

    def _pieces(self, word: str) -> tuple[tuple[str, ...], str]:
        """Return the words that one written word is, and the break after it; the same word is split only once."""
        known = self._split_words.get(word)
        if known is None and _MARKED_DOUBTFUL.fullmatch(word):
            known = ("equivocal",), _BREAKS[word[-1]]  # "Speed's ?, repeat on Thursday"
        if known is None:
            core, break_after = _strip_punctuation(word.translate(_QUOTES).lower())
            known = tuple(piece for part in self._split(core) for piece in self._respelled(part)), break_after
            if len(self._split_words) < _MOST_WORDS_KEPT:
                self._split_words[word] = known
        return known

    def norms(self, phrase: str) -> list[str]:
        """Return the normalised words of a lexicon form: each word's are worked out once, for forms are many."""
        out: list[str] = []
        for word in phrase.split():
            known = self._norms.get(word)
            if known is None:
                known = self._norms[word] = tuple(self.norm(piece) for piece in self._pieces(word)[0])
            out += known
        return out

    def norm(self, word: str) -> str:
        """Return a word without possessive 's and plural s."""
        if word.endswith("'s"):
            base = word[:-2]
            if base in self._contracted:
                return word
            word = base
        elif word.endswith("s'"):
            word = word[:-1]
        if len(word) > 5 and word.endswith(("ches", "shes", "xes", "sses")):
            return word[:-2]
        if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")) and word not in self._keep_s:
            return word[:-1]
        return word

    def _respelled(self, piece: str) -> list[str]:
        piece = self._spellings.get(piece, piece)
        if piece.endswith("n't"):
            piece = f"{_IRREGULAR_NOT.get(piece, piece[:-3])} not"
        return piece.split()

    def _split(self, core: str) -> list[str]:
        if not core:
            return []
        if core in self._spellings or re.fullmatch(r"[a-z]/[a-z]", core):
            return [core]
        run = _JOINED_LEVELS.fullmatch(core)
        if run:  # "L two to S one", the "to" as a digit
            return [run[1], "to", run[2]]
        graded = _LEVEL_AND_GRADE.fullmatch(core)
        if graded and int(graded[3]) != int(graded[2]) + 1:  # "L45" may be a segment, "L54" is a level and its grade
            return [graded[1], graded[3]]
        level = _LEVEL_WORD.fullmatch(core.removesuffix("'s"))
        if level:
            first, second, digits = level.groups()
            if second:
                return [first, "to", second] if "-" in core else [first, "and", second]
            return [f"{first}/{digits}"] if digits else [first]
        hundreds = _HUNDREDS_HYPHEN.fullmatch(core)
        if hundreds:  # recognisers write "one twelve" as 1-12
            return [f"1{hundreds[1]}"]
        core = re.sub(r"(?<=[\d+-])/(?=\d)", " over ", core)
        core = _GRADE_SIGN.sub(lambda match: f"{match[1]} {'plus' if match[2] == '+' else 'minus'} ", core)
        if re.fullmatch(r"\d+(?:-\d+)+", core):
            return " to ".join(core.split("-")).split()
        core = re.sub(r"(?<![\w.])-(?=\d)", "minus ", core)
        core = re.sub(r"(?<![\w.])\+(?=\d)", "plus ", core)
        core = re.sub(r"(?<=[a-z])/(?=[a-z])", " and ", core)
        pieces = _PIECES.findall(core)
        return [piece for piece in pieces if piece not in "-/"]


# Punctuation that is dictated by name. "Period" is also an everyday word: only where others are dictated, or it ends.
_NAMED_MARKS = {
    "comma": COMMA, "colon": COMMA, "semicolon": STOP, "full stop": STOP, "new paragraph": STOP, "new line": STOP,
    "question mark": QUESTION, "period": STOP,
}  # fmt: skip
_PERIOD_OF = frozenset({"a", "the", "this", "that", "his", "her", "your", "long", "short", "time", "recovery", "last"})


def _bare(word: str) -> str:
    return word.lower().strip(".,;:?!")


def _spoken_punctuation(words: list[str] | tuple[str, ...]) -> dict[int, str]:
    """Return which words name a punctuation mark, with the break that it makes ("" for the first word of two)."""
    bare = [_bare(word) for word in words]
    found: dict[int, str] = {}
    for place, word in enumerate(bare):
        pair = f"{bare[place - 1]} {word}" if place else ""
        if pair in _NAMED_MARKS and (place < 2 or bare[place - 2] not in ("a", "the")):
            found |= {place - 1: "", place: _NAMED_MARKS[pair]}
        elif word in _NAMED_MARKS and (not place or bare[place - 1] not in _PERIOD_OF):
            found[place] = _NAMED_MARKS[word]
    certain = [place for place in found if bare[place] != "period"]
    periods = [place for place in found if bare[place] == "period"]
    if not certain and len(periods) == 1 and periods[0] != len(bare) - 1:
        return {}
    return found


def _strip_punctuation(word: str) -> tuple[str, str]:
    """Return a word without what clings to it, and the break that follows it."""
    word = word.lstrip(_OPENING)
    break_after = NO_BREAK
    if re.fullmatch(r"[-–—]+", word):
        return "", COMMA
    dashes = re.search(r"(?<=\w)(--+|—|–)$", word)
    if dashes:
        word, break_after = word[: dashes.start()], COMMA
    while word and (word[-1] in _CLOSING or word[-1] in _BREAKS):
        if word[-1] in _CLOSING and word.endswith("s'"):
            break
        found = _BREAKS.get(word[-1], NO_BREAK)
        if found == QUESTION or (found == STOP and break_after != QUESTION) or (found and not break_after):
            break_after = found
        if word.endswith("..."):
            break_after, word = COMMA, word.rstrip(".")
            continue
        word = word[:-1]
    return word, break_after
