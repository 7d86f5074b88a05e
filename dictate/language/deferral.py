"""Sections that are left out ("no resisted testing today, too sore"), with the reason if one follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.state import State
from dictate.language.tokens import COMMA, Token

_BECAUSE = frozenset({"because", "as", "since", "given", "due", "cause", "cos"})


def is_deferral(items: Sequence[Item], kinds: Sequence[str]) -> bool:
    """Whether the sentence says that a section is left out."""
    leaves = [i for i in items if i.mention.shaped("defer") or i.value == "not_examined" or _denied_section(items, i)]
    sections = _sections(items)
    if not leaves or not sections or kinds[leaves[0].start] in ("condition", "teaching", "question", "history"):
        return False
    return not any(i.kind in ("test", "quantity", "outcome", "structure") for i in items) and not any(
        i.kind == "status" and i.value != "not_examined" for i in items
    )


def _sections(items: Sequence[Item]) -> list[str]:
    """Return the sections that a sentence names; "passive" is one where no movement is named."""
    moved = any(item.kind in ("movement", "asked") for item in items)
    named = [sense.value for i in items if (sense := i.mention.shaped("section"))]
    modalities = (i.mention.cue("modality") for i in items if not moved and not i.mention.shaped("section"))
    return [*named, *(sense.cue.value for sense in modalities if sense and sense.cue and sense.cue.value)]


def _denied_section(items: Sequence[Item], item: Item) -> bool:
    """Whether "no" stands right before the name of a section ("no resisted testing today")."""
    if item.kind != "negation":
        return False
    following = next((i for i in items if i.start == item.end), None)
    return following is not None and following.mention.shaped("section") is not None and not following.mention.terms()


def defer(state: State, items: Sequence[Item], tokens: Sequence[Token], words: Sequence[str]) -> State:
    """Record the sections that a sentence leaves out, with the reason if one follows."""
    sections = _sections(items)
    anchors = [
        i for i in items if i.mention.shaped("section") or i.mention.shaped("defer") or i.value == "not_examined"
    ]
    reason = _reason(tokens, words, max(item.end for item in anchors))
    deferred = dict(state.deferred)
    for section in sections:
        deferred[section] = reason  # type: ignore[index]
    return replace(state, deferred=tuple(deferred.items()))


def _reason(tokens: Sequence[Token], words: Sequence[str], start: int) -> str | None:
    rest = []
    for position in range(start, len(tokens)):
        rest.append(tokens[position].word)
        if tokens[position].break_after not in ("", COMMA):
            break
    said = [words[place] for place in dict.fromkeys(rest)]
    while said and said[0].lower().strip(",.") in _BECAUSE | {
        "for",
        "today",
        "now",
        "to",
        "this",
        "time",
        "the",
        "and",
        "of",
        "on",
        "out",
        "altogether",
    }:
        said.pop(0)
    text = " ".join(said).strip(" ,.;")
    return text or None
