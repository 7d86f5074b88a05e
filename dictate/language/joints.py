"""Movements of one joint of one finger: "index PIP flexion", and "its extension" said of the same joint after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.by_name import Groups, named
from dictate.language.item import Item, label_of
from dictate.language.tokens import Token

_BENDS = ("flexion", "extension")
_LINKS = frozenset({"the", "joint", "of", "at", "in", "has", "have", "having", "an", "is", "it", "active", "passive"})
_BACK = frozenset({"its", "it", "it's", "same", "passively", "actively"})


def of_one_joint(
    items: Sequence[Item], tokens: Sequence[Token], groups: Groups, topic: Sequence[Item]
) -> list[Item]:  # fmt: skip
    """Return the items with a bare flexion or extension beside a small joint read as the movement of that joint."""
    out: list[Item] = []
    joint = _joint_moved(topic, groups)
    taken_up = False
    for item in items:
        bare = item.kind == "movement" and label_of(item) in _BENDS and "wrist" not in item.text
        if bare and not item.mention.restored:
            before = out[-1] if out else None
            beside = _joint_of(before) if before is not None and _near(tokens, before, item) else ""
            back = taken_up or _said_of_it(tokens, item)
            name = _known(beside, label_of(item), groups) or (_known(joint, label_of(item), groups) if back else "")
            if name:
                sense = named(groups, "movement", name)
                finger = named(groups, "structure", f"{beside.split()[0]} finger") if beside else None
                if beside and before is not None:
                    out.pop()
                    if finger is not None:
                        out.append(replace(before, senses=(finger,), text=f"{beside.split()[0]} finger"))
                elif not beside:
                    out += _same_finger(item, [*topic, *out])
                senses = tuple(replace(s, term=sense.term) if s.term and sense else s for s in item.senses)
                item = replace(item, senses=senses)
        if item.kind == "movement":
            joint = _joint_moved((item,), groups) or ""
            taken_up = bool(joint)
        elif item.kind in ("region", "section"):
            taken_up = False
        out.append(item)
    return out


def _same_finger(item: Item, before: Sequence[Item]) -> list[Item]:
    """Return the finger named last, set beside a movement that is said of it again."""
    finger = next((i for i in reversed(before) if i.kind == "structure" and label_of(i).endswith(" finger")), None)
    if finger is None:
        return []
    return [replace(finger, mention=replace(finger.mention, start=item.start, end=item.start), text="")]


def _joint_of(item: Item) -> str:
    """Return the joint that an item names, without "joint"; "" for anything else."""
    label = label_of(item) if item.kind == "structure" else ""
    return label.removesuffix(" joint") if label.endswith("phalangeal joint") else ""


def _known(joint: str, bend: str, groups: Groups) -> str:
    """Return the label of a joint's movement, the finger left out where the lexicon has no movement of it alone."""
    words = joint.split()
    names = (joint, " ".join(words[1:]))
    return next((f"{name} {bend}" for name in names if name and ("movement", f"{name} {bend}") in groups), "")


def _joint_moved(items: Sequence[Item], groups: Groups) -> str:
    """Return the joint whose movement was named last, if it was one joint's."""
    labels = [label_of(item) for item in items if item.kind == "movement"]
    name, _, bend = labels[-1].rpartition(" ") if labels else ("", "", "")
    return name if bend in _BENDS and name.endswith("phalangeal") else ""


def _near(tokens: Sequence[Token], before: Item, item: Item) -> bool:
    """Whether only small words and no pause stand between."""
    paused = any(token.break_after for token in tokens[before.end - 1 : item.start])
    return not paused and all(token.norm in _LINKS for token in tokens[before.end : item.start])


def _said_of_it(tokens: Sequence[Token], item: Item) -> bool:
    """Whether "its" or the like stands shortly before, in the same clause."""
    for place in range(item.start - 1, max(-1, item.start - 5), -1):
        if tokens[place].break_after:
            return False
        if tokens[place].norm in _BACK:
            return True
    return False
