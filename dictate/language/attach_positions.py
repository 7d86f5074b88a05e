"""Tell joint angles and levels at which something was done from those that are results: "valgus at thirty"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.negation import comma_between
from dictate.language.tokens import Token

_CIRCUMSTANCE = ("at", "in")
_LEVEL_WORDS = frozenset({"above", "below", "proximal", "distal", "up", "down"})  # "ten centimetres above the patella"


def mark_positions(items: list[Item], tokens: Sequence[Token]) -> None:
    """Mark the joint angles in which something was done: "at thirty degrees", "valgus at zero and thirty"."""
    for index, item in enumerate(items):
        if item.kind == "position":
            items[index] = replace(item, role="position")
        if item.kind != "quantity" or item.quantity is None or item.quantity.is_grade:
            continue
        before = items[index - 1] if index else None
        if before is not None and before.kind == "movement" and _sets_the_scene(items, index, tokens):
            items[index] = replace(item, role="position")
            items[index - 1] = replace(before, role="circumstance")
            continue
        prepositions = [token.norm for token in tokens[(before.end if before else 0) : item.start]]
        opener = before.kind == "at" if before else False
        stopped = opener and index > 1 and items[index - 2].kind == "status" and items[index - 2].value == "reduced"
        if stopped and any(i.kind in ("movement", "side") for i in items[max(0, index - 4) : index - 2]):
            continue  # "rotation limited at forty"
        said_at = opener or (prepositions and prepositions[-1] in _CIRCUMSTANCE)
        ended = said_at and (_copula_before(items, index, tokens) or _stops_there(items, index, tokens))
        if (said_at and not ended and item.quantity.unit in (None, "deg", "cm")) or (
            before and before.kind == "test" and _is_usual_position(before, item)
        ):
            items[index] = replace(item, role="position")
            _take_movement(items, index, tokens)
        elif _opens_result(items, index) or (item.end < len(tokens) and _says_a_level(item, tokens)):
            items[index] = replace(item, role="position")
        elif before and before.kind in ("and", "quantity") and index >= 2:
            earlier = items[index - 1] if before.kind == "quantity" else items[index - 2]
            host = next((i for i in reversed(items[: index - 1]) if i.kind not in ("at", "neutral", "side")), None)
            result = before.kind == "quantity" and host is not None and host.kind == "movement"  # "at ninety, thirty"
            measured = {token.norm for token in tokens[before.end : item.start]} & _IS_MEASURED  # "thigh at ten is 47"
            listed = before.kind == "and" or not (result or measured or comma_between(tokens, earlier, item))
            if earlier.role == "position" and earlier.kind == "quantity" and listed:
                items[index] = replace(item, role="position")
                _take_movement(items, index, tokens)


_IS_MEASURED = frozenset({"is", "are", "was", "measure", "read", "it's", "that's"})


def _opens_result(items: Sequence[Item], index: int) -> bool:
    """Whether an angle is that of the result behind it: "valgus stress at zero, stable. Thirty, stable"."""
    quantity = items[index].quantity
    if index or len(items) < 2 or items[1].kind != "outcome" or quantity is None:
        return False
    return any(sense.term and quantity.value in sense.term.usual_at_deg for sense in items[1].senses)


def _says_a_level(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "ten centimetres above" says where a girth is taken; a stop between them says nothing of the kind."""
    return tokens[item.end].norm in _LEVEL_WORDS and not tokens[item.end - 1].break_after


def _sets_the_scene(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether "with the knee bent to thirty, …" says how the joint was held for what follows."""
    movement = items[index - 1]
    opening = {token.norm for token in tokens[max(0, movement.start - 3) : movement.start]}
    more = any(item.kind in ("test", "outcome", "sign") for item in items[index + 1 :])
    return movement.shape == "to" and "with" in opening and more


def _copula_before(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether the number is what something is: "flexion is at one ten"."""
    movement = next((i for i in reversed(items[:index]) if i.kind not in ("at", "side", "neutral", "modality")), None)
    if movement is None or movement.kind != "movement":
        return False
    return movement.shape == "to" or any(
        token.norm in ("is", "was", "sit") for token in tokens[movement.end : items[index].start]
    )


_STOPPED = frozenset({"stop", "stopped", "stuck", "stick", "fixed", "blocked", "end"})


def _stops_there(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether the number is where a movement or a joint ends: "rotation stops at fifty", "PIP fixed at twenty"."""
    moved = any(item.kind in ("movement", "structure", "region") for item in items[max(0, index - 4) : index])
    return moved and any(
        token.norm in _STOPPED for token in tokens[max(0, items[index].start - 3) : items[index].start]
    )


def _is_usual_position(test: Item, item: Item) -> bool:
    quantity = item.quantity
    if quantity is None:
        return False
    return any(
        sense.term and not sense.term.angle_is_result and quantity.value in sense.term.usual_at_deg
        for sense in test.senses
    )


def _take_movement(items: list[Item], index: int, tokens: Sequence[Token]) -> None:
    """In "at thirty degrees of flexion" the movement only names the position."""
    if index + 1 < len(items) and items[index + 1].kind == "movement":
        between = [token.norm for token in tokens[items[index].end : items[index + 1].start]]
        if between in (["of"], ["degree", "of"], []):
            items[index + 1] = replace(items[index + 1], role="circumstance")
