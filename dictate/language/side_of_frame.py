"""The side that a frame says: two of them are both, and a "both" that sums up two things named is none."""

from __future__ import annotations

from dictate.language.item import Item


def joints_named(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Return the joints named in the singular: of "elbow and shoulder, both full" it is these that are two."""
    return tuple(item for item in items if item.kind == "region" and not item.text.endswith("s"))


def closes_a_list(item: Item, targets: tuple[Item, ...], items: tuple[Item, ...]) -> bool:
    """Whether "both" sums up two things just named, rather than two sides ("Hawkins and Neer both positive")."""
    if any(other.kind == "region" and other.start == item.end for other in items):
        return False  # "two plus both feet"
    if item.text not in ("both", "either", "in either", "neither", "in both"):
        return False
    positions = [other for other in items if other.role == "position" and other.end <= item.start]
    if item.text == "both" and len(positions) == 2 and positions[-1].end == item.start:
        return True  # "stable at zero and thirty both"
    before = [target for target in targets if target.end <= item.start]
    if item.text not in ("both", "in both") and any(target.kind != "test" for target in before):
        return False  # "no swelling or redness in either hand"
    return len(before) >= 2 and len({target.kind for target in before}) == 1


def one_side(sides: list[str]) -> str:
    """Return the side that the sides said come to: both where left and right are named; empty: none."""
    distinct = set(sides)
    if distinct >= {"left", "right"} or "both" in distinct:
        return "both"
    return sides[0] if sides else ""
