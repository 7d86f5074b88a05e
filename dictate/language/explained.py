"""Tell sentences that explain a scale, a level or what a verdict means from those that give one of this patient.

"Grade one is up to five millimetres, two is five to ten", "C5 is shoulder abduction, C6 wrist extension", "a positive
is pain at the epicondyle": the words of findings, with a grade, a level or a verdict as what the sentence is about.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.mentions import Mention
from dictate.language.tokens import COMMA, NO_BREAK, Token

_OPENERS = frozenset({"and", "so", "but", "now", "then", "ok", "okay", "right", "well", "a", "an", "the", "at", "mrc",
                      "oxford", "grade", "remember", "because", "as", "in"})  # fmt: skip
_COPULAS = frozenset({"is", "mean", "are", "equal", "cover"})
_SHORT_COPULA = "'s"
_LIMITS = (("up", "to"), ("less", "than"), ("more", "than"), ("over",), ("under",), ("beyond",), ("above",), ("below",))
_OWN_VERDICT = frozenset({"a", "your", "the"})
_VERDICTS = frozenset({"positive", "negative"})
_SCALES = frozenset({"scale", "graded", "grading", "grades", "scored", "classified"})
_LISTED_GRADES = 3  # that stand beside each other: nobody has so many
_SPAN = tuple[int, int, str]


def explained_spans(tokens: Sequence[Token], content: Sequence[Mention]) -> list[_SPAN]:
    """Return (start, end, "teaching") of the stretches that explain."""
    spans: list[_SPAN] = []
    for start, end in _parts(tokens, frozenset({NO_BREAK, COMMA})):
        inside = [mention for mention in content if start <= mention.start < end]
        listed = _lists_a_scale(tokens, start, end, inside)
        if listed:
            spans.append((start, end, "teaching"))
            continue
        explains = False
        for first, last in _parts(tokens[:end], frozenset({NO_BREAK}), start):
            here = [mention for mention in inside if first <= mention.start < last]
            steps = _is_step(tokens, first, last, here) or _is_level(tokens, first, last, here)
            goes_on = explains and _goes_on(tokens, first, here)
            verdict = _is_meaning(tokens, first, last, here)
            if verdict:
                spans.append((first, end if verdict == "sentence" else last, "teaching"))
            elif steps or goes_on:
                spans.append((first, last, "teaching"))
            explains = steps or goes_on
    return spans


def _parts(tokens: Sequence[Token], inside: frozenset[str], start: int = 0) -> list[tuple[int, int]]:
    """Cut tokens behind every break that is not of those inside."""
    out = []
    for place in range(start, len(tokens)):
        if tokens[place].break_after not in inside or place == len(tokens) - 1:
            out.append((start, place + 1))
            start = place + 1
    return out


def _subject(tokens: Sequence[Token], start: int, end: int) -> int:
    """Return where what a clause is about begins: behind "and", "so", "a", "grade"."""
    while start < end - 1 and tokens[start].norm in _OPENERS:
        start += 1
    return start


def _equates(tokens: Sequence[Token], place: int, end: int) -> int:
    """Return where the words behind "is", "means" or a short 's begin; 0 where none of them stands there."""
    if place < end and tokens[place].norm in _COPULAS:
        return place + 1
    return place if 0 < place < end and tokens[place - 1].text.endswith(_SHORT_COPULA) else 0


def _is_step(tokens: Sequence[Token], start: int, end: int, inside: Sequence[Mention]) -> bool:
    """Whether a step of a scale is explained: "four is against some resistance", "one to two's a two"."""
    if not inside:
        return False
    subject = _subject(tokens, start, end)
    first = inside[0]
    limited = any(tuple(t.norm for t in tokens[subject : subject + len(words)]) == words for words in _LIMITS)
    about_a_number = first.quantity is not None and (first.start <= subject + 1 or limited)
    if not about_a_number or first.quantity is None or first.quantity.unit == "deg":
        return False
    behind = _equates(tokens, first.end, end)
    if not behind:
        last = next((m for m in inside[1:] if m.quantity and m.end == end), None)
        equated = last is not None and tokens[last.start - 1].norm in ("a", "grade")
        return equated and any(_equates(tokens, place, end) for place in range(first.end, end))
    others = [mention for mention in inside[1:] if mention.start <= behind + 1]
    if any(m.cue("side") for m in inside) or tokens[behind - 1].norm == "are":
        return False
    grade = first.quantity.value <= _HIGHEST_STEP and behind < end
    judged = any(m.quantity for m in others) and tokens[behind].norm not in ("a", "grade")
    return grade and not judged


_HIGHEST_STEP = 10


def _is_level(tokens: Sequence[Token], start: int, end: int, inside: Sequence[Mention]) -> bool:
    """Whether a clause says what a level does or where it lies: "C5 is abduction", "thumb is C6", "L5 big toe"."""
    if not inside:
        return False
    levels = [m for m in inside if m.levels]
    others = [m for m in inside if m.terms("movement", "structure", "reflex")]
    valued = any(m.quantity or m.cue("status") or m.cue("side") or m.cue("severity") for m in inside)
    if len(levels) != 1 or valued or not others:
        return False
    first, second = sorted((levels[0], others[0]), key=lambda m: m.start)
    return bool(_equates(tokens, first.end, end)) and second.start - first.end <= _NEAR


_NEAR = 4


def _goes_on(tokens: Sequence[Token], start: int, inside: Sequence[Mention]) -> bool:
    """Whether a clause goes on with the list of an explanation: "…, two is five to ten", "…, C6 wrist extension"."""
    if not inside or any(m.cue("side") for m in inside):
        return False
    place = _subject(tokens, start, inside[0].end)
    first = inside[0]
    if first.levels:
        return first.start == place and not any(m.quantity or m.cue("status") for m in inside)
    stepped = first.quantity is not None and first.quantity.unit != "deg" and first.start == place
    return stepped and len(inside) + 1 < len(tokens) and not any(m.terms("movement", "structure") for m in inside)


def _is_meaning(tokens: Sequence[Token], start: int, end: int, inside: Sequence[Mention]) -> str:
    """Return how far a clause that says what a verdict means reaches: "sentence", "clause", or "" for no such clause.

    "A positive is pain in the arm" goes on to the end of its sentence; "…, and relief is your positive" does not.
    """
    subject = _subject(tokens, start, end)
    if tokens[subject].norm in _VERDICTS and _equates(tokens, subject + 1, end):
        sided = any(m.cue("side") and m.start <= subject + _NEAR for m in inside)
        return "" if sided else "sentence"
    last = tokens[end - 1].norm
    owned = end - start >= _NEAR - 1 and last in _VERDICTS and tokens[end - 2].norm in _OWN_VERDICT
    if owned and (tokens[end - 3].norm in _COPULAS or tokens[end - 3].text.endswith(_SHORT_COPULA)):
        signs = [m for m in inside if m.terms("sign") and m.start < end - 2]
        yours = tokens[end - 2].norm == "your"
        return "clause" if yours or (signs and not any(m.terms("test") for m in inside)) else ""
    return ""


def _lists_a_scale(tokens: Sequence[Token], start: int, end: int, inside: Sequence[Mention]) -> bool:
    """Whether a sentence lists the steps of a scale: "graded zero, trace, one plus, two plus, three plus"."""
    numbers = [m.quantity for m in inside if m.quantity and m.quantity.unit != "deg"]
    named = {m.start for m in inside if m.terms("movement", "structure", "reflex", "pulse") or m.levels}
    values = [number.value for number in numbers]
    rising = values == sorted(set(values)) and len(values) >= _LISTED_GRADES and values[-1] <= _HIGHEST_STEP
    scaled = any(token.text in _SCALES for token in tokens[start:end])
    return rising and (scaled or not named) and values[0] <= 1 and not any(m.cue("side") for m in inside)
