"""The embedded recogniser: it hears read speech, its times run forwards, and it invents nothing."""

from __future__ import annotations

from itertools import pairwise

import jiwer
import numpy as np
import pytest

from dictate.audio import SAMPLE_RATE_HZ, frames_of_file
from dictate.errors import RecogniserError
from dictate.recognise.events import Utterance
from dictate.recognise.protocol import recognise
from dictate.recognise.weights import EMBEDDED_PACKAGE, check_embedded, embedded_model_dir
from dictate.recognise.whisper import WhisperRecogniser
from tests.audio.sounds import applause, chords, frames_of, hum, pink, white
from tests.audio.speech import speech

pytestmark = pytest.mark.slow
WORST_WER = 0.15  # of five read sentences; 0.05 was measured
TERMS = ["john dashwood", "lachman test", "pivot shift", "dorsalis pedis", "medial joint line"]
NOISES = {"white": white, "pink": pink, "hum": hum, "music": chords, "applause": applause}


@pytest.fixture(scope="module")
def shared():
    return WhisperRecogniser()


@pytest.fixture
def whisper(shared):
    list(shared.flush())
    shared.favour(())
    return shared


def pause(length_s):
    return np.zeros(round(length_s * SAMPLE_RATE_HZ), dtype=np.float32)


def narration():
    return np.concatenate([part for spoken in speech() for part in (pause(0.7), spoken.sound)] + [pause(1.0)])


def plain(text):
    return jiwer.Compose([jiwer.ToLowerCase(), jiwer.RemovePunctuation(), jiwer.RemoveMultipleSpaces(), jiwer.Strip()])(
        text.replace("-", " ").replace("Mr.", "mister").replace("Mr ", "mister ")
    )


def test_read_speech_is_heard(whisper, record_property):
    heard = [event for event in recognise(frames_of(narration()), whisper) if isinstance(event, Utterance)]
    wer = jiwer.wer(plain(" ".join(spoken.text for spoken in speech())), plain(" ".join(one.text for one in heard)))
    record_property("word_error_rate", wer)
    assert wer <= WORST_WER


@pytest.mark.parametrize("terms", [(), TERMS], ids=["plain", "favoured"])
def test_laws_of_events(whisper, terms):
    whisper.favour(terms)
    sound = narration()
    utterances = list(recognise(frames_of(sound), whisper))
    words = [word for utterance in utterances for word in utterance.words]
    assert len(utterances) >= 5
    for word, following in pairwise(words):
        assert word.start_s <= word.end_s
        assert word.start_s <= following.start_s
    for utterance in utterances:
        assert utterance.words[-1].end_s <= utterance.endpoint_s <= len(sound) / SAMPLE_RATE_HZ + 0.05
        assert all(0 <= word.confidence <= 1 for word in utterance.words)
        assert all(word.text == word.text.strip() and word.text for word in utterance.words)
        texts = [other.text for other in utterance.alternatives]
        assert utterance.text not in texts
        assert len(texts) == len(set(texts))
        if not terms:
            assert not any(other.favoured for other in utterance.alternatives)


def test_words_are_where_they_are_spoken(whisper):
    """Each sentence's words lie within its sound, in the middle of a narration."""
    said, begin = speech()[2], 0.7 * 3 + sum(len(spoken.sound) for spoken in speech()[:2]) / SAMPLE_RATE_HZ
    utterances = list(recognise(frames_of(narration()), whisper))
    end = begin + len(said.sound) / SAMPLE_RATE_HZ
    inside = [word for one in utterances for word in one.words if begin - 0.2 <= word.start_s <= end]
    assert "unless" in inside[0].text.lower()
    assert "disposed" in " ".join(word.text for word in inside[-2:]).lower()


@pytest.mark.parametrize("name", NOISES)
@pytest.mark.parametrize("terms", [(), TERMS], ids=["plain", "favoured"])
def test_noise_gives_no_words(whisper, name, terms):
    whisper.favour(terms)
    assert list(recognise(frames_of(NOISES[name](6.0)), whisper)) == []


@pytest.mark.parametrize("name", ["silence", *NOISES])
def test_noise_gives_no_words_even_where_the_voice_detector_fires(whisper, name, monkeypatch):
    """The second line of defence: what whisper itself makes of noise is not believed."""
    monkeypatch.setattr(
        "dictate.audio.voice.VoiceDetector.probabilities", lambda self, windows: np.full(len(windows), 0.9, np.float32)
    )
    sound = pause(6.0) if name == "silence" else NOISES[name](6.0)
    list(whisper.flush())
    assert list(recognise(frames_of(sound), whisper)) == []


@pytest.mark.parametrize("length_s", [0.0, 0.1, 5.0])
def test_silence_gives_no_words(whisper, length_s):
    assert list(recognise(frames_of(pause(length_s)), whisper)) == []


def test_speech_is_heard_in_noise_and_when_quiet(whisper):
    said = speech()[1]
    sound = np.concatenate([pause(0.5), said.sound, pause(1)])
    loud = np.sqrt(np.mean(said.sound**2))
    for altered in (sound * 0.05, sound + pink(len(sound) / SAMPLE_RATE_HZ, level=0.1 * loud)):
        heard = " ".join(event.text for event in recognise(frames_of(altered.astype(np.float32)), whisper))
        assert "young man" in heard.lower()


def test_a_second_recording_starts_anew(whisper):
    sound = np.concatenate([pause(0.5), speech()[1].sound, pause(1)])
    first = list(recognise(frames_of(sound), whisper))
    assert list(recognise(frames_of(sound), whisper)) == first


def test_nothing_is_read_before_the_first_event_is_asked_for(whisper):
    def broken():
        raise AssertionError("read too early")
        yield

    events = recognise(broken(), whisper)
    with pytest.raises(AssertionError, match="too early"):
        next(events)


def test_favouring_brings_out_a_term_and_the_plain_reading_is_kept(whisper):
    """A name that the weights misspell is spelled as favoured; the other spelling stays among the alternatives."""
    sound = np.concatenate([pause(0.5), speech()[0].sound, pause(1)])
    (unaided,) = recognise(frames_of(sound), whisper)
    whisper.favour(["Jon Dashwoode"])
    (favoured,) = recognise(frames_of(sound), whisper)
    assert "Dashwoode" not in unaided.text
    assert "dashwoode" in favoured.text.lower()
    unfavoured = [other.text for other in favoured.alternatives if not other.favoured]
    assert len(unfavoured) == 1
    assert "dashwoode" not in unfavoured[0].lower()


def test_a_file_of_any_kind_is_heard(whisper, tmp_path):
    soundfile = pytest.importorskip("soundfile")
    soxr = pytest.importorskip("soxr")
    sound = np.concatenate([pause(0.5), speech()[1].sound, pause(1)])
    path = tmp_path / "exam.mp3"
    soundfile.write(path, np.stack([soxr.resample(sound, SAMPLE_RATE_HZ, 44_100)] * 2, axis=1), 44_100, format="MP3")
    heard = " ".join(event.text for event in recognise(frames_of_file(path), whisper))
    assert "young man" in heard.lower()


def altered_copy(folder):
    source = embedded_model_dir()
    folder.mkdir()
    for path in source.iterdir():
        if path.name != "model.bin":
            (folder / path.name).write_bytes(path.read_bytes())
    data = bytearray((source / "model.bin").read_bytes())
    data[len(data) // 2] ^= 1
    (folder / "model.bin").write_bytes(data)
    return folder


def test_altered_weights_are_refused(tmp_path, monkeypatch):
    folder = altered_copy(tmp_path / "model")
    with pytest.raises(RecogniserError, match="altered"):
        check_embedded(folder)
    monkeypatch.setattr("dictate.recognise.whisper.embedded_model_dir", lambda: folder)
    with pytest.raises(RecogniserError, match="pip install"):
        WhisperRecogniser()


def test_missing_weights_are_named(tmp_path, monkeypatch):
    with pytest.raises(RecogniserError, match=r"lacks model\.bin"):
        WhisperRecogniser(tmp_path)
    monkeypatch.setattr("dictate.recognise.weights.find_spec", lambda name: None)
    with pytest.raises(RecogniserError, match="missing; install it again"):
        WhisperRecogniser()


def test_unusable_weights_are_refused(tmp_path):
    for name in ("model.bin", "config.json", "tokenizer.json"):
        (tmp_path / name).write_bytes(b"{}")
    with pytest.raises(RecogniserError, match="no usable whisper weights"):
        WhisperRecogniser(tmp_path)


def test_other_weights_need_no_checksum(shared):
    assert isinstance(WhisperRecogniser(embedded_model_dir()), WhisperRecogniser)
    assert EMBEDDED_PACKAGE
