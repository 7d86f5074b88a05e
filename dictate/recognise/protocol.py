"""What every recogniser does, and the one loop that drives it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

from dictate.audio.frame import Frame
from dictate.recognise.cut_short import completed
from dictate.recognise.events import Partial, Utterance


class Recogniser(Protocol):
    """Frames in, partial and final utterances out. One instance hears one recording at a time, in order."""

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        """Take the next frame and return what came of it, at once or while iterated; iterate to the end."""
        ...

    def flush(self) -> Iterator[Partial | Utterance]:
        """End the recording: return what was still open. The next frame starts a new recording."""
        ...

    def favour(self, terms: Sequence[str]) -> None:
        """Favour these terms, most specific first, from the next utterance on. An engine may take fewer, or none."""
        ...


def recognise(frames: Iterable[Frame], recogniser: Recogniser) -> Iterator[Partial | Utterance]:
    """Yield events as they come; read nothing before the first is asked for; flush a last Utterance.

    The caller may call `recogniser.favour` between events: it counts from the next utterance on. A reading that broke
    off is completed.
    """
    for frame in frames:
        yield from map(whole, recogniser.accept(frame))
    yield from map(whole, recogniser.flush())


def whole(event: Partial | Utterance) -> Partial | Utterance:
    """Return the event, an utterance whose best reading broke off completed from another reading."""
    return completed(event) if isinstance(event, Utterance) else event
