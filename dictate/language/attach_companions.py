"""Give signs to the test, movement, strength or task that they come along with, or that they limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, label_of
from dictate.language.tokens import Token


def drop_what_was_sought(items: list[Item]) -> None:
    """In "FABER negative for groin pain" the pain is what was looked for, and comes along with nothing."""
    for index, item in enumerate(items):
        if item.kind != "status" or item.value != "negative" or not item.text.endswith(" for"):
            continue
        for target in range(index + 1, min(index + 4, len(items))):
            if items[target].kind == "sign":
                items[target] = replace(items[target], kind="neutral")
            elif items[target].kind not in ("structure", "and"):
                break


def mark_limiters(items: list[Item]) -> None:
    """Signs after "limited by", or before "stops it", are what limits the movement."""
    for index, item in enumerate(items):
        if item.kind == "limiter":
            items[index] = replace(item, role="limiter")
        if item.kind == "limiter_tail":
            place = next((p for p in range(index - 1, max(index - 3, -1), -1) if items[p].kind == "sign"), None)
            if place is not None and is_companion(items[place]):
                items[place] = replace(items[place], role="limiter", value=label_of(items[place]))
        if item.kind != "limiter_head":
            continue
        strong = len(item.mention.senses) and item.end - item.start > 1
        for target in range(index + 1, min(index + 6, len(items))):
            candidate = items[target]
            if candidate.kind in ("sign", "limiter") and (strong or is_companion(candidate)):
                if candidate.start - item.end > 3 and target == index + 1:
                    break
                value = candidate.value or label_of(candidate)
                items[target] = replace(candidate, role="limiter", value=value)
            elif candidate.kind not in ("and", "severity", "neutral"):
                break


def give_companions(items: list[Item], tokens: Sequence[Token]) -> None:
    """Signs after "with" come along with what stands before: a test, a movement, a strength, a task."""
    for index, item in enumerate(items):
        joins = item.kind == "but" or (item.kind == "and" and index and items[index - 1].kind == "status")
        if joins and index and index + 1 < len(items):
            _but_painful(items, index, tokens)
        if item.kind != "with" or index == 0:
            continue
        host = next((i for i in reversed(items[:index]) if i.is_target() or i.is_value()), None)
        loose = host is not None and host.kind in ("sign", "structure") and not _graded_before(items, index)
        if host is None or (loose and not _clicks(items, index)):
            continue
        for target in range(index + 1, min(index + 8, len(items))):
            candidate = items[target]
            if candidate.kind == "sign" and is_companion(candidate):
                items[target] = replace(candidate, role="with", value=label_of(candidate))
            elif _names_a_pain(items, target):
                if _HIS & {token.norm for token in tokens[item.start : candidate.start]}:
                    items[target] = replace(candidate, role="circumstance")  # "positive with his groin pain"
            elif (
                candidate.kind == "movement"
                and items[target - 1].role == "with"
                and _named_before(items, index, candidate)
            ):
                items[target] = replace(
                    candidate, role="circumstance"
                )  # "extension thirty, with pain on the extension"
            elif candidate.kind not in ("and", "severity", "neutral", "hedge", "every", "negation", "place"):
                break


_HIS = frozenset({"his", "her", "their", "your", "usual", "familiar", "known", "typical"})  # the pain complained of


def _names_a_pain(items: Sequence[Item], place: int) -> bool:
    """Whether a part of the body only says which pain it is that comes along ("her usual calf pain")."""
    item, following = items[place], items[place + 1] if place + 1 < len(items) else None
    at_large = item.kind == "region" or (item.kind == "structure" and _is_at_large(item))
    along = following is not None and following.kind == "sign" and following.start == item.end
    return at_large and along and following is not None and is_companion(following)


def _is_at_large(item: Item) -> bool:
    """Whether it is a part of the body at large rather than what a test is of."""
    return any(sense.term and sense.term.part in ("area", "skin", None) for sense in item.senses)


def _named_before(items: Sequence[Item], index: int, movement: Item) -> bool:
    host = next((i for i in reversed(items[:index]) if i.kind == "movement"), None)
    return host is not None and label_of(host) == label_of(movement)


def _but_painful(items: list[Item], index: int, tokens: Sequence[Token]) -> None:
    """In "strong but painful" the sign comes along with what stands before."""
    following = items[index + 1]
    paused = bool(tokens[following.end - 1].break_after)
    bare = (
        paused
        or index + 2 >= len(items)
        or items[index + 2].kind in ("side", "and", "position", "modality", "severity")
        or _has_its_own_value(items, index + 2)
    )
    if (
        following.kind != "sign"
        or following.shape not in ("adjective", "verb")
        or not is_companion(following)
        or not bare
    ):
        return
    if not any(item.kind in ("movement", "structure", "task", "test", "attribute") for item in items[:index]):
        return
    items[index] = replace(items[index], kind="with")
    if following.negated:
        items[index + 1] = replace(following, role="with", value="")
    else:
        items[index + 1] = replace(following, role="with", value=label_of(following))


def _has_its_own_value(items: Sequence[Item], place: int) -> bool:
    """Whether something named here has its value right behind it ("strong but painful posterior sag positive")."""
    own = items[place].is_target() and items[place].kind in ("test", "structure", "movement", "task", "reflex", "pulse")
    return own and place + 1 < len(items) and (items[place + 1].is_value() or items[place + 1].kind == "sign")


_NOISES = frozenset({"click", "clunk", "crepitus"})


def _clicks(items: Sequence[Item], index: int) -> bool:
    """Whether what follows "with" is a noise of the joint, which comes along with anything."""
    following = next((i for i in items[index + 1 : index + 4] if i.kind not in ("neutral", "severity")), None)
    return following is not None and following.kind == "sign" and label_of(following) in _NOISES


def _graded_before(items: Sequence[Item], index: int) -> bool:
    return any(item.kind in ("quantity", "status", "outcome", "test", "movement", "task") for item in items[:index])
