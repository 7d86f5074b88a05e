"""A kept exam as it is handed on: its note, and what its record tells of the patient and of who signed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.contract import Note
from dictate.export.errors import ExportError
from dictate.export.handover import Addendum, Handover, Signing
from dictate.journal.events import Event, Signed
from dictate.journal.exam import ExamFolder
from dictate.journal.journal import journal_content, parse_journal
from dictate.journal.replay import opened_of, signatures_of
from dictate.journal.signed import standing
from dictate.journal.signing import check_journal
from dictate.language.reader import Reader


@dataclass(frozen=True, slots=True)
class ExamToHandOn:
    """The note of an exam, and what goes along with it."""

    note: Note
    handover: Handover


def exam_to_hand_on(
    folder: ExamFolder, reader: Reader, *, as_signed: bool = False, journal: bytes | None = None
) -> ExamToHandOn:  # fmt: skip
    """Return an exam as it is handed on: as it was last signed; unsigned, as it stands, which is a draft.

    Args:
        folder: of the exam.
        reader: of the lexicon that unsigned words are read with.
        as_signed: hand on what was signed, although something was changed since.
        journal: what its journal holds, where that is sealed and was decrypted; else it is read.

    Raises:
        JournalError: the exam's journal cannot be read.
        ExportError: the journal was tampered with or is damaged; or the note was changed since it was signed.
    """
    content = journal_content(folder.journal_path) if journal is None else journal
    reading = parse_journal(content)
    if reading.broken_line is not None:
        raise ExportError(
            f"line {reading.broken_line} of the journal of {folder.exam} {reading.why}; nothing is handed on; "
            "`dictate verify` shows what can be trusted"
        )
    events = reading.events
    signatures = signatures_of(events)
    if not signatures:
        return ExamToHandOn(standing(events, reader).note, handover_of(events))
    if faults := check_journal(content).faults:  # sound that is gone does not change what the note says
        raise ExportError(f"{folder.exam}: {faults[0]}; nothing is handed on; `dictate verify` shows more")
    last = signatures[-1]
    if not as_signed and standing(events, reader).note != last.note:
        raise ExportError(
            f"{folder.exam} was changed since it was signed: sign the addendum first (`dictate review {folder.exam}`), "
            "or give --as-signed to hand on what was signed"
        )
    return ExamToHandOn(last.note, handover_of(events))


def handover_of(events: Sequence[Event]) -> Handover:
    """Return what a journal tells beside the note. Raises JournalError for one without a start."""
    opened = opened_of(events)
    signatures = signatures_of(events)
    first = signatures[0] if signatures else None
    return Handover(
        exam_id=opened.exam,
        exam_date=opened.at,
        patient=opened.patient,
        age=opened.age,
        sex=opened.sex,
        signing=Signing(name=first.name, role=first.role, at=first.at, digest=first.digest) if first else None,
        addenda=tuple(map(_addendum, signatures[1:])),
    )


def _addendum(signed: Signed) -> Addendum:
    text = signed.addendum or "signed again, without a reason given"
    return Addendum(text=text, name=signed.name, role=signed.role, at=signed.at, digest=signed.digest)
