"""What a frame without a target is about: what was named last, or the members of the list before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from dictate.language.continued import is_of_sensation
from dictate.language.item import Item, is_muscle, label_of, says_nothing
from dictate.language.state import Topic


def inherited_targets(
    items: tuple[Item, ...], topic: Topic, *, listed: tuple[Item, ...], lists: tuple[tuple[Item, ...], ...],
    run: tuple[Item, ...], near: frozenset[str], elsewhere: bool, counts: Mapping[str, int],
) -> tuple[Item, ...]:  # fmt: skip
    """Return what a frame that names nothing is about; the rest is as `parts_of` says."""
    members = _several(items, listed, lists, run, counts)
    if members:
        sensed = members[-1].kind == "level" or (members[-1].kind == "structure" and is_of_sensation(topic, items))
        return (tuple(i for i in topic.items if i.kind == "attribute") if sensed else ()) + members
    if elsewhere and any(s.cue and s.cue.amount for item in items for s in item.senses):
        return ()
    if near and any(item.kind == "region" and item.value not in near for item in items):
        return ()  # a neighbour's screen is not about what was named before
    if _too_many(items):
        return ()  # numbers that nothing named so far is as many as
    if any(item.kind == "some" for item in items):
        amount = next((item.severity for item in items if item.kind == "some"), None)
        return tuple(replace(i, negated=False, severity=amount) for i in topic.items) if topic.sign() else ()
    if _says_something(items) and _fits(topic, items):
        return tuple(replace(i, negated=False, unable=False) for i in topic.items) if is_judged(items) else topic.items
    return ()


def is_judged(items: tuple[Item, ...]) -> bool:
    """Whether a frame says itself how it is: what was denied before is then not denied again ("the right is fine")."""
    return any(item.kind in ("status", "outcome", "quantity") and not item.role for item in items)


_PAIR = 2  # two numbers alone may be two sides, or a number and its correction: they take up no run of sentences


def _several(
    items: tuple[Item, ...],
    listed: tuple[Item, ...],
    lists: tuple[tuple[Item, ...], ...],
    run: tuple[Item, ...],
    counts: Mapping[str, int],
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
    if len(alike) == 1 and every.kind == "every" and every.text not in counts:
        alike = list(run)
    if "first" in every.text:
        alike = alike[: counts.get(every.text.removeprefix("the "), len(alike))]
    graded = any(item.kind == "quantity" and item.start == every.start for item in items)  # "left all five"
    count = len(alike) if graded else counts.get(every.text.removeprefix("the "), len(alike))
    return tuple(alike[-count:]) if len(alike) >= count > 1 else ()


def _too_many(items: tuple[Item, ...]) -> bool:
    """Whether a frame without a target holds several plain numbers."""
    plain = [i for i in items if i.kind == "quantity" and not i.role and i.quantity and not i.quantity.is_grade]
    shifted = any(item.kind in ("lack", "over", "and") for item in items)
    return len(plain) > 2 and not shifted


_LARGEST_GRADE = 5


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
    if strong and kinds <= {"sign", "structure"} and not any(is_muscle(item) for item in topic.items):
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
