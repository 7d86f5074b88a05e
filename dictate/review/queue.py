"""What to look at first: the doubtful findings, worst first."""

from __future__ import annotations

from collections.abc import Iterable

from dictate.contract import DoubtReason, Finding
from dictate.journal.edits import Item

_OF_SIDE: frozenset[DoubtReason] = frozenset({"side_assumed", "side_conflict"})
_OF_NUMBER: frozenset[DoubtReason] = frozenset({"out_of_range", "incomplete"})
_OF_ANYTHING: frozenset[DoubtReason] = frozenset({"heard_unclearly", "readings_disagree", "slip_repaired", "conflicts"})

# Plain words for each reason; the doubt's own detail follows.
REASONS: dict[DoubtReason, str] = {
    "heard_unclearly": "Heard unclearly",
    "readings_disagree": "It can be read in two ways",
    "sounds_like": "The words only sound like this term",
    "out_of_range": "No joint does that",
    "wrong_region": "This lies in another region",
    "level_mismatch": "The spinal level does not fit",
    "side_assumed": "No side was said",
    "side_conflict": "The side does not fit",
    "slip_repaired": "A correction that was not plain",
    "conflicts": "This contradicts another finding",
    "incomplete": "Something is missing",
}


def is_open(item: Item, finding: Finding) -> bool:
    """Whether somebody still has to look: doubtful, in the note, and nobody decided."""
    return item.present and item.decision == "open" and bool(finding.doubts)


def touches_side_or_number(finding: Finding) -> bool:
    """Whether a doubt may be about a side or a number: those do the most harm when they are wrong."""
    reasons = {doubt.reason for doubt in finding.doubts}
    if reasons & (_OF_SIDE | _OF_NUMBER):
        return True
    values = (finding.degrees, finding.grade, finding.measure, finding.at_degrees)
    if any(value is not None for value in values) and reasons & _OF_ANYTHING:
        return True
    return any(doubt.reason == "readings_disagree" and "side " in doubt.detail for doubt in finding.doubts)


def worst_first(items: Iterable[tuple[Item, Finding]]) -> list[str]:
    """Return the keys of the findings that are open, doubts of side and number first, then by confidence."""
    doubtful = [(item, finding) for item, finding in items if is_open(item, finding)]
    return [
        item.key
        for item, _ in sorted(doubtful, key=lambda one: (not touches_side_or_number(one[1]), one[1].confidence))
    ]
