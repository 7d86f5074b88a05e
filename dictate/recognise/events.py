"""What a recogniser hears: words, hypotheses, partials and utterances. Times are seconds from the recording's start."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """One recognised word, as spelled by the recogniser; punctuation may cling to it."""

    text: str
    start_s: float
    end_s: float
    confidence: float  # 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """One candidate reading of an utterance. `favoured`: whether terms of the exam were favoured in decoding it."""

    text: str
    score: float  # log-probability a token, or the engine's own; higher is better
    favoured: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Partial:
    """Words so far, which may still change: for display only; the parser never sees them."""

    words: tuple[Word, ...]

    @property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Utterance:
    """Speech up to an endpoint, which will not change again. A line of a transcript is one, with no times.

    `endpoint_s` is when the speech was judged to have ended; all sound before `heard_to_s` is in this utterance or in
    those before it, so that hearing can go on from there.
    """

    words: tuple[Word, ...]
    alternatives: tuple[Hypothesis, ...] = ()  # best first, without the reading that `words` spells
    endpoint_s: float | None = None
    heard_to_s: float | None = None
    timed: bool = True

    @property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)

    @classmethod
    def of_text(cls, text: str) -> Utterance:
        """Return the utterance of one typed line: certain words, no times."""
        words = tuple(Word(text=word, start_s=0.0, end_s=0.0, confidence=1.0) for word in text.split())
        return cls(words=words, timed=False)
