"""Hold two readings of the same words against each other: what only one of them gives is a question."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

from dictate.contract import Doubt, Finding
from dictate.language.state import Entry, State

_ONLY_SO = Doubt(
    reason="readings_disagree", detail="nothing marked where a sentence ends; it can be read otherwise", suggestion=None
)
_NOT_COMPARED: dict[str, object] = {"said": "", "doubts": [], "time": None, "replaced": [], "section": "inspection"}


def doubt_unless_agreed(state: State, other: State, known: int) -> State:
    """Return a reading in which each finding from the place `known` on that the other reading lacks is doubted.

    `state` had the breaks put back, `other` had none. Where they differ in the side alone, that of `other` stands: a
    break put back a word too late gives a side to the row before it.
    """
    unmatched: defaultdict[str, list[Entry]] = defaultdict(list)
    for entry in other.entries[known:]:
        unmatched[_meaning(entry.finding)].append(entry)
    entries = list(state.entries)
    alone = []
    for place in range(known, len(entries)):
        same = unmatched[_meaning(entries[place].finding)]
        if same:
            same.pop()
        else:
            alone.append(place)
    elsewhere: defaultdict[str, list[Entry]] = defaultdict(list)
    for left in unmatched.values():
        for entry in left:
            elsewhere[_meaning(entry.finding, sided=False)].append(entry)
    for place in alone:
        finding = entries[place].finding
        beside = elsewhere[_meaning(finding, sided=False)]
        side = beside.pop(0).finding.side if beside else finding.side
        doubts = [*finding.doubts, _ONLY_SO]
        entries[place] = entries[place].with_finding(finding.model_copy(update={"side": side, "doubts": doubts}))
    return replace(state, entries=tuple(entries))


def _meaning(finding: Finding, *, sided: bool = True) -> str:
    """Return what a finding states, with or without its side."""
    blank = _NOT_COMPARED if sided else {**_NOT_COMPARED, "side": None}
    return finding.model_copy(update=blank).model_dump_json()
