"""The items of one frame, sorted by what they contribute to its findings."""

from __future__ import annotations

from dataclasses import dataclass

from dictate.contract import Section, Severity, Status
from dictate.language.item import Item
from dictate.language.quantity import Quantity
from dictate.language.segment import Frame
from dictate.lexicon.model import Term


@dataclass(frozen=True)
class Parts:
    """The items of one frame, sorted by what they contribute."""

    frame: Frame
    targets: tuple[Item, ...]
    statuses: tuple[Item, ...]
    outcomes: tuple[Item, ...]
    quantities: tuple[Quantity, ...]
    positions: tuple[float, ...]
    side: str
    places: tuple[str, ...]
    companions: tuple[str, ...]
    limiters: tuple[str, ...]
    end_feel: str | None
    modality: Section | None
    severity: Severity | None
    hedged: bool
    kinds: frozenset[str]
    inherited: bool = False
    strength_topic: bool = False
    asked: Item | None = None  # the sign last spoken of

    @property
    def excepting(self) -> bool:
        """Whether the frame is an exception from the one before ("… except L5 reduced")."""
        return "except" in self.kinds

    def of(self, *kinds: str) -> tuple[Item, ...]:
        """Return the targets of these kinds."""
        return tuple(item for item in self.targets if item.kind in kinds)

    @property
    def grade_quantity(self) -> Quantity | None:
        return next((q for q in self.quantities if q.is_grade), None)

    @property
    def start(self) -> int:
        return self.frame.items[0].start

    @property
    def end(self) -> int:
        return self.frame.items[-1].end

    def has_strength_word(self) -> bool:
        """Whether a status was said that is said of strength ("strong", "weak")."""
        return any(sense.cue and sense.cue.strength for item in self.statuses for sense in item.senses)

    def status(self) -> tuple[Status | None, Item | None]:
        """Return the status said, negation applied, and the item that said it."""
        plain = [item for item in self.outcomes if not item.mention.cue("end_feel")]
        tested = bool(self.of("test"))
        for item in (*self.statuses, *plain, *self.outcomes):
            value = item.value
            if item.kind == "outcome" and not value:
                if not tested and self.of("sign"):
                    continue  # a result of some test, which says nothing of a sign
                value = item.shape
            if item.hedged and value not in ("not_examined",):
                return "equivocal", item
            if item.negated:
                value = _OPPOSITE.get(value, value)
            return value, item  # type: ignore[return-value]
        return None, None


_OPPOSITE = {
    "positive": "negative",
    "negative": "positive",
    "normal": "reduced",
    "present": "absent",
    "absent": "present",
    "reduced": "normal",
    "increased": "normal",
}


def meant_of(term: Term | None, parts: Parts) -> Status | None:
    """Return what a word means of this thing that means something else elsewhere ("brisk" refill, "toes down")."""
    for item in parts.statuses:
        for form, meant in (term.said_of if term else {}).items():
            if item.says(form) and not item.negated:
                return meant
    return None
