"""Vosk: words as they are spoken, and a final utterance at each pause.

Vosk gives word confidences or alternatives, never both: asked for alternatives, it leaves the confidences out. So the
stream is read for confidences, and only an utterance with a doubtful word is read once more for its alternatives.
Where an utterance ends is decided by our own endpointing, so that both engines cut alike and noise is not read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dictate.audio.endpoint import Endpointer, EndpointOptions, SpokenSpan
from dictate.audio.frame import SAMPLE_RATE_HZ, Frame, Samples
from dictate.errors import RecogniserError
from dictate.recognise.events import Hypothesis, Partial, Utterance, Word

_ALTERNATIVES = 4  # asked for; the one that the words spell is then left out
_SURE = 0.95  # an utterance whose every word is at least this certain is not read again
_PARTIAL_EVERY_S = 0.3  # of speech: word times and confidences of a partial cost a fifth of the decoding
_NOT_WORDS = {"[unk]", "<unk>", "[noise]", "<eps>", "[laughter]", "[spn]"}
_NEEDED = ("am/final.mdl", "conf/model.conf")


def is_vosk_model(folder: Path) -> bool:
    """Return whether `folder` looks like an unpacked Vosk model."""
    return all((folder / name).is_file() for name in _NEEDED)


class VoskRecogniser:
    """A Vosk model as a stream: partials while somebody speaks, an utterance at each pause."""

    def __init__(self, model_dir: str | Path, *, endpoint: EndpointOptions | None = None) -> None:
        """Load the model in `model_dir`. Raises RecogniserError if it, or the library, is missing or unusable."""
        folder = Path(model_dir)
        if not is_vosk_model(folder):
            raise RecogniserError(f"{folder} is not an unpacked Vosk model; give the folder that holds am/ and conf/")
        try:
            import vosk
        except (ImportError, OSError) as error:
            raise RecogniserError("the vosk library is missing; install it: pip install vosk") from error
        vosk.SetLogLevel(-1)  # for the whole process: Vosk knows no other way
        try:
            self._model = vosk.Model(str(folder))
        except Exception as error:  # the library raises plain Exception
            raise RecogniserError(f"Vosk cannot load {folder}; fetch the model again") from error
        self._stream = vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ)  # one for all: it adapts to the speaker
        self._stream.SetWords(True)
        self._stream.SetPartialWords(True)
        self._again = vosk.KaldiRecognizer(self._model, SAMPLE_RATE_HZ)
        self._again.SetMaxAlternatives(_ALTERNATIVES)
        self._fed_s = 0.0  # sound that the stream has heard in earlier spans: its times count from there
        self._endpoint = endpoint
        self._endpointer = Endpointer(endpoint)
        self._reader: _SpanReader | None = None

    def favour(self, terms: Sequence[str]) -> None:
        """Do nothing: a Vosk model can be bound to a closed grammar, which would make it deaf to all else."""

    def accept(self, frame: Frame) -> Iterator[Partial | Utterance]:
        """Take the next frame; yield the utterances that ended in it and the words so far of one that goes on."""
        for span in self._endpointer.accept(frame):
            yield from self._utterance(span)
        pending = self._endpointer.pending()
        if pending is None:
            self._close()
        else:
            partial = self._reader_of(pending).partial(pending.samples)
            if partial is not None:
                yield partial

    def flush(self) -> Iterator[Partial | Utterance]:
        """End the recording; yield the utterance that was still open."""
        ended, self._endpointer = self._endpointer, Endpointer(self._endpoint)
        for span in ended.flush():
            yield from self._utterance(span)
        self._close()

    def _utterance(self, span: SpokenSpan) -> Iterator[Utterance]:
        reader = self._reader_of(span)
        words = reader.final(span)
        self._close()
        if words:
            text = " ".join(word.text for word in words)
            doubtful = min(word.confidence for word in words) < _SURE
            alternatives = self._alternatives(span, text) if doubtful else ()
            yield Utterance(
                words=words, alternatives=alternatives, endpoint_s=span.endpoint_s, heard_to_s=round(span.end_s, 4)
            )

    def _reader_of(self, span: SpokenSpan) -> _SpanReader:
        if self._reader is None or self._reader.start_s != span.start_s:
            self._close()
            self._reader = _SpanReader(self._stream, start_s=span.start_s, fed_before_s=self._fed_s)
        return self._reader

    def _close(self) -> None:
        """Forget the open span, which has ended or turned out to be no speech."""
        if self._reader is not None:
            self._stream.FinalResult()
            self._fed_s += self._reader.fed_s
            self._reader = None

    def _alternatives(self, span: SpokenSpan, text: str) -> tuple[Hypothesis, ...]:
        self._again.AcceptWaveform(_pcm16(span.samples))
        found = json.loads(self._again.FinalResult()).get("alternatives", [])
        hypotheses: dict[str, Hypothesis] = {}
        for item in found:
            other = " ".join(word for word in item["text"].split() if word not in _NOT_WORDS)
            if other and other != text:
                hypotheses.setdefault(other, Hypothesis(text=other, score=float(item["confidence"])))
        return tuple(hypotheses.values())


class _SpanReader:
    """One span, fed as it grows."""

    def __init__(self, recogniser: Any, *, start_s: float, fed_before_s: float) -> None:
        self._recogniser = recogniser
        self.start_s = start_s
        self._shift_s = start_s - fed_before_s  # from the stream's times to the recording's
        self._fed = 0  # samples
        self._closed: list[Word] = []  # Vosk ends an utterance of its own now and then; ours goes on
        self._shown: tuple[str, ...] = ()
        self._asked_at = 0  # samples fed when last asked for a partial

    @property
    def fed_s(self) -> float:
        """Seconds of sound given to the stream for this span."""
        return self._fed / SAMPLE_RATE_HZ

    def partial(self, samples: Samples) -> Partial | None:
        """Take the span so far; return its words if they changed."""
        self._feed(samples)
        if self._fed - self._asked_at < _PARTIAL_EVERY_S * SAMPLE_RATE_HZ:
            return None
        self._asked_at = self._fed
        heard = self._words(json.loads(self._recogniser.PartialResult()).get("partial_result", []))
        words = (*self._closed, *heard)
        texts = tuple(word.text for word in words)
        if not texts or texts == self._shown:
            return None
        self._shown = texts
        return Partial(words=words)

    def final(self, span: SpokenSpan) -> tuple[Word, ...]:
        """Take the whole span; return its words. Words after its end were fed too early and belong to the next."""
        self._feed(span.samples)
        last = self._words(json.loads(self._recogniser.FinalResult()).get("result", []))
        return tuple(word for word in (*self._closed, *last) if word.start_s < span.end_s)

    def _feed(self, samples: Samples) -> None:
        new, self._fed = samples[self._fed :], max(self._fed, len(samples))
        if len(new) and self._recogniser.AcceptWaveform(_pcm16(new)):
            self._closed += self._words(json.loads(self._recogniser.Result()).get("result", []))

    def _words(self, items: list[dict[str, Any]]) -> list[Word]:
        words: list[Word] = []
        earliest = self._closed[-1].start_s if self._closed else self.start_s
        for item in items:
            if item["word"] not in _NOT_WORDS:
                begin = max(earliest, round(self._shift_s + item["start"], 3))
                end = max(begin, round(self._shift_s + item["end"], 3))
                earliest = begin
                confidence = min(1.0, max(0.0, float(item["conf"])))
                words.append(Word(text=item["word"], start_s=begin, end_s=end, confidence=confidence))
        return words


def _pcm16(samples: Samples) -> bytes:
    return (np.clip(samples, -1.0, 1.0) * 32767).astype("<i2").tobytes()
