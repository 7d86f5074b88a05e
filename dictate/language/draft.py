"""A finding in the making: what one frame says, before the running context fills in side, section and region."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from dictate.contract import DoubtReason, Grade, Measure, Region, Replaced, Section, Severity, Status
from dictate.language.item import Item, label_of, says_nothing
from dictate.language.numbers import Quantity
from dictate.language.phrases import Sense
from dictate.language.segment import Frame
from dictate.lexicon.model import Term


@dataclass(frozen=True, slots=True)
class Relative:
    """A value said by comparison: `amount` less or more than what was found on `side`."""

    amount: float
    less: bool
    side: str
    of_the_other: bool = True  # "less than the left"; else `side` is the one that is less ("less on the left")


@dataclass(kw_only=True)
class Draft:
    """One finding as a frame states it. `side` as said: left, right, both, midline, injured, uninjured, other."""

    finding: str
    kind: str
    term: Term | None = None
    structure: str | None = None
    structure_term: Term | None = None
    modality: Section | None = None
    section: Section | None = None
    region: Region | None = None
    side: str = ""
    side_said: bool = False
    status: Status | None = None
    degrees: float | None = None
    grade: Grade | None = None
    measure: Measure | None = None
    at_degrees: float | None = None
    severity: Severity | None = None
    end_feel: str | None = None
    limited_by: list[str] = field(default_factory=list)
    with_: list[str] = field(default_factory=list)
    doubts: list[tuple[DoubtReason, str, str | None]] = field(default_factory=list)
    replaced: list[Replaced] = field(default_factory=list)
    relative: Relative | None = None
    levels: tuple[str, ...] = ()  # levels said beside a reflex, muscle or area
    reach: bool = False  # how far up the back a hand reaches: the level stands in `structure`
    adjective: bool = False  # said as an adjective ("pain free"), not as a noun ("no pain")
    start: int = 0
    end: int = 0

    def has_value(self) -> bool:
        """Whether anything at all was said of it."""
        return (
            bool(
                self.status
                or self.grade
                or self.measure
                or self.limited_by
                or self.with_
                or self.end_feel
                or self.relative
            )
            or self.degrees is not None
            or self.reach
        )


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


def parts_of(
    frame: Frame, topic: Topic, *, listed: tuple[Item, ...] = (), lists: tuple[tuple[Item, ...], ...] = (),
    run: tuple[Item, ...] = (), near: frozenset[str] = frozenset(), elsewhere: bool = False,
) -> Parts:  # fmt: skip
    """Sort the items of a frame; a frame without a target takes the topic's, or those of the list before it.

    `elsewhere` says that the sentence has so far only named a joint beside the one examined: nothing named before it
    is meant by "full".
    """
    items = frame.items
    targets = tuple(item for item in items if item.is_target())
    if targets and all(_adds_nothing(item) for item in targets) and any(item.is_value() for item in items):
        targets = ()  # "pain free and normal"
    inherited = not targets
    if any(item.quantity and item.quantity.unit == "deg" for item in items):
        targets = tuple(item for item in targets if label_of(item) != "girth")  # "measures one thirty-eight degrees"
        inherited = not targets
    if any(item.kind == "measure" and label_of(item) != "girth" for item in targets):
        targets = tuple(item for item in targets if item.text != "measures")  # "chest expansion measures four"
    several = _several(items, listed, lists, run) if inherited else ()
    if several:
        sensed = several[-1].kind == "level" or (several[-1].kind == "structure" and _felt(topic, items))
        felt = tuple(i for i in topic.items if i.kind == "attribute") if sensed else ()
        targets = felt + several
    elif inherited and elsewhere and any(s.cue and s.cue.amount for item in items for s in item.senses):
        targets = ()
    elif inherited and near and any(item.kind == "region" and item.value not in near for item in items):
        targets = ()  # a neighbour's screen is not about what was named before
    elif inherited and _too_many(items):
        targets = ()  # numbers that nothing named so far is as many as
    elif inherited and any(item.kind == "some" for item in items):
        amount = next((item.severity for item in items if item.kind == "some"), None)
        targets = tuple(replace(i, negated=False, severity=amount) for i in topic.items) if topic.sign() else ()
    elif inherited and _says_something(items) and _fits(topic, items):
        targets = tuple(replace(i, negated=False, unable=False) for i in topic.items) if _judged(items) else topic.items
    elif targets and any(item.kind == "quantity" for item in items) and _leans(targets, topic, items):
        targets = topic.items + targets  # "… right forty and it hurts"
    elif targets and all(item.kind == "sign" for item in targets) and _same_again(targets, topic, items):
        targets = tuple(item for item in topic.items if item.kind == "structure") + targets
    elif targets and (_leans(targets, topic, items) or _of_bare_places(targets, topic)):
        targets = topic.items + targets
    elif targets and _level_of_process(targets, topic, items):
        targets = tuple(item for item in topic.items if item.kind == "structure") + targets
    elif targets and all(i.kind == "level" for i in targets) and _reached(topic):
        targets = tuple(item for item in topic.items if item.kind == "movement") + targets
    elif targets and _felt_at_levels(targets, topic, items):
        targets = tuple(item for item in topic.items if item.kind in ("sign", "structure")) + targets
    elif (targets and all(item.kind == "structure" for item in targets) and _felt(topic, items)) or (
        targets and all(item.kind == "level" for item in targets)
    ):
        targets = tuple(item for item in topic.items if item.kind == "attribute") + targets
    twice = inherited and topic.bare and len(topic.positions) > 1  # "varus at zero and thirty. Both solid"
    named = [i for i in items if i.kind == "side" and not i.role and not (twice and i.text == "both")]
    sides = [item.value for item in named if not _closes_a_list(item, targets or _joints(items), items)]
    if any(item.kind == "ellipsis" and item.value == "as" for item in items) and _judged(items) and sides:
        sides = ["both"]  # "external rotation fifty, as on the right"
    modality = next((item.value for item in items if item.kind == "modality"), None)
    if modality is None and inherited:
        modality = topic.modality
    free = [item for item in items if item.role == ""]
    return Parts(
        frame=frame,
        targets=targets,
        statuses=tuple(item for item in free if item.kind in ("status", "none")),
        outcomes=tuple(item for item in free if item.kind == "outcome"),
        quantities=tuple(item.quantity for item in free if item.kind == "quantity" and item.quantity),
        positions=_positions(items) or (topic.positions if inherited and topic.bare else ()),
        side=_one_side(sides),
        places=tuple(item.value for item in items if item.kind == "place"),
        companions=_labels(items, "with"),
        limiters=_labels(items, "limiter"),
        end_feel=next((item.value for item in free if item.kind == "end_feel"), None) or _end_point(items),
        modality=modality,  # type: ignore[arg-type]
        severity=next((item.severity for item in items if item.severity and item.role != "with"), None),
        hedged=any(item.hedged for item in items),
        kinds=frozenset(item.kind for item in items),
        inherited=inherited,
        strength_topic=topic.strength,
        asked=topic.sign(),
    )


def _judged(items: tuple[Item, ...]) -> bool:
    """Whether a frame says itself how it is: what was denied before is then not denied again ("the right is fine")."""
    return any(item.kind in ("status", "outcome", "quantity") and not item.role for item in items)


def _level_of_process(targets: tuple[Item, ...], topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether a sign at a level is one of the spinous process there: "spinous processes, T4 non-tender, T5 sore"."""
    over = [item for item in topic.items if item.kind == "structure"]
    beside = any(item.kind == "side" and item.value != "midline" for item in items)
    kinds = {item.kind for item in targets}
    judged = kinds == {"level"} and topic.bare and any(item.is_value() for item in items)
    placed = (kinds == {"level", "sign"} or judged) and not beside
    return placed and bool(over) and all("spinous process" in label_of(item) for item in over)


def _felt_at_levels(targets: tuple[Item, ...], topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether levels are told of the sign named before. What is intact there is not tenderness, but the nerves."""
    levels = all(item.kind == "level" for item in targets) and bool(topic.sign())
    return levels and any(i.is_value() for i in items) and not any(i.text == "intact" for i in items)


def _reached(topic: Topic) -> bool:
    """Whether it was said last how far up the back a hand reaches: a level alone says the same of the other hand."""
    movements = [item for item in topic.items if item.kind == "movement"]
    return any(label_of(item) == "internal rotation" for item in movements) and any(
        item.kind == "level" for item in topic.items
    )


_COUNTS = {
    "all two": 2,
    "both": 2,
    "for both": 2,
    "both of them": 2,
    "both of those": 2,
    "both of these": 2,
    "for all three": 3,
    "for all four": 4,
    "all three": 3,
    "all four": 4,
    "all five": 5,
    "all six": 6,
    "first two": 2,
    "first three": 3,
    "last two": 2,
    "last three": 3,
}


def _adds_nothing(item: Item) -> bool:
    """Whether the item is "pain free" or the like, which adds nothing to what it is said of."""
    return item.kind == "sign" and item.shape == "absent" and any(s.term and s.term.companion for s in item.senses)


def _leans(targets: tuple[Item, ...], topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether "left painful" is about the movement, test or task named before."""
    turned = any(item.kind == "side" for item in items)
    companions = all(
        item.kind == "sign"
        and (item.shape in ("adjective", "verb") or (item.negated and label_of(item) == "pain"))
        and any(s.term and s.term.companion for s in item.senses)
        for item in targets
    )
    return turned and companions and any(item.kind in ("movement", "test", "task") for item in topic.items)


def _of_bare_places(targets: tuple[Item, ...], topic: Topic) -> bool:
    """Whether "no tenderness" is about the places just named ("Radial head. No tenderness.")."""
    places = topic.bare and bool(topic.items) and all(item.kind == "structure" for item in topic.items)
    return places and all(item.kind == "sign" and label_of(item) == "tenderness" for item in targets)


def _felt(topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether an area with a status goes on with a row about sensation ("… reduced over the thumb, finger normal")."""
    senses = {"light touch", "pin prick", "sensation"}
    return any(label_of(item) in senses for item in topic.items) and any(item.kind == "status" for item in items)


_PAIR = 2  # two numbers alone may be two sides, or a number and its correction: they take up no run of sentences


def _several(
    items: tuple[Item, ...],
    listed: tuple[Item, ...],
    lists: tuple[tuple[Item, ...], ...] = (),
    run: tuple[Item, ...] = (),
) -> tuple[Item, ...]:
    """Return the members of the list before that a frame speaks of: as many as it gives numbers, or "all four".

    A `run` of sentences that name one thing each is such a list too.
    """
    numbers = [i for i in items if i.kind == "quantity" and not i.role and i.quantity and i.quantity.to_value is None]
    for members in (listed, *lists, *([run] if len(numbers) > _PAIR else [])) if len(numbers) > 1 else ():
        movements = tuple(item for item in members if item.kind == "movement")
        if len(numbers) == len(movements):
            return movements
    every = next((item for item in items if item.kind in ("every", "nothing")), None)
    if every is None or not any(item.is_value() for item in items) or not listed:
        return ()
    alike = [item for item in listed if item.kind == listed[-1].kind]
    if len(alike) == 1 and every.kind == "every" and every.text not in _COUNTS:
        alike = list(run)
    if "first" in every.text:
        alike = alike[: _COUNTS[every.text.removeprefix("the ")]]
    graded = any(item.kind == "quantity" and item.start == every.start for item in items)  # "left all five"
    count = len(alike) if graded else _COUNTS.get(every.text.removeprefix("the "), len(alike))
    return tuple(alike[-count:]) if len(alike) >= count > 1 else ()


def _too_many(items: tuple[Item, ...]) -> bool:
    """Whether a frame without a target holds several plain numbers."""
    plain = [i for i in items if i.kind == "quantity" and not i.role and i.quantity and not i.quantity.is_grade]
    shifted = any(item.kind in ("lack", "over", "and") for item in items)
    return len(plain) > 2 and not shifted


# "It" that is hot, red or swollen is the joint, not the place just felt.
_OF_THE_JOINT = frozenset({"warmth", "redness", "swelling", "coldness"})


def _same_again(targets: tuple[Item, ...], topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether a bare sign is about the place just named: "left patella tender, right non-tender"."""
    before = topic.sign()
    turned = any(item.kind in ("side", "place") for item in items)
    if any(item.kind == "pronoun" for item in items) and all(item.shape != "name" for item in targets):
        return not {label_of(item) for item in targets} & _OF_THE_JOINT
    if before is not None:
        return turned and {label_of(item) for item in targets} == {label_of(before)}
    return topic.bare and targets[0].shape != "name"


def _fits(topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether the values of a frame can be said of the topic: an arc is no value of a test, nor a /5 one of a sign."""
    kinds = {item.kind for item in topic.items}
    if kinds == {"measure"} and any(item.kind == "region" for item in items):
        return False  # "around the wrist sixteen": no refill
    if any(item.kind in ("lack", "over") for item in items):
        return any(label_of(item) != "flexion" for item in topic.items if item.kind == "movement")
    if "test" not in kinds and any(item.kind == "outcome" and not item.value for item in items):
        return False  # a result of tests, said of something else
    full = any(sense.cue and sense.cue.amount for item in items for sense in item.senses if item.kind == "status")
    if full and (kinds <= {"reflex", "pulse", "sign", "test"} or "sign" in kinds):
        return False  # an amount of motion, said of something else
    strong = any(sense.cue and sense.cue.strength for item in items for sense in item.senses)
    if strong and kinds <= {"sign", "structure"} and not any(_is_muscle(item) for item in topic.items):
        return False  # "strong" is said of no effusion and no joint line
    for item in items:
        quantity = item.quantity
        if quantity is None or item.role:
            continue
        counted = quantity.unit is None and not quantity.is_grade and quantity.value > _LARGEST_GRADE
        if counted and kinds == {"test"} and not any(_measured_in_degrees(target) for target in topic.items):
            return False
        if quantity.out_of == 5 or (quantity.plus_minus and not quantity.out_of):
            if kinds <= {"test", "sign", "task", "measure"} and not (quantity.plus_minus and not quantity.out_of):
                return False
        elif (
            (
                quantity.to_value is not None
                and not quantity.is_grade
                and not kinds & {"movement", "attribute", "measure"}
            )
            or (quantity.unit == "deg" and kinds <= {"sign", "structure", "reflex", "pulse"})
            or (
                quantity.unit is None
                and not quantity.is_grade
                and quantity.value > 10
                and kinds <= {"sign", "structure", "reflex", "pulse"}
            )
        ):
            return False
    judged = {item.value for item in items if item.kind == "status"} & {"positive", "negative"}
    return not (judged and kinds <= {"movement", "structure", "measure", "pulse"})


_LARGEST_GRADE = 5


def _is_muscle(item: Item) -> bool:
    return any(sense.term and sense.term.part == "muscle" for sense in item.senses)


def _measured_in_degrees(item: Item) -> bool:
    return any(sense.term and sense.term.angle_is_result for sense in item.senses)


def _says_something(items: tuple[Item, ...]) -> bool:
    """Whether a frame without a target says enough to be about the topic: "okay" alone does not."""
    values = [item for item in items if item.is_value()] + [item for item in items if item.kind in ("lack", "over")]
    if not values:
        return False
    return not all(says_nothing(item) for item in values) or any(
        item.kind in ("every", "side", "modality") for item in items
    )


def _joints(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Return the joints named in the singular: of "elbow and shoulder, both full" it is these that are two."""
    return tuple(item for item in items if item.kind == "region" and not item.text.endswith("s"))


def _closes_a_list(item: Item, targets: tuple[Item, ...], items: tuple[Item, ...]) -> bool:
    """Whether "both" sums up two things just named, rather than two sides ("Hawkins and Neer both positive")."""
    if any(other.kind == "region" and other.start == item.end for other in items):
        return False  # "two plus both feet"
    if item.text not in ("both", "either", "in either", "neither", "in both"):
        return False
    positions = [other for other in items if other.role == "position" and other.end <= item.start]
    if item.text == "both" and len(positions) == 2 and positions[-1].end == item.start:
        return True  # "stable at zero and thirty both"
    before = [target for target in targets if target.end <= item.start]
    if item.text not in ("both", "in both") and any(target.kind != "test" for target in before):
        return False  # "no swelling or redness in either hand"
    return len(before) >= 2 and len({target.kind for target in before}) == 1


def _one_side(sides: list[str]) -> str:
    distinct = set(sides)
    if distinct >= {"left", "right"} or "both" in distinct:
        return "both"
    return sides[0] if sides else ""


def _positions(items: Iterable[Item]) -> tuple[float, ...]:
    out = []
    for item in items:
        if item.role == "position":
            if item.quantity is not None:
                out.append(item.quantity.value)
            elif item.value:
                out.append(float(item.value))
    return tuple(out)


def _labels(items: Iterable[Item], role: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item.value for item in items if item.role == role and item.value and not item.negated))


def _end_point(items: Iterable[Item]) -> str | None:
    """Return the end feel in an outcome phrase such as "firm end point", which is also a result of its test."""
    for item in items:
        end_feel = item.mention.cue("end_feel")
        if item.kind == "outcome" and end_feel and end_feel.cue and "end" in item.text:
            return end_feel.cue.value
    return None


def sense_of(item: Item) -> Sense | None:
    """Return the first sense of an item that is a term."""
    return next((sense for sense in item.senses if sense.term), None)


def term_of(item: Item) -> Term | None:
    """Return the item's term."""
    sense = sense_of(item)
    return sense.term if sense else None


def meant_of(term: Term | None, parts: Parts) -> Status | None:
    """Return what a word means of this thing that means something else elsewhere ("brisk" refill, "toes down")."""
    for item in parts.statuses:
        for form, meant in (term.said_of if term else {}).items():
            if item.says(form) and not item.negated:
                return meant
    return None


def grade_of(scale: str, quantity: Quantity) -> Grade:
    """Return the grade that a quantity states on a scale."""
    return Grade(scale=scale, value=quantity.text())
