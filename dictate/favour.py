"""Which terms a recogniser should favour, by where the exam stands: what is being examined, then what comes next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import zip_longest

from dictate.language.state import Context
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import PlanSection

MOST_TERMS = 60  # more than any engine's prompt holds
_MORE_OF_THIS_SECTION = 12  # terms of the section being examined that the plan does not ask for


def favoured_terms(context: Context, lexicon: Lexicon) -> tuple[str, ...]:
    """Return labels, most specific first: of this section, of the next, then of each other section of the plan."""
    region = lexicon.regions.get(context.region)
    plan = list(region.plan) if region else []
    place = next((index for index, part in enumerate(plan) if part.section == context.section), None)
    ahead = [] if place is None else plan[place : place + 2]
    rest = [list(_asked_for(part)) for part in plan if part not in ahead]
    ordered = [
        *(_asked_for(ahead[0]) if ahead else ()),
        *(_others(context, lexicon) if ahead else ()),
        *(_asked_for(ahead[1]) if len(ahead) > 1 else ()),
        *(label for row in zip_longest(*rest) for label in row if label),
    ]
    return tuple(dict.fromkeys(ordered))[:MOST_TERMS]


def _asked_for(part: PlanSection) -> Iterator[str]:
    """Yield the first label of each item that the plan asks for, then the others."""
    rows = [[name for pattern in item.any_of for name in _names(pattern)] for item in part.items]
    for row in zip_longest(*rows):
        yield from (name for name in row if name)


def _names(pattern: str) -> Iterable[str]:
    return [part.strip() for part in reversed(pattern.split("@")) if part.strip()]


def _others(context: Context, lexicon: Lexicon) -> Iterator[str]:
    section = context.section
    own = (t.label for t in lexicon.terms if context.region in t.regions and section in t.sections[:1])
    for _, label in zip(range(_MORE_OF_THIS_SECTION), own, strict=False):
        yield label
