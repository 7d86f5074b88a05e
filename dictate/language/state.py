"""What the reading of an exam carries from one utterance to the next: findings so far, and where the exam stands."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from dictate.contract import Finding, OneSide, Region, Section
from dictate.language.item import Item
from dictate.language.order import Order
from dictate.language.stated import Heard
from dictate.lexicon.model import Term


@dataclass(frozen=True)
class Entry:
    """A finding with where it came from: `frame` counts statements, `utterance` and `sentence` count those."""

    finding: Finding
    frame: int
    utterance: int
    sentence: int = 0
    term: Term | None = None
    side_said: bool = False
    kind: str = ""
    span: tuple[int, int] = (0, 0)  # tokens of its utterance
    words: tuple[int, int] = (0, 0)  # first and last spoken word of it, in its utterance
    anchored: bool = False  # its region follows from what was named

    def with_finding(self, finding: Finding) -> Entry:
        """Return the entry with another finding in it."""
        return replace(self, finding=finding)


@dataclass(frozen=True)
class Topic:
    """What was named last: a value without a target is about it."""

    items: tuple[Item, ...] = ()
    modality: Section | None = None
    strength: bool = False
    bare: bool = False  # nothing has been said of it yet
    positions: tuple[float, ...] = ()  # that a test was named with, if bare

    def sign(self) -> Item | None:
        """Return the sign in it, if any."""
        return next((item for item in self.items if item.kind == "sign"), None)


@dataclass(frozen=True)
class Context:
    """Where the exam stands. `side` was announced; `last_side` was only said of the last finding."""

    region: Region = "knee"
    region_said: bool = False
    section: Section | None = None
    side: str = ""
    last_side: str = ""
    side_before: str = ""  # what was announced before a statement about the other side; named again, it holds again
    side_left_at: int = -9  # the utterance of that statement
    injured: OneSide | str = ""
    order: Order | None = None  # which side is said first, where two values follow without one
    topic: Topic = field(default_factory=Topic)
    topic_at: int = -1  # the utterance that named it, if nothing but statements came since
    tested: tuple[Item, ...] = ()  # the test that was last named without a result
    tested_at: int = -9  # its utterance
    last_talk: tuple[str, int] = ("", -9)  # the kind of the last talk that made no finding, and its utterance
    listed: tuple[Item, ...] = ()  # what the last sentence gave findings of, in order
    listed_in: tuple[int, int] = (-1, -1)  # the utterance and sentence of that list
    run: tuple[Item, ...] = ()  # like things found one a sentence: "flexion: four. Abduction: five. …"
    named: tuple[Item, ...] = ()  # a list that nothing was said of yet: "the others are fine" may follow
    named_in: int = -1  # its utterance
    lists: tuple[tuple[Item, ...], ...] = ()  # the lists before that one, the latest first


@dataclass(frozen=True)
class Unread:
    """Words of a statement with a value that no finding took; `words` are the first and last spoken word of it."""

    said: str
    utterance: int
    words: tuple[int, int]


@dataclass(frozen=True)
class State:
    """The fold's accumulator: never changed, always replaced."""

    context: Context = field(default_factory=Context)
    entries: tuple[Entry, ...] = ()
    deferred: tuple[tuple[Section, str | None], ...] = ()
    introduced: frozenset[str] = frozenset()  # what was said of introduction: consent, pain …
    visited: tuple[Section, ...] = ()
    frames: int = 0
    utterances: int = 0
    words: int = 0
    region_votes: tuple[tuple[str, int], ...] = ()
    unread: tuple[Unread, ...] = ()
    heard: Heard = field(default_factory=Heard)  # the last clauses, for the model of what is stated
    challenged: tuple[int, int] = (0, -9)  # how many findings there were when somebody last doubted one, and when

    def findings(self) -> list[Finding]:
        """Return the findings in the order spoken."""
        return [entry.finding for entry in self.entries]
