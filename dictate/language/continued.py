"""Whether a frame goes on with what was named last, although it names a target: "left painful", "T5 sore"."""

from __future__ import annotations

from dictate.language.item import Item, label_of
from dictate.language.state import Topic


def continued_targets(targets: tuple[Item, ...], topic: Topic, items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Return the targets of a frame with those of the topic that it goes on with, if it does."""
    if not targets:
        return ()
    if any(item.kind == "quantity" for item in items) and _leans(targets, topic, items):
        return topic.items + targets  # "… right forty and it hurts"
    if all(item.kind == "sign" for item in targets) and _same_again(targets, topic, items):
        return tuple(item for item in topic.items if item.kind == "structure") + targets
    if _leans(targets, topic, items) or _of_bare_places(targets, topic):
        return topic.items + targets
    if _level_of_process(targets, topic, items):
        return tuple(item for item in topic.items if item.kind == "structure") + targets
    levels = all(item.kind == "level" for item in targets)
    if levels and _reached(topic):
        return tuple(item for item in topic.items if item.kind == "movement") + targets
    if _felt_at_levels(targets, topic, items):
        return tuple(item for item in topic.items if item.kind in ("sign", "structure")) + targets
    if levels or (all(item.kind == "structure" for item in targets) and is_of_sensation(topic, items)):
        return tuple(item for item in topic.items if item.kind == "attribute") + targets
    return targets


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


def adds_nothing(item: Item) -> bool:
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


def is_of_sensation(topic: Topic, items: tuple[Item, ...]) -> bool:
    """Whether an area with a status goes on with a row about sensation ("… reduced over the thumb, finger normal")."""
    senses = {"light touch", "pin prick", "sensation"}
    return any(label_of(item) in senses for item in topic.items) and any(item.kind == "status" for item in items)


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
