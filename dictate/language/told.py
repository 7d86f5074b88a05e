"""What talk tells beside findings: who speaks, what was done at the introduction, which side is injured."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace

from dictate.language.mentions import Mention
from dictate.language.regions_named import comes_after_a_row, only_placed
from dictate.language.repair import Repaired
from dictate.language.state import State
from dictate.language.talk import Sentence as Span
from dictate.language.tokens import Token


def speaker_words(words: Sequence[str], patients: frozenset[str], examiners: frozenset[str]) -> set[int]:
    """Return the places of words that a label in the transcript gives to the patient ("Patient: it hurts")."""
    theirs: set[int] = set()
    speaking = False
    for place, word in enumerate(words):
        opens = place == 0 or words[place - 1].endswith(_SENTENCE_ENDS)  # "squat for me: painful" names no speaker
        name = word[:-1].lower().lstrip("([") if opens and word.endswith(":") else ""
        if name in patients or name in examiners:
            speaking = name in patients
            theirs.add(place)
        elif speaking:
            theirs.add(place)
    return theirs


def quoted_words(words: Sequence[str]) -> set[int]:
    """Return the places of words in quotation marks: somebody else's, or the patient's ("Any pain?" "No, doctor.")."""
    quoted: set[int] = set()
    opened: int | None = None
    for place, word in enumerate(words):
        if opened is None and word.lstrip("([").startswith(_OPENING_QUOTES):
            opened = place
        if opened is not None and word.rstrip(".,;:?!)]").endswith(_CLOSING_QUOTES) and len(word) > 1:
            quoted |= set(range(opened, place + 1))
            opened = None
    return quoted


_SENTENCE_ENDS = (".", "?", "!", '"', "”", ")", "]")
_OPENING_QUOTES = ('"', "“", "„", "«")
_CLOSING_QUOTES = ('"', "”", "“", "»")


def challenges(repaired: Repaired, span: Span, quoted: Set[int], tokens: Sequence[Token]) -> bool:
    """Whether a sentence doubts what was found: words of another speaker, or "are you sure?", "I make it thirty"."""
    another = any(token.word in quoted for token in tokens[span.start : span.end])
    return another or any(m.cue("challenge") for m in repaired.talk if span.start <= m.start < span.end)


def note_talk(state: State, repaired: Repaired, span: Span, kinds: Sequence[str], mentions: Sequence[Mention]) -> State:
    """Note what a sentence tells beside findings: things said at the introduction, and which side is injured."""
    cues = [m for m in repaired.talk if span.start <= m.start < span.end]
    introduced = {sense.cue.value for m in cues if (sense := m.cue("introduce")) and sense.cue and sense.cue.value}
    if introduced:
        state = replace(state, introduced=state.introduced | introduced)
    named = [sense.value for m in mentions if (sense := m.shaped("region"))]
    passed_by = comes_after_a_row(mentions) or only_placed(mentions, repaired.tokens)
    if named and not state.context.region_said and not passed_by:
        state = replace(state, context=replace(state.context, region=named[0], region_said=True))  # type: ignore[arg-type]
    if state.context.injured:
        return state
    sides = {s.cue.value for m in mentions if (s := m.cue("side")) and s.cue and s.cue.value}
    absolute = sides & {"left", "right"}
    if len(absolute) != 1:
        return state
    side = next(iter(absolute))
    objects = bool(state.entries) and state.challenged[1] == state.utterances  # "that's her right you're holding"
    history = not objects and any(kinds[place] in ("history", "patient") for place in range(span.start, span.end))
    if "injured" in sides or (history and "uninjured" not in sides):
        return replace(state, context=replace(state.context, injured=side))
    if "uninjured" in sides:
        other = "right" if side == "left" else "left"
        return replace(state, context=replace(state.context, injured=other))
    return state
