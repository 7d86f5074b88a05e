"""A structure that only says where or what the one named beside it is: "the plantar fascia at the heel"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.item import Item
from dictate.language.points_nowhere import LANDMARK
from dictate.language.tokens import Token

_EXPLAINS = frozenset({"that's", "which", "ie", "meaning", "aka"})  # "the snuffbox, that's the hollow at the base …"


def only_explains(items: Sequence[Item], place: int, tokens: Sequence[Token]) -> bool:
    """Whether a structure only says where or what the one named beside it is, and is no place of its own."""
    item = items[place]
    if item.kind != "structure" or item.mention.shaped("place"):
        return False
    before = next((other for other in reversed(items[:place]) if other.kind not in ("at", "neutral")), None)
    words = [token.norm for token in tokens[(before.end if before else 0) : item.start]]
    following = items[place + 1] if place + 1 < len(items) else None
    if before is not None and before.kind == "structure" and before.mention is not item.mention:
        unbroken = not any(token.break_after for token in tokens[before.end - 1 : item.start])
        if unbroken and words in (["at", "the"], ["at"]):
            return True  # "the plantar fascia at the heel"
    if following is not None and following.kind == "structure" and words and set(words[-2:]) & LANDMARK:
        link = [token.norm for token in tokens[item.end : following.start]]
        if link and link[0] == "in":
            return True  # "above the kneecap, in the suprapatellar pouch"
    named = any(other.kind in ("structure", "test") for other in items[:place])
    judged = following is not None and following.kind in ("sign", "status", "negation", "quantity", "outcome")
    return named and not judged and bool(words) and words[0] in _EXPLAINS and len(words) <= 6
