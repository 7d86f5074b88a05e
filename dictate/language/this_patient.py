"""Whether talk has turned to this patient: after teaching and the like, a result may be of what was only spoken of."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from dictate.language.segment import Frame
from dictate.language.state import Context
from dictate.language.tokens import Token
from dictate.lexicon.word_lists import ThisPatientWords

_OTHER_TALK = frozenset({"teaching", "history", "imaging", "patient", "condition"})
_LEAST_ANGLE = 5  # degrees (the project's choice)


def after_other_talk(context: Context, utterance: int) -> bool:
    """Whether talk that is not of this patient now stands right before, in this utterance."""
    kind, place = context.last_talk
    return kind in _OTHER_TALK and utterance - place <= (1 if kind == "imaging" else 0)


def is_past(tokens: Sequence[Token], frame: Frame) -> bool:
    """Whether a frame is told as of another day ("was", "were")."""
    start, end = max(0, frame.items[0].start - 2), frame.items[-1].end
    return any(token.norm in ("was", "were") for token in tokens[start:end])


def turns_here(tokens: Sequence[Token], frame: Frame, context: Context, words: ThisPatientWords) -> bool:
    """Whether "here" or "his is" turns from what a test is, as just taught, to what it is in this patient."""
    start = frame.items[0].start
    if not context.topic.bare:
        return False
    if any(token.norm in words.this_patient for token in tokens[max(0, start - 3) : start + 1]):
        return True
    judged = [item for item in frame.items if item.is_value()]
    verdict = bool(judged) and all(item.value in ("positive", "negative", "equivocal") for item in judged)
    if not verdict or any(item.kind != "test" for item in context.topic.items):
        return False
    place, before = start, set()
    while place > 0 and not tokens[place - 1].break_after:
        place -= 1
        before.add(tokens[place].norm)
    return bool(words.points_at_them & before) and before <= words.points_at_them | words.beside_pointing


def announced_test(frame: Frame, context: Context, tokens: Sequence[Token], words: ThisPatientWords) -> bool:
    """Whether a result with a side follows talk about the test announced last ("Now Lachman. … Left, negative").

    Or one that is said to be of this patient: "Belly press: if the elbow falls back it's positive. Hers is negative."

    Nobody named it again, so that what is read is doubted.
    """
    test = len(context.topic.items) == 1 and context.topic.items[0].kind == "test"
    kinds = {item.kind for item in frame.items}
    verdicts = ("positive", "negative", "equivocal", "not_examined")
    judged = any(i.value in verdicts for i in frame.items if i.kind == "status")
    judged = judged or any(item.quantity and item.quantity.is_grade for item in frame.items)
    start = frame.items[0].start
    near = [token.norm for token in tokens[max(0, start - 4) : frame.items[-1].end + 1]]
    opens, closes = start, frame.items[-1].end
    while opens and not tokens[opens - 1].break_after:
        opens -= 1
    alone = bool(tokens[closes - 1].break_after) or closes == len(tokens)
    alone = alone and {token.norm for token in tokens[opens:start]} <= words.before_verdict
    theirs = (
        alone
        or bool(words.turns_to_them & set(near))
        or _is_somebodys(tokens, start)
        or any(f"{first} {second}" in words.in_them for first, second in pairwise(near))
    )
    theirs = theirs and context.topic.bare
    return test and judged and ("side" in kinds or theirs) and not any(item.is_target() for item in frame.items)


def announced_movement(frame: Frame, context: Context, tokens: Sequence[Token], words: ThisPatientWords) -> bool:
    """Whether an angle follows talk about the movement announced last ("For flexion you'd hope for one thirty-five. On
    the right I've one thirty-eight."): said with a side, or as what somebody gets."""
    topic = context.topic
    numbers = [item.quantity for item in frame.items if item.quantity]
    angles = [q for q in numbers if q.value >= _LEAST_ANGLE and not q.is_grade and q.unit in (None, "deg")]
    angle = bool(numbers) and len(angles) == len(numbers)
    if not (topic.bare and len(topic.items) == 1 and topic.items[0].kind == "movement" and angle):
        return False
    start = frame.items[0].start
    near = {token.norm for token in tokens[max(0, start - 4) : frame.items[-1].end]}
    theirs = bool(near & words.gets_there) or any(item.kind == "side" for item in frame.items)
    return theirs and not any(item.is_target() for item in frame.items)


def _is_somebodys(tokens: Sequence[Token], start: int) -> bool:
    """Whether a result is said of a person by name: "Wanda's is positive, with crepitus"."""
    return start > 1 and tokens[start - 1].norm == "is" and tokens[start - 2].text.endswith("'s")
