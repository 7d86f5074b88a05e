"""Cut a clause into frames: the cheapest way to divide its items so that every value has its target.

The weights are data (`lexicon/common/grammar.toml`). The search is exact: every division into frames of at most
`_LONGEST` items is considered, by dynamic programming from left to right, and the runner-up is kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from dictate.language.frame_shape import (
    and_joined,
    between_values,
    felt_at_end,
    first_quantity,
    is_companion,
    noun_beside_place,
    own_place_cost,
    roles_of,
    says_it_before,
    says_the_same_elsewhere,
    side_position_cost,
)
from dictate.language.item import Item, label_of
from dictate.language.links import COPULAS, PREPOSITIONS, Link, link_between
from dictate.language.tokens import Token

_UNREMARKABLE = frozenset({"normal", "absent", "negative"})
_VERDICTS = frozenset({"positive", "negative"})
_AMOUNTS = frozenset({"reduced", "increased"})
_JUDGING = frozenset({"normal", "reduced", "increased"})  # shapes of a term that say what was found
_LONGEST = 18
_LONGEST_ORDER = 3  # of targets and values in one frame that is told by its own weight
_AFTERTHOUGHTS = ("on the", "both sides", "on both", "bilateral", "in both", "each side", "either side", "on either")
_LEANING_PLACES = ("on ", "at ", "along ", "over ")
_NONE = ("none", "nil")
_STARTERS = frozenset({"presence", "except", "rest", "but"})


@dataclass(frozen=True, slots=True)
class Frame:
    """A run of items that make one statement."""

    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Division:
    """One way to divide a clause, with its cost."""

    frames: tuple[Frame, ...]
    cost: float


class Segmenter:
    """Divides clauses by the weights of the grammar."""

    def __init__(self, grammar: Mapping[str, Any]) -> None:
        self._w = grammar
        self._pairs = {frozenset(pair) for pair in grammar["together"]["pairs"]}
        self.margin: float = grammar["margin"]["doubt"]

    def divide(self, items: Sequence[Item], tokens: Sequence[Token]) -> list[Division]:
        """Return the best division and, if there is one, the runner-up."""
        if not items:
            return []
        links = [link_between(left, right, tokens) for left, right in pairwise(items)]
        best: list[list[tuple[float, tuple[int, ...]]]] = [[] for _ in range(len(items) + 1)]
        best[0] = [(0.0, ())]
        for end in range(1, len(items) + 1):
            options = []
            for start in range(max(0, end - _LONGEST), end):
                if not best[start]:
                    continue
                cost = self._frame_cost(items[start:end], links[start : end - 1])
                if start:
                    cost += self._cut_cost(links[start - 1], items[start - 1], items[start])
                    cost += _side_of_next(items, start)
                options += [(before + cost, (*cuts, end)) for before, cuts in best[start]]
            best[end] = sorted(options)[:2]
        return [Division(_frames(items, cuts), cost) for cost, cuts in best[-1]]

    def _cut_cost(self, link: Link, left: Item, right: Item) -> float:
        cut = self._w["cut"]
        if "compare" in (left.kind, right.kind):
            return float(cut["preposition"])
        if right.kind == "place" and right.text.startswith(_LEANING_PLACES) and left.is_target() and not link.comma:
            return float(cut["preposition"])  # "bruising on the inner side over the MCL"
        if left.kind == "modality" and right.kind == "movement" and right.start == left.end and not link.comma:
            return float(cut["preposition"])  # "passive flexion"
        if left.kind == "presence" and right.kind == "sign" and not link.comma:
            return float(cut["preposition"])  # "he's got an antalgic gait"
        if left.kind == "movement" and left.shape == "to" and right.quantity and right.start == left.end:
            return float(cut["preposition"])  # "bends to a hundred"
        if left.kind == "side" and right.kind == "region" and right.start == left.end:
            return float(cut["preposition"])  # "both feet"
        if left.kind == "side" and right.kind == "presence" and link.words == ("that",):
            return float(cut["preposition"])  # "it is the left that has the effusion"
        if left.kind == "structure" and right.kind == "sign" and right.shape == "name" and right.start == left.end:
            return float(cut["comma" if link.comma else "nothing"]) + (0.0 if link.comma else 0.8)  # "paraspinal spasm"
        if right.kind in _STARTERS or left.kind == "but":
            return float(cut["but"])
        if link.comma:
            leaning = right.kind == "structure" and link.leans()
            return float(cut["preposition"]) / 2 if leaning else float(cut["comma"])
        if link.leans() and (right.kind != "side" or link.places()):
            return float(cut["preposition"])
        if right.kind == "side" and left.kind == "modality" and not link.comma:
            return float(cut["preposition"])  # "actively on the left he gets to …"
        if right.kind == "side" and right.text.startswith(_AFTERTHOUGHTS):
            return float(cut["nothing"]) + 0.8  # "… two plus both sides cap refill": it belongs to what stands before
        if left.kind == "and" or right.kind == "and":
            return float(cut["and"])
        if left.kind == "side" and left.text.startswith(("in the", "the ")) and right.kind in ("level", "structure"):
            return float(cut["nothing"]) + 2.0  # "in the right C7 dermatome": the side belongs to what it stands before
        return float(cut["words"] if link.words else cut["nothing"])

    def _frame_cost(self, items: Sequence[Item], links: Sequence[Link]) -> float:
        w = self._w
        targets = [item for item in items if item.is_target()]
        values = [item for item in items if item.is_value()]
        cost = 0.0
        roles = roles_of(items)
        if not targets and not values:
            only = {item.kind for item in items}
            if only <= {
                "side",
                "and",
                "modality",
                "section",
                "region",
                "neutral",
                "presence",
                "every",
                "but",
                "place",
                "pronoun",
                "compare",
                "rest",
            }:
                return float(w["clash"]["orphan_side"]) if "side" in only else 0.4
            return float(w["clash"]["orphan"])
        cost += float(w["order"].get(roles, w["order"]["other"]))
        if roles not in w["order"]:
            cost += float(w["order"]["longer"]) * max(0, len(roles) - _LONGEST_ORDER)
        if targets and not values:
            cost += self._bare(items, targets)
        cost += self._class_cost(targets)
        cost += self._clashes(items, targets, values)
        for index, link in enumerate(links):
            left, right = items[index], items[index + 1]
            cost += self._cross_cost(link, left, right)
            if left.role == "limiter" and right.is_target() and link.comma and _judged(items[index + 1 :]):
                cost += 1.0  # "inversion limited by pain, eversion full": it limits what stands before
            if left.kind == "end_feel" and right.is_target() and link.comma:
                cost += 1.0  # "twenty five and that's capsular, hand behind back …": it is of what stands before
            told = any(item.is_value() or item.is_target() for item in items[:index])
            if right.kind == "presence" and left.kind == "and" and told:
                cost += 2.4  # "some tenderness there, and there's none on the left"
            if right.kind == "presence" and left.kind == "side" and told and index and links[index - 1].comma:
                cost += 1.2  # "a moderate effusion, the left has a trace"
            if right.kind == "rest" and left.kind in ("and", "but") and told:
                cost += 3.0  # "pubic symphysis fine, and the rest of the palpation normal"
            if right.kind == "side" and link.comma and between_values(items, index + 1):
                cost += 1.0  # "hams five, left side full power": the side begins the other statement
        cost += own_place_cost(items, links)
        first = items[0]
        if (
            first.quantity
            and len(items) > 2
            and items[1].kind == "and"
            and items[2].kind in ("pronoun", "negation", "none")
            and not any(item.role == "limiter" for item in items[3:4])
        ):
            cost += 2.0  # "tender, six out of ten, and it isn't on the left": the grade is of what stands before
        begins = 1 if first.kind == "and" and len(items) > 1 else 0
        lead = items[begins]
        leads = lead.kind == "sign" and lead.shape in ("adjective", "verb") and is_companion(lead)
        comma = len(items) > begins + 1 and links[begins].comma
        if leads and comma and any(item.is_value() for item in items[begins + 1 :]):
            cost += 1.5  # "right seventy, painful, left eighty": the pain is of what stands before
        if first.role in ("limiter", "with"):
            cost += 1.6  # what limits or comes along leans on what stands before
        positions = [i for i, item in enumerate(items) if item.role == "position"]
        if len(positions) > 1 and any(links[i].comma for i in range(positions[0], positions[-1])):
            cost += 1.2
        if len(items) > 1 and items[-1].kind == "ellipsis" and items[-2].kind == "region" and _judged(items[:-1]):
            cost += 2.5  # "neck full and pain free, and both shoulders likewise"
        if says_it_before(items):
            cost += 2.0  # "at thirty it opens, varus solid": what "it" is was named before
        if first.kind == "and" or (items[-1].kind == "and" and len(items) > 1):
            cost += 0.3 if first.kind == "and" else 1.0
        return cost

    def _bare(self, items: Sequence[Item], targets: Sequence[Item]) -> float:
        signs = [item for item in targets if item.kind == "sign"]
        if len(items) == 1 and signs and signs[0].shape in ("adjective", "absent") and not is_companion(signs[0]):
            return 0.5  # "non-tender" by itself leans on a place
        if any(item.negated or item.unable or item.role or item.hedged for item in targets):
            return 0.0
        if signs and (any(i.severity or i.shape != "name" for i in signs) or any(i.kind == "presence" for i in items)):
            return 0.0
        if any(item.role in ("with", "limiter", "position") for item in items) or any(
            item.kind in ("lack", "over", "end_feel") for item in items
        ):
            return 0.2
        if any(item.shape in ("normal", "reduced", "increased", "absent", "positive", "negative") for item in targets):
            return 0.0
        if signs:
            return float(self._w["bare"]["sign"])
        return min(float(self._w["bare"][item.kind]) for item in targets)

    def _class_cost(self, targets: Sequence[Item]) -> float:
        classes = {item.kind for item in targets}
        cost = 0.0
        ordered = sorted(classes)
        for index, left in enumerate(ordered):
            for right in ordered[index + 1 :]:
                if frozenset((left, right)) not in self._pairs:
                    cost += float(self._w["clash"]["classes"])
        companions = [t for t in targets if t.kind == "sign" and is_companion(t)]
        if "sign" in classes and classes & {"movement", "test", "task", "attribute"}:
            others = [t for t in targets if t.kind == "sign" and t not in companions]
            cost += 2.0 * len(others) if not classes & {"structure"} else 2.5 * len(others)
        return cost

    def _clashes(self, items: Sequence[Item], targets: Sequence[Item], values: Sequence[Item]) -> float:
        clash = self._w["clash"]
        cost = 0.0
        statuses = [i for i in values if i.kind in ("status", "outcome", "none") and not felt_at_end(i, values)]
        named = [label for item in targets if item.kind != "sign" and (label := label_of(item))]
        cost += float(clash["statuses"]) * (len(named) - len(set(named)))
        distinct = {(item.value or item.shape, item.negated) for item in statuses}
        if any(item.kind == "test" for item in targets) and _VERDICTS & {value for value, _ in distinct}:
            distinct = {said for said in distinct if said[0] not in _AMOUNTS}  # "Thomas test, he's short, positive"
        if len(distinct) > 1:
            cost += float(clash["statuses"]) * (len(distinct) - 1)
        quantities = [item for item in values if item.kind == "quantity"]
        movements = [item for item in targets if item.kind == "movement"]
        paired = len(quantities) == len(movements) > 1 and movements[-1].end <= first_quantity(items)
        shifted = any(item.kind in ("lack", "over") for item in items)
        if paired:
            cost += 0.2
        elif len(quantities) == 2 and shifted and all(label_of(item) == "range of motion" for item in targets):
            cost += 0.2  # "five of hyperextension to one forty"
        elif len(quantities) > 1 and not targets:
            cost += 0.3 * (len(quantities) - 1)  # a list of numbers for the list before it
        elif len(quantities) == 2 and and_joined(items, quantities) and len(targets) == 1:
            cost += 0.3  # "hamstrings four and five": a number a side
        elif len(quantities) > 1:
            cost += float(clash["quantities"]) * (len(quantities) - 1)
        ranged = any(q.quantity and q.quantity.to_value is not None and not q.quantity.is_grade for q in quantities)
        if ranged and any(item.kind == "test" for item in targets):
            cost += float(clash["quantities"])  # "zero to one forty and stable to valgus": two statements
        if quantities and any(item.kind == "ellipsis" and item.start > quantities[0].start for item in items):
            cost += float(clash["quantities"])  # "plus eight, and the same on the right": two statements
        said = [item.value for item in items if item.kind == "side" and item.role != "compared"]
        sides = set(said)
        cost += 1.0 * (len(said) - len(sides))  # "… five both knee jerks two plus both": one of them stands behind
        if len(sides) > 1:
            cost += float(clash["sides"]) * (len(sides) - 1)
        cost += side_position_cost(items, float(clash["late_side"]))
        if says_the_same_elsewhere(items):
            cost += float(clash["statuses"])
        if quantities and any(t.shape in _JUDGING and t.start > quantities[0].start for t in targets):
            cost += float(clash["statuses"])  # "one twenty, and it straightens fully": judged without the number
        cost += 2.0 * sum(1 for item in items[1:] if item.extra.get("opens") and items[0].kind not in ("and", "but"))
        signs = [t for t in targets if t.kind == "sign"]
        negated = [t for t in signs if t.negated or t.shape == "absent"]
        free = [t for t in signs if t not in negated]
        cost += 2.0 * (len(signs) - len({label_of(t) for t in signs}))
        if sum(1 for t in free if t.severity and t.shape == "name") > 1:
            cost += 1.5  # "slight winging and a bit of wasting of infraspinatus": each has its own amount
        structures = [t.start for t in targets if t.kind == "structure"]
        if structures and any(s.term and "function" in s.term.sections for t in signs for s in t.senses):
            cost += 2.5  # "antalgic gait, bruising over …": a gait is at no place
        if signs and structures and any(structures[0] < t.start < structures[-1] for t in signs):
            cost += 1.5  # "… tender medial malleolus fine": the sign belongs to one of them
        if structures and any(t.severity and t.shape == "name" and t.start > structures[-1] for t in signs[1:]):
            cost += 1.5  # "bruising over the tendon and moderate swelling": a noun with an amount begins something new
        if free and any(item.kind in ("none", "nothing") for item in values):
            cost += 2.5
        there = any(item.kind == "presence" for item in items) and any(t.shape == "name" for t in free)
        denied = any(t.shape == "name" and t.negated for t in signs)
        if (there or denied) and noun_beside_place(items):
            cost += 0.8  # "there's a trace effusion medial joint line tender": nothing says that it is there
        if there and any(item.value == "normal" for item in statuses):
            cost += 2.0  # "he's got an antalgic gait, all right, kneecap's fine": what is there is not normal
        if negated and free:
            cost += float(clash["mixed_signs"])
        adjectives = [t for t in free if t.shape == "adjective" and not is_companion(t)]
        if adjectives and any(v.value in _UNREMARKABLE for v in statuses):
            cost += float(clash["statuses"])  # "tender over the groove, AC joint quiet": two statements
        return cost

    def _cross_cost(self, link: Link, left: Item, right: Item) -> float:
        cross = self._w["cross"]
        cost = 0.0
        if right.kind == "but":
            cost += float(cross["but"])
        if right.kind == "except":
            cost += 4.0
        if right.kind == "rest" and (left.is_target() or left.is_value()):
            cost += 3.0
        both = left.is_target() and right.is_target()
        if link.comma and link.words == ("to",) and left.kind == right.kind == "quantity":
            pass  # "lacks ten, to one fifteen"
        elif link.comma and left.kind in ("over", "lack") and right.quantity and right.quantity.sign:
            pass  # "hyperextends, plus eight"
        elif link.comma and left.kind == "region" and ("screened" in link.words or right.text == "both"):
            pass  # "hips screened, both full", "neck and right shoulder, both full"
        elif link.comma and both and left.kind == right.kind == "movement" and link.unexplained():
            cost += 1.5  # "flexion to mid shin, extension half": something was said of the first
        elif link.comma:
            cost += float(cross["list_comma"] if both and left.kind == right.kind else cross["comma"])
        elif both and left.kind == right.kind and left.negated and right.negated and "nor" in link.words:
            pass  # "neither the medial joint line nor the lateral one is tender"
        elif both and left.kind == right.kind and left.mention is not right.mention:
            cost += float(cross["list_gap"])
            if left.kind == "sign" and left.shape == right.shape == "name":
                cost += 0.6  # "gross crepitus tenderness over …": a noun behind a noun begins something new
        elif both and {left.kind, right.kind} == {"sign", "movement"} and not link.preposition() and not link.copula():
            cost += 2.4
        elif both and {left.kind, right.kind} == {"structure", "movement"} and left.kind == "movement":
            cost += 1.0
        bare = both and left.kind == "sign" and right.kind == "structure" and not link.words and not link.comma
        if bare and left.negated and left.shape == "adjective":
            cost += 0.6  # "lateral joint line not tender fat pad okay": what is denied stands before it
        if link.comma and left.kind == right.kind == "sign" and left.shape == "adjective" and right.shape == "name":
            cost += 1.0  # "quads wasted, old scars": a noun after an adjective begins something new
        if "no" in link.words and left.kind in ("and", "presence", "sign"):
            cost += 1.6  # "no squaring and no deltoid wasting": each "no" opens its own statement
        if right.kind == "ellipsis" and link.comma and (left.is_value() or left.is_target()):
            cost += 1.5  # "four millimetres, same on the left": of the other side
        none = right.kind == "status" and right.text in _NONE and left.kind in ("structure", "place", "level")
        if none and link.comma:
            cost += 3.0  # "bruising over the heel, none medially": of another place
        if right.kind == "nothing" and link.comma and (left.is_value() or left.is_target()):
            cost += 1.5
        if link.comma and left.kind == "attribute" and left.shape != "name" and right.kind == "structure":
            cost += 2.4  # "iliac crests level, PSIS …": what is judged already has its place before it
        if link.comma and "judges" in left.extra and right.kind == "structure":
            cost += 2.0  # "left's clean, quads …"
        if left.kind == "side" and right.kind == "attribute" and right.mention.shaped("section") and not link.comma:
            cost += 1.6  # "… negative on the right neuro knee extension five"
        if (right.kind == "section" and left.kind != "rest") or (right.kind == "region" and left.is_value()):
            cost += 1.6  # a heading begins something new
        if (
            both
            and left.kind == "structure"
            and right.kind == "sign"
            and right.negated
            and right.shape == "name"
            and ("compound" not in left.extra)
        ):
            cost += 1.2  # "no swelling" stands before its place, not after it
        if right.kind == "presence" and left.kind not in ("negation", "side", "and", "structure"):
            cost += 1.2
        cost += float(cross["gap_word"]) * len([word for word in link.words if word not in PREPOSITIONS | COPULAS])
        return cost


def _judged(items: Sequence[Item]) -> bool:
    """Whether what follows has a value of its own."""
    return any(item.is_value() for item in items)


def _side_of_next(items: Sequence[Item], start: int) -> float:
    """What it costs to cut "one twenty, and the left, one thirty-five", "and left paraspinal spasm" behind the side."""
    led = start >= _ENOUGH_BEFORE - 1 and items[start - 2].kind == "and" and items[start - 1].text in ("left", "right")
    if led and items[start].kind == "structure" and items[start].start == items[start - 1].end:
        return 1.5
    if start < _ENOUGH_BEFORE or items[start].kind != "quantity" or items[start - 1].kind != "side":
        return 0.0
    return 1.5 if items[start - 2].kind == "and" and items[start - 3].kind == "quantity" else 0.0


_ENOUGH_BEFORE = 3


def _frames(items: Sequence[Item], cuts: Sequence[int]) -> tuple[Frame, ...]:
    starts = (0, *cuts[:-1])
    return tuple(Frame(tuple(items[start:end])) for start, end in zip(starts, cuts, strict=True))
