"""Give amounts and hedges to the sign or value that they are said of: "slightly tender", "probably positive"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.negation import comma_between
from dictate.language.tokens import Token

_SEVERITY_REACH_WORDS = 2


def give_amounts(items: list[Item], tokens: Sequence[Token]) -> None:
    """Severity and hedge words belong to the next sign or value; at the end of a clause, to the last one."""
    for index, item in enumerate(items):
        if item.kind not in ("severity", "hedge"):
            continue
        sense = item.senses[0]
        target = _next_of(items, index, tokens)
        if target is None and item.kind == "severity" and _stands_for_sign(items, index, tokens):
            items[index] = replace(item, kind="some", severity=item.value)  # type: ignore[arg-type]
            continue
        if target is None:
            target = _last_of(items, index)
        if target is None:
            continue
        if item.kind == "hedge":
            if not sense.weak:
                items[target] = replace(items[target], hedged=True)
        elif not sense.weak and items[target].severity is None:
            items[target] = replace(items[target], severity=item.value)  # type: ignore[arg-type]


def _stands_for_sign(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether an amount alone says that the sign just spoken of is there: "none left, a small one on the right"."""
    item = items[index]
    first = item.start - 1 if item.start and tokens[item.start - 1].norm == "a" else item.start
    opens = first == 0 or bool(tokens[first - 1].break_after) or (index and items[index - 1].kind == "and")
    one = item.end < len(tokens) and tokens[item.end].norm == "one"
    following = items[index + 1] if index + 1 < len(items) else None
    side = following is not None and following.kind == "side" and following.start - item.end <= int(one)
    before = items[max(0, index - 3) : index]
    had = {"side", "presence"} <= {other.kind for other in before} and any(i.kind == "sign" for i in items[:index])
    closes = item.end == len(tokens) or bool(tokens[item.end - 1].break_after)
    return (bool(opens) and side) or (had and closes)  # "a moderate effusion, the left has a trace"


def _next_of(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> int | None:
    for target in range(index + 1, min(index + 5, len(items))):
        candidate = items[target]
        if candidate.kind in ("sign", "status", "outcome", "test", "attribute", "end_feel"):
            near = candidate.start - items[index].end <= _SEVERITY_REACH_WORDS + (
                4 if items[index].kind == "hedge" else 0
            )
            return target if near and not comma_between(tokens, items[index], candidate) else None
        if candidate.kind not in ("neutral", "severity", "hedge", "place", "side", "presence", "structure", "modality"):
            return None
    return None


def _last_of(items: Sequence[Item], index: int) -> int | None:
    for target in range(index - 1, max(index - 4, -1), -1):
        if items[target].kind in ("sign", "status", "outcome"):
            return target
        if items[target].kind not in ("neutral", "severity", "hedge", "place", "side", "structure", "and", "ellipsis"):
            return None
    return None
