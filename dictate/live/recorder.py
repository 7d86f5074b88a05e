"""Sound from its source to the exam's files, through the loss of the microphone and its return."""

from __future__ import annotations

import logging
import threading
import time

from dictate.audio.frame import Frame
from dictate.audio.level import LevelMeter
from dictate.audio.source import Gap, Source
from dictate.errors import DictateError, MicrophoneError, MicrophoneLost
from dictate.live.track import Track
from dictate.live.view import Level

_log = logging.getLogger(__name__)

REOPEN_S = 1.0  # between attempts to open a lost microphone


class Recorder:
    """Takes what a source gives, in a thread of its own (`run`), and keeps the exam's clock."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._offset_s = 0.0  # of the source's clock on the exam's
        self._seconds, self._seconds_at = 0.0, time.monotonic()  # of the exam's clock, and when it stood there
        self._meter = LevelMeter()
        self._ending = threading.Event()
        self._lost_at = 0.0
        self.over = threading.Event()  # no more sound will come
        self.lost: str | None = None  # why no sound comes now
        self.error: DictateError | None = None  # that ended the recording

    @property
    def seconds(self) -> float:
        """Where the sound so far ends on the exam's clock."""
        return self._seconds

    @property
    def level(self) -> Level:
        """How loud the sound is now, in a word."""
        return self._meter.level

    def clock_s(self) -> float:
        """Return the time on the exam's clock: that of the newest sound, and how long ago that came."""
        return self._seconds + time.monotonic() - self._seconds_at

    def start_at(self, seconds: float) -> None:
        """Let the source's first sound come at this time of the exam's clock."""
        self._offset_s = self._seconds = seconds

    def stop(self) -> None:
        """Take what the source still has, and end."""
        self._ending.set()
        self._source.close()

    def run(self, track: Track) -> None:
        """Take sound until the source ends or is stopped."""
        try:
            while not self._ending.is_set() and not self._take_all(track):
                self._ending.wait(REOPEN_S)
            if self.lost is not None:  # it was still away at the end
                track.accept(Gap(self._seconds, self._seconds + time.monotonic() - self._lost_at, self.lost))
            track.pause()  # what was said last is heard without waiting for the exam to be closed
        except MicrophoneError as error:
            self.error = error
        except Exception as error:  # noqa: BLE001 - told to whoever closes the exam; what was heard is kept
            _log.exception("recording ended")
            self.error = MicrophoneError(f"a fault in the program ended the recording ({error})")
        finally:
            self.over.set()

    def _take_all(self, track: Track) -> bool:
        """Take sound until the source ends (True) or is lost (False)."""
        try:
            for event in self._source:
                self.lost = None
                self._take(event, track)
        except MicrophoneLost as lost:
            if self.lost is None:
                track.pause()
                self._lost_at = time.monotonic()
            self.lost = str(lost)
            return False
        return True

    def _take(self, event: Frame | Gap, track: Track) -> None:
        shift = self._offset_s
        if isinstance(event, Gap):
            track.accept(Gap(event.from_s + shift, event.to_s + shift, event.why))
            end_s = event.to_s
        else:
            track.accept(Frame(event.samples, event.start_s + shift))
            self._meter.accept(event)
            end_s = event.end_s
        self._seconds, self._seconds_at = end_s + shift, time.monotonic()
