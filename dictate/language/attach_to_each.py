"""Give what limits or comes along to each of a row: "flexion 150, abduction 140, both with pain"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, label_of
from dictate.language.tokens import Token

_EACH = {"both": 2, "both of them": 2, "all three": 3, "all four": 4, "all": 0, "all of them": 0}
_MEASURED = frozenset({"movement", "task", "test"})


def give_to_each(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """Let what limits or comes along be that of each of a row: "flexion 150, abduction 140, both with pain"."""
    for index, item in enumerate(items):
        tail = items[index + 1] if index + 1 < len(items) else None
        if item.role == "limiter" and tail is not None and tail.kind == "limiter_tail" and "both" in tail.text:
            ends = _ends_of_measured(items[:index])[-2:]
            out = [other for other in items if other is not item]
            for end in reversed(ends):
                place = out[end].end
                out.insert(end + 1, replace(item, mention=replace(item.mention, start=place, end=place)))
            return out if len(ends) == 2 else items  # "pain stops both of them"
    for index, item in enumerate(items[:-1]):
        if item.text not in _EACH or item.kind not in ("side", "every") or not _ends_with_pause(tokens, items, index):
            continue
        along = next(
            (i for i in items[index + 1 : index + 4] if i.kind not in ("with", "limiter_head", "severity")), None
        )
        if along is None or not (along.role in ("with", "limiter") or _comes_along(along)):
            continue
        role = along.role or "with"
        along_each = replace(along, role=role, value=along.value or label_of(along))
        ends = _ends_of_measured(items[:index])
        count = _EACH[item.text] or len(ends)
        if not 2 <= count <= len(ends):
            continue
        out = list(items)
        out[items.index(along)] = replace(along, kind="neutral", role="")
        out[index] = replace(item, kind="neutral")
        for end in reversed(ends[-count:]):
            place = out[end].end
            mention = replace(along.mention, start=place, end=place)
            out.insert(end + 1, replace(along_each, mention=mention))
        return out
    return items


def _comes_along(item: Item) -> bool:
    return item.kind == "sign" and item.shape in ("adjective", "verb") and is_companion(item) and not item.negated


def _ends_with_pause(tokens: Sequence[Token], items: Sequence[Item], index: int) -> bool:
    """Whether a pause or "and" stands before an item."""
    before = items[index].start - 1
    return before >= 0 and (bool(tokens[before].break_after) or tokens[before].norm == "and")


def _ends_of_measured(items: Sequence[Item]) -> list[int]:
    """Return where each measured movement, task or test of a row ends: at its last value."""
    ends: list[int] = []
    open_ = False
    for place, item in enumerate(items):
        if item.kind in _MEASURED and not item.role:
            open_ = True
        elif open_ and item.kind in ("quantity", "status", "outcome") and not item.role:
            ends.append(place)
            open_ = False
    return ends
