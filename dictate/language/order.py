"""Two values without a side where an order of the sides was set: "right first, then left: flexion sixty, eighty"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from dictate.contract import OPPOSITE
from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.phrases import Sense
from dictate.language.tokens import Token

_FIRST = frozenset({"first"})
_SECOND = frozenset({"second", "then", "next", "after", "afterwards", "last"})
_THROUGHOUT = ("throughout", "all the way", "every time", "each time", "always", "for everything", "in that order",
               "for every", "for each", "every movement", "each movement", "every test", "each test")  # fmt: skip
_NEAR = 3  # words between a side and what says its turn
_NO_PLAIN_PAIR = frozenset({"modality", "at", "position", "ellipsis", "every", "rest", "except", "compare", "section"})


@dataclass(frozen=True)
class Order:
    """Which side is said first. `sure` where it was said that this holds throughout."""

    first: str
    sure: bool


def order_set(items: Sequence[Item], tokens: Sequence[Token]) -> Order | None:
    """Return the order of sides that a sentence sets ("the right first and the left second all the way through")."""
    sides = [item for item in items if item.kind == "side" and item.value in OPPOSITE]
    if len(sides) == 1 and _first_alone(items, sides[0], tokens):
        return Order(sides[0].value, sure=False)
    if len(sides) != 2 or sides[0].value == sides[1].value:
        return None
    after = [token.norm for token in tokens[sides[0].end : sides[0].end + _NEAR]]
    between = [token.norm for token in tokens[sides[0].start : sides[1].start]]
    last = [token.norm for token in tokens[sides[1].end : sides[1].end + 1]]
    each = any(phrase in _rest_of_clause(tokens, sides) for phrase in _THROUGHOUT)
    if not (_FIRST & set(after) or each) or not _SECOND & {*between, *last}:
        return None
    if any((item.is_target() and item.kind != "attribute") or item.kind == "quantity" for item in items):
        return None
    return Order(sides[0].value, each)


def _rest_of_clause(tokens: Sequence[Token], sides: Sequence[Item]) -> str:
    """Return the words from the first side to the pause behind the second."""
    end = sides[1].end
    while end < len(tokens) and not tokens[end].break_after:
        end += 1
    return " ".join(token.text for token in tokens[sides[0].start : end + 1])


def _first_alone(items: Sequence[Item], side: Item, tokens: Sequence[Token]) -> bool:
    """Whether a heading says only which side comes first: "power, right first: biceps four, five"."""
    first = side.end < len(tokens) and tokens[side.end].norm in _FIRST
    before = items[: items.index(side)]
    named = any(item.is_target() and item.kind not in ("attribute", "measure") for item in before)
    return first and bool(tokens[side.end].break_after or tokens[side.end - 1].break_after) and not named


def in_set_order(items: Sequence[Item], tokens: Sequence[Token], order: Order | None) -> list[Item]:
    """Return the items with a side behind each of two values that were said without one."""
    heads = (i + 1 for i, item in enumerate(items) if item.kind == "side" and _first_alone(items, item, tokens))
    place = next(heads, 0)
    if order is None or any(item.kind in ("side", "region") for item in items[place:]):
        return list(items)
    out: list[Item] = list(items[:place])
    while place < len(items):
        out.append(items[place])
        place += 1
        if not _named(items, place - 1):
            continue
        parts = _values(items, place, tokens)
        if len(parts) == 2:
            for side, part in zip((order.first, OPPOSITE[order.first]), parts, strict=True):
                out += [_as_value(item) for item in part]
                out.append(_side(side, part[-1], sure=order.sure))
            place += len(parts[0]) + len(parts[1])
    return out


def _values(items: Sequence[Item], place: int, tokens: Sequence[Token]) -> list[list[Item]]:
    """Return the values behind a target, cut at each pause or "and"; nothing where one of the cuts holds no value."""
    parts: list[list[Item]] = []
    while place < len(items) and not _named(items, place):
        item = items[place]
        if item.kind in _NO_PLAIN_PAIR:
            return []
        joined = parts and parts[-1] and all(i.kind in ("and", "but") for i in parts[-1])
        paused = bool(tokens[item.start - 1].break_after)
        if not parts or ((paused or item.kind == "and") and not joined):
            parts.append([])
        parts[-1].append(item)
        place += 1
    return parts if all(sum(_is_answer(item) for item in part) == 1 for part in parts) else []


def _named(items: Sequence[Item], place: int) -> bool:
    """Whether a target stands here, one that only comes along with a value ("positive with crepitus") aside."""
    along = place > 0 and items[place - 1].kind in ("with", "limiter_head")
    return items[place].is_target() and not along


def _is_answer(item: Item) -> bool:
    """Whether an item is one side's value: a value, or an amount or "no" that stands alone."""
    alone = item.kind == "negation" or (item.kind == "severity" and not any(s.weak for s in item.senses))
    return item.is_value() or (alone and not item.role)


def _as_value(item: Item) -> Item:
    if item.kind == "negation":
        return replace(item, kind="none", value="absent")
    if item.kind == "severity":
        return replace(item, kind="some", severity=item.value)  # type: ignore[arg-type]
    return item


def _side(side: str, behind: Item, *, sure: bool) -> Item:
    """Return the side of a value, as an item of no words right behind it."""
    mention = Mention(behind.end, behind.end, (Sense("cue"),))
    return Item("side", mention, value=side, extra={} if sure else {"ordered": "unsure"})
