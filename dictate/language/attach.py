"""Give the small words to their neighbours: negation, amounts, hedges, positions, what limits, what comes along."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, label_of, says_nothing
from dictate.language.negation import comma_between, negate
from dictate.language.predicate import affirm
from dictate.language.tokens import COMMA, NO_BREAK, Token

_SEVERITY_REACH_WORDS = 2
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
_TRAILING = frozenset({"though", "however"})
_OPENINGS = frozenset({"ok", "okay", "alright", "all right"})
_CIRCUMSTANCE = ("at", "in")
_LEVEL_WORDS = frozenset({"above", "below", "proximal", "distal", "up", "down"})  # "ten centimetres above the patella"


def attach(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Return the items that frames are made of, each with what the small words around it lend it."""
    items = affirm(items, tokens)
    out = [item for index, item in enumerate(items) if not _idle(items, index, tokens)]
    _moved_so_far(out, tokens)
    negate(out, tokens)
    _negative_for(out)
    _amounts(out, tokens)
    _positions(out, tokens)
    _compared(out)
    _limiters(out)
    _companions(out, tokens)
    out = _of_each(out, tokens)
    _judgements(out, tokens)
    _end_feels(out)
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


def _idle(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
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


def _amounts(items: list[Item], tokens: Sequence[Token]) -> None:
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


def _negative_for(items: list[Item]) -> None:
    """In "FABER negative for groin pain" the pain is what was looked for, and comes along with nothing."""
    for index, item in enumerate(items):
        if item.kind != "status" or item.value != "negative" or not item.text.endswith(" for"):
            continue
        for target in range(index + 1, min(index + 4, len(items))):
            if items[target].kind == "sign":
                items[target] = replace(items[target], kind="neutral")
            elif items[target].kind not in ("structure", "and"):
                break


def _positions(items: list[Item], tokens: Sequence[Token]) -> None:
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
        elif item.end < len(tokens) and _says_a_level(item, tokens):
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


def _compared(items: list[Item]) -> None:
    """The side behind "compared with" is not where the finding is, unless a number says by how much it differs."""
    for index in range(1, len(items)):
        before = items[index - 1]
        numbered = any(item.kind == "quantity" and item.role == "" for item in items[max(0, index - 4) : index])
        than = "than" in before.text or "compared" in before.text or "versus" in before.text
        own = than and any(item.kind == "side" for item in items[max(0, index - 4) : index - 1])
        if items[index].kind == "side" and before.kind == "compare" and (own or not numbered):
            items[index] = replace(items[index], role="compared")


def _limiters(items: list[Item]) -> None:
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


def _companions(items: list[Item], tokens: Sequence[Token]) -> None:
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


def _judgements(items: list[Item], tokens: Sequence[Token]) -> None:
    """Mark the status that a verb says of what stands before it: it is no value of what a pause parts from it."""
    for index, item in enumerate(items):
        if item.kind != "status" or item.start == 0:
            continue
        before = tokens[item.start - 1]
        if not before.break_after and (before.norm in ("is", "are") or before.text.endswith("'s")):
            items[index] = replace(item, extra={**item.extra, "judges": "before"})


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


_EACH = {"both": 2, "both of them": 2, "all three": 3, "all four": 4, "all": 0, "all of them": 0}
_MEASURED = frozenset({"movement", "task", "test"})


def _of_each(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """Let what limits or comes along be that of each of a row: "flexion 150, abduction 140, both with pain"."""
    for index, item in enumerate(items):
        tail = items[index + 1] if index + 1 < len(items) else None
        if item.role == "limiter" and tail is not None and tail.kind == "limiter_tail" and "both" in tail.text:
            ends = _ends_of_measured(items[:index])[-2:]
            out = [other for other in items if other is not item]
            for end in reversed(ends):
                place = out[end].end
                out.insert(end + 1, replace(item, mention=replace(item.mention, start=place, end=place)))
            return out if len(ends) == 2 else items  # "pain stops both of them"
    for index, item in enumerate(items[:-1]):
        if item.text not in _EACH or item.kind not in ("side", "every") or not _ends_with_pause(tokens, items, index):
            continue
        along = next(
            (i for i in items[index + 1 : index + 4] if i.kind not in ("with", "limiter_head", "severity")), None
        )
        if along is None or not (along.role in ("with", "limiter") or _comes_along(along)):
            continue
        role = along.role or "with"
        along_each = replace(along, role=role, value=along.value or label_of(along))
        ends = _ends_of_measured(items[:index])
        count = _EACH[item.text] or len(ends)
        if not 2 <= count <= len(ends):
            continue
        out = list(items)
        out[items.index(along)] = replace(along, kind="neutral", role="")
        out[index] = replace(item, kind="neutral")
        for end in reversed(ends[-count:]):
            place = out[end].end
            mention = replace(along.mention, start=place, end=place)
            out.insert(end + 1, replace(along_each, mention=mention))
        return out
    return items


def _comes_along(item: Item) -> bool:
    return item.kind == "sign" and item.shape in ("adjective", "verb") and is_companion(item) and not item.negated


def _ends_with_pause(tokens: Sequence[Token], items: Sequence[Item], index: int) -> bool:
    """Whether a pause or "and" stands before an item."""
    before = items[index].start - 1
    return before >= 0 and (bool(tokens[before].break_after) or tokens[before].norm == "and")


def _ends_of_measured(items: Sequence[Item]) -> list[int]:
    """Return where each measured movement, task or test of a row ends: at its last value."""
    ends: list[int] = []
    open_ = False
    for place, item in enumerate(items):
        if item.kind in _MEASURED and not item.role:
            open_ = True
        elif open_ and item.kind in ("quantity", "status", "outcome") and not item.role:
            ends.append(place)
            open_ = False
    return ends


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


def _end_feels(items: list[Item]) -> None:
    for index, item in enumerate(items):
        if item.kind == "end_feel":
            items[index] = replace(item, role="")
