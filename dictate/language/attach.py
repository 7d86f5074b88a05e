"""Give the small words to their neighbours: negation, amounts, hedges, positions, what limits, what comes along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.attach_amounts import give_amounts
from dictate.language.attach_companions import drop_what_was_sought, give_companions, mark_limiters
from dictate.language.attach_positions import mark_positions
from dictate.language.attach_to_each import give_to_each
from dictate.language.idle import is_idle
from dictate.language.item import Item
from dictate.language.negation import negate
from dictate.language.predicate import affirm
from dictate.language.tokens import Token

_CONSUMED = frozenset(
    {
        "negation",
        "neutral",
        "hedge",
        "severity",
        "with",
        "limiter_head",
        "at",
        "end_feel_head",
        "double",
        "limiter_tail",
        "asked",
    }
)


def attach(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Return the items that frames are made of, each with what the small words around it lend it."""
    items = affirm(items, tokens)
    out = [item for index, item in enumerate(items) if not is_idle(items, index, tokens)]
    _moved_so_far(out, tokens)
    negate(out, tokens)
    drop_what_was_sought(out)
    give_amounts(out, tokens)
    mark_positions(out, tokens)
    _compared(out)
    mark_limiters(out)
    give_companions(out, tokens)
    out = give_to_each(out, tokens)
    _judgements(out, tokens)
    _openings(out, tokens)
    return [item for item in out if item.kind not in _CONSUMED or (item.kind == "negation" and item.value == "alone")]


_ON_THE_WAY = frozenset({"neutral", "side", "presence", "pronoun", "severity"})
_REACHES = frozenset([
        "to", "is", "at", "about", "around", "i", "make", "made", "it", "that", "get", "got", "reach", "you", "he",
        "she", "the", "left", "right", "on", "only", "just", "a", "and", "measure", "measured", "come", "go",
        "manage", "call",
])  # fmt: skip


def _moved_so_far(items: list[Item], tokens: Sequence[Token]) -> None:
    """ "Bringing your chin to your chest is full": how a patient is asked names the movement that is then judged."""
    for index, item in enumerate(items[:-1]):
        if item.kind != "asked":
            continue
        following = next((i for i in items[index + 1 :] if i.kind not in _ON_THE_WAY), items[index + 1])
        between = [token.norm for token in tokens[item.end : following.start]]
        judged = between in (["is"], ["are"], ["was"]) and following.kind in ("status", "quantity")
        if judged or (following.kind == "quantity" and set(between) <= _REACHES):
            items[index] = replace(item, kind="movement")


def _compared(items: list[Item]) -> None:
    """The side behind "compared with" is not where the finding is, unless a number says by how much it differs."""
    for index in range(1, len(items)):
        before = items[index - 1]
        numbered = any(item.kind == "quantity" and item.role == "" for item in items[max(0, index - 4) : index])
        than = "than" in before.text or "compared" in before.text or "versus" in before.text
        own = than and any(item.kind == "side" for item in items[max(0, index - 4) : index - 1])
        if items[index].kind == "side" and before.kind == "compare" and (own or not numbered):
            items[index] = replace(items[index], role="compared")


def _judgements(items: list[Item], tokens: Sequence[Token]) -> None:
    """Mark the status that a verb says of what stands before it: it is no value of what a pause parts from it."""
    for index, item in enumerate(items):
        if item.kind != "status" or item.start == 0:
            continue
        before = tokens[item.start - 1]
        if not before.break_after and (before.norm in ("is", "are") or before.text.endswith("'s")):
            items[index] = replace(item, extra={**item.extra, "judges": "before"})


def _openings(items: list[Item], tokens: Sequence[Token]) -> None:
    """In "… positive on the right it's negative" the side opens what follows it."""
    for index, item in enumerate(items[:-1]):
        following = items[index + 1]
        if item.kind == "side" and "comparison" in [token.norm for token in tokens[item.end : item.end + 3]]:
            items[index] = replace(item, extra={**item.extra, "opens": "comparison"})  # "left side for comparison …"
        joined = following.start == item.end and not tokens[item.end - 1].break_after
        told = index + 2 < len(items) and (items[index + 2].is_value() or items[index + 2].kind == "sign")
        if item.kind == "side" and not item.role and following.kind in ("pronoun", "presence") and joined and told:
            items[index] = replace(item, extra={**item.extra, "opens": "pronoun"})
