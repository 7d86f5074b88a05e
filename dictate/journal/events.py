"""What happens to an exam, one event at a time: the note is a fold over them. Times are UTC; seconds count from the
start of the exam's sound."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter

from dictate.contract import Finding, Note, Region
from dictate.recognise.events import Utterance

FORMAT = 1  # of the journal; changes only when an older program could not read it

# The name of a sound file: an event never leads out of its exam's folder, whoever wrote it.
SoundName = Annotated[str, Field(pattern=r"^sound-[0-9]{3,6}\.wav$")]

Action = Literal["accept", "change", "remove", "not_examined", "add", "undo"]


def now() -> datetime:
    """Return the time of day in UTC, to the millisecond."""
    moment = datetime.now(UTC)
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


class _Event(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    n: int = -1  # place in the journal from 0; given when it is appended
    at: AwareDatetime = Field(default_factory=now)


class Opened(_Event):
    """The exam began. What is None is not known, or is taken from what is said."""

    kind: Literal["opened"] = "opened"
    format: int = FORMAT
    exam: str  # its id, the name of its folder
    program: str  # version
    lexicon: str  # digest of the lexicon that it was first read with
    source: Literal["text", "file", "live"]
    engine: str | None = None
    region: Region | None = None
    injured_side: Literal["left", "right", "both"] | None = None
    age: float | None = None  # years
    sex: Literal["female", "male"] | None = None
    patient: str | None = None  # a pseudonym, never a name


class About(_Event):
    """What is known of the exam was changed: the fields replace those of `Opened`, and None takes a value away."""

    kind: Literal["about"] = "about"
    region: Region | None = None
    injured_side: Literal["left", "right", "both"] | None = None
    age: float | None = None
    sex: Literal["female", "male"] | None = None
    patient: str | None = None
    by: str = ""


class SoundBegun(_Event):
    """A sound file of the exam begins; `start_s` is the time of its first sample on the exam's clock."""

    kind: Literal["sound"] = "sound"
    file: SoundName
    start_s: float


class HeardUtterance(_Event):
    """The recogniser finished an utterance."""

    kind: Literal["heard"] = "heard"
    utterance: Utterance


class Gap(_Event):
    """Sound is missing: the microphone was away, the disk was full, the machine slept."""

    kind: Literal["gap"] = "gap"
    from_s: float
    to_s: float | None  # None while it is not known
    why: str


class Closed(_Event):
    """The exam ended, with so many seconds of sound; None for a transcript. Resuming it is a further event."""

    kind: Literal["closed"] = "closed"
    seconds: float | None
    sounds: dict[SoundName, str] = Field(default_factory=dict)  # sha256 of the samples of each sound file


class Resumed(_Event):
    """An exam that had stopped, by being closed or by an accident, goes on."""

    kind: Literal["resumed"] = "resumed"


class Edited(_Event):
    """A person decided something about one finding. `item` is its key; `before` is what the person saw.

    `after` is what the finding is from then on: None when it was removed. For `undo`, `undoes` is the number of the
    event that is taken back, and `after` is None.
    """

    kind: Literal["edited"] = "edited"
    action: Action
    item: str
    before: Finding | None = None
    after: Finding | None = None
    undoes: int | None = None
    by: str = ""
    comment: str | None = None


class Signed(_Event):
    """The note as it was signed, frozen. A second one signs an addendum: the edits since the one before."""

    kind: Literal["signed"] = "signed"
    name: str
    role: str
    note: Note
    digest: str  # sha256 over all of this event and the chain of the journal before it; see `signing.digest_of`
    keys: list[str] = Field(default_factory=list)  # of the note's findings, in order: later edits name them by these
    open_doubts: list[str] = Field(default_factory=list)  # keys of findings signed with their doubts, knowingly
    addendum: str | None = None  # why something was changed after signing


class Purged(_Event):
    """Sound was removed for good; the rest of the exam stays."""

    kind: Literal["purged"] = "purged"
    what: Literal["sound"] = "sound"
    files: list[SoundName]
    why: str


Event = Annotated[
    Opened | About | SoundBegun | HeardUtterance | Gap | Closed | Resumed | Edited | Signed | Purged,
    Field(discriminator="kind"),
]
EVENT: TypeAdapter[Event] = TypeAdapter(Event)
