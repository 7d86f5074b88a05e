"""What tells invented words from said ones, rule by rule."""

from __future__ import annotations

import pytest

from dictate.recognise.decoder import Reading
from dictate.recognise.invented import before_repeating, recites, repeats, why_invented

TERMS = ["lachman test", "pivot shift", "anterior drawer", "posterior drawer", "varus stress"]


def reading(text, *, logprob=-0.3, silent=0.01):
    return Reading(tokens=(), text=text, average_logprob=logprob, no_speech_probability=silent, others=())


INVENTED = [
    (reading(""), "no words"),
    (reading(". . ."), "no words"),
    (reading("Thank you.", logprob=-0.9, silent=0.91), "no speech"),
    (reading("Okay.", logprob=-1.2, silent=0.65), "no speech"),
    (reading("lachman", logprob=-1.9, silent=0.1), "unintelligible"),
    (reading("and equal and equal and equal and equal and equal"), "repeats itself"),
    (reading("the the the the"), "repeats itself"),
    (reading("pivot shift, anterior drawer, posterior drawer,"), "recites the favoured terms"),
    (reading("Posterior drawer. Anterior drawer. Pivot shift."), "recites the favoured terms"),
]
SAID = [
    "Lachman test, pivot shift, anterior drawer negative.",  # a status was said
    "anterior drawer, pivot shift, varus stress",  # not as listed
    "pivot shift, anterior drawer",  # two are no recital
    "full, full, full.",
    "left four, right four, left five, right five",
    "yes",
]


@pytest.mark.parametrize(("invented", "reason"), INVENTED, ids=lambda value: getattr(value, "text", value))
def test_invented(invented, reason):
    assert why_invented(invented, terms=TERMS) == reason


@pytest.mark.parametrize("text", SAID)
def test_said(text):
    assert why_invented(reading(text), terms=TERMS) is None


def test_a_recital_needs_favoured_terms():
    assert why_invented(reading("pivot shift, anterior drawer, posterior drawer,")) is None
    assert not recites("", TERMS)


def test_repeats_counts_phrases_that_follow_themselves():
    assert repeats([]) == 1
    assert repeats(list("abababc")) == 3
    assert repeats(list("abcd")) == 1


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("both knees, skin, skin, skin, skin, skin", "both knees, skin,"),
        ("left left left left", "left"),
        ("on the left, on the left, on the left, on the left,", "on the left,"),
        ("five five, four four", "five five, four four"),
        ("", ""),
    ],
)
def test_a_reading_that_goes_round_in_circles_is_shown_up_to_there(text: str, shown: str) -> None:
    assert before_repeating(text) == shown
