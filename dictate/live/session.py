"""A running exam: sound to the disk, from there to words, from words to the note, and a view of it for whoever looks.

Four threads meet here. One takes sound from its source and writes it. The recogniser's thread is told what was heard,
writes it into the journal and then folds it into the note. One looks after what has to be tried again and shows the
view. Everything else (pages, the terminal) calls from its own.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from dictate import __version__
from dictate.audio.frame import Frame
from dictate.audio.level import LevelMeter
from dictate.audio.source import Gap, Source
from dictate.contract import Region
from dictate.errors import DictateError, JournalError, MicrophoneError, MicrophoneLost
from dictate.favour import favoured_terms
from dictate.interface import reader_of
from dictate.journal.events import Closed, HeardUtterance, Opened
from dictate.journal.events import Gap as GapEvent
from dictate.journal.exam import ExamFolder, lexicon_digest, new_exam_id
from dictate.journal.journal import Journal
from dictate.journal.lock import ExamLock
from dictate.journal.replay import Replayed, replay
from dictate.language.reader import Reader
from dictate.language.state import Entry
from dictate.live.answers import answer
from dictate.live.ear import FAILED_ON, OWN_VOICE, Ear, heard_to_s
from dictate.live.ledger import Ledger
from dictate.live.picture import draft_note, picture, touched
from dictate.live.speech import Speaker, SpeechError
from dictate.live.track import Stretch, Track
from dictate.live.view import TRACE_LENGTH, LiveState, View, sound_message
from dictate.live.worker import HearingOptions
from dictate.note.assemble import InjuredSide, Sex
from dictate.note.describe import quoted
from dictate.note.fold import Heard, fold, hear, start
from dictate.recognise.events import Utterance

_log = logging.getLogger(__name__)

TICK_S = 0.1  # a view is made and shown at most this often
STILL_S = 1.0  # and at least this often
LAGGING_S = 3.0  # of sound that waits: worth a notice
REOPEN_S = 1.0  # between attempts to open a lost microphone
DISK_PATIENCE_S = 20.0  # at the end, for a full disk
TROUBLE_PATIENCE_S = 60.0  # at the end, for a recogniser that does not start

News = View | dict[str, Any]


class TakesSound(Protocol):
    """A source that is given its sound, as by a page."""

    def accept(self, pcm: bytes) -> None:
        """Take 16-bit little-endian mono samples at 16 kHz."""
        ...

    def missed(self, seconds: float) -> None:
        """Note that so much sound is missing."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class ExamOptions:
    """What is known of the exam before it begins."""

    region: Region | None = None
    injured_side: InjuredSide | None = None
    age: float | None = None
    sex: Sex | None = None
    patient: str | None = None
    lexicon_dir: str | None = None


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
        self._about = about or ExamOptions()
        self._hearing = hearing or HearingOptions()
        self._resumed = resumed
        self._reader: Reader | None = None
        self._folder: ExamFolder | None = None
        self._ledger: Ledger | None = None
        self._track: Track | None = None
        self._opened: Opened | None = None
        self._exam_lock: ExamLock | None = resumed.lock if resumed else None
        self._ear = Ear(self._hearing, self, heard_to_s=resumed.heard_to_s if resumed else 0.0)
        self._speaker = Speaker(clock=self.clock_s) if read_back else None
        self._meter = LevelMeter()
        self._offset_s = 0.0  # of the source's clock on the exam's
        self._lock = threading.RLock()
        self._heard = Heard()
        self._fresh: tuple[Entry, ...] = ()  # what the last telling utterance added or changed
        self._fresh_seen = True  # they are in a view
        self._trace: deque[Utterance] = deque(maxlen=TRACE_LENGTH)
        self._partial = ""
        self._answer: str | None = None
        self._notice: str | None = None  # that stays until something else is heard
        self._seconds, self._seconds_at = 0.0, time.monotonic()  # of the exam's clock, and when it stood there
        self._view = View()
        self._read_of: Heard | None = None  # the fold that the view's picture was made of
        self._subscribers: list[Callable[[News], None]] = []
        self._lost: str | None = None
        self._begun_s: float | None = None
        self._ending = threading.Event()
        self._source_over = threading.Event()
        self._closing = threading.Lock()
        self._closed = threading.Event()
        self._stop_ticking = threading.Event()
        self._threads: list[threading.Thread] = []
        self.source_error: DictateError | None = None
        self.replayed: Replayed | None = None  # once closed

    # -- for whoever looks ---------------------------------------------------------------------------------------------

    @property
    def exam(self) -> str:
        """The exam's id."""
        return self._opened.exam if self._opened else ""

    @property
    def recogniser_process(self) -> int | None:
        """The process that recognises now."""
        return self._ear.process_id

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

    def clock_s(self) -> float:
        """Return the time on the exam's clock: that of the newest sound, and how long ago that came."""
        return self._seconds + time.monotonic() - self._seconds_at

    def wait(self, timeout_s: float | None = None) -> bool:
        """Return whether the source ended, or the exam was closed, within the time."""
        return self._source_over.wait(timeout_s)

    def wait_closed(self, timeout_s: float | None = None) -> bool:
        """Return whether the exam was closed within the time."""
        return self._closed.wait(timeout_s)

    # -- beginning and end ---------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Open recogniser and exam and begin to listen.

        Raises:
            DictateError: lexicon, recogniser or folder cannot be used; nothing was begun then.
        """
        self._ear.launch()
        try:
            self._reader = reader_of(self._about.lexicon_dir)
            if self._resumed is not None:
                self._take_up(self._resumed, self._reader)
            else:
                about = self._about
                self._heard = start(self._reader, region=about.region, injured_side=about.injured_side)
            self._ear.open()
            if self._resumed is None:
                self._open_exam()
        except BaseException:
            self._ear.stop()
            if self._exam_lock is not None:
                self._exam_lock.release()
            raise
        self._make_view("listening")
        for target, name in ((self._capture, "dictate-sound"), (self._look_after, "dictate-session")):
            thread = threading.Thread(target=target, name=name, daemon=True)
            self._threads.append(thread)
            thread.start()

    def close(self) -> Replayed:
        """End the exam: hear all that was said, close the journal, and return the exam as its journal tells it.

        Raises:
            DictateError: something could not be written or recognised; what is on disk stays, and can be resumed.
        """
        with self._closing:
            if self.replayed is None:
                self.replayed = self._close()
                self._closed.set()
            return self.replayed

    def abandon(self) -> None:
        """Stop at once without closing the exam: it can be resumed."""
        self._ending.set()
        self._source.close()
        self._stop_ticking.set()
        self._ear.stop()
        self._source_over.set()
        if self._speaker is not None:
            self._speaker.stop()
        self._let_go()

    def _open_exam(self) -> None:
        about = self._about
        opened = Opened(
            exam=new_exam_id(), program=__version__, source="live", engine=self._hearing.engine,
            lexicon=lexicon_digest(Path(about.lexicon_dir) if about.lexicon_dir else None), region=about.region,
            injured_side=about.injured_side, age=about.age, sex=about.sex, patient=about.patient,
        )  # fmt: skip
        folder, journal = ExamFolder.create(self._data, opened)
        self._begin(folder, journal, opened, ExamLock(folder.path))

    def _take_up(self, resumed: Resumption, reader: Reader) -> None:
        opened = resumed.opened
        before = start(reader, region=opened.region, injured_side=opened.injured_side)
        self._heard = fold(resumed.said, reader, heard=before)
        self._trace.extend(resumed.said)
        self._fresh = self._heard.state.entries[-1:]
        self._offset_s = self._seconds = resumed.end_s
        self._begin(resumed.folder, resumed.journal, opened, resumed.lock)
        for stretch in resumed.unheard:
            self._ear.begin(stretch)

    def _begin(self, folder: ExamFolder, journal: Journal, opened: Opened, lock: ExamLock) -> None:
        self._folder, self._opened, self._exam_lock = folder, opened, lock
        self._ledger = Ledger(journal)
        self._track = Track(folder, self._ledger, begun=self._ear.begin, ended=self._ear.end)

    def _close(self) -> Replayed:
        if self._ledger is None or self._track is None or self._folder is None or self._reader is None:
            raise JournalError("the exam was never begun")
        self._ending.set()
        self._source.close()
        self._source_over.wait()
        if self.source_error is not None and self._nothing_recorded():
            self._discard(self._folder)
            raise self.source_error
        try:
            self._finish_sound(self._track)
            self._finish_hearing()
            self._ledger.append(
                Closed(
                    seconds=round(self._folder.sound_end_s(self._ledger.events()), 3),
                    sounds=self._folder.sound_digests(self._ledger.events()),
                )
            )
            self._patiently(self._ledger.retry, DISK_PATIENCE_S)
            replayed = replay(self._ledger.events(), self._reader, heard=self._heard)
        finally:
            self._stop_ticking.set()
            self._ear.stop()
        self._threads[-1].join()
        self._make_view("closed")
        self._let_go()
        return replayed

    def _nothing_recorded(self) -> bool:
        return self._ledger is not None and all(isinstance(event, Opened) for event in self._ledger.events())

    def _discard(self, folder: ExamFolder) -> None:
        """Remove the folder of an exam that never began: no sound came, and nothing but its opening was written."""
        self._stop_ticking.set()
        self._ear.stop()
        self._let_go()
        with suppress(OSError):
            folder.journal_path.unlink()
            folder.path.rmdir()

    def _let_go(self) -> None:
        if self._ledger is not None:
            self._ledger.journal.close()
        if self._exam_lock is not None:
            self._exam_lock.release()

    @property
    def unsaved(self) -> str | None:
        """Why something of the exam is not on disk; None when all of it is."""
        return str(self._ledger.failure) if self._ledger is not None and self._ledger.failure else None

    def _finish_sound(self, track: Track) -> None:
        if not self._patiently(track.close, DISK_PATIENCE_S):
            track.abandon()

    def _finish_hearing(self) -> None:
        self._ear.finish()
        troubled_since = time.monotonic()
        while not self._ear.wait(TICK_S):
            if self._ear.trouble is None:
                troubled_since = time.monotonic()
            elif time.monotonic() - troubled_since > TROUBLE_PATIENCE_S:
                break
        if self._ear.trouble is not None:
            raise DictateError(
                f"not all of the sound could be recognised ({self._ear.trouble}); it is kept: "
                f"`dictate listen --resume {self.exam}` goes on"
            )

    def _patiently(self, attempt: Callable[[], bool], patience_s: float) -> bool:
        until = time.monotonic() + patience_s
        while not attempt():
            if time.monotonic() > until:
                return False
            time.sleep(0.5)
        return True

    # -- sound ---------------------------------------------------------------------------------------------------------

    def _capture(self) -> None:
        track = self._track
        assert track is not None  # noqa: S101 - begun before the thread
        try:
            while not self._ending.is_set() and not self._capture_once(track):
                self._ending.wait(REOPEN_S)
            self._last_gap(track)
        except MicrophoneError as error:
            self.source_error = error
        except Exception as error:  # noqa: BLE001 - told to whoever closes the exam; what was heard is kept
            _log.exception("recording ended")
            self.source_error = MicrophoneError(f"a fault in the program ended the recording ({error})")
        finally:
            self._source_over.set()

    def _capture_once(self, track: Track) -> bool:
        """Take sound until the source ends (True) or is lost (False)."""
        try:
            for event in self._source:
                self._lost = None
                self._take(event, track)
        except MicrophoneLost as lost:
            if self._lost is None:
                track.pause()
                self._begun_s = time.monotonic()
            self._lost = str(lost)
            return False
        return True

    def _take(self, event: Frame | Gap, track: Track) -> None:
        shift = self._offset_s
        if isinstance(event, Gap):
            track.accept(Gap(event.from_s + shift, event.to_s + shift, event.why) if shift else event)
            end_s = event.to_s
        else:
            track.accept(Frame(event.samples, event.start_s + shift) if shift else event)
            self._meter.accept(event)
            end_s = event.end_s
        self._seconds, self._seconds_at = end_s + shift, time.monotonic()

    def _last_gap(self, track: Track) -> None:
        """Note a microphone that was still away at the end."""
        if self._lost is not None and self._begun_s is not None:
            away_s = time.monotonic() - self._begun_s
            track.accept(Gap(self._seconds, self._seconds + away_s, self._lost))

    # -- what the recogniser tells -------------------------------------------------------------------------------------

    def heard(self, utterance: Utterance) -> Sequence[str]:
        """Write an utterance into the journal, fold it into the note, and return the terms to favour from now on."""
        assert self._ledger is not None and self._reader is not None  # noqa: S101 - begun before
        if self._is_own_voice(utterance):
            self._leave_out(utterance)
            return self.favoured()
        self._ledger.append(HeardUtterance(utterance=utterance))
        before = self._heard
        after = hear(before, utterance, self._reader)
        answered = self._answer_to(utterance, before, after)
        did = touched(before, after)
        with self._lock:
            self._heard = after
            self._trace.append(utterance)
            self._partial = ""
            self._notice = None
            if did.entries:
                self._fresh = did.entries if self._fresh_seen else (*self._fresh, *did.entries)
                self._fresh_seen = False
                self._answer = None
            self._answer = answered or self._answer
        if answered and self._speaker is not None:
            self._say(answered)
        if did.entries:
            self._play("unsure" if did.doubtful else "understood")
        elif did.new_section:
            self._play("section")
        return self.favoured()

    def _answer_to(self, utterance: Utterance, before: Heard, after: Heard) -> str | None:
        """Return what the program says to a control word."""
        assert self._opened is not None and self._reader is not None  # noqa: S101 - begun before
        control = self._reader.controls.control_of([word.text for word in utterance.words])
        if control is None or (before.standing_by and control.kind != "resume"):
            return None
        note = draft_note(after, self._opened, self._reader.lexicon)
        return answer(control, note=note, heard=after, before=before, last_answer=self._answer)

    def _say(self, text: str) -> None:
        assert self._speaker is not None  # noqa: S101 - asked before
        try:
            self._speaker.speak(text)
        except SpeechError as error:  # what it would say is shown all the same
            self._notice = str(error)

    def _is_own_voice(self, utterance: Utterance) -> bool:
        if self._speaker is None or not utterance.words:
            return False
        return self._speaker.is_ours(utterance.words[0].start_s, utterance.words[-1].end_s)

    def _leave_out(self, utterance: Utterance) -> None:
        """Note that words were heard while the program spoke: most likely its own, but a person is told of them."""
        assert self._ledger is not None  # noqa: S101 - begun before
        from_s, to_s = utterance.words[0].start_s, heard_to_s(utterance)
        self._ledger.append(GapEvent(from_s=round(from_s, 3), to_s=round(to_s, 3), why=OWN_VOICE))
        with self._lock:
            self._partial = ""
            self._notice = f"Not taken, as the program was speaking: {quoted(utterance.text)}"

    def heard_partial(self, text: str) -> None:
        """Show the words so far."""
        self._partial = text

    def passed_over(self, from_s: float, to_s: float) -> None:
        """Note sound that cannot be recognised."""
        assert self._ledger is not None  # noqa: S101 - begun before
        self._ledger.append(GapEvent(from_s=round(from_s, 3), to_s=round(to_s, 3), why=FAILED_ON))
        self._notice = f"The last {to_s - from_s:.0f} seconds could not be recognised: please say them again."

    def favoured(self) -> Sequence[str]:
        """Return the terms to favour where the exam stands."""
        assert self._reader is not None  # noqa: S101 - loaded first
        return favoured_terms(self._heard.state.context, self._reader.lexicon)

    # -- what is shown -------------------------------------------------------------------------------------------------

    def _look_after(self) -> None:
        shown_at = 0.0
        while not self._stop_ticking.wait(TICK_S):
            if self._ledger is not None:
                self._ledger.retry(even_now=False)
            if self._track is not None:
                self._track.retry()
            self._ear.watch()
            before = self._view
            self._make_view(None)
            still = replace(self._view, seconds=before.seconds, lag_s=before.lag_s) == before
            if not still or time.monotonic() - shown_at >= STILL_S:
                shown_at = time.monotonic()
                self._tell(self._view)

    def _make_view(self, state: LiveState | None) -> None:
        with self._lock:
            heard, fresh, trace = self._heard, self._fresh, tuple(self._trace)
            self._fresh_seen = True
        view = self._view
        if heard is not self._read_of and self._opened is not None and self._reader is not None:
            note = draft_note(heard, self._opened, self._reader.lexicon)
            view = picture(view, heard, note, fresh=fresh, trace=trace)
            self._read_of = heard
        lag_s = self._ear.lag_s()
        self._view = replace(
            view, exam=self.exam, state=state or self._state(heard), partial=self._partial, answer=self._answer,
            seconds=round(self._seconds, 1), level=self._meter.level, lag_s=round(lag_s, 1),
            notice=self._notice_now(lag_s),
        )  # fmt: skip
        if state is not None:
            self._tell(self._view)

    def _state(self, heard: Heard) -> LiveState:
        if self._lost is not None:
            return "microphone_lost"
        if self._disk_trouble() is not None:
            return "disk_full"
        return "standing_by" if heard.standing_by else "listening"

    def _disk_trouble(self) -> str | None:
        if self._track is not None and self._track.failure:
            return self._track.failure
        return str(self._ledger.failure) if self._ledger is not None and self._ledger.failure else None

    def _notice_now(self, lag_s: float) -> str | None:
        if self._lost is not None:
            return self._lost
        trouble = self._disk_trouble()
        if trouble is not None:
            held_s = self._track.held_s if self._track else 0.0
            return f"Nothing can be written to the disk ({trouble}); {held_s:.0f} s of sound wait in memory."
        if self._ear.trouble:
            return f"Sound is kept, but not recognised now: {self._ear.trouble}"
        if self._notice is None and lag_s > LAGGING_S:
            return f"The words come {lag_s:.0f} seconds late; the sound is kept."
        return self._notice

    def _play(self, name: Any) -> None:
        self._tell(sound_message(name))

    def _tell(self, news: News) -> None:
        for callback in tuple(self._subscribers):
            try:
                callback(news)
            except Exception:  # noqa: BLE001 - one that looks must not end the exam
                _log.exception("somebody who looks at the exam failed")


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
