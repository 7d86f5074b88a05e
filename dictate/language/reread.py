"""Items that mean something else beside what was named before them: a muscle among reflexes, "lateral" after medial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.language.by_name import Groups, named
from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, label_of
from dictate.language.phrases import Sense
from dictate.language.state import Context
from dictate.language.tokens import Token
from dictate.lexicon.word_lists import SmallWords

_RARE_STRENGTH = 2
_RARE_REFLEX = 4
_OF_REFLEXES = ("reduced", "increased", "absent")


def reflexes_by_muscle(items: Sequence[Item], groups: Groups, context: Context) -> list[Item]:
    """Read "biceps two plus" as the reflex where reflexes are being tested, or the grade is one that only they have."""
    out = list(items)
    told = (*items, *context.topic.items)
    testing = any(item.kind == "reflex" or label_of(item) == "reflex" for item in told)
    muscles = [item for item in items if item.kind == "structure" and _reflex_of(item, groups)]
    nerves = testing or (context.section == "neurological" and not _tests_strength(items, groups))
    heads = [place for place, item in enumerate(items) if label_of(item) == "reflex" and item.kind == "attribute"]
    for place, item in enumerate(items):
        sense = _reflex_of(item, groups) if item.kind == "structure" else None
        if sense is None:
            continue
        if any(h < place and _graded_as_reflexes(items[h + 1 : place]) for h in heads):
            out[place] = replace(item, kind="reflex", senses=(sense,))  # "reflexes two plus at the biceps and triceps"
            continue
        following = items[place + 1] if place + 1 < len(items) else None
        if testing and following is not None and following.kind == "status" and following.value in _OF_REFLEXES:
            out[place] = replace(item, kind="reflex", senses=(sense,))  # "biceps jerk down, triceps brisk"
            continue
        graded = next((i for i in items[place + 1 : place + 6] if i.kind == "quantity"), None)
        quantity = graded.quantity if graded else None
        if quantity is None or quantity.plus_minus != "+" or quantity.out_of is not None:
            continue
        highest = _RARE_STRENGTH if len(muscles) <= 1 else 3
        if not testing and (label_of(item).endswith(" tendon") or any(i.kind == "sign" for i in items)):
            continue  # "Achilles tendon tender, two plus"
        common = nerves and quantity.value < _RARE_REFLEX
        if testing or common or (context.section != "resisted_motion" and quantity.value <= highest):
            out[place] = replace(item, kind="reflex", senses=(sense,))
    return out


_BESIDE_GRADE = frozenset({"at", "and", "neutral", "structure", "side", "every"})


def _graded_as_reflexes(between: Sequence[Item]) -> bool:
    """Whether nothing but one result stands between "reflexes" and the muscles that they are of."""
    results = [item for item in between if item.is_value()]
    return len(results) == 1 and between[0] is results[0] and all(i.kind in _BESIDE_GRADE for i in between[1:])


def without_small_words(items: Sequence[Item], tokens: Sequence[Token], words: SmallWords) -> list[Item]:
    """Drop what only seems to say something: "good firm end feel", "five, but with pain", a "noted" by itself."""
    out: list[Item] = []
    for place, item in enumerate(items):
        following = items[place + 1] if place + 1 < len(items) else None
        adjoins = following is not None and following.start == item.end
        if item.text in words.praise and adjoins and following is not None and following.kind == "end_feel":
            continue
        if item.kind == "but" and adjoins and following is not None and following.kind == "with":
            continue
        if _remains(items, place, tokens, words.still_there):
            continue
        if _told_apart(out, item, tokens):
            while out[-1].kind != item.kind:  # the "not" before it
                out.pop()
            continue
        opens = item.start == 0 or bool(tokens[item.start - 1].break_after)
        if item.text == "noted" and opens and (item.end == len(tokens) or tokens[item.end - 1].break_after):
            continue
        out.append(item)
    return out


def _told_apart(before: Sequence[Item], item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a sign is only what the one before it is not: "there's a clunk, not a click, on pivot shift"."""
    said = [other for other in before if other.kind not in ("neutral", "negation")]
    if item.kind == "quantity" and tokens[item.start - 1].norm == "not":
        return bool(said) and said[-1].kind == "quantity"  # "five, not four, for the quads"
    denied = [token.norm for token in tokens[item.start - 2 : item.start]] in (["not", "a"], ["not", "an"])
    paused = item.start > 2 and bool(tokens[item.start - 3].break_after)
    return item.kind == "sign" and denied and paused and bool(said) and said[-1].kind == "sign"


def _remains(items: Sequence[Item], place: int, tokens: Sequence[Token], still_there: frozenset[str]) -> bool:
    """Whether "left" says what is still there: "you've a trace of effusion left, where last week it was one plus"."""
    item, before = items[place], items[place - 1] if place else None
    if item.text != "left" or before is None or before.kind != "sign" or before.end != item.start:
        return False
    there = bool(still_there & {token.norm for token in tokens[max(0, before.start - 6) : before.start]})
    return there and (item.end == len(tokens) or bool(tokens[item.end - 1].break_after))


_OPPOSITE_PLACE = {"medial": "lateral", "lateral": "medial", "anterior": "posterior", "posterior": "anterior"}
_BETWEEN_A_PAIR = frozenset({"sign", "status", "negation", "and", "but", "side", "severity", "neutral", "pronoun"})


def second_of_pair(items: Sequence[Item], groups: Groups, context: Context, tokens: Sequence[Token]) -> list[Item]:
    """Read "lateral" as the place that makes a pair with the one named before: "medial joint line tender, lateral not".

    An adverb ("positive laterally") says where something is of the thing named, and names no other.
    """
    out = list(items)
    for place, item in enumerate(items):
        if item.kind != "place" or item.value not in _OPPOSITE_PLACE or not _is_adjective(item):
            continue
        following = items[place + 1] if place + 1 < len(items) else None
        if following is not None and following.start == item.end and following.is_target() and following.kind != "sign":
            continue
        first = next((i for i in reversed(out[:place]) if i.kind not in _BETWEEN_A_PAIR), None)
        if first is not None and (first.kind != "structure" or _joined_closely(first, item, out[:place], tokens)):
            continue
        if first is None:
            first = next((i for i in context.topic.items if i.kind == "structure"), None)
        words = label_of(first).split() if first is not None else []
        other = _OPPOSITE_PLACE[item.value]
        if first is None or other not in words:
            continue
        label = " ".join(item.value if word == other else word for word in words)
        term = next((sense.term for sense in first.senses if sense.term), None)
        sense = named(groups, "structure", label, term.regions if term else ())
        if sense is not None:
            out[place] = replace(item, kind="structure", senses=(sense,), value="")
    return out


def _is_adjective(item: Item) -> bool:
    words = [word.removesuffix("'s") for word in item.text.split() if word != "the"]  # "lateral's fine"
    return words in ([item.value], [item.value, "side"]) or (len(words) > 1 and words[-1] == "one")


def _joined_closely(first: Item, item: Item, before: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether nothing parts the two: neither a break nor a word that says something of the first or joins."""
    between = [i for i in before if i.start >= first.end and i.kind != "neutral"]
    return not between and not any(token.break_after for token in tokens[first.end - 1 : item.start])


def of_the_digit(items: Sequence[Item], groups: Groups, context: Context) -> list[Item]:
    """Read "extension" after the big toe joint as that of the big toe, where a movement of that name is known.

    It is no movement of the whole foot or hand.
    """
    out = list(items)
    digit = next((digit for item in context.topic.items if (digit := _digit_of(item))), "")
    for place, item in enumerate(items):
        if item.kind == "structure":
            digit = _digit_of(item)
        own = named(groups, "movement", f"{digit} {label_of(item)}") if digit and item.kind == "movement" else None
        if own is not None:
            out[place] = replace(item, senses=(own,))
    return out


def _digit_of(item: Item) -> str:
    """Return the finger or toe whose movements are meant once a structure was named, or nothing."""
    term = next((sense.term for sense in item.senses if sense.term), None)
    return (term.digit or "") if term else ""


def same_end_feel(items: Sequence[Item], felt: Sequence[str | None]) -> list[Item]:
    """Read "same end feel" as the end feel named last: in this sentence, else among those `felt` before it."""
    out: list[Item] = []
    for item in items:
        same = bool(out) and out[-1].kind == "ellipsis" and item.kind == "end_feel_head" and out[-1].end == item.start
        if not same:
            out.append(item)
            continue
        here = [other.value for other in out if other.kind == "end_feel"]
        before = next((feel for feel in reversed([*felt, *here]) if feel), "")
        out.pop()
        if before:
            out.append(replace(item, kind="end_feel", value=before))
    return out


def both_of_those_named(items: Sequence[Item], phrases: frozenset[str]) -> list[Item]:
    """Read "lift-off and belly press, negative, the pair of them" as both tests, not as both sides."""
    tests = [item for item in items if item.kind == "test"]
    paired = len({label_of(item) for item in tests}) > 1
    return [
        replace(item, kind="every", value="", text="both") if paired and item.text in phrases else item
        for item in items
    ]


def nothing_of_it(items: Sequence[Item]) -> list[Item]:
    """Read "nothing tender on the spinous processes" as denied."""
    out = list(items)
    for place, (left, right) in enumerate(pairwise(items)):
        denies = left.kind == "nothing" and left.text == "nothing" and right.kind == "sign" and right.start == left.end
        if denies and right.shape == "adjective":
            out[place] = replace(left, kind="negation")
    return out


def neither_of_two(items: Sequence[Item]) -> list[Item]:
    """Read "neither's positive" of the two things named last."""
    out: list[Item] = []
    for place, item in enumerate(items):
        out.append(item)
        following = items[place + 1] if place + 1 < len(items) else None
        judged = following is not None and following.kind in ("status", "outcome")
        neither = item.kind == "negation" and item.text.removesuffix("'s") == "neither"
        if neither and following is None and out[-2:-1] and out[-2].is_target():
            out.append(Item("side", item.mention, value="both", text=item.text))  # "joint lines: neither"
        if neither and judged and not any(i.is_target() for i in items):
            out.append(replace(item, kind="every", text="both"))
    return out


def felt_there(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Read "radial pulse there, refill brisk" as a pulse that is present."""
    out: list[Item] = []
    for item in items:
        out.append(item)
        after = tokens[item.end] if item.end < len(tokens) and not tokens[item.end - 1].break_after else None
        if item.kind == "pulse" and after is not None and after.norm == "there":
            ended = item.end + 1 == len(tokens) or after.break_after or tokens[item.end + 1].norm in ("and", "both")
            if ended and not item.negated:
                mention = replace(item.mention, start=item.end, end=item.end + 1)
                out.append(Item("status", mention, value="present", text="there"))
    return out


def stable_in_position(items: Sequence[Item], context: Context) -> list[Item]:
    """Read "this knee is stable at zero" as the result of the stress test spoken of, where one was."""
    if not any(item.kind == "test" for item in context.topic.items):
        return list(items)
    return [
        replace(item, kind="status", senses=(), value="normal")
        if label_of(item) == "stability" and item.shape == "normal" and any(i.kind == "at" for i in items[place + 1 :])
        else item
        for place, item in enumerate(items)
    ]


def same_pain(items: Sequence[Item]) -> list[Item]:
    """Read "gives her the same buttock pain" as pain: what is the same is what she complains of."""
    out = list(items)
    for place, item in enumerate(items):
        if item.kind != "ellipsis" or item.text not in ("same", "the same"):
            continue
        behind = items[place + 1 : place + 3]
        placed = len(behind) > 1 and behind[0].kind == "structure" and behind[1].start == behind[0].end
        named = behind[1] if placed else behind[0] if behind else item
        if named.kind == "sign" and is_companion(named) and behind[0].start == item.end:
            out = [other for other in out if other is not item and not (placed and other is behind[0])]
    return out


def without_sought(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Drop a sign that only tells what is felt or looked for ("back of the hand for heat"), where nothing is judged."""
    if any(item.kind in _JUDGING for item in items):
        return list(items)
    return [i for i in items if not (i.kind == "sign" and i.start and tokens[i.start - 1].norm == "for")]


_JUDGING = frozenset(
    {"status", "outcome", "quantity", "negation", "nothing", "none", "severity", "ellipsis", "presence"}
)


def with_its_amount(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Read "tender, but only mildly" as an amount of what was found: nothing new begins with the "but"."""
    out = list(items)
    for place in range(len(items) - 2, 0, -1):
        joined, amount = items[place], items[place + 1]
        ends = place + 2 == len(items) or bool(tokens[amount.end - 1].break_after)
        if joined.kind == "but" and amount.kind == "severity" and ends and items[place - 1].is_target():
            del out[place]
    return out


def said_once(
    items: Sequence[Item], tokens: Sequence[Token], last_deg: float | None, only: frozenset[str]
) -> list[Item]:  # fmt: skip
    """Drop a number that only says the one before it again: "it's ten, only ten". `last_deg`: what was found last."""
    out: list[Item] = []
    for item in items:
        before = next((i for i in reversed(out) if tokens[i.start].norm not in only), None)
        led = item.start > 0 and tokens[item.start - 1].norm in only
        again = before.quantity if before is not None and before.quantity is not None else None
        if led and item.quantity is not None:
            opens = before is None and last_deg is not None and item.quantity.value == abs(last_deg)
            if opens or (again is not None and again.text() == item.quantity.text()):
                continue
        out.append(item)
    return out


def with_a_sign_tested(items: Sequence[Item]) -> list[Item]:
    """Read "flexion one sixty with a painful arc" as two statements: the number, and that the sign is there."""
    out = list(items)
    for place, (left, right) in enumerate(pairwise(items)):
        article = left.text.split()[-1:] in (["a"], ["an"])
        measured = place > 0 and items[place - 1].kind == "quantity"
        if left.kind == "with" and article and measured and right.kind == "test" and right.start == left.end:
            out[place] = replace(left, kind="presence", mention=replace(left.mention, end=left.end - 1))
    return out


def without_where_it_goes(items: Sequence[Item], tokens: Sequence[Token], words: SmallWords) -> list[Item]:
    """Drop the place that a test's pain goes to, which was not tested: "positive at forty, down to the calf"."""
    out: list[Item] = []
    for item in items:
        place = item.start - 1
        while place > 0 and tokens[place].norm in words.of_place and not tokens[place].break_after:
            place -= 1
        goes = item.kind == "structure" and place >= 0 and tokens[place].norm in words.goes_into
        tested = [other for other in out if other.kind == "test"]
        judged = tested and any(i.is_value() or i.kind == "with" for i in out if i.start > tested[-1].start)
        if not (goes and judged):
            out.append(item)
    return out


def with_knee_held(items: Sequence[Item], region: str, held_forms: frozenset[str]) -> list[Item]:
    """Read "dorsiflexion five with the knee straight and twelve with it bent" as two values of dorsiflexion."""
    moved = next((item for item in items if item.kind == "movement" and item.text not in held_forms), None)
    if region not in ("ankle", "foot") or moved is None:
        return list(items)
    kept: list[Item] = []
    held = 0
    for item in items:
        of_knee = bool(kept) and (
            kept[-1].kind == "pronoun" or (kept[-1].kind == "region" and kept[-1].value == "knee")
        )
        if (item.kind == "movement" and item.text in held_forms and of_knee) or (
            item.kind == "position" and "knee" in item.text
        ):
            held += 1
            if item.kind == "movement":
                kept.pop()
            continue
        kept.append(item)
    out: list[Item] = []
    numbers = 0
    for item in kept if held else items:
        numbers = 0 if item.kind in ("movement", "side") else numbers + (item.kind == "quantity")
        if held and item.kind == "quantity" and numbers > 1:
            out.append(replace(moved, mention=replace(moved.mention, start=item.start, end=item.start)))
        out.append(item)
    return out


def straight_at_zero(
    items: Sequence[Item], tokens: Sequence[Token], groups: Groups, region: str, gets_to: frozenset[str]
) -> list[Item]:  # fmt: skip
    """Read "gets to zero", "reaches zero" as extension, in a joint that is straight at zero."""
    straight = [s for s in groups.get(("movement", "extension"), ()) if s.term and region in s.term.regions]
    if not straight or not _is_straight_at_zero(straight[0]):
        return list(items)
    out: list[Item] = []
    for item in items:
        moved = bool(out) and any(i.kind in ("movement", "test", "at", "lack", "over") for i in out[-2:])
        number = item.quantity
        zero = number is not None and number.value == 0 and not (number.is_grade or number.sign or number.to_value)
        before = [token.norm for token in tokens[max(0, item.start - 2) : item.start]]
        reached = before[-1:] == ["reach"] or (before[-1:] == ["to"] and before[0] in gets_to)
        if zero and reached and not moved and not item.role:
            out.append(Item("movement", replace(item.mention, end=item.start), senses=(straight[0],), text="reaches"))
        out.append(item)
    return out


def _is_straight_at_zero(sense: Sense) -> bool:
    typical = sense.term.typical_deg if sense.term else None
    return typical is not None and typical.value == 0 and bool(sense.term and sense.term.signed)


def _reflex_of(item: Item, groups: Groups) -> Sense | None:
    """Return the reflex that goes by the name of a muscle or its tendon, if there is one."""
    label = label_of(item).removesuffix(" tendon")
    return named(groups, "reflex", f"{label} reflex") if item.kind == "structure" and label else None


def _tests_strength(items: Sequence[Item], groups: Groups) -> bool:
    """Whether a list of muscles is one of strengths: one of them has no reflex, or a grade that no reflex has."""
    muscles = [item for item in items if any(s.term and s.term.part == "muscle" for s in item.senses)]
    graded = any(item.quantity and item.quantity.plus_minus == "-" for item in items)
    return graded or any(item.kind == "structure" and _reflex_of(item, groups) is None for item in muscles)
