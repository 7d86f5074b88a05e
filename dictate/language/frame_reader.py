"""Read one frame into the state: its words become findings, with the side and the doubts that its context gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from dictate.contract import OPPOSITE, Doubt, Section
from dictate.language import companions, ellipsis
from dictate.language import topic as topics
from dictate.language.build import build
from dictate.language.build_signs import is_girth
from dictate.language.build_tests import COUNTED
from dictate.language.draft import Draft
from dictate.language.frame_shape import is_companion
from dictate.language.heading import remember_side
from dictate.language.item import label_of
from dictate.language.lost_not import doubt_lost_not
from dictate.language.parts import Parts
from dictate.language.parts_of_frame import parts_of
from dictate.language.repair import Repaired, editing_places
from dictate.language.resolve import Resolver, Sentence, absolute_side
from dictate.language.revise import (
    NO_PLACE,
    Revision,
    instead_of_contrary,
    merge_with_last,
    perhaps_taken_back,
    revise_context,
    revise_last,
)
from dictate.language.segment import Frame
from dictate.language.stands_for import expand
from dictate.language.state import Context, Entry, State, Topic
from dictate.language.stated import Stated
from dictate.language.this_patient import (
    after_other_talk,
    announced_movement,
    announced_test,
    is_past,
    turns_here,
)
from dictate.language.tokens import Token
from dictate.language.trust import doubt_stranger, doubt_subject, is_loose, understood
from dictate.language.unread import doubt_left_over, is_asked_about, note_unread
from dictate.lexicon.load import Lexicon
from dictate.lexicon.word_lists import ThisPatientWords

_READ_IN_TWO_WAYS = Doubt(reason="readings_disagree", detail="the sentence can be read in another way", suggestion=None)


_PERHAPS_TALK = "it may not be said of this patient as found now"


class FrameReader:
    """Reads the frames of a sentence one after another."""

    def __init__(self, lexicon: Lexicon, resolver: Resolver, this_patient: ThisPatientWords) -> None:
        limits = lexicon.reference["grammar"]["understood"]
        self.resolver = resolver
        self._this_patient = this_patient
        self._least, self._sure, self._shortest = limits["least"], limits["sure"], limits["shortest_words"]
        stated = lexicon.reference["grammar"]["stated"]
        self._least_stated, self._sure_stated = stated["least"], stated["sure"]
        words = lexicon.reference["words"]
        self._counts: Mapping[str, int] = words["counts_of_a_list"]
        self._empty = frozenset(words["function_words"])
        self._plain = self._empty | frozenset(words["plain_words"])

    def meaning(self, state: State, frames: Sequence[Frame]) -> frozenset[tuple[object, ...]]:
        """Return what frames would state, context apart: two readings that agree in it are the same reading."""
        out = set()
        for frame in frames:
            context = state.context
            parts = parts_of(
                frame, context.topic, listed=context.listed, lists=context.lists, run=context.run, counts=self._counts
            )
            drafts = build(parts, section=state.context.section)
            state = replace(state, context=topics.next_topic(state, parts, drafts))
            for d in drafts:
                grade = d.grade.value if d.grade else None
                out.add((d.finding, d.structure, d.side, d.status, d.degrees, grade, d.at_degrees, tuple(d.with_)))
        return frozenset(out)

    def read(
        self,
        state: State,
        frame: Frame,
        sentence: Sentence,
        repaired: Repaired,
        words: Sequence[str],
        number: int,
        *,
        doubtful: bool,
        likely: Stated,
        revising: Revision | None,
        start: int,
    ) -> tuple[State, str]:
        context = state.context
        after_talk = after_other_talk(context, state.utterances)
        if after_talk and is_past(repaired.tokens, frame):
            return state, sentence.side
        turned = turns_here(repaired.tokens, frame, context, self._this_patient)
        fresh = turned or context.topic_at == state.utterances
        fresh = fresh or (context.topic.bare and context.topic == sentence.topic)  # "big toe, that's the …: tender"
        tokens = repaired.tokens
        spoken_of = announced_test(frame, context, tokens, self._this_patient)
        spoken_of = spoken_of or announced_movement(frame, context, tokens, self._this_patient)
        announced = after_talk and not fresh and spoken_of
        topic = Topic() if after_talk and not fresh and not announced else context.topic
        waiting = topics.waiting_test(context, frame, state.utterances)
        if waiting is not None:
            topic, announced = waiting, True
        near = self.resolver.near(context.region)
        elsewhere = bool(sentence.region) and sentence.region not in near and sentence.topic is None
        parts = parts_of(
            frame, topic, listed=context.listed, lists=context.lists, run=context.run, near=near, elsewhere=elsewhere,
            counts=self._counts,
        )  # fmt: skip
        trailing_both = parts.side == "both" and frame.items[0].kind != "side"
        side = absolute_side(parts.side, context) or parts.side  # "the other one" stays who it was for what follows
        restated = parts.inherited and len(parts.quantities) > 1  # a whole row was said of the other side too
        compared = restated and parts.side in ("other", "uninjured")  # what comes next is not of that side
        compared = compared or (parts.inherited and _set_beside(state, side, number))
        misheard = any(item.kind == "side" and item.mention.restored for item in frame.items)  # then it is only assumed
        carried = sentence.side if trailing_both or compared or misheard else side or sentence.side
        share = understood(repaired, frame.items[0].start, frame.items[-1].end, self._shortest)
        if share < self._least and not _measured(frame):
            return topics.announce(state, frame), carried
        if likely.likelihood < self._least_stated:
            state = topics.announce(state, frame)
            asked = is_asked_about(frame)
            return self._unread(state, repaired.tokens, words, start, frame) if asked else state, carried
        doubtful = doubtful or share < self._sure
        others = topics.others_of_list(state, parts)
        parts = others or parts
        copied = ellipsis.copy(state, parts, number)
        if copied is not None:
            return self._said(copied, state, repaired.tokens, words, frame), parts.side or carried
        amended = companions.amend_last_test(state, parts)
        if amended is not None:
            return amended, carried
        felt = companions.end_point_of_last_test(state, parts)
        if felt is not None:
            return felt, carried
        placed = ellipsis.positions_of_last(state, parts, number)
        if placed is not None:
            return placed, carried
        drafts = build(parts, section=_section_measured(state, parts))
        drafts = ellipsis.at_both(state, parts, drafts, number, repaired.content)
        drafts = ellipsis.none_of_the_sign(state, drafts)
        for draft in drafts if announced else ():
            draft.doubts.append(("incomplete", "nothing was named; taken for what was spoken of before", None))
        for draft in drafts:
            if draft.finding == "tenderness" and not draft.structure and (_points(parts) or draft.adjective):
                how = "pointed at, not said" if _points(parts) else "not said"
                draft.doubts.append(("incomplete", f"{NO_PLACE} {how}", None))
        for draft in drafts if _graded_after_angle(state, parts) else ():
            if draft.finding == "strength":
                draft.doubts.append(("incomplete", "a small number after an angle; taken for strength", None))
        for draft in drafts if _named_alone(frame, context) else ():
            draft.doubts.append(("incomplete", "named by itself; of what was not said", None))
        ordered = ellipsis.in_order_of_sides(state, parts)
        if ordered:
            drafts = [draft for each in ordered for draft in build(each, section=context.section)]
            for draft in drafts:
                draft.doubts.append(("side_assumed", "the numbers are taken in the order of the sides before", None))
        bare = parts.inherited and all(draft.kind == "sign" and not draft.grade for draft in drafts)
        bare = bare or (parts.inherited and _graded_by_number(parts, drafts))
        measured = ellipsis.measure_of_other_side(state, parts, number) if bare or not drafts else None
        if measured is not None:
            return self._said(measured, state, repaired.tokens, words, frame), parts.side or carried
        if revising and revising.opens and not drafts:
            return revise_context(state, parts), carried
        if after_talk and not parts.side:
            drafts = [draft for draft in drafts if not is_loose(draft)]
        state = replace(state, context=topics.next_topic(state, parts, drafts))
        tested = parts.targets if waiting is not None else frame.items
        noted = topics.note_tested(state.context, tested, state.utterances, judged=bool(drafts))
        state = replace(state, context=noted)
        if drafts and parts.inherited and (turned or announced):  # what was taught of is now examined
            examined = replace(state.context, topic_at=state.utterances, topic=replace(topic, bare=False))
            state = replace(state, context=examined)
        state = topics.list_targets(state, parts, drafts, number)
        state = topics.name_list(state, parts, drafts)
        drafts = drafts if others else expand(drafts, parts, context, sentence, self.resolver)
        if parts.excepting:
            state, drafts = ellipsis.except_from_last(state, parts, drafts, number)
        stated = drafts
        state, drafts = companions.companions_of_last(state, drafts, number)
        if not stated and is_asked_about(frame):
            return self._unread(state, repaired.tokens, words, start, frame), carried
        if not drafts:
            return companions.end_feel_of_last(state, parts, number) if stated else state, carried
        doubt_left_over(frame, drafts)
        if any(item.extra.get("ordered") for item in frame.items):
            for draft in drafts:
                draft.doubts.append(("side_assumed", "the values are taken in the order of the sides set before", None))
        for draft in drafts:
            if any(item.extra.get("perhaps_denied") and label_of(item) == draft.finding for item in frame.items):
                draft.doubts.append(("readings_disagree", "the no before it may deny it too", None))
        if parts.inherited:
            ellipsis.keep_position(state, parts, drafts, number)
            doubt_subject(repaired, frame, drafts, self._empty)
        doubt_stranger(repaired, frame, drafts, self._plain)
        if likely.turned or likely.likelihood < self._sure_stated:
            for draft in drafts:
                draft.doubts.append(("incomplete", _PERHAPS_TALK, None))
        doubt_lost_not(repaired, frame, drafts)
        said = _words_said(repaired.tokens, words, start, parts.end)
        place = repaired.tokens[start].word, repaired.tokens[parts.end - 1].word
        entries = list(state.entries)
        editing = editing_places(repaired)
        for draft in drafts:
            finding, term = self.resolver.finding(draft, context, sentence, said=said, earlier=entries)
            if doubtful:
                finding = finding.model_copy(update={"doubts": [*finding.doubts, _READ_IN_TWO_WAYS]})
            entry = Entry(
                finding,
                state.frames,
                state.utterances,
                number,
                term,
                bool(draft.side_said or parts.side),
                draft.kind,
                (parts.start, parts.end),
                place,
                _anchored(draft),
            )
            entries = _with_entry(entries, entry, state, revising=revising, editing=editing, tokens=repaired.tokens)
        state = replace(state, entries=tuple(entries), frames=state.frames + 1)
        state = companions.end_feel_of_all(state, parts, number)
        if parts.side:
            state = ellipsis.spread_side_back(state, parts, sentence, number)
        if compared and not restated:
            return state, carried
        return remember_side(state, parts, sentence.sides_named), carried

    def _unread(
        self, state: State, tokens: Sequence[Token], words: Sequence[str], start: int, frame: Frame
    ) -> State:  # fmt: skip
        end = frame.items[-1].end
        return note_unread(state, _words_said(tokens, words, start, end), (tokens[start].word, tokens[end - 1].word))

    def _said(self, state: State, before: State, tokens: Sequence[Token], words: Sequence[str], frame: Frame) -> State:
        said = _words_said(tokens, words, frame.items[0].start, frame.items[-1].end)
        added = [
            entry.with_finding(entry.finding.model_copy(update={"said": said}))
            for entry in state.entries[len(before.entries) :]
        ]
        return replace(state, entries=state.entries[: len(before.entries)] + tuple(added), frames=state.frames + 1)


def _set_beside(state: State, side: str, number: int) -> bool:
    """Whether a value of the other side only goes with the one just said: "flexion one ten, other side one thirty, …".

    What is named next is then of the side that is being examined again.
    """
    last = state.entries[-1] if state.entries else None
    here = last is not None and (last.utterance, last.sentence) == (state.utterances, number)
    announced = state.context.side
    return here and last is not None and bool(announced) and OPPOSITE.get(side) == announced == last.finding.side


def _graded_after_angle(state: State, parts: Parts) -> bool:
    """Whether a bare number follows the angle of what it would be of: "Abduction ninety." "Two, three times a day"."""
    last = state.entries[-1].finding if state.entries else None
    angle = last is not None and last.degrees is not None and last.section != "resisted_motion"
    bare = bool(parts.quantities) and not any(quantity.is_grade for quantity in parts.quantities)
    return parts.inherited and angle and bare and state.context.section != "resisted_motion"


def _named_alone(frame: Frame, context: Context) -> bool:
    """Whether a frame is a sign's bare name among tests: "a clunk", "pain" may answer what was taught."""
    only = frame.items[0]
    alone = len(frame.items) == 1 and only.kind == "sign" and only.shape == "name" and is_companion(only)
    testing = context.section == "special_tests" or any(item.kind == "test" for item in context.topic.items)
    return alone and testing and not (only.negated or only.severity)


def _graded_by_number(parts: Parts, drafts: Sequence[Draft]) -> bool:
    """Whether a bare number was taken for a grade: after "one centimetre on the right" it is a length too."""
    plain = [q for q in parts.quantities if not q.is_grade and q.unit is None]
    return bool(drafts) and bool(plain) and all(d.kind == "test" and d.grade and not d.status for d in drafts)


def _section_measured(state: State, parts: Parts) -> Section | None:
    """Return the section that decides what a number is: after a girth, "calf thirty-six" is one too."""
    last = state.entries[-1].finding.finding if state.entries else ""
    again = last == "girth" and not parts.inherited and is_girth(parts, "measurement")
    tested = not parts.modality and any(item.kind == "test" for item in state.context.topic.items)
    ranged = any(quantity.to_value is not None for quantity in parts.quantities) and not parts.targets
    if tested and ranged:
        return "special_tests"  # "Now Lachman. Twenty to thirty degrees …": how the joint is held
    return "measurement" if again else state.context.section


def _points(parts: Parts) -> bool:
    """Whether only "there" or "here" says where something is."""
    return any(item.extra.get("pointed") for item in parts.frame.items)


def _measured(frame: Frame) -> bool:
    """Whether a frame names a movement with its degrees, which no talk about other things does by chance."""
    degrees = any(item.quantity and item.quantity.unit == "deg" and not item.role for item in frame.items)
    return degrees and any(item.kind == "movement" and item.is_target() for item in frame.items)


def _words_said(tokens: Sequence[Token], words: Sequence[str], start: int, end: int) -> str:
    first, last = tokens[start].word, tokens[max(start, end - 1)].word
    return " ".join(words[first : last + 1]).strip(" ,.;:?!")


def _with_entry(
    entries: list[Entry],
    entry: Entry,
    state: State,
    *,
    revising: Revision | None,
    editing: Sequence[int],
    tokens: Sequence[Token],
) -> list[Entry]:
    """Return the entries with one more: left out if just said, merged into or put in place of the last where due."""
    if _repeats(entry, entries):
        return entries
    entries = [other for other in entries if not _only_counted(other, entry)]
    merged = merge_with_last(entries, entry)
    if merged is not None:
        return merged
    if revising:
        return revise_last(entries, entry, revising)
    instead = instead_of_contrary(entries, entry, editing, state.challenged)
    return instead or [*perhaps_taken_back(entries, entry, tokens, editing), entry]


def _only_counted(other: Entry, entry: Entry) -> bool:
    """Whether what is said now of a test takes the place of a count ("three of four positive, compression isn't")."""
    like = (other.finding.finding, other.finding.side) == (entry.finding.finding, entry.finding.side)
    near = entry.utterance - other.utterance <= 1 and other.frame != entry.frame
    return like and near and any(doubt.detail == COUNTED for doubt in other.finding.doubts)


def _anchored(draft: Draft) -> bool:
    """Whether the region follows from what was named, not from the context."""
    return any(term is not None and term.regions for term in (draft.term, draft.structure_term))


def _repeats(entry: Entry, entries: Sequence[Entry]) -> bool:
    """Whether the same utterance has just said exactly this: one sign said twice is one finding."""
    blank: dict[str, object] = {"said": "", "doubts": [], "time": None, "replaced": []}
    for other in reversed(entries):
        if entry.utterance - other.utterance > 2:
            return False
        if other.utterance != entry.utterance and not other.finding.replaced:
            continue
        if other.finding.model_copy(update=blank) == entry.finding.model_copy(update=blank):
            return True
    return False
