"""One exam on the reviewer's desk: its journal, its note as it stands, and what is done to it. Safe between threads."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import RLock

from dictate.contract import Finding, Note
from dictate.errors import DictateError, JournalError
from dictate.journal.edits import Item
from dictate.journal.events import Closed, Edited, Event, Resumed, Signed
from dictate.journal.exam import ExamFolder
from dictate.journal.journal import Journal, read_journal
from dictate.journal.lock import ExamLock
from dictate.journal.replay import Replayed
from dictate.journal.signed import standing
from dictate.journal.signing import with_digest
from dictate.language.reader import Reader
from dictate.review.actions import (
    Decision,
    Impossible,
    addition_of,
    edit_of,
    last_to_redo,
    last_to_undo,
    undoing,
)
from dictate.review.labels import Labels
from dictate.review.queue import worst_first
from dictate.review.reading import Said, read_words
from dictate.review.sign import Signature, signed_event


class Stale(DictateError):
    """What the person decided about was changed meanwhile."""


@dataclass(frozen=True)
class Standing:
    """The exam as it stands after so many events."""

    events: tuple[Event, ...]
    said: Said
    replayed: Replayed

    @property
    def note(self) -> Note:
        """The note."""
        return self.replayed.note

    @property
    def signatures(self) -> list[Signed]:
        """Who signed, in order."""
        return [event for event in self.events if isinstance(event, Signed)]

    def finding(self, item: Item) -> Finding:
        """Return an item's finding: as the note has it, else, when it was removed, as it was."""
        return self.replayed.finding(item.key) or item.draft.finding

    def item(self, key: str) -> Item | None:
        """Return the finding under a key, removed ones too."""
        return next((item for item in self.replayed.items if item.key == key), None)

    def queue(self) -> list[str]:
        """Return the keys of the findings that somebody has to look at, worst first."""
        return worst_first(zip(self.replayed.shown, self.note.findings, strict=True))


def version_of(item: Item, finding: Finding) -> str:
    """Return what tells one state of a finding from another, so that nobody decides about what they did not see."""
    content = f"{item.event}\n{item.decision}\n{finding.model_dump_json(by_alias=True)}"
    return hashlib.sha256(content.encode()).hexdigest()[:16]


class OpenExam:
    """An exam that is being reviewed. `trouble` says why nothing may be added to it; None when all is well."""

    def __init__(self, folder: ExamFolder, reader: Reader, labels: Labels) -> None:
        self.folder = folder
        self.trouble: str | None = None
        self._reader, self._labels = reader, labels
        self._lock = RLock()
        self._journal: Journal | None = None
        self._standing: Standing | None = None
        self._words_read: tuple[object, ...] = ()
        self._said: Said | None = None

    def close(self) -> None:
        """Let go of the journal."""
        with self._lock:
            if self._journal is not None:
                self._journal.close()
                self._journal = None

    def standing(self) -> Standing:
        """Return the exam as it stands now, with what others did to it meanwhile."""
        with self._lock:
            events = self._events()
            if self._standing is None or self._standing.events != events:
                said = self._words(events)
                self._standing = Standing(
                    events, said, standing(events, self._reader, heard=said.heard, concluded=said.finished)
                )
            return self._standing

    # -- what is done to it -------------------------------------------------------------------------------------------

    def decide(self, decision: Decision) -> Standing:
        """Carry out one decision. Raises Stale when the finding is not what the person saw any more."""
        with self._lock:
            journal, standing = self._writable(addendum=decision.addendum)
            if decision.action == "add":
                edit = addition_of(decision, f"a{len(standing.events)}", self._labels)
            else:
                item = standing.item(decision.item)
                if item is None:
                    raise Stale("this finding is not in the exam any more; look at the note again")
                now = standing.finding(item)
                if version_of(item, now) != decision.version:
                    raise Stale("this finding was changed elsewhere meanwhile; look at it again, then decide")
                edit = edit_of(decision, item, now, self._labels)
            journal.append(edit, expected=len(standing.events))
            return self.standing()

    def undo(self, *, by: str, addendum: bool = False) -> tuple[Standing, Edited]:
        """Take the latest decision back; return the exam and what was taken back."""
        return self._take_back(by=by, addendum=addendum, redo=False)

    def redo(self, *, by: str, addendum: bool = False) -> tuple[Standing, Edited]:
        """Take the latest undo back."""
        return self._take_back(by=by, addendum=addendum, redo=True)

    def end(self) -> Standing:
        """Record the end of an exam that was cut off, so that it can be signed."""
        with self._lock, _not_running(self.folder):
            journal, standing = self._writable(addendum=True)
            if standing.replayed.closed:
                raise Impossible("this exam is ended already")
            self.folder.mend_sound(standing.events)
            end_s = self.folder.sound_end_s(standing.events)
            digests = self.folder.sound_digests(standing.events)
            journal.append(Closed(seconds=round(end_s, 3) or None, sounds=digests), expected=len(standing.events))
            return self.standing()

    def sign(self, wish: Signature) -> Standing:
        """Freeze the note under a person's name. Raises Stale when it is not the note that the person saw."""
        with self._lock:
            journal, standing = self._writable(addendum=True)
            if wish.events != len(standing.events):
                raise Stale("the exam was changed elsewhere meanwhile; look at it again, then sign")
            signed = signed_event(wish, standing.replayed, standing.events)
            journal.append(with_digest(signed, journal.chain), expected=len(standing.events))
            return self.standing()

    # -- inside -------------------------------------------------------------------------------------------------------

    def _take_back(self, *, by: str, addendum: bool, redo: bool) -> tuple[Standing, Edited]:
        with self._lock:
            journal, standing = self._writable(addendum=addendum)
            edit = last_to_redo(standing.events) if redo else last_to_undo(standing.events)
            if edit is None:
                raise Impossible("there is nothing to do again" if redo else "there is nothing to undo")
            journal.append(undoing(edit, by=by), expected=len(standing.events))
            return self.standing(), edit

    def _events(self) -> tuple[Event, ...]:
        if self.trouble is None:
            try:
                if self._journal is None:
                    self._journal = Journal(self.folder.journal_path)
                return self._journal.refresh()
            except JournalError as error:
                self.close()
                self.trouble = (
                    str(error).replace(f"{self.folder.journal_path}, ", "").replace(str(self.folder.path), "")
                )
        return read_journal(self.folder.journal_path).events  # as far as it can be trusted

    def _writable(self, *, addendum: bool) -> tuple[Journal, Standing]:
        standing = self.standing()
        if self._journal is None:
            raise Impossible(f"nothing can be added to this exam: {self.trouble}")
        if standing.signatures and not addendum:
            raise Impossible("this note is signed; begin an addendum to change it")
        return self._journal, standing

    def _words(self, events: Sequence[Event]) -> Said:
        """Read the words anew only when some were added or the exam ended: decisions change no words."""
        kinds = tuple(event.n for event in events if event.kind in ("heard", "about"))
        stands = next((event.kind for event in reversed(events) if isinstance(event, Closed | Resumed)), "")
        read = (len(kinds), kinds[-1:], stands)
        if self._said is None or read != self._words_read:
            self._said, self._words_read = read_words(events, self._reader), read
        return self._said


@contextmanager
def _not_running(folder: ExamFolder) -> Iterator[None]:
    """Hold an exam that no program listens to. Raises JournalError while one does: it is ended there."""
    lock = ExamLock(folder.path)
    try:
        yield
    finally:
        lock.release()


class Desk:
    """All exams of a data folder that are open for review."""

    def __init__(self, data: Path, reader: Reader) -> None:
        self.data, self.reader = data, reader
        self.labels = Labels.of(reader.lexicon)
        self._open: dict[str, OpenExam] = {}
        self._lock = RLock()

    def exam(self, exam: str) -> OpenExam:
        """Return an exam by its id. Raises JournalError if there is none."""
        with self._lock:
            folder = ExamFolder.of(self.data, exam)
            if exam not in self._open:
                self._open[exam] = OpenExam(folder, self.reader, self.labels)
            return self._open[exam]

    def close(self) -> None:
        """Let go of all journals."""
        with self._lock:
            for exam in self._open.values():
                exam.close()
            self._open.clear()
