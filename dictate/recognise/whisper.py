"""Whisper, one call an utterance: favour the terms of the exam, doubt what was favoured, invent nothing."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from pathlib import Path

from dictate.audio.endpoint import Endpointer, EndpointOptions, SpokenSpan
from dictate.audio.frame import Frame
from dictate.recognise.decoder import LONG_WINDOW_S, Decoder, Encoded, Reading
from dictate.recognise.events import Hypothesis, Partial, Utterance
from dictate.recognise.invented import why_invented
from dictate.recognise.weights import check_complete, check_embedded, embedded_model_dir

_log = logging.getLogger(__name__)

_BEAMS = 5  # with one, a fixed list of terms lost 12 of 243 rare words and 5 of 125 numbers; docs/engines.md
_HYPOTHESES = 3
_SURE = 0.5  # words that are all this likely without favouring are read the same without it
_VOICED = 0.3  # below this chance of silence somebody most likely spoke: leaving it out is worth a warning
_SECOND_BEAMS = 1  # the second reading is only compared


class WhisperRecogniser:
    """The embedded default. It gives whole utterances and no partials: an answer comes after each pause.

    Where every word is likely without favouring, that probability is its confidence. Where one is not, the confidences
    are those under favouring, which tell right words from wrong ones better, and the utterance is read again without
    favouring: a term that is heard only because it was favoured shows as a difference between the readings.
    """

    def __init__(self, model_dir: str | Path | None = None, *, endpoint: EndpointOptions | None = None) -> None:
        """Load the weights in `model_dir`, or the embedded ones. Raises RecogniserError if they cannot be used."""
        if model_dir is None:
            folder = embedded_model_dir()
            check_embedded(folder)
        else:
            folder = Path(model_dir)
            check_complete(folder)
        self._decoder = Decoder(folder)
        self._endpoint = endpoint
        self._endpointer = Endpointer(endpoint)
        self._terms: tuple[str, ...] = ()
        self._prompt: list[int] = []

    def favour(self, terms: Sequence[str]) -> None:
        """Favour these terms, most specific first, from the next utterance on; as many as the prompt holds."""
        if tuple(terms) != self._terms:
            self._terms = tuple(terms)
            self._prompt = self._decoder.prompt(self._terms)

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        """Take the next frame; yield each utterance that ended in it."""
        for span in self._endpointer.accept(frame):
            yield from self._utterance(span)

    def flush(self) -> Iterator[Partial | Utterance]:
        """End the recording; yield the utterance that was still open."""
        ended, self._endpointer = self._endpointer, Endpointer(self._endpoint)
        for span in ended.flush():
            yield from self._utterance(span)

    def _utterance(self, span: SpokenSpan) -> Iterator[Utterance]:
        sound = self._decoder.encode(span.samples)
        reading = self._decoder.read(sound, prompt=self._prompt, beams=_BEAMS, hypotheses=_HYPOTHESES)
        reason = why_invented(reading, terms=self._terms if self._prompt else ())
        favoured = bool(self._prompt)
        if reason:
            sound, reading, reason = self._read_afresh(span)
            favoured = False
        if reason:
            voiced = reading.no_speech_probability < _VOICED
            level = logging.WARNING if voiced else logging.INFO
            _log.log(level, "left out %.1f to %.1f s (%s): %r", span.start_s, span.end_s, reason, reading.text)
            return
        words = self._decoder.words(sound, reading, start_s=span.start_s)
        if words:
            doubtful = favoured and min(word.confidence for word in words) < _SURE
            second: tuple[Hypothesis, ...] = ()
            if doubtful:
                second = self._second_reading(sound, reading)
                words = self._decoder.words(sound, reading, start_s=span.start_s, prompt=self._prompt)
            yield Utterance(words=words, alternatives=(*second, *reading.others), endpoint_s=span.endpoint_s)

    def _read_afresh(self, span: SpokenSpan) -> tuple[Encoded, Reading, str | None]:
        """Read once more without favouring and in whisper's full window: real speech that ran away is mostly saved."""
        sound = self._decoder.encode(span.samples, window_s=LONG_WINDOW_S)
        reading = self._decoder.read(sound, beams=_BEAMS, hypotheses=_HYPOTHESES)
        return sound, reading, why_invented(reading)

    def _second_reading(self, sound: Encoded, reading: Reading) -> tuple[Hypothesis, ...]:
        """Return how the same sound reads without favouring, if that differs and can have been said."""
        plain = self._decoder.read(sound, beams=_SECOND_BEAMS)
        if plain.text == reading.text or why_invented(plain):
            return ()
        return (Hypothesis(text=plain.text, score=plain.average_logprob),)
