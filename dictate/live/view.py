"""What a person sees of a running exam at one moment: all of it, so that a page that missed a view misses nothing."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from dictate.contract import OneSide, Region, Section

LiveState = Literal["starting", "listening", "standing_by", "microphone_lost", "disk_full", "closed"]
Level = Literal["good", "quiet", "clipping", "silent"]
LiveCoverage = Literal["done", "partial", "deferred", "untouched"]
SoundName = Literal["understood", "unsure", "section"]

TRACE_LENGTH = 6  # utterances shown


@dataclass(frozen=True, slots=True)
class Last:
    """The finding that was said or changed last; `number` counts from 1 in the order spoken."""

    text: str
    doubt: str | None
    number: int


@dataclass(frozen=True, slots=True)
class PlanLine:
    """How far one section of the exam plan is; `reason` is why it was left out, as said."""

    section: Section
    coverage: LiveCoverage
    missing: tuple[str, ...] = ()
    sides: tuple[OneSide, ...] = ()
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The exam as it stands. Texts are plain words; what is not known yet is None.

    `recent` are all findings that the last telling utterance added or changed; `last` is the last of them. `section`
    is the one announced, or that of the last finding where none was or the exam went on without. `side` is the one that
    a finding without a side would be taken for. `say_again` is what was not heard well enough. `lag_s` is how much
    recorded sound waits to be recognised. `notice` is one line about microphone, disk or lag. `answer` replies to what
    the speaker asked of the program, until the next finding.
    """

    exam: str = ""  # its id; empty until it is opened
    state: LiveState = "starting"
    region: Region | None = None
    section: Section | None = None
    side: str | None = None
    injured_side: str | None = None
    last: Last | None = None
    recent: tuple[Last, ...] = ()
    say_again: str | None = None
    plan: tuple[PlanLine, ...] = ()
    trace: tuple[str, ...] = ()
    partial: str = ""
    seconds: float = 0.0
    lag_s: float = 0.0
    level: Level = "good"
    findings: int = 0
    doubts: int = 0
    notice: str | None = None
    answer: str | None = None

    def message(self) -> dict[str, Any]:
        """Return the view as the message that pages get."""
        return {"type": "view", **asdict(self)}


def sound_message(name: SoundName) -> dict[str, Any]:
    """Return the message that asks pages to play an earcon."""
    return {"type": "sound", "name": name}
