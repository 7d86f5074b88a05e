"""Words for a side that say none: of the hands that examine, of somebody who is right, of exactly where."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.tokens import STOP, Token

_WHOM = frozenset({"he", "she", "you", "they"})
_WHOM_IS = frozenset({"he's", "she's", "you're", "they're"})
_HOW_RIGHT = frozenset({"quite", "absolutely", "probably", "dead", "perfectly"})


def says_no_side(
    item: Item,
    position: int,
    mentions: Sequence[Mention],
    before: Sequence[Item],
    tokens: Sequence[Token],
    near: AbstractSet[str],
) -> bool:
    """Whether an item that names a side says none. It is the mention at `position`, with the items `before` it."""
    if item.kind != "side":
        return False
    after = tokens[item.end].norm if item.end < len(tokens) and not tokens[item.end - 1].break_after else ""
    if item.text == "both" and _of_two_ways(before, tokens, item):
        return True  # "active and passive rotation both only ten"
    if item.text == "on either" and after:
        return True  # "on either facet": of two facets, not of two sides
    if item.text.endswith("either side") and after == "of":
        return True  # "pinch either side of the tendon"
    if item.value in ("other", "same") and after == "of":
        return True  # "the other side of the tendon"
    following = mentions[position + 1] if position + 1 < len(mentions) else None
    right = item.text == "right" and (_is_agreement(item, tokens) or _exactly_there(item, before, following, tokens))
    return right or _is_of_examiner(item, following, mentions, tokens, near)


def _of_two_ways(before: Sequence[Item], tokens: Sequence[Token], both: Item) -> bool:
    """Whether "both" is of two ways to move that were named in its clause: actively and passively."""
    first = both.start
    while first and not tokens[first - 1].break_after:
        first -= 1
    ways = {item.value for item in before if item.kind == "modality" and item.start >= first}
    return len(ways) > 1


def _is_agreement(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "right" says that somebody is: "she is right, …", "you're quite right"."""
    if item.end < len(tokens) and not tokens[item.end - 1].break_after:
        return False
    before = [token for token in tokens[max(0, item.start - 3) : item.start] if token.norm not in _HOW_RIGHT]
    if not before or any(token.break_after for token in before[-2:]):
        return False
    who, verb = [None, before[-1].norm] if len(before) == 1 else [token.norm for token in before[-2:]]
    return before[-1].text in _WHOM_IS or (who in _WHOM and verb in ("is", "are"))


_HANDS = frozenset({"other hand", "the other hand", "both hands", "the other thumb", "both thumbs", "in both hands"})


def _is_of_examiner(
    item: Item, following: Mention | None, mentions: Sequence[Mention], tokens: Sequence[Token], near: AbstractSet[str]
) -> bool:
    """Whether a side is of the hands that examine: "other hand clamps the thigh", "both hands, dig in"."""
    if near & {"hand", "wrist"}:
        return False
    first, last = item.start, item.end
    while first and not tokens[first - 1].break_after:
        first -= 1
    while last < len(tokens) and not tokens[last - 1].break_after:
        last += 1
    clause = [m for m in mentions if first <= m.start < last]
    told = any(m.quantity or m.cue("status") or m.cue("negation") or m.terms("sign") for m in clause)
    joint = following.shaped("region") if following is not None and following.start == item.end else None
    both = item.text == "both" and joint is not None and joint.value == "hand"
    if both and len(clause) == 2 and _closes_statement(mentions, tokens, first, last):
        return False  # "Froment's negative, both hands."
    return not told and (item.text in _HANDS or both)


def _closes_statement(mentions: Sequence[Mention], tokens: Sequence[Token], first: int, last: int) -> bool:
    """Whether a clause ends its sentence, right behind a verdict."""
    ends = last == len(tokens) or tokens[last - 1].break_after == STOP
    return ends and any(m.end == first and (m.cue("status") or m.quantity) for m in mentions)


_PLACED_BY = frozenset({"on", "over", "along", "at", "there", "here", "where", "in", "behind", "under", "below"})
_THE = frozenset({"the", "that", "this", "her", "his", "your", "their"})


def _exactly_there(item: Item, before: Sequence[Item], following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether "right" only says exactly where: "he's sore right on the medial joint line"."""
    said = before[-1] if before else None
    adjoins = said is not None and said.end == item.start and not tokens[item.start - 1].break_after
    if not adjoins or said is None or said.kind != "sign":
        return False
    place = item.end
    if place >= len(tokens) or tokens[item.end - 1].break_after or tokens[place].norm not in _PLACED_BY:
        return False
    while place < len(tokens) and tokens[place].norm in _PLACED_BY | _THE:
        place += 1
    turned = following is not None and following.cue("side") is not None and following.start <= place
    return not turned


_NEXT_SIDE = 2  # words between "other knee" and the side that it is


def explained_by_side(item: Item, following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether a side says nothing by itself: "other knee, now the right", "both compared with the right"."""
    if item.kind != "side" or item.value not in ("other", "both"):
        return False
    after = tokens[item.end].norm if item.end < len(tokens) else ""
    if item.value == "both":
        return item.text == "both" and after == "compared"
    side = following.cue("side") if following is not None and following.start - item.end <= _NEXT_SIDE else None
    return side is not None and side.cue is not None and side.cue.value in ("left", "right")
