"""What "you" do is taught, unless it is what the patient has or how far the patient gets."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import sentence_end
from dictate.language.mentions import Mention
from dictate.language.quantity import LEAST_ANGLE
from dictate.language.token_row import norms_between
from dictate.language.tokens import COMMA, NO_BREAK, Token
from dictate.lexicon.general_model import GeneralWords

_YOU_STATES = frozenset({"have", "do", "are", "got", "feel", "can", "did", "were", "also", "still", "really"})


def second_person(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "You stroke the fluid upwards": what you do is not what was found, unless it is what you have or are."""
    for place in range(start, end):
        if tokens[place].norm != "you":
            continue
        if any(place in range(m.start, m.end) and m.cue("presence") for m in by_start.values()):
            continue
        if place > start and tokens[place - 1].norm in words.done_to_the_patient:
            continue  # "it does give you pain"
        following = tokens[place + 1].norm if place + 1 < end else ""
        if norms_between(tokens, place + 1, place + 3) == ["do", "not"] and norms_between(
            tokens, place + 3, place + 4
        ) != ["have"]:
            return [(place, end, "teaching")]
        if not following or following in _YOU_STATES or following.startswith("'"):
            continue
        if following in words.patient_moves and _so_far(tokens, place, end, by_start):
            continue
        asked = tokens[start].norm == "for"  # "for stiffness you test external rotation"
        return [(start if asked else place, end, "teaching")]
    return []


def because(
    tokens: Sequence[Token], start: int, end: int, spans: Sequence[tuple[int, int, str]]
) -> list[tuple[int, int, str]]:
    """ "You watch them walk, because a sore leg limps, and …": the reason for what is taught is taught as well."""
    taught = [span for span in spans if span[1] == start and span[2] == "teaching"]
    if tokens[start].norm != "because" or not taught or tokens[start - 1].break_after != COMMA:
        return []
    return [(start, sentence_end(tokens, end), "teaching")]


def _so_far(tokens: Sequence[Token], place: int, end: int, by_start: dict[int, Mention]) -> bool:
    """Whether "you get a hundred degrees of flexion", "you straighten fully": said of this patient, now."""
    inside = [mention for start, mention in by_start.items() if place < start < end]
    if any(mention.shaped("normal") and mention.terms("movement") for mention in inside):
        return True
    if any(m.quantity and norms_between(tokens, m.start - 3, m.start) == ["as", "far", "as"] for m in inside):
        return True
    if any(m.shaped("to") and any(q.quantity and q.start <= m.end + 1 for q in inside) for m in inside):
        return True  # "and you straighten to zero"
    degrees = any(m.quantity and m.quantity.unit == "deg" for m in inside)
    arrived = any(m.quantity and m.quantity.to_value is None and m.quantity.value >= LEAST_ANGLE for m in inside)
    last = any(m.quantity and m.end == end and m.quantity.value >= LEAST_ANGLE for m in inside)
    named = any(m.start < place and m.terms("movement") for m in by_start.values() if not _parted(tokens, m.end, place))
    managed = tokens[place + 1].norm in ("reach", "manage") or (last and named)
    return (
        degrees
        or (arrived and managed)
        or (arrived and any(m.cue("side") for m in by_start.values() if m.start < place))
    )


def _parted(tokens: Sequence[Token], first: int, last: int) -> bool:
    """Whether a sentence ends between two places."""
    return any(token.break_after not in (NO_BREAK, COMMA) for token in tokens[first - 1 : last])
