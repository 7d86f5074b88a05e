"""Words that nobody said: what whisper writes over noise, music and silence, and how to tell."""

from __future__ import annotations

import re
import zlib
from collections.abc import Sequence

from dictate.recognise.decoder import Reading

_NO_SPEECH = 0.6  # whisper's own threshold (openai/whisper, transcribe.py)
_SURELY_NO_SPEECH = 0.8  # enough alone: noise gave up to 0.96, speech at most 0.02 (docs/engines.md)
_UNSURE_LOGPROB = -1.0  # the same source
_HOPELESS_LOGPROB = -1.5  # a token; common practice, no source
_COMPRESSED = 2.4  # the same source: text that packs this well repeats itself
_REPEATS = 4  # of one phrase, one after the other
_PHRASE_WORDS = 6  # the longest phrase looked at
_FEWEST_TERMS = 3  # that make a recital of the prompt


def why_invented(reading: Reading, *, terms: Sequence[str] = ()) -> str | None:
    """Return why nobody can have said this reading, or None. `terms` are those that were favoured in it."""
    words = _words(reading.text)
    if not words:
        return "no words"
    silent = reading.no_speech_probability
    if silent > _SURELY_NO_SPEECH or (silent > _NO_SPEECH and reading.average_logprob < _UNSURE_LOGPROB):
        return "no speech"
    if reading.average_logprob < _HOPELESS_LOGPROB:
        return "unintelligible"
    packed = reading.text.encode()
    if len(packed) / len(zlib.compress(packed)) > _COMPRESSED or repeats(words) >= _REPEATS:
        return "repeats itself"
    if recites(reading.text, terms):
        return "recites the favoured terms"
    return None


def before_repeating(text: str) -> str:
    """Return a text up to where it begins to go round in circles, one round of them included.

    >>> before_repeating("both knees, skin, skin, skin, skin, skin")
    'both knees, skin,'
    """
    words = text.split()
    bare = [" ".join(_words(word)) for word in words]
    for start in range(len(words)):
        for size in range(1, _PHRASE_WORDS + 1):
            phrase = bare[start : start + size]
            rounds = bare[start : start + size * _REPEATS]
            if len(phrase) == size and rounds == phrase * _REPEATS:
                return " ".join(words[: start + size])
    return text


def repeats(words: Sequence[str]) -> int:
    """Return how often a phrase of up to six words follows itself, at most.

    >>> repeats("knee the left the left the left".split())
    3
    """
    most = 1
    for size in range(1, _PHRASE_WORDS + 1):
        for start in range(len(words) - size):
            phrase, count = words[start : start + size], 1
            while words[start + count * size : start + (count + 1) * size] == phrase:
                count += 1
            most = max(most, count)
    return most


def recites(text: str, terms: Sequence[str]) -> bool:
    """Return whether `text` is nothing but neighbours in the list of favoured terms, in its order or the reverse.

    >>> terms = ["lachman test", "pivot shift", "anterior drawer", "posterior drawer"]
    >>> recites("Pivot shift, anterior drawer, posterior drawer.", terms)
    True
    >>> recites("Pivot shift, anterior drawer, posterior drawer negative.", terms)
    False
    """
    said = _words(text)
    for listed in (list(terms), list(reversed(terms))):
        spelled = [_words(term) for term in listed]
        for first in range(len(spelled) - _FEWEST_TERMS + 1):
            recital: list[str] = []
            for count, term in enumerate(spelled[first:], start=1):
                recital += term
                if count >= _FEWEST_TERMS and recital == said:
                    return True
                if recital != said[: len(recital)]:
                    break
    return False


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z0-9']+", text.lower())
