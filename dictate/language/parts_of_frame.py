"""Sort the items of a frame into targets, values, side and what comes along."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from dictate.language.continued import adds_nothing, continued_targets
from dictate.language.inherited import inherited_targets, is_judged
from dictate.language.item import Item, label_of
from dictate.language.parts import Parts
from dictate.language.segment import Frame
from dictate.language.side_of_frame import closes_a_list, joints_named, one_side
from dictate.language.state import Topic


def parts_of(
    frame: Frame, topic: Topic, *, listed: tuple[Item, ...] = (), lists: tuple[tuple[Item, ...], ...] = (),
    run: tuple[Item, ...] = (), near: frozenset[str] = frozenset(), elsewhere: bool = False,
    counts: Mapping[str, int],
) -> Parts:  # fmt: skip
    """Sort the items of a frame; a frame without a target takes the topic's, or those of the list before it.

    `elsewhere` says that the sentence has so far only named a joint beside the one examined: nothing named before it
    is meant by "full". `counts` are the wordings that sum up a list, with how many it then has.
    """
    items = frame.items
    own = _own_targets(items)
    inherited = not own
    if inherited:
        targets = inherited_targets(
            items, topic, listed=listed, lists=lists, run=run, near=near, elsewhere=elsewhere, counts=counts
        )
    else:
        targets = continued_targets(_without_measuring(own), topic, items)
    twice = inherited and topic.bare and len(topic.positions) > 1  # "varus at zero and thirty. Both solid"
    named = [i for i in items if i.kind == "side" and not i.role and not (twice and i.text == "both")]
    sides = [item.value for item in named if not closes_a_list(item, targets or joints_named(items), items)]
    if any(item.kind == "ellipsis" and item.value == "as" for item in items) and is_judged(items) and sides:
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
        side=one_side(sides),
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


def _own_targets(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Return what the frame itself names."""
    targets = tuple(item for item in items if item.is_target())
    if targets and all(adds_nothing(item) for item in targets) and any(item.is_value() for item in items):
        return ()  # "pain free and normal"
    if any(item.quantity and item.quantity.unit == "deg" for item in items):
        return tuple(item for item in targets if label_of(item) != "girth")  # "measures one thirty-eight degrees"
    return targets


def _without_measuring(targets: tuple[Item, ...]) -> tuple[Item, ...]:
    """Drop "measures", which names a girth, where another measure is named ("chest expansion measures four")."""
    if any(item.kind == "measure" and label_of(item) != "girth" for item in targets):
        return tuple(item for item in targets if item.text != "measures")
    return targets


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
