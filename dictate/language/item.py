"""One mention in the role that it plays for the words around it."""

from __future__ import annotations

from dataclasses import dataclass, field

from dictate.contract import Severity
from dictate.language.mentions import Mention
from dictate.language.phrases import Sense
from dictate.language.quantity import Quantity
from dictate.lexicon.model import Term

TARGETS = frozenset(
    {"structure", "sign", "attribute", "movement", "test", "reflex", "pulse", "task", "measure", "level"}
)


@dataclass(frozen=True)
class Item:
    """One mention in its role. `flags` hold what neighbours lend it: negated, severity, hedge."""

    kind: str
    mention: Mention
    senses: tuple[Sense, ...] = ()
    value: str = ""
    quantity: Quantity | None = None
    negated: bool = False
    unable: bool = False  # negated by "can't"
    severity: Severity | None = None
    hedged: bool = False
    role: str = ""  # "": free; "with", "limiter", "position", "circumstance": taken by what stands before it
    extra: dict[str, str] = field(default_factory=dict)
    text: str = ""  # its words as said

    @property
    def start(self) -> int:
        return self.mention.start

    @property
    def end(self) -> int:
        return self.mention.end

    @property
    def shape(self) -> str:
        return self.senses[0].shape if self.senses else ""

    def says(self, form: str) -> bool:
        """Whether its words are this wording, as written in the lexicon."""
        return any(form in sense.cue.forms for sense in self.senses if sense.cue) and self.text == form

    def is_target(self) -> bool:
        """Whether a finding can be about it."""
        return self.kind in TARGETS and self.role == ""

    def is_value(self) -> bool:
        """Whether it says what was found."""
        return (
            self.kind in ("status", "quantity", "outcome", "nothing", "ellipsis", "end_feel", "none", "some")
            and not self.role
        )


def term_of(item: Item) -> Term | None:
    """Return the first term among the senses of an item."""
    return next((sense.term for sense in item.senses if sense.term), None)


def label_of(item: Item) -> str:
    """Return the label that the item's first sense stores."""
    term = term_of(item)
    return term.label if term else ""


def says_nothing(item: Item) -> bool:
    """Whether the item is a status word such as "okay", which may be said of anything or of nothing."""
    sense = item.mention.cue("status")
    return item.kind == "status" and sense is not None and sense.weak


def is_muscle(item: Item) -> bool:
    """Whether the item can name a muscle."""
    return any(sense.term and sense.term.part == "muscle" for sense in item.senses)
