"""The recogniser in a process of its own: it reads the growing sound files from disk, so that its end loses nothing.

The exam's process tells it which stretches of sound there are. It says what it heard, and after each utterance waits
for the terms to favour from there on, so that a running exam is heard in the same order as a recording
(`dictate.interface.hear_frames`). When it lags behind it simply does not wait for sound.
"""

from __future__ import annotations

import importlib
import signal
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame
from dictate.errors import DictateError
from dictate.journal.sound import samples_in, slice_of
from dictate.recognise.cut_short import completed
from dictate.recognise.events import Partial, Utterance
from dictate.recognise.protocol import Recogniser

PARTIALS_EVERY_S = 0.3
_POLL_S = 0.02  # between looks at the file: what this costs in lateness
_TELL_EVERY_S = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class HearingOptions:
    """Which recogniser to open. `factory` is "module:function", called with these options and a gauge of the lag."""

    engine: str | None = None
    model_dir: str | None = None
    partials_every_s: float | None = PARTIALS_EVERY_S
    factory: str = "dictate.live.worker:open_engine"


# -- what the exam's process says -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Listen:
    """Hear a sound file from a sample on; `start_s` is the time of its first sample on the exam's clock."""

    path: Path
    start_s: float
    from_sample: int = 0


@dataclass(frozen=True, slots=True)
class Ends:
    """The sound file being listened to last has so many samples; no more will come."""

    samples: int


@dataclass(frozen=True, slots=True)
class Favour:
    """The terms to favour from now on. It also answers an utterance."""

    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Finish:
    """No further sound file will come."""


# -- what the recogniser's process says -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ready:
    """The recogniser is open."""


@dataclass(frozen=True, slots=True)
class Failed:
    """The recogniser cannot be used, in one plain line."""

    why: str


@dataclass(frozen=True, slots=True)
class Reached:
    """The sound up to here was taken."""

    at_s: float


@dataclass(frozen=True, slots=True)
class HeardOut:
    """A sound file was heard to its end, and all that was said in it was told."""

    end_s: float


@dataclass(frozen=True, slots=True)
class HeardWords:
    """An utterance; the sound up to `at_s` was taken."""

    utterance: Utterance
    at_s: float


@dataclass(frozen=True, slots=True)
class HeardPartial:
    """Words so far of one that goes on."""

    text: str


@dataclass(frozen=True, slots=True)
class Finished:
    """All sound was heard."""


def open_engine(options: HearingOptions, lag_s: Callable[[], float]) -> Recogniser:
    """Return the recogniser that was asked for. Raises RecogniserError if it cannot be used."""
    from dictate.recognise.engines import open_recogniser

    return open_recogniser(
        engine=options.engine, model_dir=options.model_dir, partials_every_s=options.partials_every_s, lag_s=lag_s
    )


def run(connection: Connection, options: HearingOptions) -> None:
    """Be the recogniser's process: hear what the other end of `connection` says until it is finished or gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole terminal; the exam's process decides
    with suppress(EOFError, BrokenPipeError, ConnectionResetError):  # the exam's process is gone: nobody listens
        listener = Listener(connection)
        try:
            listener.open(options)
            listener.listen()
        except DictateError as error:
            connection.send(Failed(str(error)))


class Listener:
    """Feeds the recogniser from the files, in order, and answers to the other process between frames."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._recogniser: Recogniser | None = None
        self._to_come: deque[Listen] = deque()
        self._ends: deque[int] = deque()  # of the current file, then of those to come
        self._now: Listen | None = None
        self._position = 0  # sample of the current file
        self._finish = False
        self._told_at = 0.0
        self._terms: Sequence[str] | None = None

    def open(self, options: HearingOptions) -> None:
        """Open the recogniser and say so."""
        module, _, name = options.factory.partition(":")
        factory = getattr(importlib.import_module(module), name)
        self._recogniser = factory(options, self.lag_s)
        self._connection.send(Ready())

    def lag_s(self) -> float:
        """Return the seconds of sound that are on disk and were not taken yet."""
        if self._now is None:
            return 0.0
        return max(0, samples_in(self._now.path) - self._position) / SAMPLE_RATE_HZ

    def listen(self) -> None:
        """Hear everything until told that nothing more comes."""
        while True:
            self._take_messages(wait_s=0.0)
            if self._now is None and not self._next():
                if self._finish:
                    self._connection.send(Finished())
                    return
                self._take_messages(wait_s=_POLL_S)
            elif self._now is not None and not self._step(self._now):
                self._take_messages(wait_s=_POLL_S)

    def _next(self) -> bool:
        if self._to_come:
            self._now = self._to_come.popleft()
            self._position = self._now.from_sample
        return self._now is not None

    def _step(self, now: Listen) -> bool:
        """Hear one frame, or the end of the file; return False when more sound must be waited for."""
        assert self._recogniser is not None  # noqa: S101 - opened first
        there = samples_in(now.path)
        total = self._ends[0] if self._ends else None
        end = self._position + FRAME_SAMPLES
        if total is not None:
            end = min(end, total)
        if self._position < end <= there:
            samples = slice_of(now.path, start_sample=self._position, end_sample=end)
            start_s = now.start_s + self._position / SAMPLE_RATE_HZ
            self._position = end
            self._tell(now)
            self._pass_on(self._recogniser.accept(Frame(samples, start_s)), now)
            return True
        if total is not None and (self._position >= total or there < total):
            self._pass_on(self._recogniser.flush(), now)
            self._connection.send(HeardOut(self._at_s(now)))
            self._ends.popleft()
            self._now = None
            return True
        self._tell(now)
        return False

    def _pass_on(self, events: object, now: Listen) -> None:
        for event in events:  # type: ignore[attr-defined]
            if isinstance(event, Partial):
                self._connection.send(HeardPartial(event.text))
            elif isinstance(event, Utterance):
                self._connection.send(HeardWords(completed(event), self._at_s(now)))
                self._wait_for_favour()

    def _at_s(self, now: Listen) -> float:
        return now.start_s + self._position / SAMPLE_RATE_HZ

    def _tell(self, now: Listen) -> None:
        if time.monotonic() - self._told_at >= _TELL_EVERY_S:
            self._told_at = time.monotonic()
            self._connection.send(Reached(self._at_s(now)))

    def _wait_for_favour(self) -> None:
        while not isinstance(self._take(self._connection.recv()), Favour):
            pass

    def _take_messages(self, *, wait_s: float) -> None:
        while self._connection.poll(wait_s):
            self._take(self._connection.recv())
            wait_s = 0.0

    def _take(self, message: object) -> object:
        if isinstance(message, Listen):
            self._to_come.append(message)
        elif isinstance(message, Ends):
            self._ends.append(message.samples)
        elif isinstance(message, Favour) and self._recogniser is not None:
            self._recogniser.favour(message.terms)
        elif isinstance(message, Finish):
            self._finish = True
        return message
