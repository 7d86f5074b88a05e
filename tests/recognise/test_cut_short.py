"""A reading that broke off after a comma is completed from another reading of the same sound, doubtfully."""

from __future__ import annotations

import pytest

from dictate.note.hearing import UNCLEAR_BELOW
from dictate.recognise.cut_short import completed
from dictate.recognise.events import Hypothesis, Utterance, Word


def heard(text, *others):
    words = tuple(
        Word(text=word, start_s=float(place), end_s=place + 0.5, confidence=0.9)
        for place, word in enumerate(text.split())
    )
    readings = tuple(Hypothesis(text=other, score=-0.3, favoured=favoured) for other, favoured in others)
    return Utterance(words=words, alternatives=readings, endpoint_s=30.0)


def test_the_missing_end_comes_from_another_reading():
    utterance = heard("flexion full, active extension,", ("Active flection full, active extension full.", False))
    assert completed(utterance).text == "flexion full, active extension full."


def test_a_favoured_reading_goes_before_a_plain_one():
    plain, favoured = ("lateral joint line, none tender", False), ("lateral joint line, nontender.", True)
    assert completed(heard("lateral joint line,", plain, favoured)).text == "lateral joint line, nontender."


def test_added_words_are_uncertain_and_lie_within_the_utterance():
    utterance = heard("hop normal, squat,", ("hop normal, squat painful", True))
    added = completed(utterance).words[len(utterance.words) :]
    assert [word.text for word in added] == ["painful"]
    assert all(word.confidence < UNCLEAR_BELOW and word.end_s <= utterance.words[-1].end_s for word in added)


@pytest.mark.parametrize(
    ("text", "other"),
    [
        ("flexion is 130.", "flexion is 130 degrees."),  # it ended as sentences end
        ("the effusion is small,", "the effusion is small."),  # nothing more was heard
        ("no scars,", "the wound is dry and clean"),  # the readings part before the end
        ("hop,", "hop and then he went home with his mother again"),  # too much to be a lost end
    ],
)
def test_other_utterances_stay_as_they_are(text, other):
    utterance = heard(text, (other, True))
    assert completed(utterance) is utterance
