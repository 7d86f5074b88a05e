"""What is being talked of: the topic that values without a target belong to, and lists that may be taken up again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.draft import Draft
from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, is_muscle, label_of
from dictate.language.parts import Parts
from dictate.language.segment import Frame
from dictate.language.state import Context, State, Topic

_LISTED = frozenset({"movement", "test", "structure", "reflex", "pulse", "task", "level"})
_LISTS_KEPT = 3
_SHORTEST_LIST = 3
_SAID_OF = frozenset({"structure", "movement", "test"})


def next_topic(state: State, parts: Parts, drafts: Sequence[Draft]) -> Context:
    """Return the context whose topic is what this frame named."""
    context = state.context
    own = tuple(item for item in parts.targets if not parts.inherited)
    if not own:
        return replace(context, topic=replace(context.topic, bare=False)) if drafts and context.topic.bare else context
    along = all(item.kind == "sign" and item.shape != "name" and is_companion(item) for item in own)
    if along and any(item.kind in ("movement", "test", "task") for item in context.topic.items):
        # "right seventy, painful, left eighty": the movement is still what is spoken of
        return replace(context, topic=replace(context.topic, bare=False)) if drafts else context
    hosts = tuple(item for item in own if item.kind != "sign")
    if any(item.kind in ("movement", "test", "task") for item in hosts):
        own = hosts
    if not drafts and context.topic.bare and _explains_level(own, context.topic.items):
        return context  # "Hamstrings. L5, S1. Five on both sides": the levels only say what is tested
    asked = before_sign(context.topic, own, drafts)
    own = own if asked is None else (*own, asked)
    strength = any(draft.finding == "strength" for draft in drafts)
    if all(item.kind == "level" for item in own):
        own = parts.targets
    topic = Topic(items=own, modality=parts.modality, strength=strength, bare=not drafts)
    if topic.bare and any(" stress " in label_of(item) for item in own):
        topic = replace(topic, positions=parts.positions)
    before = context.topic
    same_kind = {item.kind for item in own} == {item.kind for item in before.items}
    if before.bare and not drafts and same_kind:
        topic = replace(topic, items=before.items + own)
    felt = before.sign()
    if not drafts and {item.kind for item in own} == {"structure"} and felt is not None and before.bare:
        return context  # "Tenderness: medial joint line, lateral joint line …": the sign is still asked for
    return replace(context, topic=topic, topic_at=state.utterances)


def _explains_level(own: Sequence[Item], before: Sequence[Item]) -> bool:
    """Whether only levels are named, behind something that has them (and is not felt or tested level by level)."""
    has_levels = {item.kind for item in before} <= {"structure", "movement", "reflex", "sign", "test"} and bool(before)
    return has_levels and all(item.kind == "level" for item in own)


def announce(state: State, frame: Frame) -> State:
    """Return the state in which a test, sign or muscle that was only named, among other talk, is spoken of."""
    first = frame.items[0]
    tried = first.kind in ("test", "sign") or is_muscle(first)
    if len(frame.items) != 1 or not tried or first.shape != "name" or first.negated:
        return state
    context = replace(state.context, topic=Topic(items=frame.items, bare=True), topic_at=-1)
    return replace(state, context=context)


def note_tested(context: Context, items: Sequence[Item], utterance: int, *, judged: bool) -> Context:
    """Keep the one test that was named and not judged: explanations may stand between it and "Negative."."""
    tests = [item for item in items if item.kind == "test" and item.shape == "name"]
    if judged and tests:
        return replace(context, tested=(), tested_at=-9)
    if len({label_of(item) for item in tests}) != 1:
        return context
    return replace(context, tested=(replace(tests[-1], role="", negated=False),), tested_at=utterance)


def waiting_test(context: Context, frame: Frame, utterance: int) -> Topic | None:
    """Return the test that a verdict by itself ("It's positive on her.") is of, where others were named since."""
    values = [item for item in frame.items if item.is_value()]
    verdict = bool(values) and all(item.kind == "status" and item.value in _VERDICTS for item in values)
    named = any(item.is_target() and not is_companion(item) for item in frame.items)
    if not verdict or named or not context.tested or utterance - context.tested_at > _WAITS:
        return None
    spoken_of = [item for item in context.topic.items if item.kind == "test"]
    return None if len(spoken_of) == len(context.topic.items) > 0 else Topic(items=context.tested, bare=True)


_VERDICTS = frozenset({"positive", "negative", "equivocal"})
_WAITS = 3  # utterances


def before_sign(topic: Topic, own: Sequence[Item], drafts: Sequence[Draft]) -> Item | None:
    """Return the sign that is still asked for where only further places of it were named, as last found."""
    sign = topic.sign()
    if sign is None or not drafts or {item.kind for item in own} != {"structure"}:
        return None
    if any(draft.finding != label_of(sign) for draft in drafts):
        return None
    return replace(sign, negated=drafts[-1].status == "absent", severity=None, hedged=False, role="")


def name_list(state: State, parts: Parts, drafts: Sequence[Draft]) -> State:
    """Keep a list of which nothing was said ("SC joint, clavicle and AC joint, …") for what may follow of the rest."""
    own = tuple(item for item in parts.targets if not parts.inherited and item.kind in _SAID_OF)
    if drafts or len({label_of(item) for item in own}) < _SHORTEST_LIST:
        return state
    return replace(state, context=replace(state.context, named=own, named_in=state.utterances))


def others_of_list(state: State, parts: Parts) -> Parts | None:
    """Return a frame about "the others" as one about those of the list just named that nothing was said of."""
    context = state.context
    if "rest" not in parts.kinds or not context.named or state.utterances - context.named_in > 1:
        return None
    if any(not parts.inherited and item.kind in _SAID_OF for item in parts.targets):
        return None
    here = [entry.finding for entry in state.entries if entry.utterance >= context.named_in]
    done = {label for finding in here for label in (finding.finding, finding.structure)}
    left = tuple(item for item in context.named if label_of(item) not in done)
    return replace(parts, targets=left, inherited=True) if left else None


def list_targets(state: State, parts: Parts, drafts: Sequence[Draft], number: int) -> State:
    """Keep what the sentence gives findings of: "all four negative on the right" may follow."""
    own = tuple(item for item in parts.targets if not parts.inherited and item.kind in _LISTED)
    if not drafts or not own:
        return state
    here = (state.utterances, number)
    context = state.context
    if context.listed_in == here:
        return replace(state, context=replace(context, listed=context.listed + own))
    lists = (context.listed, *context.lists)[:_LISTS_KEPT] if context.listed else context.lists
    run = (*context.run, *own) if _goes_on(context, own, here) else own
    return replace(state, context=replace(context, listed=own, listed_in=here, lists=lists, run=run))


def _goes_on(context: Context, own: Sequence[Item], here: tuple[int, int]) -> bool:
    """Whether one thing named by itself goes on with such things before it ("Flexion: four. Abduction: five.")."""
    utterance, sentence = context.listed_in
    next_sentence = here in ((utterance, sentence + 1), (utterance + 1, 0))
    singly = len(context.listed) == len(own) == 1
    return next_sentence and singly and {item.kind for item in context.run} == {own[0].kind}
