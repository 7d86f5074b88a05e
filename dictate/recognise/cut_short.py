"""Complete a reading that broke off: favoured terms are listed by commas, and after one the decoder may end too early.

Where the best reading ends in a comma and another reading of the same sound goes on from the same words, the words that
are missing are taken from there. They have a low certainty, so that whatever is read from them is doubted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from dictate.recognise.events import Utterance, Word

# Of words with so low a certainty half to two thirds are right (docs/engines.md): what a guess should be worth.
TAIL_CERTAINTY = 0.25
_LONGEST_TAIL = 6  # words
_SHORTEST_SHARED = 4  # letters right before the tail on which both readings agree


def completed(utterance: Utterance) -> Utterance:
    """Return the utterance with the words that its best reading lacks at the end; the same one where none does."""
    if not utterance.words or not utterance.words[-1].text.endswith(","):
        return utterance
    own = [_bare(word.text) for word in utterance.words]
    for hypothesis in sorted(utterance.alternatives, key=lambda other: not other.favoured):
        tail = _tail(own, hypothesis.text.split())
        if tail:
            *before, last = utterance.words
            if tail[0][-1].isalnum():
                last = replace(last, text=last.text.rstrip(","))
            added = (Word(text=t, start_s=last.end_s, end_s=last.end_s, confidence=TAIL_CERTAINTY) for t in tail[1:])
            return replace(utterance, words=(*before, last, *added))
    return utterance


def _tail(own: Sequence[str], other: Sequence[str]) -> Sequence[str]:
    """Return the word at which ours ends, as the other reading has it, and those with which that goes on; else none."""
    matcher = SequenceMatcher(None, own, [_bare(word) for word in other], autojunk=False)
    blocks = matcher.get_matching_blocks()[:-1]  # the last one of all is empty
    if not blocks or blocks[-1].a + blocks[-1].size != len(own):
        return ()
    last = blocks[-1]
    shared = sum(len(word) for word in own[last.a :])
    tail = other[last.b + last.size - 1 :]
    return tail if shared >= _SHORTEST_SHARED and 1 < len(tail) <= _LONGEST_TAIL + 1 else ()


def _bare(word: str) -> str:
    return word.strip(" ,.;:?!").lower()
