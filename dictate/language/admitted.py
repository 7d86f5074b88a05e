"""Corrections that only give the right value: "a hundred and five, sorry", "on the right, sorry", "write one thirty".

What they are of was said before, by the same voice; what stands between is somebody's doubt ("look at the dial again").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.contract import OPPOSITE
from dictate.language.exchange import blanked, last_turned, put, recent
from dictate.language.mentions import Mention
from dictate.language.quantity import Quantity
from dictate.language.revise import change
from dictate.language.state import Entry, State
from dictate.language.tokens import QUESTION, STOP, Token

_WITHIN = 2  # utterances after the finding
_SORRY = frozenset({"sorry", "apologies"})
_LEADS = frozenset(
    {"no", "oh", "ah", "ach", "uh", "um", "er", "yes", "yeah", "it's", "that's", "sorry", "on", "the", "a"}
)
_ORDERS = frozenset({"write", "put", "make"})
_IT = frozenset({"it", "that", "down", "please"})
_HIGHEST = {"MRC": 5.0, "reflex": 4.0}  # grades that are said as bare numbers
_DOUBT = "changed by what was said afterwards"


def admitted(
    state: State, tokens: Sequence[Token], content: Sequence[Mention]
) -> tuple[State, Sequence[Token]] | None:
    """Carry out a correction at the start of the tokens that is an apology and a value, or an order to write one."""
    end = next((p + 1 for p, token in enumerate(tokens) if token.break_after in (STOP, QUESTION)), len(tokens))
    inside = [m for m in content if m.start < end and not m.cue("negation")]
    if not inside or not state.entries:
        return None
    value = inside[0]
    before = {token.norm for token in tokens[: value.start] if token.norm}
    behind = {token.norm for token in tokens[value.end : end] if token.norm}
    sorry = value.end < len(tokens) and tokens[value.end].norm in _SORRY and _closed(tokens, value.end + 1)
    spared = sorry or (bool(before & _SORRY) and not behind)
    apologised = len(inside) == 1 and spared and before <= _LEADS | _SORRY
    end = value.end + 1 if sorry else end
    ordered = bool(before & _ORDERS) and before <= _LEADS | _ORDERS | _IT and _closed(tokens, value.end)
    side = value.cue("side")
    if side is not None and side.cue and side.cue.value and apologised and _said_as_side(tokens, value):
        return _with_side(state, side.cue.value, tokens, end)
    if value.quantity is not None and (apologised or ordered):
        return _with_number(state, value.quantity, tokens, value.end if ordered else end)
    return None


def admits(tokens: Sequence[Token], start: int, stop: int, numbers: frozenset[str]) -> bool:
    """Whether a sentence may be such a correction: a value and "sorry" and no other word before it, or "write …".

    Args:
        tokens: of the utterance.
        start: where the sentence begins.
        stop: where it ends.
        numbers: the words of numbers.
    """
    words = [token.norm for token in tokens[start:stop]]
    if [word for word in words[:3] if word not in ("no", "oh", "so", "please")][:1] in (["write"], ["put"]):
        return True
    sorry = next((place for place, word in enumerate(words) if word in _SORRY), None)
    if sorry is None:
        return False
    before, behind = words[:sorry], words[sorry + 1 : sorry + 1 + _MOST_WORDS]
    parts = numbers | set(OPPOSITE) | _OF_NUMBERS | {word for word in words if word.isdigit()}
    if not set(before) <= parts | _LEADS:
        return False
    return bool(set(before) & parts) or (bool(behind) and set(behind) <= parts | _LEADS)


_MOST_WORDS = 6
_OF_NUMBERS = frozenset({"hundred", "and", "half", "point", "plus", "minus", "degrees"})


def _closed(tokens: Sequence[Token], end: int) -> bool:
    return end == len(tokens) or bool(tokens[end - 1].break_after)


def _said_as_side(tokens: Sequence[Token], value: Mention) -> bool:
    """Whether "right" is a side here, and does not lead on to the next thing ("right, sorry, where was I")."""
    words = {token.norm for token in tokens[max(0, value.start - 2) : value.end]}
    return bool(words & {"on", "the", "left"})


def _with_side(
    state: State, side: str, tokens: Sequence[Token], end: int
) -> tuple[State, Sequence[Token]] | None:
    last = state.entries[-1]
    if last.finding.side != OPPOSITE.get(side) or state.utterances - last.utterance > _WITHIN:
        return None
    state = last_turned(state, side, doubt=_DOUBT)
    context = replace(state.context, last_side=side)
    if context.side == OPPOSITE.get(side):
        context = replace(context, side=side)
    return replace(state, context=context), blanked(tokens, 0, end)


def _with_number(
    state: State, number: Quantity, tokens: Sequence[Token], end: int
) -> tuple[State, Sequence[Token]] | None:
    """Put the number in the place of the last one of its kind, if that was said just now."""
    for place, entry in recent(state):
        if state.utterances - entry.utterance > _WITHIN:
            return None
        corrected = _corrected(entry, number)
        if corrected is None:
            continue
        field, value = corrected
        if getattr(entry.finding, field) == value:
            return None
        changed = change(entry, field, value, said=entry.finding.said, doubt=_DOUBT)  # it may be of something else
        return put(state, place, changed), blanked(tokens, 0, end)
    return None


def _corrected(entry: Entry, number: Quantity) -> tuple[str, object] | None:
    """Return the field of a finding that a number is like, with the number in it."""
    finding = entry.finding
    if finding.degrees is not None and not number.is_grade and number.unit in (None, "deg"):
        signed = -number.value if finding.degrees < 0 else number.value
        limits = entry.term.plausible_deg.value if entry.term and entry.term.plausible_deg else None
        possible = not isinstance(limits, tuple) or limits[0] <= signed <= limits[1]
        return ("degrees", signed) if possible else None
    highest = _HIGHEST.get(finding.grade.scale, -1.0) if finding.grade is not None else -1.0
    if finding.grade is not None and number.unit is None and number.value <= highest:
        return "grade", finding.grade.model_copy(update={"value": number.text()})
    if finding.measure is not None and number.unit in (None, finding.measure.unit):
        return "measure", finding.measure.model_copy(update={"value": number.value})
    return None
