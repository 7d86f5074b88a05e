"""How probable it is that a finding is right: a start value, lowered by each reason for doubt and by unclear words.

The numbers were set by what the spoken fixtures measured with the embedded recogniser, and are to be measured again
when it or the reader changes: of the findings given 0.9, nine in ten should be right. The gravest reason counts in
full; further ones mostly go with it (an unclear word is also read in two ways), so they count for less.
"""

from __future__ import annotations

from dictate.contract import DoubtReason, Finding

START = 0.97  # a finding from clear text, without a doubt
LEAST = 0.05
_UNCLEAR = 0.9  # of the start value, when the least certain word was hardly heard at all
_FURTHER = 0.4  # power of the factors after the gravest
FACTOR: dict[DoubtReason, float] = {
    "heard_unclearly": 0.85,
    "readings_disagree": 0.65,
    "sounds_like": 0.85,
    "out_of_range": 0.4,
    "wrong_region": 0.5,
    "level_mismatch": 0.6,
    "side_assumed": 0.85,
    "side_conflict": 0.6,
    "slip_repaired": 0.8,
    "conflicts": 0.5,
    "incomplete": 0.75,
}


def confidence(finding: Finding, *, clarity: float = 1.0) -> float:
    """Return the probability that a finding is right, 0 to 1.

    Args:
        finding: with its doubts; a reason counts once, however often it was raised.
        clarity: the recogniser's certainty of the least certain word of it, 0 to 1; 1 for typed text.

    A clear word costs nothing, one that was hardly heard costs a tenth: the doubt `heard_unclearly` is counted apart.
    """
    factors = sorted(FACTOR[reason] for reason in {doubt.reason for doubt in finding.doubts})
    value = START * _UNCLEAR + START * (1 - _UNCLEAR) * min(1.0, max(0.0, clarity))
    for place, factor in enumerate(factors):
        value *= factor if place == 0 else factor**_FURTHER
    return round(max(LEAST, value), 3)
