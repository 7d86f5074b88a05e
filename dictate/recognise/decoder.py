"""One stretch of sound to readings, with whisper weights: the sound is encoded once and may be read more than once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from faster_whisper import WhisperModel
from faster_whisper.audio import pad_or_trim
from faster_whisper.tokenizer import Tokenizer

from dictate.audio.frame import SAMPLE_RATE_HZ, Samples
from dictate.errors import RecogniserError
from dictate.recognise.events import Hypothesis, Word

LONG_WINDOW_S = 30.0  # what whisper was trained to hear at once
SHORT_WINDOW_S = 15.0  # enough for most utterances, at a quarter of the cost; shorter windows made it run on
_MARGIN_S = 2.0  # of silence that must fit into the short window after the speech
PROMPT_TOKENS = 180  # of favoured terms; whisper itself takes up to 223. Measured: docs/engines.md
_HOP_SAMPLES = 160  # from one feature to the next
_THREADS = 2
_TOKENS_A_SECOND = 10  # no one speaks faster; stops a reading that runs away
_TOKENS_AT_LEAST = 24


@dataclass(frozen=True, slots=True)
class Encoded:
    """Sound ready to be read, any number of times."""

    encoding: Any  # ctranslate2.StorageView
    feature_count: int  # 10 ms each, without the padding
    duration_s: float
    window_s: float


@dataclass(frozen=True, slots=True)
class Reading:
    """What one decoding made of a stretch of sound."""

    tokens: tuple[int, ...]
    text: str
    average_logprob: float  # a token
    no_speech_probability: float
    others: tuple[Hypothesis, ...]  # the other beams, best first


@dataclass(frozen=True, slots=True)
class Aligned:
    """A reading laid along its sound: whisper's word pieces with their times and unfavoured probabilities."""

    sound: Encoded
    tokens: list[int]
    pieces: list[dict[str, Any]]


class Decoder:
    """Whisper weights, int8, on the processor."""

    def __init__(self, model_dir: Path, *, threads: int = _THREADS) -> None:
        try:
            self._model = WhisperModel(
                str(model_dir), device="cpu", compute_type="int8", cpu_threads=threads, local_files_only=True
            )
        except (RuntimeError, ValueError, OSError) as error:
            message = f"{model_dir} holds no usable whisper weights ({error}); give another folder"
            raise RecogniserError(message) from error
        multilingual = self._model.model.is_multilingual
        self._tokenizer = Tokenizer(self._model.hf_tokenizer, multilingual, task="transcribe", language="en")
        self._start = [*self._tokenizer.sot_sequence, self._tokenizer.no_timestamps]

    def prompt(self, terms: Sequence[str]) -> list[int]:
        """Return the tokens that favour `terms`; those that do not fit, from the end of the list, are left out.

        The terms nearest to the speech weigh most, so the first of the list comes last in the prompt.
        """
        tokens: list[int] = []
        for term in terms:
            more = self._tokenizer.encode(f" {term}," if tokens else f" {term}.")
            if len(tokens) + len(more) > PROMPT_TOKENS:
                break
            tokens = more + tokens
        return [self._tokenizer.sot_prev, *tokens] if tokens else []

    def encode(self, samples: Samples, *, window_s: float | None = None) -> Encoded:
        """Encode up to 30 s of sound, padded with silence to `window_s`, or to what its length needs."""
        duration_s = len(samples) / SAMPLE_RATE_HZ
        if window_s is None:
            window_s = SHORT_WINDOW_S if duration_s <= SHORT_WINDOW_S - _MARGIN_S else LONG_WINDOW_S
        features = self._model.feature_extractor(samples, padding=_HOP_SAMPLES)
        encoding = self._model.encode(pad_or_trim(features, round(window_s * SAMPLE_RATE_HZ / _HOP_SAMPLES)))
        return Encoded(encoding, features.shape[-1] - 1, duration_s, window_s)

    def read(self, sound: Encoded, *, prompt: Sequence[int] = (), beams: int = 5, hypotheses: int = 1) -> Reading:
        """Decode `sound`, after `prompt`."""
        full_prompt = [*prompt, *self._start]
        limit = _TOKENS_AT_LEAST + int(_TOKENS_A_SECOND * sound.duration_s)
        result = self._model.model.generate(
            sound.encoding,
            [full_prompt],
            beam_size=beams,
            num_hypotheses=min(hypotheses, beams),
            max_length=min(self._model.max_length, len(full_prompt) + limit),
            return_scores=True,
            return_no_speech_prob=True,
            suppress_tokens=[-1],
        )[0]
        texts = [self._tokenizer.decode(ids).strip() for ids in result.sequences_ids]
        others = {
            text: Hypothesis(text=text, score=score, favoured=bool(prompt))
            for text, score in reversed(list(zip(texts, result.scores, strict=True)))
            if text and text != texts[0]
        }
        return Reading(
            tokens=tuple(result.sequences_ids[0]),
            text=texts[0],
            average_logprob=result.scores[0],
            no_speech_probability=result.no_speech_prob,
            others=tuple(sorted(others.values(), key=lambda other: -other.score)),
        )

    def align(self, sound: Encoded, reading: Reading) -> Aligned:
        """Return where in `sound` the words of `reading` are, and how likely each is without favouring."""
        tokens = [token for token in reading.tokens if token < self._tokenizer.eot]
        found = self._model.find_alignment(self._tokenizer, [tokens], sound.encoding, sound.feature_count)
        return Aligned(sound, tokens, found[0] if found else [])

    def words(self, aligned: Aligned, *, start_s: float, prompt: Sequence[int] = ()) -> tuple[Word, ...]:
        """Return the words with times (`start_s` is that of the sound) and confidences.

        A confidence is the mean probability of the word's tokens after `prompt`; without one it is as if unfavoured.
        """
        pieces = aligned.pieces
        if prompt and pieces:
            pieces = _with_probabilities(pieces, self._probabilities(aligned.sound, aligned.tokens, prompt))
        words: list[Word] = []
        duration_s = aligned.sound.duration_s
        earliest = 0.0  # whisper's times now and then step back by a hundredth; ours never do
        for piece in pieces:
            begin = float(np.clip(piece["start"], earliest, duration_s))
            end = float(np.clip(piece["end"], begin, duration_s))
            earliest = begin
            word = Word(
                text=piece["word"].strip(),
                start_s=round(start_s + begin, 3),
                end_s=round(start_s + end, 3),
                confidence=float(np.clip(piece["probability"], 0.0, 1.0)),
            )
            if words and not piece["word"].startswith(" "):  # "-tender" of "non-tender", "/5" of "4/5", a comma
                words[-1] = _joined(words[-1], word)
            elif word.text:
                words.append(word)
        return tuple(words)

    def _probabilities(self, sound: Encoded, tokens: list[int], prompt: Sequence[int]) -> Sequence[float]:
        """Return the probability of each of `tokens` after `prompt`: one pass over all, at a third of a decoding."""
        start = [*prompt, *self._tokenizer.sot_sequence]
        aligned = self._model.model.align(sound.encoding, start, [tokens], sound.feature_count)[0]
        probabilities: Sequence[float] = aligned.text_token_probs
        return probabilities


def _with_probabilities(pieces: list[dict[str, Any]], probabilities: Sequence[float]) -> list[dict[str, Any]]:
    out = []
    place = 0
    for piece in pieces:
        own = probabilities[place : place + len(piece["tokens"])]
        out.append({**piece, "probability": float(np.mean(own)) if len(own) else 0.0})
        place += len(piece["tokens"])
    return out


def _joined(word: Word, rest: Word) -> Word:
    """Return one word of two pieces; a mark alone says nothing about how well the word was heard."""
    heard = any(letter.isalnum() for letter in rest.text)
    confidence = min(word.confidence, rest.confidence) if heard else word.confidence
    end_s = max(word.end_s, rest.end_s) if heard else word.end_s
    return Word(text=word.text + rest.text, start_s=word.start_s, end_s=end_s, confidence=confidence)
