"""Type the mentions of a statement: each becomes one item with the role that it plays for the words around it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from dictate.language.apposition import only_explains
from dictate.language.by_name import Groups, members
from dictate.language.item import Item, label_of
from dictate.language.kind_of_item import cue_value, item_of
from dictate.language.mentions import Mention
from dictate.language.no_side import explained_by_side, says_no_side
from dictate.language.points_nowhere import points_nowhere, says_where_to
from dictate.language.quantity import Quantity
from dictate.language.senses import OUTCOMES, one_or_several, preferring_section
from dictate.language.tokens import COMMA, STOP, Token

_GRADES = {"all three": 3.0, "all four": 4.0, "all five": 5.0}
_LEVEL_NOUNS = frozenset({"dermatome", "dermatomes"})
_SET_BESIDE = ("against", "as against", "versus", "vs", "compared with", "compared to", "in comparison with")


def items_of(
    mentions: Sequence[Mention],
    tokens: Sequence[Token],
    *,
    region: str,
    near: frozenset[str],
    around: frozenset[str],
    section: str | None,
    groups: Groups,
    graded: bool = False,
) -> list[Item]:
    """Return items in order.

    `region` is the one examined, `near` those that are examined along with it, `around` those next to them. `graded`
    says that what was found last was graded: "all five" then is a grade rather than a count.
    """
    out: list[Item] = []
    placed = any(mention.terms("structure") or mention.levels for mention in mentions)
    naming = Counter(label for m in mentions for label in _tests_named(m))
    outcomes = frozenset(s.term.label for m in mentions for s in m.senses if s.term and s.shape in OUTCOMES)
    judged = bool(outcomes) or any(mention.cue("at") for mention in mentions)
    if judged and section is None:
        section = "special_tests"
    for position, mention in enumerate(mentions):
        following = mentions[position + 1] if position + 1 < len(mentions) else None
        listed = any(later.terms("test") for later in mentions[position + 1 : position + 3])
        listed = listed or _among_tests(out)
        item = item_of(
            mention,
            out[-1] if out else None,
            following,
            region,
            near,
            around,
            placed=placed and not _was_loaded(out),
            section=section,
            listed=listed,
            tests_here=frozenset(naming - Counter(_tests_named(mention))),
            outcomes=outcomes,
        )
        item = preferring_section(item, section)
        if item.kind == "test" and mention.number is not None:
            item = replace(item, extra={"position": str(mention.number)})
        item = replace(item, text=" ".join(token.text for token in tokens[mention.start : mention.end]))
        item = one_or_several(item)
        if item.kind == "measure" and item.text == "measure":
            item = replace(item, kind="neutral")  # "measure again": only "measures" is said of a limb
        if item.kind == "sign" and item.end < len(tokens) and tokens[item.end].norm in ("there", "here"):
            item = replace(item, extra={**item.extra, "pointed": tokens[item.end].norm})
        runs_on = following is not None and following.start == item.end and not tokens[item.end - 1].break_after
        if item.text == "right then" and runs_on and following is not None:
            left = following.cue("side")
            if left is not None and left.cue and left.cue.value == "left":
                item = replace(item, kind="side", value="right", text="right")  # "right then left each time"
        no_side = says_no_side(item, position, mentions, out, tokens, near)
        if no_side or points_nowhere(item, following, tokens):
            item = replace(item, kind="neutral")
        if item.text == "both" and out and out[-1].kind in ("quantity", "status", "outcome") and _trails(item, tokens):
            item = replace(item, text="both sides")  # "inversion and eversion five, both"
        if item.value == "both_positions" and following is not None and following.start == item.end:
            item = replace(item, kind="at")  # "at both zero and thirty"
        if explained_by_side(item, following, tokens):
            item = replace(item, kind="neutral")
        if item.kind == "compare" and _sets_beside(item, mentions[position + 1 : position + 3], out, tokens):
            item = replace(item, kind="but")
        if item.kind == "status" and item.text in ("up", "down") and says_where_to(item, tokens):
            item = replace(item, kind="neutral")
        if item.kind == "attribute" and item.text in _LEVEL_NOUNS and _beside_level(mentions, position):
            continue  # "the L5 dermatome": the level says it all
        again = bool(out) and out[-1].kind == "every" and "same" in out[-1].text  # "same muscles, all five"
        valued = following is not None and (following.quantity or following.cue("status") or following.cue("negation"))
        powers = graded or any(label_of(other) == "strength" for other in out)
        tested = item.kind == "every" and (section == "resisted_motion" or again or (powers and not valued))
        grade = _GRADES.get(item.text) if tested else None
        if grade:
            out += [
                item,
                replace(item, kind="quantity", quantity=Quantity(start=item.start, end=item.end, value=grade)),
            ]
            continue  # "all five" of strengths is a grade, not a count
        if item.kind == "negation" and mention.cue("side"):
            out.append(replace(item, kind="side", value=cue_value(mention, "side")))  # "neither knee is warm"
        out += members(item, groups)
    return [item for place, item in enumerate(out) if not only_explains(out, place, tokens)]


def _among_tests(before: Sequence[Item]) -> bool:
    """Whether the last thing named before is a test: "valgus stable at thirty, varus as well"."""
    last = next((item for item in reversed(before) if item.is_target()), None)
    return last is not None and last.kind == "test"


def _tests_named(mention: Mention) -> frozenset[str]:
    return frozenset(s.term.label for s in mention.terms("test") if s.term and s.shape == "name")


def _was_loaded(before: Sequence[Item]) -> bool:
    """Whether it was just said how strong something is: "triceps weak and sore"."""
    last = next((item for item in reversed(before) if item.kind not in ("and", "but", "severity", "neutral")), None)
    return last is not None and last.kind == "status" and any(s.cue and s.cue.strength for s in last.senses)


def _trails(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether an item ends a sentence, behind a comma."""
    ended = item.end == len(tokens) or tokens[item.end - 1].break_after == STOP
    return ended and tokens[item.start - 1].break_after == COMMA


def _sets_beside(item: Item, following: Sequence[Mention], before: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether "one ten right versus ninety left" sets two values beside each other, rather than saying by how much
    they differ: a number stands on both sides of the word."""
    if item.text not in _SET_BESIDE or not following or any(t.break_after for t in tokens[item.end - 1 : item.end]):
        return False
    sided = following[0].cue("side") is not None and len(following) > 1
    counted = following[1] if sided else following[0]
    near = counted.start - (following[0].end if sided else item.end) <= 1
    return counted.quantity is not None and near and any(i.kind == "quantity" for i in before[-3:])


def _beside_level(mentions: Sequence[Mention], position: int) -> bool:
    mention = mentions[position]
    before = mentions[position - 1] if position else None
    return bool(before and before.levels and before.end == mention.start)
