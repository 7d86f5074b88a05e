"""Which terms a recogniser should favour, by where the exam stands: what is being examined, then what comes next.

Only strange terms are worth a place: a recogniser knows everyday words by itself, and a favoured word can be heard
where it was not said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from itertools import zip_longest

from dictate.language.state import Context
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import PlanSection

MOST_TERMS = 60  # more than any engine's prompt holds
_MORE_OF_THIS_SECTION = 12  # terms of the section being examined that the plan does not ask for
_EVERYDAY_ZIPF = 3.8  # about six times in a million words: such a word needs no help


def favoured_terms(context: Context, lexicon: Lexicon) -> tuple[str, ...]:
    """Return wordings, most specific first: of this section, of the next, then of each other section of the plan."""
    region = lexicon.regions.get(context.region)
    plan = list(region.plan) if region else []
    place = next((index for index, part in enumerate(plan) if part.section == context.section), None)
    ahead = [] if place is None else plan[place : place + 2]
    rest = [list(_asked_for(part)) for part in plan if part not in ahead]
    labels = [
        *(_asked_for(ahead[0]) if ahead else ()),
        *(_others(context, lexicon) if ahead else ()),
        *(_asked_for(ahead[1]) if len(ahead) > 1 else ()),
        *(label for row in zip_longest(*rest) for label in row if label),
    ]
    spoken = _spoken(context, lexicon)
    wordings = dict.fromkeys(spoken.get(label, label) for label in labels)
    return tuple(wording for wording in wordings if _strange(wording))[:MOST_TERMS]


def _asked_for(part: PlanSection) -> Iterator[str]:
    """Yield the first label of each item that the plan asks for, then the second ones, and so on."""
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


def _spoken(context: Context, lexicon: Lexicon) -> Mapping[str, str]:
    """Return how each label is usually said: the first of its forms, where it has any."""
    terms = [term for term in lexicon.terms if term.forms and (not term.regions or context.region in term.regions)]
    return {term.label: term.forms[0] for term in terms}


@lru_cache(maxsize=4096)
def _strange(wording: str) -> bool:
    """Whether any word of it is rare in ordinary English."""
    from wordfreq import zipf_frequency  # loaded only where there is sound: its tables take time to read

    return any(zipf_frequency(word, "en") < _EVERYDAY_ZIPF for word in wording.split())
