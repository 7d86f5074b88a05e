"""Which of the terms that the same words name is meant: by region, section, number, or a place named beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.phrases import Sense

OUTCOMES = ("positive", "negative")


def prefer_region(
    senses: Sequence[Sense], *, region: str, near: frozenset[str], around: frozenset[str]
) -> tuple[Sense, ...]:
    """Return the senses that belong to the region examined; else to those near it, to every region, or next to it."""
    outcomes = tuple(s for s in senses if s.shape in ("positive", "negative"))
    if outcomes and len(outcomes) < len(senses):
        names = tuple(s for s in senses if s not in outcomes)
        kept = prefer_region(names, region=region, near=near, around=around)
        return kept + outcomes
    if outcomes:
        return outcomes  # whose outcome it is, the test that it is said of decides
    home = tuple(s for s in senses if s.term and region in s.term.regions)
    if home:
        return home
    general = tuple(s for s in senses if s.term and not s.term.regions)
    close = tuple(s for s in senses if s.term and near & set(s.term.regions))
    beside = tuple(s for s in senses if s.term and around & set(s.term.regions))
    return close or general or beside or tuple(senses)


def preferring_section(item: Item, section: str | None) -> Item:
    """Where one form names two things, the section being examined decides ("tib post" felt, "tib post" resisted)."""
    labels = {sense.term.label for sense in item.senses if sense.term}
    if len(labels) < 2 or section is None:
        return item
    fitting = [s for s in item.senses if s.term and section in s.term.sections and s.shape not in OUTCOMES]
    if not fitting:
        return item
    others = tuple(sense for sense in item.senses if sense not in fitting)
    return replace(item, senses=(*fitting, *others))


def one_or_several(item: Item) -> Item:
    """Where one wording names a thing and a set of things, its plural names the set ("rotation", "rotations")."""
    terms = [sense for sense in item.senses if sense.term]
    sets = [sense for sense in terms if sense.term and sense.term.stands_for]
    if not sets or len(sets) == len(terms) or item.kind == "outcome" or item.shape != "name":
        return item
    plural = item.text.endswith("s") or item.text.startswith("both ")
    kept = [s for s in item.senses if not s.term or bool(s.term.stands_for) == plural]
    return replace(item, senses=tuple(kept))


def sore_here(senses: tuple[Sense, ...], placed: bool) -> tuple[Sense, ...]:
    """ "Sore" is tenderness where the sentence names a place, else the pain of what was just done."""
    labels = {sense.term.label for sense in senses if sense.term}
    if not {"tenderness", "pain"} <= labels:
        return senses
    wanted = "tenderness" if placed else "pain"
    return tuple(sense for sense in senses if sense.term and sense.term.label == wanted)
