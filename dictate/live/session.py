"""A running exam: sound to the disk, from there to words, from words to the note, and a view of it for whoever looks.

Four threads meet here. One takes sound from its source and writes it (`recorder.py`, `track.py`). One listens to the
recogniser's process (`ear.py`): what was heard goes into the journal (`ledger.py`) and then into the note
(`understanding.py`). One looks after what has to be tried again, and shows the view. Whoever looks (pages, the
terminal) calls from threads of their own.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from dictate import __version__
from dictate.audio.source import Source
from dictate.contract import Region
from dictate.errors import DictateError, JournalError, MicrophoneError
from dictate.interface import reader_of
from dictate.journal.events import Closed, Opened
from dictate.journal.exam import ExamFolder, lexicon_digest, new_exam_id
from dictate.journal.journal import Journal
from dictate.journal.lock import ExamLock
from dictate.journal.replay import Replayed, replay
from dictate.language.reader import Reader
from dictate.live.ear import Ear
from dictate.live.ledger import Ledger
from dictate.live.recorder import Recorder
from dictate.live.speech import Speaker
from dictate.live.track import Stretch, Track
from dictate.live.understanding import Understanding
from dictate.live.view import LiveState, SoundName, View, sound_message
from dictate.live.worker import HearingOptions
from dictate.note.assemble import InjuredSide, Sex
from dictate.recognise.events import Utterance

_log = logging.getLogger(__name__)

TICK_S = 0.1  # a view is made and shown at most this often
STILL_S = 1.0  # and at least this often
LAGGING_S = 10.0  # of sound that waits: worth a notice; less stands beside the state anyway
DISK_PATIENCE_S = 20.0  # at the end, for a full disk
TROUBLE_PATIENCE_S = 60.0  # at the end, for a recogniser that does not start

News = View | dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExamOptions:
    """What is known of the exam before it begins."""

    region: Region | None = None
    injured_side: InjuredSide | None = None
    age: float | None = None
    sex: Sex | None = None
    patient: str | None = None
    lexicon_dir: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumption:
    """An exam that goes on: its folder and open journal, what was heard, and the sound that was not heard yet."""

    folder: ExamFolder
    journal: Journal
    lock: ExamLock
    opened: Opened
    said: tuple[Utterance, ...]
    heard_to_s: float
    end_s: float  # of its sound so far
    unheard: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class _Exam:
    """All that belongs to an exam once it is open."""

    folder: ExamFolder
    lock: ExamLock
    opened: Opened
    ledger: Ledger
    track: Track
    words: Understanding
    ear: Ear


class Session:
    """One exam from its first sound to its closing. `start` it, and `close` it from any thread."""

    def __init__(
        self, source: Source, *, data: Path, about: ExamOptions | None = None, hearing: HearingOptions | None = None,
        resumed: Resumption | None = None, read_back: bool = False,
    ) -> None:  # fmt: skip
        """Prepare an exam.

        Args:
            source: of the sound.
            data: the folder that exams are kept in.
            about: what is known of the exam; one that is resumed knows it already, but for the lexicon.
            hearing: which recogniser.
            resumed: an exam that goes on; see `dictate.live.resume`.
            read_back: answers are spoken aloud. What the microphone hears meanwhile is not taken, and said not to be.

        Raises:
            dictate.live.speech.SpeechError: nothing can be read aloud here.
        """
        self._source, self._data = source, data
        self._about, self._hearing, self._resumed = about or ExamOptions(), hearing or HearingOptions(), resumed
        self._recorder = Recorder(source)
        self._speaker = Speaker(clock=self._recorder.clock_s) if read_back else None
        self._now: _Exam | None = None
        self._view = View()
        self._subscribers: list[Callable[[News], None]] = []
        self._closing = threading.Lock()
        self._failure: BaseException | None = None  # of an attempt to close
        self._closed = threading.Event()
        self._stop_looking_after = threading.Event()
        self._looking_after: threading.Thread | None = None
        self.replayed: Replayed | None = None  # once closed

    # -- for whoever looks ---------------------------------------------------------------------------------------------

    @property
    def exam(self) -> str:
        """The exam's id, once it is open."""
        return self._now.opened.exam if self._now else ""

    @property
    def words(self) -> Understanding:
        """What was understood so far, once the exam is open."""
        return self._open.words

    @property
    def recogniser_process(self) -> int | None:
        """The process that recognises now."""
        return self._now.ear.process_id if self._now else None

    @property
    def source_error(self) -> DictateError | None:
        """What ended the recording before its time; None when nothing did."""
        return self._recorder.error

    @property
    def unsaved(self) -> str | None:
        """Why something of the exam is not on disk; None when all of it is."""
        return str(self._now.ledger.failure) if self._now and self._now.ledger.failure else None

    def view(self) -> View:
        """Return the exam as it stands."""
        return self._view

    def subscribe(self, callback: Callable[[News], None]) -> Callable[[], None]:
        """Call back with each new view and sound to be played, from a thread of the session; return the undoing."""
        self._subscribers.append(callback)

        def leave() -> None:
            with suppress(ValueError):
                self._subscribers.remove(callback)

        return leave

    def accept_sound(self, samples: bytes) -> None:
        """Give the source sound that came from elsewhere: 16-bit little-endian mono samples at 16 kHz, in order."""
        accept = getattr(self._source, "accept", None)
        if accept is None:
            raise MicrophoneError("this exam hears the machine's own microphone; start it with --browser-microphone")
        accept(samples)

    def missed_sound(self, seconds: float) -> None:
        """Note that so much of the sound that comes from elsewhere is missing."""
        missed = getattr(self._source, "missed", None)
        if missed is not None:
            missed(seconds)

    def wait(self, timeout_s: float | None = None) -> bool:
        """Return whether the source ended, or the exam was closed, within the time."""
        return self._recorder.over.wait(timeout_s)

    def wait_closed(self, timeout_s: float | None = None) -> bool:
        """Return whether the exam was closed within the time."""
        return self._closed.wait(timeout_s)

    # -- the beginning -------------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Open recogniser and exam and begin to listen.

        Raises:
            DictateError: lexicon, recogniser or folder cannot be used; no new exam was begun then.
        """
        ear = Ear(self._hearing, heard_to_s=self._resumed.heard_to_s if self._resumed else 0.0)
        ear.launch()
        try:
            reader = reader_of(self._about.lexicon_dir)
            ear.open()
            self._now = now = self._take_up(self._resumed, ear, reader) if self._resumed else self._begin(ear, reader)
        except BaseException:
            ear.stop()
            if self._resumed is not None:
                self._resumed.lock.release()
            raise
        ear.listen(now.words)
        self._make_view("listening")
        threading.Thread(target=self._recorder.run, args=(now.track,), name="dictate-sound", daemon=True).start()
        self._looking_after = threading.Thread(target=self._look_after, name="dictate-session", daemon=True)
        self._looking_after.start()

    def _begin(self, ear: Ear, reader: Reader) -> _Exam:
        about = self._about
        opened = Opened(
            exam=new_exam_id(), program=__version__, source="live", engine=self._hearing.engine,
            lexicon=lexicon_digest(Path(about.lexicon_dir) if about.lexicon_dir else None), region=about.region,
            injured_side=about.injured_side, age=about.age, sex=about.sex, patient=about.patient,
        )  # fmt: skip
        folder, journal = ExamFolder.create(self._data, opened)
        return self._joined(folder, journal, ExamLock(folder.path), opened, ear, reader)

    def _take_up(self, resumed: Resumption, ear: Ear, reader: Reader) -> _Exam:
        self._recorder.start_at(resumed.end_s)
        for stretch in resumed.unheard:
            ear.begin(stretch)
        return self._joined(
            resumed.folder, resumed.journal, resumed.lock, resumed.opened, ear, reader, said=resumed.said
        )

    def _joined(
        self, folder: ExamFolder, journal: Journal, lock: ExamLock, opened: Opened, ear: Ear, reader: Reader, *,
        said: tuple[Utterance, ...] = (),
    ) -> _Exam:  # fmt: skip
        ledger = Ledger(journal)
        words = Understanding(
            reader=reader, opened=opened, ledger=ledger, play=self._play, speaker=self._speaker, said=said
        )
        track = Track(folder, ledger, begun=ear.begin, ended=ear.end)
        return _Exam(folder, lock, opened, ledger, track, words, ear)

    @property
    def _open(self) -> _Exam:
        if self._now is None:
            raise JournalError("the exam was not begun yet; wait until it is")
        return self._now

    # -- the end -------------------------------------------------------------------------------------------------------

    def close(self) -> Replayed:
        """End the exam: hear all that was said, close the journal, and return the exam as its journal tells it.

        Raises:
            DictateError: something could not be written or recognised; what is on disk stays, and can be resumed.
        """
        now = self._open
        with self._closing:
            if self._failure is not None:
                raise self._failure
            if self.replayed is None:
                try:
                    self.replayed = self._close(now)
                except BaseException as failure:
                    self._failure = failure
                    raise
                finally:
                    self._let_go(now)
                    self._closed.set()
            return self.replayed

    def abandon(self) -> None:
        """Stop at once without closing the exam: it can be resumed."""
        self._recorder.stop()
        self._recorder.over.set()
        if self._now is not None:
            self._let_go(self._now)

    def _close(self, now: _Exam) -> Replayed:
        self._recorder.stop()
        self._recorder.over.wait()
        if self._recorder.error is not None and all(isinstance(event, Opened) for event in now.ledger.events()):
            self._discard(now.folder)
            raise self._recorder.error
        if not _patiently(now.track.close, DISK_PATIENCE_S):
            now.track.abandon()
        self._hear_out(now.ear)
        events = now.ledger.events()
        seconds = round(now.folder.sound_end_s(events), 3)
        now.ledger.append(Closed(seconds=seconds, sounds=now.folder.sound_digests(events)))
        _patiently(now.ledger.retry, DISK_PATIENCE_S)
        replayed = replay(now.ledger.events(), now.words.reader, heard=now.words.so_far)
        self._stop_looking_after.set()
        if self._looking_after is not None:
            self._looking_after.join()
        self._make_view("closed")
        return replayed

    def _hear_out(self, ear: Ear) -> None:
        """Wait until all sound was heard."""
        ear.finish()
        troubled_since = time.monotonic()
        while not ear.wait(TICK_S):
            if ear.trouble is None:
                troubled_since = time.monotonic()
            elif time.monotonic() - troubled_since > TROUBLE_PATIENCE_S:
                break
        if ear.trouble is not None:
            raise DictateError(
                f"not all of the sound could be recognised ({ear.trouble}); it is kept: "
                f"`dictate listen --resume {self.exam}` goes on"
            )

    def _let_go(self, now: _Exam) -> None:
        self._stop_looking_after.set()
        now.ear.stop()
        if self._speaker is not None:
            self._speaker.stop()
        now.ledger.journal.close()
        now.lock.release()

    @staticmethod
    def _discard(folder: ExamFolder) -> None:
        """Remove the folder of an exam that never began: no sound came, and nothing but its opening was written."""
        with suppress(OSError):
            folder.journal_path.unlink()
            folder.path.rmdir()

    # -- what is shown -------------------------------------------------------------------------------------------------

    def _look_after(self) -> None:
        now = self._open
        shown_at = 0.0
        while not self._stop_looking_after.wait(TICK_S):
            now.ledger.retry(even_now=False)
            now.track.retry()
            now.ear.watch()
            before = self._view
            self._make_view(None)
            still = replace(self._view, seconds=before.seconds, lag_s=before.lag_s) == before
            if not still or time.monotonic() - shown_at >= STILL_S:
                shown_at = time.monotonic()
                self._tell(self._view)

    def _make_view(self, state: LiveState | None) -> None:
        now = self._open
        lag_s = now.ear.lag_s()
        self._view = replace(
            now.words.shown_in(self._view), exam=self.exam, state=state or self._state(now),
            seconds=round(self._recorder.seconds, 1), level=self._recorder.level, lag_s=round(lag_s, 1),
            notice=self._notice(now, lag_s),
        )  # fmt: skip
        if state is not None:
            self._tell(self._view)

    def _state(self, now: _Exam) -> LiveState:
        if self._recorder.lost is not None:
            return "microphone_lost"
        if now.track.failure or now.ledger.failure:
            return "disk_full"
        return "standing_by" if now.words.so_far.standing_by else "listening"

    def _notice(self, now: _Exam, lag_s: float) -> str | None:
        """Return the one line that matters most now."""
        if self._recorder.lost is not None:
            return self._recorder.lost
        trouble = now.track.failure or now.ledger.failure
        if trouble is not None:
            return f"Nothing can be written to the disk ({trouble}); {now.track.held_s:.0f} s of sound wait in memory."
        if now.ear.trouble:
            return f"Sound is kept, but not recognised now: {now.ear.trouble}"
        if now.words.notice is None and lag_s > LAGGING_S:
            return f"The words come {lag_s:.0f} seconds late; the sound is kept."
        return now.words.notice

    def _play(self, name: SoundName) -> None:
        self._tell(sound_message(name))

    def _tell(self, news: News) -> None:
        for callback in tuple(self._subscribers):
            try:
                callback(news)
            except Exception:  # noqa: BLE001 - one that looks must not end the exam
                _log.exception("somebody who looks at the exam failed")


def _patiently(attempt: Callable[[], bool], patience_s: float) -> bool:
    until = time.monotonic() + patience_s
    while not attempt():
        if time.monotonic() > until:
            return False
        time.sleep(0.5)
    return True
