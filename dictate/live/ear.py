"""The exam's side of the recogniser's process: starts it, listens to it, and starts it again when it ends or hangs.

A new process hears again from the end of the last utterance that reached the journal, so that nothing is lost or heard
twice. Sound on which the recogniser fails again and again is passed over, and said to be.
"""

from __future__ import annotations

import logging
import multiprocessing
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Protocol

from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.errors import RecogniserError
from dictate.live.track import Stretch
from dictate.live.worker import (
    Ends,
    Failed,
    Favour,
    Finish,
    Finished,
    HeardOut,
    HeardPartial,
    HeardWords,
    HearingOptions,
    Listen,
    Reached,
    Ready,
    run,
)  # fmt: skip
from dictate.recognise.events import Utterance

_log = logging.getLogger(__name__)

OPENING_S = 120.0  # to open a recogniser, at most: large models on slow disks
HANGS_AFTER_S = 60.0  # without a word while there is sound to hear (project's choice)
TRIES = 3  # at the same place, before its sound is passed over
FAILED_ON = "the recogniser failed on this sound again and again; the sound is kept"
OWN_VOICE = "the program was speaking, and left out what it heard meanwhile"
HEARD_PAST = frozenset({FAILED_ON, OWN_VOICE})  # gaps that hearing went past: an exam that resumes starts after them
_SAME_PLACE_S = 2.0
_PASSED_OVER_S = 0.5  # after the last place that was reached: what was told last lies a little before the fault
_RESTS_S = (0.0, 1.0, 3.0)  # before a new process, by how often it failed in a row


class Listener(Protocol):
    """Who hears of it. All are called from one thread."""

    def heard(self, utterance: Utterance) -> Sequence[str]:
        """Take an utterance and return the terms to favour after it."""
        ...

    def heard_partial(self, text: str) -> None:
        """Take the words so far of an utterance that goes on."""
        ...

    def passed_over(self, from_s: float, to_s: float) -> None:
        """Note that this sound cannot be recognised."""
        ...

    def favoured(self) -> Sequence[str]:
        """Return the terms to favour where the exam stands now."""
        ...


class Ear:
    """Hears stretches of sound with a recogniser in another process."""

    def __init__(self, options: HearingOptions, *, heard_to_s: float = 0.0) -> None:
        """Hear sound after `heard_to_s`, a time of the exam's clock; what is before it was heard already."""
        self._options = options
        self._listener: Listener  # given to `listen`
        self._heard_to_s = heard_to_s
        self._reached_s = heard_to_s
        self._stretches: list[Stretch] = []
        self._ready = False  # the process that is there now; before, it is told nothing
        self._told_end: list[Stretch] = []  # stretches whose end the process knows
        self._lock = threading.RLock()
        self._connection: Connection | None = None
        self._process: BaseProcess | None = None
        self._finishing = self._stopped = False
        self._finished = threading.Event()
        self._failures = 0  # in a row
        self._faults_here = 0  # at the same place
        self._last_fault_s = -1.0
        self._word_at = time.monotonic()
        self.fault: BaseException | None = None  # of the listener: a mistake in the program
        self.trouble: str | None = None  # why nothing is recognised now

    @property
    def process_id(self) -> int | None:
        """The process that recognises now."""
        return self._process.pid if self._process else None

    def lag_s(self) -> float:
        """Return the seconds of sound that are on disk and were not taken yet."""
        with self._lock:
            return sum(max(0.0, part.end_s - max(part.start_s, self._reached_s)) for part in self._stretches)

    def launch(self) -> None:
        """Start the process; it opens the recogniser while others do something else."""
        self._start_process()

    def open(self) -> None:
        """Wait until the launched process is ready. Raises RecogniserError if the recogniser cannot be used."""
        connection = self._connection
        assert connection is not None  # noqa: S101 - launched first
        try:
            answer = connection.recv() if connection.poll(OPENING_S) else Failed("the recogniser does not open")
        except (EOFError, OSError):
            answer = Failed("the recogniser ended while it was opened; try again, or another --engine")
        if not isinstance(answer, Ready):
            self.stop()
            raise RecogniserError(answer.why if isinstance(answer, Failed) else "the recogniser does not answer")

    def listen(self, listener: Listener) -> None:
        """Begin to hear, and tell the listener."""
        self._listener = listener
        self._tell_all()
        threading.Thread(target=self._listen, name="dictate-ear", daemon=True).start()

    def begin(self, stretch: Stretch) -> None:
        """Hear a stretch of sound; its file may still grow."""
        with self._lock:
            self._stretches.append(stretch)
            if self._ready:
                self._tell(stretch)

    def end(self, stretch: Stretch) -> None:
        """Hear a stretch to its end: it grows no more."""
        with self._lock:
            if self._ready and not any(told is stretch for told in self._told_end):
                self._told_end.append(stretch)
                self._send(Ends(stretch.samples))

    def finish(self) -> None:
        """Say that no further stretch comes; `wait` then waits until all is heard."""
        with self._lock:
            self._finishing = True
            if self._ready:
                self._send(Finish())

    def wait(self, timeout_s: float | None = None) -> bool:
        """Return whether all was heard within the time."""
        return self._finished.wait(timeout_s)

    def watch(self) -> None:
        """End a process that hangs; call it now and then."""
        if self._process is not None and self.lag_s() > 1.0 and time.monotonic() - self._word_at > HANGS_AFTER_S:
            _log.warning("the recogniser does not answer; it is started again")
            self._word_at = time.monotonic()
            with suppress(OSError):
                self._process.kill()

    def stop(self) -> None:
        """End the process, whatever it is doing."""
        self._stopped = True
        if self._process is not None and self._process.pid is not None:
            with suppress(OSError):
                self._process.kill()
            self._process.join(timeout=5.0)
        if self._connection is not None:
            self._connection.close()

    # -- the process ---------------------------------------------------------------------------------------------------

    def _start_process(self) -> None:
        context = multiprocessing.get_context("spawn")  # a fork would copy threads' locks and the pages' sockets
        ours, theirs = context.Pipe()
        process = context.Process(target=run, args=(theirs, self._options), name="dictate-recogniser", daemon=True)
        process.start()
        theirs.close()  # or its end would never be seen here
        self._connection, self._process = ours, process

    def _send(self, message: object) -> None:
        with self._lock, suppress(OSError, ValueError):  # gone: the next process is told everything anew
            if self._connection is not None:
                self._connection.send(message)

    def _tell(self, stretch: Stretch) -> None:
        """Tell the process of a stretch, or of the part of it that was not heard yet."""
        from_sample = max(0, round((self._heard_to_s - stretch.start_s) * SAMPLE_RATE_HZ))
        if stretch.ended and from_sample >= stretch.samples:
            return
        self._send(Listen(stretch.path, stretch.start_s, from_sample))
        if stretch.ended:
            self._told_end.append(stretch)
            self._send(Ends(stretch.samples))

    def _tell_all(self) -> None:
        """Tell a new process of everything that is to be heard."""
        with self._lock:
            self._ready, self._word_at, self._told_end = True, time.monotonic(), []
            self._send(Favour(tuple(self._listener.favoured())))
            for stretch in self._stretches:
                self._tell(stretch)
            if self._finishing:
                self._send(Finish())

    def _listen(self) -> None:
        try:
            while not self._stopped and not self._finished.is_set():
                try:
                    message = self._connection.recv() if self._connection else None
                except (EOFError, OSError):
                    message = None
                if message is None:
                    self._again()
                else:
                    self._word_at = time.monotonic()
                    self._take(message)
        except BaseException as fault:  # noqa: BLE001 - told to whoever closes the exam; sound goes on being recorded
            _log.exception("hearing ended")
            self.fault, self.trouble = fault, f"a fault in the program ended recognition ({fault}); the sound is kept"
            self._finished.set()

    def _take(self, message: object) -> None:
        if isinstance(message, HeardWords):
            terms = self._listener.heard(message.utterance)
            with self._lock:
                self._heard_to_s = max(self._heard_to_s, heard_to_s(message.utterance))
                self._reached_s = max(self._reached_s, message.at_s)
                self._failures = 0
            self._send(Favour(tuple(terms)))
        elif isinstance(message, HeardPartial):
            self._listener.heard_partial(message.text)
        elif isinstance(message, Reached):
            with self._lock:
                self._reached_s = message.at_s
        elif isinstance(message, HeardOut):
            with self._lock:
                self._heard_to_s = max(self._heard_to_s, message.end_s)
                self._reached_s = max(self._reached_s, message.end_s)
                self._stretches = [part for part in self._stretches if not part.ended or part.end_s > self._heard_to_s]
        elif isinstance(message, Ready):
            self.trouble = None
            self._tell_all()
        elif isinstance(message, Failed):
            self.trouble = message.why
        elif isinstance(message, Finished):
            self._finished.set()

    def _again(self) -> None:
        """Start a new process in place of one that ended."""
        if self._stopped:
            return
        self._failures += 1
        _log.warning("the recogniser ended by itself; it is started again (%d)", self._failures)
        self._listener.heard_partial("")
        if self._ready:
            self._pass_over_if_hopeless()
        time.sleep(_RESTS_S[min(self._failures, len(_RESTS_S)) - 1])
        with self._lock:
            self._ready = False
            if self._connection is not None:
                self._connection.close()
            if self._process is not None:
                self._process.join(timeout=1.0)
            self._reached_s = self._heard_to_s
            if not self._stopped:
                self._start_process()

    def _pass_over_if_hopeless(self) -> None:
        """Go on after sound at which the recogniser ended again and again."""
        with self._lock:
            here = abs(self._reached_s - self._last_fault_s) < _SAME_PLACE_S
            self._faults_here = self._faults_here + 1 if here else 1
            self._last_fault_s = self._reached_s
            if self._faults_here < TRIES:
                return
            from_s, to_s = self._heard_to_s, max(self._reached_s, self._heard_to_s) + _PASSED_OVER_S
            self._heard_to_s, self._faults_here = to_s, 0
        self._listener.passed_over(from_s, to_s)


def heard_to_s(utterance: Utterance) -> float:
    """Return up to where the sound was heard once this utterance was."""
    return utterance.heard_to_s or utterance.endpoint_s or 0.0
