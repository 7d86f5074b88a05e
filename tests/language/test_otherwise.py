"""Words that mean nothing here are taken for what another reading of the same sound has there, with a doubt."""

from __future__ import annotations

import pytest

from dictate.contract import Finding
from dictate.recognise.events import Hypothesis, Utterance
from tests.support.reading import reader


def heard(best: str, *others: str) -> list[Finding]:
    """Return the findings of one utterance that was also heard in other ways."""
    hypotheses = tuple(Hypothesis(text=text, score=-0.5) for text in others)
    said = Utterance(words=Utterance.of_text(best).words, alternatives=hypotheses, timed=False)
    return reader().step(reader().open([said], region="knee"), said).findings()


def reasons(finding: Finding) -> set[str]:
    return {doubt.reason for doubt in finding.doubts}


def test_a_term_of_another_reading_stands_where_the_words_mean_nothing() -> None:
    (finding,) = heard("Right knee, hoster your drawer negative.", "Right knee, posterior drawer negative.")
    assert (finding.finding, finding.status, finding.side) == ("posterior drawer", "negative", "right")


def test_it_carries_the_doubt() -> None:
    (finding,) = heard("Right knee, handstrings four out of five.", "right knee hamstrings 4 out of 5")
    assert "sounds_like" in reasons(finding)


def test_without_another_reading_nothing_is_made_of_it() -> None:
    assert not [f for f in heard("Right knee, sandwich paper five out of five.") if f.finding == "strength"]


@pytest.mark.parametrize("other", ["Left knee, Lachman negative.", "Right knee, McMurray negative."])
def test_words_that_mean_something_are_never_replaced(other: str) -> None:
    (finding,) = heard("Right knee, Lachman negative.", other)
    assert (finding.finding, finding.side) == ("lachman test", "right")


def test_a_negation_is_never_taken_from_another_reading() -> None:
    (finding,) = heard("Right knee, know effusion present.", "Right knee, no effusion present.")
    assert finding.status == "present"


def test_a_number_is_never_taken_from_another_reading() -> None:
    (finding,) = heard("Right knee, flexion one fifteen.", "Right knee, flexion one fifty.")
    assert finding.degrees == 115


def test_what_a_self_repair_took_back_does_not_return() -> None:
    said = "Right knee, flexion one fifteen, no, one hundred and five."
    (finding,) = heard(said, "Right knee flexion Lachman one fifteen no one hundred and five")
    assert (finding.finding, finding.degrees) == ("flexion", 105)


def test_the_first_of_several_readings_counts() -> None:
    first, second = "Right knee, Apley negative.", "Right knee, Lachman negative."
    (finding,) = heard("Right knee, ably negative.", first, second)
    assert finding.finding == "apley test"


@pytest.mark.parametrize("said", ["now tendar", "nun tendar"])
def test_a_denial_before_the_misheard_word_is_not_lost(said: str) -> None:
    (finding,) = heard(f"Right patellar tendon {said}.", "Right patellar tendon now tender.")
    assert (finding.finding, finding.status) == ("tenderness", "absent")
    assert "sounds_like" in reasons(finding)
