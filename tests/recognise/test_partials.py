"""Words of whisper while somebody speaks. They are for display: what an utterance says must not depend on them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from dictate.audio import SAMPLE_RATE_HZ, Endpointer, Frame, frames_of_file
from dictate.recognise.events import Partial, Utterance
from dictate.recognise.protocol import recognise
from dictate.recognise.whisper import WhisperRecogniser
from tests.audio.sounds import frames_of
from tests.support.exams import SCRIPTS

pytestmark = pytest.mark.slow

EVERY_S = 0.5
TERMS = ("medial joint line", "lateral joint line", "effusion", "skin")
LENGTH_S = 24.0


def spoken() -> list[Frame]:
    """Return the beginning of a fixture: five utterances, with pauses within and between them."""
    frames = []
    for frame in frames_of_file(SCRIPTS / "both_knees_ellipsis.flac"):
        if frame.start_s >= LENGTH_S:
            break
        frames.append(frame)
    return frames


def events_of(recogniser: WhisperRecogniser) -> list[tuple[float, Partial | Utterance]]:
    """Return what came of the sound, each with the time up to which sound had been given."""
    recogniser.favour(TERMS)
    events: list[tuple[float, Partial | Utterance]] = []
    for frame in spoken():
        events += [(frame.end_s, event) for event in recogniser.accept(frame)]
    return [*events, *((LENGTH_S, event) for event in recogniser.flush())]


@pytest.fixture(scope="module")
def with_partials() -> list[tuple[float, Partial | Utterance]]:
    return events_of(WhisperRecogniser(partials_every_s=EVERY_S, clock=lambda: 0.0))


@pytest.fixture(scope="module")
def without() -> list[tuple[float, Partial | Utterance]]:
    return events_of(WhisperRecogniser())


def utterances(events: list[tuple[float, Partial | Utterance]]) -> list[Utterance]:
    return [event for _, event in events if isinstance(event, Utterance)]


def test_partials_change_no_utterance(with_partials: list, without: list) -> None:
    assert utterances(with_partials) == utterances(without) and len(utterances(without)) >= 4


def test_without_the_option_there_are_none(without: list) -> None:
    assert not any(isinstance(event, Partial) for _, event in without)


def test_words_come_while_somebody_speaks(with_partials: list) -> None:
    for utterance in utterances(with_partials):
        begin_s, end_s = utterance.words[0].start_s, utterance.words[-1].end_s
        shown = [at_s for at_s, event in with_partials if isinstance(event, Partial) and begin_s <= at_s <= end_s + 0.4]
        assert len(shown) >= (end_s - begin_s) / 1.2, utterance.text


def test_no_partial_says_what_the_one_before_said(with_partials: list) -> None:
    for (_, one), (_, other) in pairwise(with_partials):
        assert not (isinstance(one, Partial) and isinstance(other, Partial) and one.text == other.text)


def test_a_recogniser_that_lags_makes_none() -> None:
    lagging = WhisperRecogniser(partials_every_s=EVERY_S, lag_s=lambda: 2.0)
    assert not any(isinstance(event, Partial) for _, event in events_of(lagging))


def test_partials_that_cost_much_come_seldom(with_partials: list) -> None:
    ticks = iter(range(10_000))  # seconds: each look at the clock finds it one further
    slow = WhisperRecogniser(partials_every_s=EVERY_S, clock=lambda: float(next(ticks)))
    few, many = (sum(isinstance(event, Partial) for _, event in told) for told in (events_of(slow), with_partials))
    assert few < many / 2


def test_silence_gives_no_partials() -> None:
    recogniser = WhisperRecogniser(partials_every_s=EVERY_S)
    silence = frames_of(np.zeros(SAMPLE_RATE_HZ * 3, dtype=np.float32))
    assert list(recognise(silence, recogniser)) == []


def test_the_sound_of_an_utterance_is_settled_before_its_pause_is_over() -> None:
    endpointer = Endpointer()
    settled = None
    compared = 0
    for frame in spoken():
        for span in endpointer.accept(frame):
            assert settled is not None
            assert settled.start_s == span.start_s and np.array_equal(settled.samples, span.samples)
            compared += 1
        settled = endpointer.settled()
    assert compared >= 4
