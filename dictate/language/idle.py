"""Items that do nothing where they stand: an opening "okay,", a "both" that counts what follows."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.item import Item, says_nothing
from dictate.language.tokens import Token

_TRAILING = frozenset({"though", "however"})
_OPENINGS = frozenset({"ok", "okay", "alright", "all right"})


def is_idle(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether the item does nothing here: an opening "okay,", a "both" that counts what follows."""
    item = items[index]
    opens = index == 0 and bool(tokens[item.end - 1].break_after or item.text in _OPENINGS)
    if opens and says_nothing(item):
        return True
    following = items[index + 1] if index + 1 < len(items) else None
    counted = following is not None and following.kind == "quantity" and following.start == item.end
    reached = item.end < len(tokens) and tokens[item.end].norm in ("to", "as", "about")
    only = item.kind == "but" and item.text == "only" and index and not tokens[item.start - 1].break_after
    if only and (counted or reached):
        return True  # "rotation is only twenty", "hand behind back only to the sacrum"
    if item.kind == "but" and tokens[item.end - 1].break_after and index and item.text in _TRAILING:
        return True  # "tender, though: …"
    if item.kind == "rest" and _heads_a_list(items, index, tokens):
        return True
    if item.kind == "ellipsis" and item.text == "also" and not (index and _ends_clause(item, tokens)):
        return True  # "also negative": only what stands last points back ("L4 tender, L5 also")
    if item.text != "both" or following is None or following.start - item.end > 1:
        return False
    later = next((other for other in items[index + 2 :] if other.kind != "and"), None)
    paired = following.is_target() and later is not None and later.kind == following.kind
    return following.kind == "quantity" or (paired and later is not None and later.start - following.end <= 2)


def _heads_a_list(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether what the rest is stands behind a colon: "everything else was not tender: distal radius, lunate"."""
    colon = next((place for place in range(items[index].end, len(tokens)) if tokens[place].heads), None)
    if colon is None or any(item.is_target() and item.kind != "sign" for item in items[index:] if item.end <= colon):
        return False
    return any(item.is_target() and item.start > colon for item in items)


def _ends_clause(item: Item, tokens: Sequence[Token]) -> bool:
    return item.end == len(tokens) or bool(tokens[item.end - 1].break_after)
