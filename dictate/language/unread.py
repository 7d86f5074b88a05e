"""Values that were said and that no finding took: they must leave a question, never vanish.

A number beside a finding of the same statement makes that finding doubtful (`incomplete`): one of the two was read
wrong. A statement of which nothing came is kept as it was said, and the note asks about it.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace

from dictate.contract import DoubtReason
from dictate.language.draft import Draft
from dictate.language.item import says_nothing
from dictate.language.quantity import Quantity
from dictate.language.segment import Frame
from dictate.language.state import State, Unread
from dictate.language.tokens import Token

# Below this a bare number without unit, grade or side is more often a count of things (the project's choice).
_LEAST_BARE = 5
# No joint angle, length in centimetres or time in seconds that is dictated is larger than this (the project's choice).
_LARGEST = 360
_JUDGED = frozenset({"test", "reflex", "pulse", "task", "movement", "structure", "level"})
_JUDGES = frozenset({"status", "outcome", "none", "ellipsis"})


def doubt_left_over(frame: Frame, drafts: Sequence[Draft]) -> None:
    """Give drafts the doubt `incomplete` where their frame holds a number that none of them took."""
    numbers = [item for item in frame.items if item.quantity and item.role in ("", "position")]
    if not drafts or any(draft.relative for draft in drafts):
        return
    if any(draft.kind == "measure" or draft.levels for draft in drafts):
        numbers = [item for item in numbers if item.role == ""]  # "ten above the patella" is where, not how much
    taken = {value for draft in drafts for value in _values(draft)}
    left = [item for item in numbers if item.quantity and not _told(item.quantity) <= taken]
    for item in left:
        doubt: tuple[DoubtReason, str, str | None] = (
            "incomplete",
            f"{item.text!r} was said too, not known of what",
            None,
        )
        for draft in drafts:
            draft.doubts.append(doubt)


def unknown_subject(tokens: Sequence[Token], known: Set[int], start: int, *, empty: Set[str]) -> str:
    """Return the words before a value, back to the break before them, that nothing explains; "" when all are known.

    "Extensors intact" says nothing of what was named before, whatever the extensors may be. `empty` are the words that
    can open a clause without being what it is about.
    """
    place = start
    while place > 0 and not tokens[place - 1].break_after:
        place -= 1
        if place in known:
            return ""
    strange = [t.text for t in tokens[place:start] if t.norm and t.norm not in empty]
    return " ".join(strange)


def _told(quantity: Quantity) -> set[float]:
    return {value for value in (quantity.value, quantity.to_value, quantity.third_value) if value is not None}


def _values(draft: Draft) -> set[float]:
    """Return every number that a draft holds, without its sign."""
    numbers = [draft.degrees, draft.at_degrees, draft.measure.value if draft.measure else None]
    out = {abs(number) for number in numbers if number is not None}
    for text in (draft.grade.value if draft.grade else "").split("-"):
        digits = text.strip("+ ")
        if digits.replace(".", "", 1).isdigit():
            out.add(float(digits))
    return out


def is_asked_about(frame: Frame) -> bool:
    """Whether a frame of which no finding came gives a value: a number, or a judgement of something named."""
    values = [item for item in frame.items if item.is_value() and not says_nothing(item)]
    if values and values[0].value == "normal" and any(item.quantity for item in values[1:]):
        return False  # "normal flexion is about one thirty-five" teaches
    if any(item.quantity and _measures(item.quantity, frame) for item in values):
        return True
    named = any(item.is_target() and item.kind in _JUDGED for item in frame.items)
    return named and any(item.kind in _JUDGES for item in values)


def _measures(quantity: Quantity, frame: Frame) -> bool:
    """Whether a number is likely to be a value: graded, with a unit or a side, or as large as angles are."""
    if quantity.value > _LARGEST:
        return False
    if quantity.is_grade or quantity.unit in ("deg", "cm", "mm"):
        return True
    said_of = any(item.kind in ("side", "lack", "over", "modality") or item.is_target() for item in frame.items)
    return quantity.value > 1 and (said_of or quantity.value >= _LEAST_BARE)


def note_unread(state: State, said: str, words: tuple[int, int]) -> State:
    """Return the state with a statement that nothing came of; neighbours are kept as one."""
    last = state.unread[-1] if state.unread else None
    if last is not None and last.utterance == state.utterances and words[0] - last.words[1] <= 1:
        joined = replace(last, said=f"{last.said} {said}", words=(last.words[0], words[1]))
        return replace(state, unread=(*state.unread[:-1], joined))
    return replace(state, unread=(*state.unread, Unread(said, state.utterances, words)))
