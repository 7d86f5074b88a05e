"""What stands between two neighbouring items: the words and pauses that join or part them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dictate.language.item import Item
from dictate.language.tokens import COMMA, Token

PREPOSITIONS = frozenset(
    [
        "over",
        "on",
        "along",
        "of",
        "in",
        "with",
        "to",
        "at",
        "around",
        "across",
        "under",
        "during",
        "through",
        "against",
        "when",
        "into",
        "from",
        "for",
        "by",
        "near",
        "throughout",
        "above",
        "below",
        "behind",
        "within",
        "about",
    ]
)
ARTICLES = frozenset({"the", "a", "an", "her", "his", "your", "their", "that", "this"})
COPULAS = frozenset(["is", "are", "was", "were", "looks", "look", "feels", "feel", "seems", "it's", "that's", "remain"])


@dataclass(frozen=True, slots=True)
class Link:
    """What stands between two neighbouring items."""

    words: tuple[str, ...]
    comma: bool

    def preposition(self) -> bool:
        return bool(set(self.words) & PREPOSITIONS)

    def leans(self) -> bool:
        """Whether a preposition, articles aside, ties the right item to what stands before it."""
        told = [word for word in self.words if word not in ARTICLES]
        return bool(told) and told[-1] in PREPOSITIONS

    def places(self) -> bool:
        """Whether what follows is where something was found: "over the left sixth rib"."""
        return bool(set(self.words[-2:]) & {"over", "along", "around", "under"})

    def unexplained(self) -> bool:
        """Whether words stand between that are neither articles, prepositions nor "to"."""
        return any(word not in PREPOSITIONS | ARTICLES | COPULAS and word not in ("and", "then") for word in self.words)

    def copula(self) -> bool:
        return bool(set(self.words) & COPULAS)


def link_between(left: Item, right: Item, tokens: Sequence[Token]) -> Link:
    """Return what stands between two items."""
    words = tuple(token.norm for token in tokens[left.end : right.start])
    comma = any(token.break_after == COMMA for token in tokens[left.end - 1 : right.start])
    return Link(words, comma)
