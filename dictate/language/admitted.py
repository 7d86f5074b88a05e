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
from dictate.lexicon.word_lists import CorrectionWords

_WITHIN = 2  # utterances after the finding
_OPENING_WORDS = 3  # among which an order to write stands
_MOST_WORDS = 6  # of the right value behind an apology
_HIGHEST = {"MRC": 5.0, "reflex": 4.0}  # grades that are said as bare numbers
_DOUBT = "changed by what was said afterwards"


def admitted(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], words: CorrectionWords
) -> tuple[State, Sequence[Token]] | None:
    """Carry out a correction at the start of the tokens that is an apology and a value, or an order to write one."""
    end = next((p + 1 for p, token in enumerate(tokens) if token.break_after in (STOP, QUESTION)), len(tokens))
    inside = [m for m in content if m.start < end and not m.cue("negation")]
    if not inside or not state.entries:
        return None
    value = inside[0]
    before = {token.norm for token in tokens[: value.start] if token.norm}
    behind = {token.norm for token in tokens[value.end : end] if token.norm}
    sorry = value.end < len(tokens) and tokens[value.end].norm in words.apologies and _closed(tokens, value.end + 1)
    spared = sorry or (bool(before & words.apologies) and not behind)
    apologised = len(inside) == 1 and spared and before <= words.before_value | words.apologies
    end = value.end + 1 if sorry else end
    ordered = bool(before & words.orders) and before <= words.before_value | words.orders | words.with_order
    ordered = ordered and _closed(tokens, value.end)
    side = value.cue("side")
    if side is not None and side.cue and side.cue.value and apologised and _said_as_side(tokens, value):
        return _with_side(state, side.cue.value, tokens, end)
    if value.quantity is not None and (apologised or ordered):
        return _with_number(state, value.quantity, tokens, value.end if ordered else end)
    return None


def admits(
    tokens: Sequence[Token], start: int, stop: int, numbers: frozenset[str], words: CorrectionWords
) -> bool:  # fmt: skip
    """Whether a sentence may be such a correction: a value and "sorry" and no other word before it, or "write …".

    Args:
        tokens: of the utterance.
        start: where the sentence begins.
        stop: where it ends.
        numbers: the words of numbers.
        words: of corrections.
    """
    said = [token.norm for token in tokens[start:stop]]
    opening = [word for word in said[:_OPENING_WORDS] if word not in words.before_order]
    if opening and opening[0] in words.opening_orders:
        return True
    sorry = next((place for place, word in enumerate(said) if word in words.apologies), None)
    if sorry is None:
        return False
    before, behind = said[:sorry], said[sorry + 1 : sorry + 1 + _MOST_WORDS]
    parts = numbers | set(OPPOSITE) | words.number_parts | {word for word in said if word.isdigit()}
    if not set(before) <= parts | words.before_value:
        return False
    return bool(set(before) & parts) or (bool(behind) and set(behind) <= parts | words.before_value)


def _closed(tokens: Sequence[Token], end: int) -> bool:
    return end == len(tokens) or bool(tokens[end - 1].break_after)


def _said_as_side(tokens: Sequence[Token], value: Mention) -> bool:
    """Whether "right" is a side here, and does not lead on to the next thing ("right, sorry, where was I")."""
    words = {token.norm for token in tokens[max(0, value.start - 2) : value.end]}
    return bool(words & {"on", "the", "left"})


def _with_side(state: State, side: str, tokens: Sequence[Token], end: int) -> tuple[State, Sequence[Token]] | None:
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
