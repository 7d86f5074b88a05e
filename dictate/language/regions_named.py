"""Which region an exam is of: what was named of each, and what was found before one was known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from dictate.contract import Region
from dictate.language.mentions import Mention
from dictate.language.state import Context, Entry, State
from dictate.language.tokens import Token

# A region named outright weighs as much as this many of its own structures, movements or tests.
_NAMED_WEIGHT = 3
_BELOW_THE_ARM = 3  # of thoracic levels: T1 and T2 belong to the arm as well


def region_votes(mentions: Sequence[Mention]) -> Counter[Region]:
    """Return how much an utterance speaks of each region: regions named, and things that only one region has."""
    votes: Counter[Region] = Counter()
    for mention in mentions:
        named = mention.shaped("region")
        if named is not None:
            votes[named.value] += _NAMED_WEIGHT  # type: ignore[index]
        regions = {region for sense in mention.terms_named() if sense.term for region in sense.term.regions}
        if len(regions) == 1 and all(sense.term and sense.term.regions for sense in mention.terms_named()):
            votes[next(iter(regions))] += 1
        if any(level[0] == "T" and int(level[1:]) >= _BELOW_THE_ARM for level in mention.levels):
            votes["thoracic"] += 1
    return votes


def local_region(mentions: Sequence[Mention]) -> str:
    """Return the one region that a sentence names, or "": a joint screened at the end of a row is not its region."""
    named = {sense.value for m in mentions if (sense := m.shaped("region"))}
    if len(named) != 1:
        return ""
    return "" if comes_after_a_row(mentions) else next(iter(named))


def comes_after_a_row(mentions: Sequence[Mention]) -> bool:
    """Whether the first region named stands behind a row of things that only another region has."""
    first = next((place for place, mention in enumerate(mentions) if mention.shaped("region")), len(mentions))
    region = mentions[first].shaped("region") if first < len(mentions) else None
    others = region_votes(mentions[:first])
    most = [name for name, votes in others.most_common(1) if votes >= _NAMED_WEIGHT]
    return bool(most) and region is not None and most[0] != region.value


_PUT_SOMEWHERE = frozenset({"under", "on", "behind", "over", "by", "against"})
_POSES = frozenset({"flat", "together", "apart", "folded", "crossed", "uncrossed", "resting", "dangling", "hanging"})
_NEAR = 3  # words from one joint to the other where one is put by the other


def only_placed(mentions: Sequence[Mention], tokens: Sequence[Token]) -> bool:
    """Whether joints are named only to say how to stand or lie: "feet flat", "hands on hips"."""
    placed = joints_placed(mentions, tokens)
    return bool(placed) and all(m.start in placed for m in mentions if m.shaped("region"))


def joints_placed(mentions: Sequence[Mention], tokens: Sequence[Token]) -> set[int]:
    """Return the places of joints that are put somewhere or somehow, or that something is put by."""
    places = [mention.start for mention in mentions if mention.shaped("region")]
    put = {place for place in places if _is_put_on(tokens, place)}
    return put | {place for place in places if any(0 < other - place <= _NEAR for other in put)}


def _is_put_on(tokens: Sequence[Token], place: int) -> bool:
    before = [token.norm for token in tokens[max(0, place - 2) : place]]
    several = tokens[place].norm == "feet" or tokens[place].text.lower() != tokens[place].norm
    if several and place + 1 < len(tokens) and tokens[place + 1].norm in _POSES:
        return True
    if several and before[-1:] and before[-1] in _PUT_SOMEWHERE:
        return True
    return len(before) > 1 and before[0] in _PUT_SOMEWHERE and before[1] == "your"


def settle_region(state: State, before: int) -> State:
    """Once something of a region is heard, the findings from before it was known belong to it too."""
    context = state.context
    if context.region_said and not state.region_votes:
        if before < len(state.entries) or state.entries:
            state = replace(state, region_votes=((context.region, 1),), entries=_moved_to(state.entries, context))
        return state
    if context.region_said:
        return state
    for entry in state.entries[before:]:
        if entry.anchored:
            context = replace(context, region=entry.finding.region, region_said=True)
            return replace(
                state, context=context, region_votes=((context.region, 1),), entries=_moved_to(state.entries, context)
            )
    return state


def _moved_to(entries: Sequence[Entry], context: Context) -> tuple[Entry, ...]:
    return tuple(
        entry.with_finding(entry.finding.model_copy(update={"region": context.region})) if not entry.anchored else entry
        for entry in entries
    )
