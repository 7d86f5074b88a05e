"""What the page is sent: the note and its findings as plain JSON."""

from __future__ import annotations

from typing import Any

from dictate.contract import Note
from dictate.journal.edits import Item
from dictate.journal.events import Edited, Gap, Signed
from dictate.journal.exam import sound_files
from dictate.journal.lock import is_running
from dictate.note.describe import clock
from dictate.note.text import coverage_lines, section_order, section_title
from dictate.review.actions import last_to_redo, last_to_undo
from dictate.review.alternatives import Chooser
from dictate.review.describe import differences, doubts_of, words_of_finding
from dictate.review.desk import OpenExam, Standing, version_of
from dictate.review.learn import Offer
from dictate.review.queue import is_open, touches_side_or_number
from dictate.review.reading import sentence_of, utterance_number

AROUND_S = 0.6  # of sound before and after the words (project's choice): enough to hear where a word begins
_DONE = {
    "accept": "accepted", "change": "changed", "remove": "removed", "not_examined": "marked as not examined",
    "add": "added", "undo": "taken back",
}  # fmt: skip


def item_view(item: Item, standing: Standing) -> dict[str, Any]:
    """Return one finding as the note on the page shows it."""
    finding = standing.finding(item)
    region = standing.note.exam.region
    words = words_of_finding(finding, region)
    heard = item.heard
    changed = heard is not None and item.decision == "changed" and bool(differences(heard, finding))
    return {
        "key": item.key,
        "name": words.name,
        "value": words.value,
        "side": words.side,
        "line": words.line,
        "section": finding.section,
        "decision": item.decision,
        "open": is_open(item, finding),
        "grave": touches_side_or_number(finding),
        "confidence": finding.confidence,
        "doubts": doubts_of(finding),
        "said": finding.said,
        "time": finding.time,
        "clock": clock(finding.time[0]) if finding.time else None,
        "utterance": utterance_number(item.key),
        "heard": words_of_finding(heard, region).line if changed and heard is not None else None,
        "version": version_of(item, finding),
        "finding": finding.model_dump(by_alias=True, mode="json"),
    }


def note_view(exam: OpenExam, standing: Standing) -> dict[str, Any]:
    """Return the whole exam for the page."""
    opened = standing.replayed.opened
    return {
        "exam": opened.exam,
        "opened_at": opened.at.isoformat(),
        "patient": opened.patient,
        "source": opened.source,
        "region": standing.note.exam.region,
        "injured_side": standing.note.exam.injured_side,
        "length": clock(standing.replayed.seconds) if standing.replayed.seconds is not None else None,
        "closed": standing.replayed.closed,
        "running": not standing.replayed.closed and is_running(exam.folder.path),
        "sound": any((exam.folder.path / sound.file).is_file() for sound in sound_files(standing.events)),
        "trouble": exam.trouble,
        "items": [item_view(item, standing) for item in standing.replayed.items],
        "said": _said(standing),
        "gaps": _gaps(standing),
        **around(standing),
    }


def change_view(before: Standing, after: Standing) -> dict[str, Any]:
    """Return what a decision changed, and no more: a long exam stays quick."""
    old = {item.key: version_of(item, before.finding(item)) for item in before.replayed.items}
    items = after.replayed.items
    changed = [item for item in items if old.get(item.key) != version_of(item, after.finding(item))]
    keys = {item.key for item in items}
    return {
        "changed": [item_view(item, after) for item in changed],
        "gone": [key for key in old if key not in keys],
        **around(after),
    }


def around(standing: Standing) -> dict[str, Any]:
    """Return what stands around the findings: the queue, coverage, prompts, who signed, what can be undone."""
    undo, redo = last_to_undo(standing.events), last_to_redo(standing.events)
    undone = next((event for event in standing.events if redo and event.n == redo.undoes), None)
    note = standing.note
    return {
        "events": len(standing.events),
        "queue": standing.queue(),
        "sections": [[section, section_title(section)] for section in section_order(note)],
        "coverage": coverage_lines(note),
        "prompts": [{"text": prompt.text, "source": prompt.source} for prompt in note.prompts],
        "undo": edit_words(undo, note) if undo else None,
        "redo": edit_words(undone, note) if isinstance(undone, Edited) else None,
        "signatures": [signature_view(signed) for signed in standing.signatures],
        "since": [edit_view(edit, note) for edit in _since(standing)],
    }


def edit_words(edit: Edited, note: Note) -> str:
    """Return what somebody did in a few words: "changed: Flexion: 105°, right"."""
    finding = edit.after or edit.before
    line = words_of_finding(finding, note.exam.region).line if finding else ""
    return f"{_DONE[edit.action]}: {line}" if line else _DONE[edit.action]


def edit_view(edit: Edited, note: Note) -> dict[str, Any]:
    """Return one entry of a history: who did what, when, from what to what."""
    region = note.exam.region
    return {
        "n": edit.n,
        "at": edit.at.isoformat(),
        "by": edit.by,
        "action": _DONE[edit.action],
        "before": words_of_finding(edit.before, region).line if edit.before else None,
        "after": words_of_finding(edit.after, region).line if edit.after else None,
        "undoes": edit.undoes,
        "comment": edit.comment,
    }


def signature_view(signed: Signed) -> dict[str, Any]:
    """Return who signed what."""
    return {
        "name": signed.name,
        "role": signed.role,
        "at": signed.at.isoformat(),
        "digest": signed.digest,
        "open_doubts": signed.open_doubts,
        "addendum": signed.addendum,
        "findings": len(signed.note.findings),
    }


def offer_view(offer: Offer) -> dict[str, Any]:
    """Return a mishearing that could be learned, with the corrections that speak for it."""
    return {
        "id": offer.id,
        "heard": offer.heard,
        "label": offer.term.label,
        "kind": offer.term.kind,
        "regions": list(offer.term.regions),
        "everyday": offer.everyday,
        "corrections": [
            {"exam": one.exam, "at": one.edit.at.isoformat(), "by": one.edit.by, "sentence": one.sentence}
            for one in offer.corrections
        ],
    }


def card_view(item: Item, standing: Standing, chooser: Chooser, *, sound: bool) -> dict[str, Any]:
    """Return all that a person needs to decide about one finding."""
    finding = standing.finding(item)
    region = standing.note.exam.region
    sentence = sentence_of(item.key, standing.said, wording=finding.said)
    number = utterance_number(item.key)
    texts = [utterance.text for utterance in standing.said.utterances]
    known = number is not None and number < len(texts)
    alternatives = chooser.alternatives(item.key, finding, standing.said, region=region)
    history = [event for event in standing.events if isinstance(event, Edited) and event.item == item.key]
    return {
        **item_view(item, standing),
        "words": sentence.words if sentence else None,
        "sentence_before": texts[number - 1] if known and number else None,
        "sentence_after": texts[number + 1] if known and number is not None and number + 1 < len(texts) else None,
        "sound": _sound(finding.time, sentence.utterance.timed if sentence else False) if sound else None,
        "alternatives": [
            {
                "line": words_of_finding(other.finding, region).line,
                "changed": differences(finding, other.finding),
                "why": other.why,
                "finding": other.finding.model_dump(by_alias=True, mode="json"),
            }
            for other in alternatives
        ],
        "history": [edit_view(edit, standing.note) for edit in history],
    }


def _sound(time: tuple[float, float] | None, timed: bool) -> dict[str, float] | None:
    if time is None or not timed:
        return None
    return {"from": max(0.0, round(time[0] - AROUND_S, 3)), "to": round(time[1] + AROUND_S, 3)}


def _said(standing: Standing) -> list[dict[str, Any]]:
    return [
        {
            "n": number,
            "text": utterance.text,
            "time": [utterance.words[0].start_s, utterance.words[-1].end_s]
            if utterance.timed and utterance.words
            else None,
            "clock": clock(utterance.words[0].start_s) if utterance.timed and utterance.words else None,
        }
        for number, utterance in enumerate(standing.said.utterances)
    ]


def _gaps(standing: Standing) -> list[dict[str, Any]]:
    """Return where sound is missing: what was said there is not in the note, and nobody else will tell."""
    return [
        {
            "from": event.from_s,
            "clock": clock(event.from_s),
            "seconds": None if event.to_s is None else round(event.to_s - event.from_s, 1),
            "why": event.why,
        }
        for event in standing.events
        if isinstance(event, Gap)
    ]


def _since(standing: Standing) -> list[Edited]:
    last = max((signed.n for signed in standing.signatures), default=None)
    if last is None:
        return []
    return [event for event in standing.events if isinstance(event, Edited) and event.n > last]
