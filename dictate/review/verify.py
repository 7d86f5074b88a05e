"""What became of an exam: who decided and signed what, and whether anything is not as it was written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from dictate.errors import JournalError
from dictate.journal.events import Edited, Event, Purged, Signed
from dictate.journal.exam import JOURNAL_NAME, ExamFolder, exam_ids, exams_folder, is_exam_id
from dictate.journal.journal import read_journal
from dictate.journal.replay import opened_of
from dictate.journal.signing import Check, check
from dictate.review.describe import words_of_finding

_ACTIONS = {
    "accept": "accepted", "change": "changed", "remove": "removed", "not_examined": "marked as not examined",
    "add": "added", "undo": "took back",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Verified:
    """One exam, checked. `lines` tell its story; `faults` are empty when all is as it was written."""

    exam: str
    state: str
    lines: tuple[str, ...]
    faults: tuple[str, ...]
    digests: tuple[str, ...] = ()  # of its signatures


def folders_of(named: str | None, data: Path) -> list[Path]:
    """Return the folders of the exams to check.

    Args:
        named: an exam's id, its folder, or a folder that holds exams; None for all of `data`.
        data: the folder of all data.

    Raises:
        JournalError: there is no exam there.
    """
    if named is None:
        return [exams_folder(data) / exam for exam in exam_ids(data)]
    path = Path(named)
    try:
        if is_exam_id(named) and not path.is_dir():
            return [ExamFolder.of(data, named).path]
        if (path / JOURNAL_NAME).is_file():
            return [path]
        inside = [one for one in (*_exams_in(exams_folder(path)), *_exams_in(path)) if (one / JOURNAL_NAME).is_file()]
    except OSError as error:
        raise JournalError(
            f"{named[:80]} cannot be read ({error.strerror}); give an exam's id or its folder"
        ) from error
    if not inside:
        raise JournalError(f"{named[:80]} is no exam and holds none; give an exam's id, its folder, or the data folder")
    return inside


def _exams_in(path: Path) -> list[Path]:
    return sorted(one for one in path.iterdir() if is_exam_id(one.name)) if path.is_dir() else []


def verify(folder: Path, *, digest: str | None = None, everything: bool = False) -> Verified:
    """Check one exam.

    Args:
        folder: of the exam.
        digest: one that a handed-on note carries, to be found among the signatures.
        everything: tell of decisions before the first signature, too.

    Raises:
        JournalError: there is no journal, or it cannot be read at all.
    """
    found = check(folder / JOURNAL_NAME)
    events = read_journal(folder / JOURNAL_NAME).events
    faults = list(found.faults)
    digests = tuple(signed.digest for signed in found.signatures)
    if digest is not None and digest.strip().lower() not in digests:
        faults.append("no signature of this exam has the digest that you gave: that note is not what was signed here")
    return Verified(folder.name, _state(found), tuple(_story(events, found, everything)), tuple(faults), digests)


def _state(found: Check) -> str:
    if not found.signatures:
        return "not signed"
    addenda = len(found.signatures) - 1
    signed = "signed" if not addenda else f"signed, with {addenda} {'addendum' if addenda == 1 else 'addenda'}"
    return f"{signed}; changed since, not signed" if found.edits_since else signed


def _story(events: Sequence[Event], found: Check, everything: bool) -> Iterator[str]:
    try:
        opened = opened_of(events)
    except JournalError:  # not even its first line can be trusted; the faults say so
        return
    patient = f", patient (pseudonym) {opened.patient}" if opened.patient else ""
    yield f"opened {opened.at:%Y-%m-%d %H:%M} UTC{patient}"
    region = opened.region or (found.signatures[0].note.exam.region if found.signatures else "knee")
    signed_yet = False
    quiet = 0
    edits = {event.n: event for event in events if isinstance(event, Edited)}
    for event in events:
        if isinstance(event, Edited):
            if signed_yet or everything:
                yield _told(event, edits, region)
            else:
                quiet += 1
        elif isinstance(event, Signed):
            if quiet:
                yield f"{quiet} {'decision' if quiet == 1 else 'decisions'} before it was signed (--all lists them)"
            signed_yet, quiet = True, 0
            yield from _signature(event, region)
        elif isinstance(event, Purged):
            yield f"{event.at:%Y-%m-%d %H:%M} UTC: sound removed for good ({', '.join(event.files)}): {event.why}"
    if quiet:
        yield f"{quiet} {'decision' if quiet == 1 else 'decisions'}, not signed (--all lists them)"


def _told(edit: Edited, edits: dict[int, Edited], region: str) -> str:
    who = edit.by or "somebody who gave no name"
    undone = edits.get(edit.undoes) if edit.undoes is not None else None
    if undone is not None:
        what = f"took back: {_told(undone, edits, region).partition(' UTC, ')[2]}"
        return f"{edit.at:%Y-%m-%d %H:%M} UTC, {who}: {what}"
    lines = [words_of_finding(finding, region).line for finding in (edit.before, edit.after) if finding is not None]
    change = " → ".join(dict.fromkeys(lines))
    return f"{edit.at:%Y-%m-%d %H:%M} UTC, {who}: {_ACTIONS[edit.action]}: {change}"


def _signature(signed: Signed, region: str) -> Iterator[str]:
    kind = "addendum signed" if signed.addendum else "signed"
    reason = f": {signed.addendum}" if signed.addendum else ""
    yield f"{signed.at:%Y-%m-%d %H:%M} UTC, {kind} by {signed.name}, {signed.role}{reason}"
    yield f"  {len(signed.note.findings)} findings, sha256 {signed.digest}"
    for key, finding in zip(signed.keys, signed.note.findings, strict=False):
        if key in signed.open_doubts:
            yield f"  signed as open: {words_of_finding(finding, region).line}"
