"""Whether the word "right" is a side, or only opens the sentence ("Right, pulses.")."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

from dictate.language.item import Item, label_of
from dictate.language.tokens import COMMA, NO_BREAK, Token


def is_opening_right(items: Sequence[Item], index: int, tokens: Sequence[Token], found_left: AbstractSet[str]) -> bool:
    """Whether "right" only opens the sentence ("Right, pulses."): it does not when the other side follows, nor when
    what was just found of the left (`found_left`, labels and levels) is found again."""
    item = items[index]
    last = tokens[item.end - 1]
    if item.kind != "side" or item.text != "right" or not last.break_after or last.heads:
        return False
    if _follows_left(item.start, tokens):
        return False  # "Left, negative. Right, feel that, grade two."
    if _before_left(item.end, tokens) and any(other.is_value() for other in items[index + 1 :]):
        return False  # "Right, flexion one oh five. Left, one twenty."
    if _found_again(items[index + 1 :], found_left):
        return False  # "Left, L2 to S1 five. Right, L2 to S1 five."
    if found_left and _only_numbers(items, index):
        return False  # "… eight and forty, that's the left. Right, fifteen and fifty."
    before = [tokens[place] for place in range(item.start - 1, -1, -1)]
    opens = not before or before[0].break_after not in ("", ",")
    if _between_pauses(tokens, item) and _goes_on(items, index, tokens):
        return True  # "… the radial styloid, right, feeling it now, …"
    alone = tokens[item.end - 1].break_after != ","
    left = next((p for p in range(index + 1, len(items)) if items[p].kind == "side" and items[p].value == "left"), None)
    led = item.end < len(tokens) and tokens[item.end].norm in ("so", "now", "then", "this")
    if opens and left is not None and (items[left].start - item.end > 1 or led):
        between = {other.kind for other in items[index + 1 : left]}
        if not between & {"quantity", "status", "sign", "level", "movement", "test", "ellipsis"}:
            return True  # "Right, this is her left shoulder"
    return opens and not alone and not any(other.kind == "side" and other.value == "left" for other in items)


def _only_numbers(items: Sequence[Item], index: int) -> bool:
    """Whether nothing but numbers follows, at once: what they are of was said before."""
    behind = items[index + 1 :]
    return bool(behind) and behind[0].start == items[index].end and all(i.kind in ("quantity", "and") for i in behind)


def _found_again(items: Sequence[Item], found_left: AbstractSet[str]) -> bool:
    """Whether every thing that has a value here was found of the left before."""
    levels = {level for item in items for level in item.mention.levels}
    named = {label_of(item) for item in items if item.is_target() and not item.mention.levels} - {""}
    valued = any(item.is_value() for item in items)
    return valued and bool(levels | named) and levels | named <= found_left


def _follows_left(start: int, tokens: Sequence[Token]) -> bool:
    """Whether the sentence before the one that starts here opens with "left" and a pause ("left knee" is a heading)."""
    first = start - 1
    while first > 0 and tokens[first - 1].break_after in (NO_BREAK, COMMA):
        first -= 1
    if start == 0 or tokens[start - 1].break_after in (NO_BREAK, COMMA):
        return False
    return tokens[first].norm == "left" and bool(tokens[first].break_after)


def _before_left(end: int, tokens: Sequence[Token]) -> bool:
    """Whether the sentence after the one that goes on here opens with "left" and a comma."""
    while end < len(tokens) and tokens[end - 1].break_after in (NO_BREAK, COMMA):
        end += 1
    return end + 1 < len(tokens) and tokens[end].norm == "left" and tokens[end].break_after == COMMA


_ON_TO = frozenset({"now", "so", "then", "let", "let's", "okay", "ok", "next", "moving", "onto"})


def _between_pauses(tokens: Sequence[Token], item: Item) -> bool:
    return item.start > 0 and bool(tokens[item.start - 1].break_after) and bool(tokens[item.end - 1].break_after)


def _goes_on(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether what follows leads on to something new, of which no side would be said first."""
    end = items[index].end
    if end >= len(tokens):
        return False
    following = items[index + 1] if index + 1 < len(items) else None
    headed = following is not None and following.start == end and following.mention.shaped("section") is not None
    return headed or tokens[end].norm in _ON_TO
