"""Look terms up by kind and label, and tell the members of a collective name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.phrases import Sense
from dictate.lexicon.load import Lexicon

Groups = Mapping[tuple[str, str], Sequence[Sense]]  # (kind, label) -> the terms of that name, one a region


def terms_by_name(lexicon: Lexicon) -> Groups:
    """Return the terms by kind and label, collective names left out; reflexes by their other names as well."""
    senses: dict[tuple[str, str], list[Sense]] = {}
    for term in lexicon.terms:
        names = (term.label, *term.forms) if term.kind == "reflex" else (term.label,)
        for name in dict.fromkeys(() if term.stands_for else names):
            senses.setdefault((term.kind, name), []).append(Sense("name", term=term))
    return senses


def named(groups: Groups, kind: str, label: str, regions: Sequence[str] = ()) -> Sense | None:
    """Return the term of this kind and label: of these regions, else of every region, else the first there is."""
    senses = groups.get((kind, label), ())
    home = [sense for sense in senses if sense.term and set(sense.term.regions) & set(regions)]
    general = [sense for sense in senses if sense.term and not sense.term.regions]
    return next(iter([*home, *general, *senses]), None)


def members(item: Item, groups: Groups) -> list[Item]:
    """Return the items that a collective name stands for ("joint lines"), or the item itself."""
    term = next((sense.term for sense in item.senses if sense.term), None)
    if term is None or not term.stands_for:
        return [item]
    own = [named(groups, term.kind, label, term.regions) for label in term.stands_for]
    return [replace(item, senses=(member,)) for member in own if member] or [item]
