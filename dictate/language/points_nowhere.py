"""Words that often point at something, and here do not: "the same ankle", "nothing you'd notice", "up to the knee"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.tokens import Token

# "That's the same spot", "with the same capsular feel": nothing is copied.
_NOT_COPIED = frozenset(
    {"spot", "place", "day", "time", "one", "idea", "principle", "trick", "capsular", "firm", "bony", "springy", "soft",
     "feel"}
)  # fmt: skip
# What may stand behind "same" where it points at a result: "same on the left", "same again", "same for abduction".
_BEHIND_SAME = frozenset({"on", "again", "thing", "here", "for", "both", "story", "result", "finding", "there",
                          "as", "with", "in", "at", "other", "left", "right", "side", "and", "but", "range",
                          "grade", "strength", "throughout", "all", "bilaterally", "to", "too", "also", "picture",
                          "answer", "either", "every", "of", "exactly", "level", "way", "then", "now", "pattern",
                          "amount", "number", "value", "over", "down", "across", "the", "no", "is", "if", "when",
                          "so", "up", "angle", "position", "degree"})  # fmt: skip
LANDMARK = frozenset({"above", "below", "beneath", "beside", "behind", "near", "under", "underneath"})


def points_nowhere(item: Item, following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether words that often point at something do not here: "the same ankle", "the tendon below it"."""
    after = tokens[item.end].norm if item.end < len(tokens) and not tokens[item.end - 1].break_after else ""
    if item.kind == "nothing" and after in ("you", "you'd", "i'd"):
        return True  # "nothing you'd notice in the mirror"
    if item.kind == "ellipsis" and item.text in ("same", "the same"):
        named = following is not None and following.start == item.end and following.shaped("region")
        return bool(after) and (bool(named) or after in _NOT_COPIED or _is_new_noun(item, following, after))
    if item.kind == "sign" and [token.norm for token in tokens[item.end : item.end + 2]] == ["or", "not"]:
        return True  # "feel, tender or not"
    before = tokens[item.start - 1] if item.start else None
    return item.kind == "pronoun" and before is not None and not before.break_after and before.norm in LANDMARK


def _is_new_noun(item: Item, following: Mention | None, after: str) -> bool:
    """Whether "same" only belongs to a thing that makes no finding: "same six centimetres", "same back edge"."""
    known = following is not None and following.start == item.end and not following.quantity
    return not known and after not in _BEHIND_SAME


_ALONG = frozenset({"the", "both", "to", "into", "his", "her", "your", "their", "left", "right", "from", "through"})


def says_where_to(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "up" or "down" says where to ("down the leg", "up to the knee")."""
    return item.end < len(tokens) and not tokens[item.end - 1].break_after and tokens[item.end].norm in _ALONG
