"""What procedure words do to the exam ("stand by", "disregard", "correction"): pure steps of the fold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.contract import Doubt
from dictate.language.exchange import withdraw
from dictate.language.reader import Reader
from dictate.language.state import Entry, State
from dictate.note.describe import value_text
from dictate.note.hearing import heard_doubts
from dictate.recognise.events import Utterance, Word

CORRECTION = "correction,"
_MOST_READINGS = 4  # alternatives looked at: each costs one step of the reader
_VALUES = ("side", "status", "degrees", "grade", "measure", "at_degrees", "severity", "structure", "finding")


def passed_over(state: State, utterance: Utterance) -> State:
    """Return the state after an utterance that is not read: only counted, so that places still fit."""
    return replace(state, utterances=state.utterances + 1, words=state.words + len(utterance.words))


def would_find(state: State, utterance: Utterance, reader: Reader) -> bool:
    """Whether an utterance would change the findings if it were read."""
    return reader.step(state, utterance).entries != state.entries


def after_opening(utterance: Utterance, opening: int) -> Utterance | None:
    """Return what an utterance says after its first words, None when nothing is left. Its other readings go as well."""
    words = utterance.words[opening:]
    if not words:
        return None
    readings = tuple(
        replace(reading, text=" ".join(reading.text.split()[opening:])) for reading in utterance.alternatives
    )
    return replace(utterance, words=words, alternatives=readings)


def as_correction(utterance: Utterance, *, heard: int) -> Utterance:
    """Return an utterance as one that begins with "correction", in the place of its first `heard` words.

    For a word that was misheard, and for "Correction." with a pause before what it corrects.
    """
    at_s = utterance.words[0].start_s if utterance.words else 0.0
    word = Word(text=CORRECTION, start_s=at_s, end_s=at_s, confidence=1.0)
    readings = tuple(
        replace(reading, text=" ".join([CORRECTION, *reading.text.split()[heard:]]))
        for reading in utterance.alternatives
    )
    return replace(utterance, words=(word, *utterance.words[heard:]), alternatives=readings)


def changed(before: State, after: State) -> bool:
    """Whether a step did more than count."""
    counted = replace(after, utterances=before.utterances, words=before.words, frames=before.frames, heard=before.heard)
    return counted != before


def taken_back(state: State, undo: State | None) -> State:
    """Return the state after "disregard".

    Args:
        state: where the exam stands.
        undo: before the last utterance that changed anything. Where that one added findings, its last statement's go;
            where it changed something else (a value corrected, a section announced), that is undone.
    """
    if undo is None or len(state.entries) > len(undo.entries):
        return withdraw(state)
    return replace(undo, utterances=state.utterances, words=state.words, frames=state.frames, heard=state.heard)


def corrected(before: State, after: State, utterance: Utterance, reader: Reader, *, misheard: bool = False) -> State:
    """Return the state after a correction, doubted where it went nowhere or was not heard well.

    Args:
        before, after: around the reader's step over `utterance`.
        utterance: begins with "correction".
        reader: reads its other readings.
        misheard: the word itself was taken from one that sounds like it.
    """
    if not before.entries:
        return after
    said = " ".join(word.text for word in utterance.words)
    entries = list(after.entries)
    touched = [place for place, entry in enumerate(before.entries) if _differs(entry, entries, place)]
    if not touched and len(entries) <= len(before.entries):
        if not changed(before, after):
            entries[-1] = _doubted(entries[-1], "slip_repaired", f"a correction was not understood: “{said}”")
        return replace(after, entries=tuple(entries))
    if not touched:
        detail = "said as a correction, but nothing was found that it corrects"
        for place in range(len(before.entries), len(entries)):
            entries[place] = _doubted(entries[place], "slip_repaired", detail)
        return replace(after, entries=tuple(entries))
    for place in touched if len(entries) >= len(before.entries) else ():
        if misheard:
            entries[place] = _doubted(entries[place], "sounds_like", f"taken as a correction: “{said}”")
        if utterance.timed:
            for doubt in [
                *heard_doubts(utterance.words),
                *_other_readings(before, entries[place], place, utterance, reader),
            ]:
                entries[place] = _doubted(entries[place], doubt.reason, doubt.detail, doubt.suggestion)
    return replace(after, entries=tuple(entries))


def _differs(entry: Entry, entries: Sequence[Entry], place: int) -> bool:
    return place < len(entries) and entries[place].finding != entry.finding


def _other_readings(before: State, entry: Entry, place: int, utterance: Utterance, reader: Reader) -> list[Doubt]:
    """Return the doubt when another reading of the sound corrects to something else; at most one."""
    for reading in utterance.alternatives[:_MOST_READINGS]:
        other = reader.step(before, Utterance.of_text(reading.text)).entries
        if place >= len(other) or other[place].finding == before.entries[place].finding:
            continue
        names = [n for n in _VALUES if getattr(other[place].finding, n) != getattr(entry.finding, n)]
        if names:
            values = [value_text(other[place].finding, name) for name in names]
            detail = ", ".join(f"{name} {value}" for name, value in zip(names, values, strict=True))
            detail = f"another reading of the correction gives {detail}"
            return [Doubt(reason="readings_disagree", detail=detail, suggestion=", ".join(values))]
    return []


def _doubted(entry: Entry, reason: str, detail: str, suggestion: str | None = None) -> Entry:
    doubt = Doubt.model_validate({"reason": reason, "detail": detail, "suggestion": suggestion})
    return entry.with_finding(entry.finding.model_copy(update={"doubts": [*entry.finding.doubts, doubt]}))
