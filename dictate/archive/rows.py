"""What is known of one exam without opening it: a row of the list, and the texts that a search looks through."""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal, NamedTuple

from dictate.contract import Finding, Note
from dictate.errors import DictateError
from dictate.journal.edits import names_put_right, standing_edits
from dictate.journal.events import Edited, Event, Purged
from dictate.journal.exam import JOURNAL_NAME, sound_files
from dictate.journal.exam import SEALED as SEALED
from dictate.journal.journal import Reading, parse_journal, read_journal
from dictate.journal.replay import ending_of, opened_of, signatures_of, utterances_of
from dictate.journal.signed import standing
from dictate.language.reader import Reader

State = Literal["unfinished", "unsigned", "signed", "changed"]  # changed: edited since it was signed, no addendum yet
NEVER_BEGUN = "nothing was recorded in it: it was cut off as it began"
# What reading a file that anyone may have written can raise: it must not keep the other exams out of the list.
_UNREADABLE = (DictateError, ValueError, TypeError, LookupError, ArithmeticError, AttributeError, RecursionError)
_WORD = re.compile(r"[^\W_]+")

MakeReader = Callable[[], Reader]
Decrypt = Callable[[Path], bytes]  # returns the content of a sealed file; raises ArchiveError


class ExamRow(NamedTuple):
    """One exam of the list. `at` is when it began; `doubts` counts the findings in it that are still doubted.

    A tuple, as making one of 20 000 exams takes a third of the time; its fields are used by name only.
    """

    exam: str
    at: datetime
    state: State = "unfinished"
    region: str | None = None
    injured_side: str | None = None
    source: str | None = None
    patient: str | None = None
    age: float | None = None
    sex: str | None = None
    utterances: int = 0
    decisions: int = 0  # of people, undone ones too
    findings: int = 0
    doubts: int = 0
    seconds: float | None = None
    sound: bool = False  # whether some of its sound is kept
    ended: datetime | None = None
    signed_by: str | None = None
    signed_at: datetime | None = None
    damaged: str | None = None  # what is wrong with its journal
    sealed: bool = False  # and not readable with what was given
    matches: tuple[str, ...] = ()  # the findings that a search for text found


@dataclass(frozen=True, slots=True)
class FindingText:
    """One finding as the index keeps it."""

    region: str
    side: str
    text: str  # as a list shows it
    words: str  # as a search sees it


class Stamp(NamedTuple):
    """What tells that a journal was changed since it was read."""

    size: int = -1
    mtime_ns: int = -1


@dataclass(frozen=True, slots=True)
class Entry:
    """All that the index keeps of one exam."""

    row: ExamRow
    stamp: Stamp
    findings: tuple[FindingText, ...] = ()
    chain: str = ""
    lexicon: str = ""  # digest of the lexicon that its words were read with; empty when none was needed
    purging: bool = False  # sound that the journal says was removed is still there
    names_corrected: int = 0  # names that people put right: what the lexicon could learn from


def words_of(text: str) -> list[str]:
    """Return the words of a text as they are compared: lower case, without accents or signs.

    >>> words_of("Baker's cyst: 2+ (left)")
    ['baker', 's', 'cyst', '2', 'left']
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    return _WORD.findall("".join(char for char in plain if not unicodedata.combining(char)))


def stamp_of(folder: Path | str) -> Stamp:
    """Return the state of an exam's journal, sealed or not, without reading it."""
    for name in (JOURNAL_NAME, JOURNAL_NAME + SEALED):
        try:
            state = os.lstat(f"{folder}/{name}")  # thousands of times at each start: text is quicker than a Path
        except OSError:
            continue
        return Stamp(state.st_size, state.st_mtime_ns)
    return Stamp()


def entry_of(folder: Path, make_reader: MakeReader, *, lexicon: str, decrypt: Decrypt | None = None) -> Entry:
    """Return what the index keeps of an exam. It never raises: what cannot be read is told in the row.

    Args:
        folder: of the exam.
        make_reader: makes the reader; called only if the note has to be read anew.
        lexicon: digest of the reader's lexicon.
        decrypt: opens sealed files, where the archive is unlocked.
    """
    facts = facts_of(folder, decrypt=decrypt)
    if facts.row.sealed or facts.row.source is None:  # there is nothing to make a note of
        return facts
    try:
        reading = reading_of(folder, decrypt=decrypt)
        note, frozen = note_of(reading.events if reading else (), make_reader)
        findings = findings_of(note)
    except _UNREADABLE as error:
        damaged = facts.row.damaged or f"its note cannot be made ({error})"
        return replace(facts, row=facts.row._replace(damaged=damaged))
    row = facts.row._replace(
        region=note.exam.region, injured_side=note.exam.injured_side, findings=len(note.findings),
        doubts=sum(bool(finding.doubts) for finding in note.findings),
    )  # fmt: skip
    return replace(facts, row=row, findings=findings, lexicon="" if frozen else lexicon)


def reading_of(folder: Path, *, decrypt: Decrypt | None = None) -> Reading | None:
    """Return what an exam's journal holds; None if it is sealed and nothing opens it.

    Raises:
        DictateError: there is no journal, it is a link or no plain file, or it cannot be read or decrypted.
    """
    path = journal_of(folder)
    if path.name == JOURNAL_NAME:
        return read_journal(path)
    return parse_journal(decrypt(path)) if decrypt is not None else None


def journal_of(folder: Path) -> Path:
    """Return the file that holds an exam's journal, plain or sealed.

    Where both are there, sealing was cut short or somebody has it open: the plain one is the truth.

    Raises:
        DictateError: the folder or one of the files is a link, or is no plain file.
    """
    if folder.is_symlink():
        raise DictateError(f"{folder} is a link, not a folder; exams are never read through links")
    path = folder / JOURNAL_NAME
    sealed = folder / (JOURNAL_NAME + SEALED)
    for candidate in (path, sealed):
        if candidate.is_symlink() or (candidate.exists() and not stat.S_ISREG(candidate.lstat().st_mode)):
            raise DictateError(f"{candidate.name} is a link or no plain file; it is not read")
    return path if path.exists() or not sealed.exists() else sealed


def note_of(events: Sequence[Event], make_reader: MakeReader) -> tuple[Note, bool]:
    """Return the note that counts, and whether it is frozen: a signed one is never read anew.

    Without a signature, or where something was decided or heard since, the note is made by the lexicon's reader.
    """
    signatures = signatures_of(events)
    if signatures and _state(events) == "signed":
        return signatures[-1].note, True
    return standing(events, make_reader()).note, False


def purged_files(events: Sequence[Event]) -> set[str]:
    """Return the sound files that a journal says were removed."""
    return {file for event in events if isinstance(event, Purged) for file in event.files}


def finding_text(finding: Finding, region: str) -> str:
    """Return a finding in one line, for lists.

    >>> finding_text(Finding(section="palpation", region="knee", side="left", finding="effusion", status="absent"),
    ...     "knee")
    'effusion: absent (left)'
    """
    from dictate.note.describe import finding_name, side_text, value_words

    side = side_text(finding)
    value = value_words(finding)
    return f"{finding_name(finding, region)}{f': {value}' if value else ''}{f' ({side})' if side else ''}"


def facts_of(folder: Path, *, decrypt: Decrypt | None = None) -> Entry:
    """Return what an exam's journal tells without its note: it takes no lexicon, and is quick. It never raises."""
    stamp = stamp_of(folder)
    bare = ExamRow(exam=folder.name, at=_began(folder.name))
    try:
        reading = reading_of(folder, decrypt=decrypt)
        if reading is None:
            return Entry(bare._replace(sealed=True), stamp)
        if reading.events:
            return _facts(folder, reading, stamp)
    except _UNREADABLE as error:
        return Entry(bare._replace(damaged=str(error)), stamp)
    why = f"line {reading.broken_line} of its journal {reading.why}" if reading.broken_line else NEVER_BEGUN
    return Entry(bare._replace(damaged=why), stamp, chain=reading.chain)


def _facts(folder: Path, reading: Reading, stamp: Stamp) -> Entry:
    events = reading.events
    opened, ending, signatures = opened_of(events), ending_of(events), signatures_of(events)
    damaged = f"its journal is that of another exam ({opened.exam[:40]})" if opened.exam != folder.name else None
    if reading.broken_line is not None:
        damaged = f"line {reading.broken_line} of its journal {reading.why}"
    kept = {sound.file for sound in sound_files(events) if _has_sound(folder, sound.file)}
    purged = purged_files(events)
    row = ExamRow(
        exam=folder.name, at=opened.at.astimezone(UTC), state=_state(events), source=opened.source,
        patient=opened.patient, age=opened.age, sex=opened.sex, utterances=len(utterances_of(events)),
        decisions=sum(isinstance(event, Edited) for event in events), seconds=ending.seconds if ending else None,
        sound=bool(kept - purged), ended=ending.at.astimezone(UTC) if ending else None,
        signed_by=signatures[-1].name if signatures else None,
        signed_at=signatures[-1].at.astimezone(UTC) if signatures else None, damaged=damaged,
    )  # fmt: skip
    return Entry(
        row, stamp, chain=reading.chain, purging=bool(kept & purged), names_corrected=len(names_put_right(events))
    )


def findings_of(note: Note) -> tuple[FindingText, ...]:
    """Return the findings of a note as the index keeps them."""
    texts = []
    for finding in note.findings:
        text = finding_text(finding, note.exam.region)
        words = " ".join(words_of(f"{text} {finding.said}"))
        texts.append(FindingText(finding.region, finding.side or "", text, words))
    return tuple(texts)


def _state(events: Sequence[Event]) -> State:
    signatures = signatures_of(events)
    if ending_of(events) is None and opened_of(events).source != "text":
        return "unfinished"
    if not signatures:
        return "unsigned"
    return "signed" if standing_edits(events) == standing_edits(events[: signatures[-1].n]) else "changed"


def _has_sound(folder: Path, file: str) -> bool:
    return any((folder / name).is_file() for name in (file, file + SEALED))


def _began(exam: str) -> datetime:
    """Return the time that an exam's id begins with, in UTC."""
    try:
        return datetime.strptime(exam[:17], "%Y-%m-%dT%H%M%S").replace(tzinfo=UTC)
    except ValueError:  # digits that make no date
        return datetime(1970, 1, 1, tzinfo=UTC)
