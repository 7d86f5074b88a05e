"""How probable it is that a finding is right: a start value, lowered by each reason for doubt and by unclear words.

The numbers are first guesses (project's choice), to be replaced by what the corpora and spoken fixtures measure: of the
findings given 0.9, nine in ten should be right. Reasons are taken as independent, so their factors multiply.
"""

from __future__ import annotations

from dictate.note.model import DoubtReason, Finding

START = 0.97  # a finding from clear text, without a doubt
LEAST = 0.05
FACTOR: dict[DoubtReason, float] = {
    "heard_unclearly": 0.75,
    "readings_disagree": 0.65,
    "sounds_like": 0.85,
    "out_of_range": 0.5,
    "wrong_region": 0.6,
    "level_mismatch": 0.6,
    "side_assumed": 0.85,
    "side_conflict": 0.6,
    "slip_repaired": 0.8,
    "conflicts": 0.65,
    "incomplete": 0.75,
}


def confidence(finding: Finding, *, clarity: float = 1.0) -> float:
    """Return the probability that a finding is right, 0 to 1.

    Args:
        finding: with its doubts; a reason counts once, however often it was raised.
        clarity: the recogniser's certainty of the least certain word of it, 0 to 1; 1 for typed text.

    A clear word costs nothing, one that was hardly heard costs a fifth: the doubt `heard_unclearly` is counted apart.
    """
    value = START
    for reason in {doubt.reason for doubt in finding.doubts}:
        value *= FACTOR[reason]
    value *= 0.8 + 0.2 * min(1.0, max(0.0, clarity))
    return round(max(LEAST, value), 3)
