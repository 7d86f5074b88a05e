"""How the items of one frame stand to each other: the order of targets and values, where sides and places are."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from dictate.language.item import Item
from dictate.language.links import Link


def says_the_same_elsewhere(items: Sequence[Item]) -> bool:
    """Whether a value stands before "same on the left", "same for the drawer": what is the same there is a statement
    of its own."""
    for place, item in enumerate(items[:-1]):
        pointing = item.kind == "ellipsis" and not item.role and not item.senses[0].weak
        elsewhere = items[place + 1].kind == "side" or items[place + 1].is_target()
        if pointing and elsewhere and any(i.is_value() for i in items[:place]):
            return True
    return False


def noun_beside_place(items: Sequence[Item]) -> bool:
    """Whether a place stands right behind the noun of a sign, with no word between."""
    return any(
        left.kind == "sign" and left.shape == "name" and right.kind == "structure" and right.start == left.end
        for left, right in pairwise(items)
    )


def felt_at_end(item: Item, values: Sequence[Item]) -> bool:
    """Whether a result is an end feel, which goes with any other: not "solid" beside "opens up"."""
    if item.mention.cue("end_feel") is None:
        return False
    opens = any(v.kind == "outcome" and v.shape == "positive" and not v.mention.cue("end_feel") for v in values)
    return not (opens and item.shape == "negative" and "end" not in item.text and "stop" not in item.text)


def says_it_before(items: Sequence[Item]) -> bool:
    """Whether a pronoun with its value stands before the first thing named, which has a value of its own."""
    named = next((i for i, item in enumerate(items) if item.is_target() and item.kind != "sign"), None)
    if named is None or not any(item.is_value() for item in items[named:]):
        return False
    pronoun = next((i for i, item in enumerate(items[:named]) if item.kind == "pronoun"), None)
    return pronoun is not None and any(item.is_value() for item in items[pronoun:named])


def own_place_cost(items: Sequence[Item], links: Sequence[Link]) -> float:
    """Charge "bruising down the arm, and the deltoid wasted": behind the pause a place has a sign of its own."""
    noun = next((i for i, item in enumerate(items) if item.kind == "sign" and item.shape == "name"), None)
    if noun is None:
        return 0.0
    for place in range(noun + 1, len(items) - 1):
        paused = links[place - 1].comma or items[place - 1].kind == "and"
        paused = paused or (items[place - 1].kind == "side" and items[place - 2].kind == "and")
        paused = paused or (place == noun + 1 and not links[noun].preposition())  # "a trace effusion joint line tender"
        if items[place].kind != "structure" or not paused:
            continue
        following = next((i for i in items[place + 1 :] if i.kind in ("sign", "structure")), None)
        if following is None or following.kind != "sign":
            continue
        own = links[noun].preposition() or links[place - 1].comma  # "… and left paraspinal spasm"
        adjoins = following.start == items[place].end and own
        if following.shape == "adjective" or (following.shape == "name" and adjoins):
            return 2.0
    return 0.0


def between_values(items: Sequence[Item], place: int) -> bool:
    """Whether values stand on both sides of an item."""
    return any(item.is_value() for item in items[:place]) and any(item.is_value() for item in items[place + 1 :])


def and_joined(items: Sequence[Item], quantities: Sequence[Item]) -> bool:
    """Whether two numbers stand beside each other with nothing but "and" between, and no side near them."""
    first, last = (items.index(quantity) for quantity in quantities)
    between = [item.kind for item in items[first + 1 : last]]
    alike = all(q.quantity and not q.quantity.sign and q.quantity.to_value is None for q in quantities)
    return between == ["and"] and alike and not any(item.kind in ("side", "lack", "over") for item in items)


def first_quantity(items: Sequence[Item]) -> int:
    """Return the token where the first number starts that is a value, 0 where there is none."""
    return next((item.start for item in items if item.kind == "quantity" and not item.role), 0)


def is_companion(item: Item) -> bool:
    """Whether a sign can come along with a movement, a test or a task."""
    return any(sense.term and sense.term.companion for sense in item.senses)


def roles_of(items: Sequence[Item]) -> str:
    """Return the order of targets and values, runs folded: "TV", "VTV", … Signs beside places count as one target."""
    out = ""
    placed = told_where = False
    hosted = any(item.kind in ("test", "sign", "attribute", "measure") for item in items)
    joints = {item.value for item in items if item.kind == "region"}  # "elbow and shoulder screened, both full"
    screened = len(joints) > 1 and not any(item.is_target() and not is_companion(item) for item in items)
    for item in items:
        target = item.is_target() or (screened and item.kind == "region")
        role = "T" if target else "V" if item.is_value() else ""
        if item.kind == "sign" and item.is_target() and out.endswith("V") and is_companion(item):
            continue  # "one thirty, painful"
        if item.kind in ("structure", "level") and out.endswith("V") and "T" in out and not placed and hosted:
            told_where = True
            continue  # "positive over the medial meniscus", "sensation intact over L4"
        placed = placed or (told_where and role == "V" and item.kind == "status")
        if item.kind == "attribute" and out.endswith("V") and placed and not any(i.kind == "sign" for i in items):
            continue  # "L3 to S1 intact to light touch"
        placed = placed or item.kind in ("structure", "level")
        if item.kind == "sign" and item.is_target() and out.endswith("V") and placed and _denies(item):
            continue  # "the ligament is fine, not tender"
        if role and not out.endswith(role):
            out += role
    return out


def _denies(item: Item) -> bool:
    return item.shape == "absent" or (item.negated and item.shape == "adjective")


def side_position_cost(items: Sequence[Item], late: float) -> float:
    """Charge a side that stands between other things: it belongs at either end of its frame, or before its noun."""
    places = [index for index, item in enumerate(items) if item.kind == "side"]
    cost = 0.0
    heads = len(items) > 2 and items[-1].kind == "region" and items[-2].kind == "side" and items[0].kind != "side"
    if heads and items[-2].value != "both":
        cost += 0.8  # "… not done, left knee for comparison …": it heads what follows
    for index in places:
        if 0 < index < len(items) - 1 and not items[index + 1].is_target():
            cost += late
        if 0 < index < len(items) - 1 and items[index].text.startswith("on ") and _judged_before_test(items, index):
            cost += 4 * late  # "negative on the right Matles positive …": "on the right" ends a statement
    if len(places) > 1:
        cost += late
    return cost


def _judged_before_test(items: Sequence[Item], side: int) -> bool:
    """Whether a side stands between a result and a test."""
    return items[side - 1].kind == "status" and items[side + 1].kind == "test"
