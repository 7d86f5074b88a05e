"""Other readings of the same sound: read the same way, and doubted where they mean something else."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import SequenceMatcher

from rapidfuzz import fuzz

from dictate.contract import Doubt, Finding
from dictate.language.reader import Reader
from dictate.language.state import Entry, State
from dictate.note.describe import value_text
from dictate.note.hearing import PLACELESS
from dictate.recognise.events import Hypothesis, Utterance

MOST_READINGS = 4  # alternatives looked at: each costs one step of the reader
ALIKE = 60  # letters in common (rapidfuzz ratio) from which an unfavoured hearing still supports a favoured term
_FIELDS = ("side", "status", "degrees", "grade", "measure", "at_degrees", "severity", "end_feel")
_NAMES = ("structure", "finding")


def reading_doubts(before: State, entries: Sequence[Entry], utterance: Utterance, reader: Reader) -> list[list[Doubt]]:
    """Return, for each new finding of an utterance, the doubts that its alternatives raise; at most one each."""
    doubts: list[list[Doubt]] = [[] for _ in entries]
    own = _norms(reader, utterance.text)
    for hypothesis in utterance.alternatives[:MOST_READINGS]:
        other = Utterance.of_text(hypothesis.text)
        if _norms(reader, other.text) == own:
            continue
        number = before.utterances
        found = [e.finding for e in reader.step(before, other).entries if e.utterance == number]
        for place, entry in enumerate(entries):
            if not doubts[place]:
                doubt = _disagreement(entry, entries, found) or _unsupported(entry, utterance, hypothesis, found)
                if doubt:
                    doubts[place].append(doubt)
    return doubts


def _norms(reader: Reader, text: str) -> list[str]:
    return [token.norm for token in reader.tokeniser.tokens(text.split())]


def _disagreement(entry: Entry, entries: Sequence[Entry], others: Sequence[Finding]) -> Doubt | None:
    """Return the doubt when another reading holds this finding with one thing changed."""
    mine = entry.finding
    if any(_same(mine, other) for other in others):
        return None
    taken = [e.finding for e in entries if e is not entry]
    rivals = [other for other in others if not any(_same(other, own) for own in taken)]
    close = [(len(changed), other, changed) for other in rivals if (changed := _changed(mine, other))]
    if not close:
        return None
    _, other, changed = min(close, key=lambda found: found[0])
    detail = f"another reading of the sound gives {', '.join(f'{name} {value_text(other, name)}' for name in changed)}"
    return Doubt(
        reason="readings_disagree", detail=detail, suggestion=", ".join(value_text(other, name) for name in changed)
    )


def _same(left: Finding, right: Finding) -> bool:
    return not [name for name in (*_FIELDS, *_NAMES) if getattr(left, name) != getattr(right, name)]


def _changed(mine: Finding, other: Finding) -> list[str]:
    """Return the fields in which two readings of one finding differ; nothing when they are about different things."""
    values = [name for name in _FIELDS if getattr(mine, name) != getattr(other, name)]
    names = [name for name in _NAMES if getattr(mine, name) != getattr(other, name)]
    if not names:
        return values
    return names if len(names) == 1 and not values else []


def _unsupported(entry: Entry, utterance: Utterance, hypothesis: Hypothesis, others: Sequence[Finding]) -> Doubt | None:
    """Return the doubt when, without favouring the terms of the exam, this finding sounds like something else."""
    mine = entry.finding
    if hypothesis.favoured or entry.span == PLACELESS or any(other.finding == mine.finding for other in others):
        return None
    first, last = entry.words
    words = [word.text.lower().strip(" ,.;:?!") for word in utterance.words]
    plain = [word.lower().strip(" ,.;:?!") for word in hypothesis.text.split()]
    heard = _aligned(words, plain, first, last + 1)
    said = " ".join(words[first : last + 1])
    if fuzz.ratio(said.replace(" ", ""), heard.replace(" ", "")) >= ALIKE:
        return None
    detail = f'without favouring the terms of the exam it was heard as "{heard}"' if heard else (
        "it was not heard when the terms of the exam were not favoured"
    )  # fmt: skip
    return Doubt(reason="readings_disagree", detail=detail, suggestion=None)


def _aligned(words: Sequence[str], plain: Sequence[str], first: int, end: int) -> str:
    """Return the words of the plain reading that stand where words[first:end] stand."""
    heard: list[str] = []
    for _, a_start, a_end, b_start, b_end in SequenceMatcher(a=words, b=plain, autojunk=False).get_opcodes():
        low, high = max(a_start, first), min(a_end, end)
        if low >= high:
            continue
        if a_end - a_start == b_end - b_start:
            heard += plain[b_start + low - a_start : b_start + high - a_start]
        else:
            heard += plain[b_start:b_end]
    return " ".join(heard)
