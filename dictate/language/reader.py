"""Read one utterance into the state of the exam: the pure step of which the whole note is the fold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from dictate.contract import Doubt, Region
from dictate.language import announce, ellipsis, late
from dictate.language.attach import attach, is_opening_right
from dictate.language.build import build
from dictate.language.control import Controls
from dictate.language.draft import Draft, Topic, parts_of
from dictate.language.items import Item, items_of, reflexes_by_muscle
from dictate.language.mentions import Mention, MentionFinder, longest_first
from dictate.language.numbers import NumberReader
from dictate.language.otherwise import OtherReading, heard_otherwise
from dictate.language.phrases import PhraseIndex, Sense
from dictate.language.repair import Repaired, repair
from dictate.language.resolve import Resolver, Sentence
from dictate.language.restore import Restorer
from dictate.language.revise import merge_with_last, note_replacements, revise_context, revise_last
from dictate.language.segment import Frame, Segmenter
from dictate.language.state import Context, Entry, State
from dictate.language.talk import STATEMENT, kinds_of_talk, may_announce, sentences
from dictate.language.tokens import Token, Tokeniser
from dictate.language.unread import doubt_left_over, is_asked_about, note_unread, unknown_subject
from dictate.lexicon.load import Lexicon
from dictate.recognise.events import Hypothesis, Utterance

# More mentions than this in one sentence: its punctuation is lost, and a side at its end is not that of its start.
_LONG_SENTENCE = 24


@dataclass(frozen=True)
class _Chunk:
    """Neighbouring items of one kind of talk, inside one sentence."""

    items: tuple[Item, ...]
    kind: str


class Reader:
    """Reads utterances one after another. All that it knows is the lexicon; all that it remembers is the state."""

    def __init__(self, lexicon: Lexicon) -> None:
        words = lexicon.reference["words"]
        self.lexicon = lexicon
        self.tokeniser = Tokeniser(words)
        self.index = PhraseIndex(lexicon, self.tokeniser)
        self.controls = Controls(lexicon)
        self.finder = MentionFinder(self.index, NumberReader(words, known=self.index.vocabulary))
        self.segmenter = Segmenter(lexicon.reference["grammar"])
        self.resolver = Resolver(lexicon)
        self.restorer = Restorer(self.index)
        limits = lexicon.reference["grammar"]["understood"]
        self._least, self._sure, self._shortest = limits["least"], limits["sure"], limits["shortest_words"]
        self._groups = _by_name(lexicon)
        self._empty = frozenset(words["function_words"])
        self._patients = frozenset(words["speakers"]["patient"])
        self._examiners = frozenset(words["speakers"]["examiner"])

    def open(self, utterances: Iterable[Utterance] = (), *, region: Region | None = None) -> State:
        """Return the state before the first utterance: of the region given, else of the one most spoken of.

        Without either the region is open, and settled by the first thing heard that belongs to one.
        """
        if region is not None:
            return State(context=Context(region=region, region_said=True))
        votes: Counter[Region] = Counter()
        for utterance in utterances:
            content, _ = self.finder.find(self.tokeniser.tokens([word.text for word in utterance.words]))
            votes.update(announce.region_votes(content))
        return State(context=Context(region=votes.most_common(1)[0][0])) if votes else State()

    def step(self, state: State, utterance: Utterance) -> State:
        """Return the state after one more utterance. Never raises on any text."""
        words = [word.text for word in utterance.words]
        before = len(state.entries)
        for first, piece in _pieces(words):
            tokens = self.tokeniser.tokens(piece)
            known = len(state.entries)
            if tokens:
                others = utterance.alternatives if len(piece) == len(words) else ()
                state = self._read(state, tokens, piece, others)
            if first:
                state = _shifted(state, known, first)
        state = replace(state, utterances=state.utterances + 1, words=state.words + len(words))
        return announce.settle_region(state, before)

    # -- one utterance ----------------------------------------------------------------------------------------------

    def mentions(self, tokens: Sequence[Token], state: State, others: Sequence[Hypothesis] = ()) -> Repaired:
        """Return the mentions of an utterance, misheard terms restored and self-repairs carried out."""
        near = self.resolver.near(state.context.region)
        content, talk = self.finder.find(tokens, regions=near)
        if others:
            restored = heard_otherwise(tokens, content, talk, self._other(others, near), self.index)
            content = longest_first([*content, *restored])
        content = self.restorer.restore(tokens, content, talk, region=state.context.region)
        return repair(tokens, content, talk)

    def _other(self, hypotheses: Sequence[Hypothesis], near: frozenset[str]) -> list[OtherReading]:
        readings = [self.tokeniser.tokens(hypothesis.text.split()) for hypothesis in hypotheses]
        return [OtherReading(tokens, self.finder.find(tokens, regions=near)[0]) for tokens in readings]

    def _read(
        self, state: State, tokens: Sequence[Token], words: Sequence[str], others: Sequence[Hypothesis] = ()
    ) -> State:
        near = self.resolver.near(state.context.region)
        state, tokens = late.correct(state, tokens, self.finder, self.index, regions=near)
        repaired = self.mentions(tokens, state, others)
        kinds = kinds_of_talk(repaired.tokens, repaired.talk, repaired.content)
        theirs = announce.speaker_words(words, self._patients, self._examiners)
        kinds = ["patient" if token.word in theirs else kind for token, kind in zip(tokens, kinds, strict=True)]
        first_entry = len(state.entries)
        withdrawals = [m for m in repaired.talk if m.cue("withdraw")]
        revising = announce.opens_with_repair(repaired, tokens)
        for number, span in enumerate(sentences(repaired.tokens)):
            inside = [m for m in repaired.content if span.start <= m.start < span.end]
            here = [m for m in withdrawals if span.start <= m.start < span.end]
            state = announce.note_talk(state, repaired, span, kinds, inside)
            groups = _split_at(inside, here)
            for index, group in enumerate(groups):
                if index:
                    state = late.withdraw(state)
                state = self._sentence(state, repaired, kinds, group, words, number, revising=revising)
                revising = False
        return note_replacements(state, first_entry, repaired.replacements)

    def _sentence(
        self,
        state: State,
        repaired: Repaired,
        kinds: Sequence[str],
        mentions: Sequence[Mention],
        words: Sequence[str],
        number: int,
        *,
        revising: bool,
    ) -> State:
        if not mentions:
            return state
        tokens = repaired.tokens
        local = announce.local_region(mentions)
        region = local or state.context.region
        near = self.resolver.near(state.context.region)
        items = items_of(mentions, tokens, region=region, near=near, section=state.context.section, groups=self._groups)
        if announce.is_deferral(items, kinds):
            return announce.defer(state, items, tokens, words)
        items = [i for place, i in enumerate(items) if not is_opening_right(items, place, tokens)]
        if any(item.kind in ("test", "task", "reflex") for item in items):
            items = [replace(i, kind="status", value="not_examined") if i.kind == "defer" else i for i in items]
        items = reflexes_by_muscle(items, self._groups, state.context)
        if any(item.value == "not_examined" for item in items):
            kinds = [STATEMENT if kind == "plan" else kind for kind in kinds]
        sentence = Sentence(
            region=local,
            sides_named=frozenset(i.value for i in items if i.kind == "side"),
            long=len(mentions) > _LONG_SENTENCE,
        )
        if items and kinds[items[0].start] not in ("condition", "teaching"):
            state = announce.first_side(state, items)
        carried = ""
        for chunk in _chunks(items, kinds, tokens):
            if chunk.kind != STATEMENT:
                context = replace(state.context, last_talk=(chunk.kind, state.utterances), topic_at=-1)
                state = replace(state, context=context)
                if may_announce(chunk.kind):
                    state = announce.heading(
                        state, chunk.items, stated=False, tokens=tokens, announces=chunk.kind != "question"
                    )
                elif chunk.kind in ("history", "patient"):
                    state = announce.past_side(state, chunk.items)
                continue
            state = announce.heading(state, chunk.items, stated=True, tokens=tokens)
            attached = attach(chunk.items, tokens)
            divisions = self.segmenter.divide(attached, tokens)
            if not divisions:
                continue
            runner_up = divisions[1] if len(divisions) > 1 else None
            frames = divisions[0].frames
            close = runner_up is not None and runner_up.cost - divisions[0].cost < self.segmenter.margin
            other = self._meaning(state, runner_up.frames) if runner_up is not None and close else frozenset()
            place = chunk.items[0].start
            for frame in frames:
                start = _first_word(chunk.items, place, frame)
                place = frame.items[-1].end
                sentence = replace(sentence, side=carried)
                doubtful = close and not self._meaning(state, (frame,)) <= other
                state, carried = self._frame(
                    state,
                    frame,
                    sentence,
                    repaired,
                    words,
                    number,
                    doubtful=doubtful,
                    revising=revising,
                    start=start,
                )
        return state

    def _meaning(self, state: State, frames: Sequence[Frame]) -> frozenset[tuple[object, ...]]:
        """Return what frames would state, context apart: two readings that agree in it are the same reading."""
        out = set()
        for frame in frames:
            parts = parts_of(frame, state.context.topic, listed=state.context.listed, lists=state.context.lists)
            drafts = build(parts, section=state.context.section)
            state = replace(state, context=announce.next_topic(state, parts, drafts))
            for d in drafts:
                grade = d.grade.value if d.grade else None
                out.add((d.finding, d.structure, d.side, d.status, d.degrees, grade, d.at_degrees, tuple(d.with_)))
        return frozenset(out)

    def _frame(
        self,
        state: State,
        frame: Frame,
        sentence: Sentence,
        repaired: Repaired,
        words: Sequence[str],
        number: int,
        *,
        doubtful: bool,
        revising: bool,
        start: int,
    ) -> tuple[State, str]:
        context = state.context
        after_talk = _after_other_talk(context, state.utterances)
        if after_talk and _past(repaired.tokens, frame):
            return state, sentence.side
        fresh = context.topic_at == state.utterances or _here(repaired.tokens, frame, context)
        topic = Topic() if after_talk and not fresh else context.topic
        near = self.resolver.near(context.region)
        parts = parts_of(frame, topic, listed=context.listed, lists=context.lists, near=near)
        trailing_both = parts.side == "both" and frame.items[0].kind != "side"
        carried = sentence.side if trailing_both else parts.side or sentence.side
        share = understood(repaired, frame.items[0].start, frame.items[-1].end, self._shortest)
        if share < self._least:
            return state, carried
        doubtful = doubtful or share < self._sure
        others = announce.others_of_list(state, parts)
        parts = others or parts
        copied = ellipsis.copy(state, parts, number)
        if copied is not None:
            return self._said(copied, state, repaired.tokens, words, frame), parts.side or carried
        amended = ellipsis.amend_last_test(state, parts)
        if amended is not None:
            return amended, carried
        drafts = build(parts, section=context.section)
        ordered = ellipsis.in_order_of_sides(state, parts)
        if ordered:
            drafts = [draft for each in ordered for draft in build(each, section=context.section)]
            for draft in drafts:
                draft.doubts.append(("side_assumed", "the numbers are taken in the order of the sides before", None))
        measured = None if drafts else ellipsis.measure_of_other_side(state, parts, number)
        if measured is not None:
            return self._said(measured, state, repaired.tokens, words, frame), parts.side or carried
        if revising and not drafts:
            return revise_context(state, parts), carried
        if after_talk and not parts.side:
            drafts = [draft for draft in drafts if not _loose(draft)]
        state = replace(state, context=announce.next_topic(state, parts, drafts))
        state = announce.list_targets(state, parts, drafts, number)
        state = announce.name_list(state, parts, drafts)
        drafts = drafts if others else announce.expand(drafts, parts, context, sentence, self.resolver)
        if parts.excepting:
            state, drafts = ellipsis.except_from_last(state, parts, drafts, number)
        stated = drafts
        state, drafts = ellipsis.companions_of_last(state, drafts, number)
        if not stated and is_asked_about(frame):
            return self._unread(state, repaired.tokens, words, start, frame), carried
        if not drafts:
            return state, carried
        doubt_left_over(frame, drafts)
        if parts.inherited:
            _doubt_subject(repaired, frame, drafts, self._empty)
        said = _words_said(repaired.tokens, words, start, parts.end)
        place = repaired.tokens[start].word, repaired.tokens[parts.end - 1].word
        entries = list(state.entries)
        for draft in drafts:
            finding, term = self.resolver.finding(draft, context, sentence, said=said, earlier=entries)
            if doubtful:
                doubt = Doubt(
                    reason="readings_disagree", detail="the sentence can be read in another way", suggestion=None
                )
                finding = finding.model_copy(update={"doubts": [*finding.doubts, doubt]})
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
            if _repeats(entry, entries):
                continue
            merged = merge_with_last(entries, entry)
            if merged is not None:
                entries = merged
                continue
            entries = revise_last(entries, entry) if revising else [*entries, entry]
        state = replace(state, entries=tuple(entries), frames=state.frames + 1)
        if parts.side:
            state = ellipsis.spread_side_back(state, parts, sentence, number)
        return announce.remember_side(state, parts, sentence.sides_named), carried

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


def _by_name(lexicon: Lexicon) -> dict[tuple[str, str], list[Sense]]:
    """Return the terms by kind and label, collective names left out."""
    senses: dict[tuple[str, str], list[Sense]] = {}
    for term in lexicon.terms:
        if not term.stands_for:
            senses.setdefault((term.kind, term.label), []).append(Sense("name", term=term))
    return senses


def understood(repaired: Repaired, start: int, end: int, shortest: int) -> float:
    """Return the share of the words around a frame, up to the breaks on either side, that the lexicon knows.

    A finding is nearly all terms and values; talk about something else uses many words that are neither.
    """
    tokens = repaired.tokens
    while start > 0 and not tokens[start - 1].break_after:
        start -= 1
    while end < len(tokens) and not tokens[end - 1].break_after:
        end += 1
    places = [place for place in range(start, end) if tokens[place].norm]
    if len(places) < shortest:
        return 1.0
    steering = [m for m in repaired.talk if m.cue("filler") or m.cue("resume") or m.cue("pressing")]
    content = [m for m in repaired.content if not _is_part(m)]
    known = {place for m in (*content, *steering) for place in range(m.start, m.end)}
    return sum(1 for place in places if place in known) / len(places)


def _is_part(mention: Mention) -> bool:
    """Whether the words are a part of an amount ("half"), which talk about anything is full of."""
    sense = mention.cue("status")
    return sense is not None and sense.cue is not None and sense.cue.amount and sense.cue.value == "reduced"


# A line longer than this is read in pieces, so that the time for a word does not grow with the line.
_LONGEST_READ_WORDS = 400


def _pieces(words: Sequence[str]) -> list[tuple[int, list[str]]]:
    """Return (place of the first word, words) of the pieces of an utterance, cut after each full stop."""
    pieces = []
    start = 0
    while len(words) - start > _LONGEST_READ_WORDS:
        window = range(start + _LONGEST_READ_WORDS, start + _LONGEST_READ_WORDS // 2, -1)
        end = next(
            (place for place in window if words[place - 1].endswith((".", "?", "!"))), start + _LONGEST_READ_WORDS
        )
        pieces.append((start, list(words[start:end])))
        start = end
    pieces.append((start, list(words[start:])))
    return pieces


def _shifted(state: State, known: int, by: int) -> State:
    """Return the state with the words of its new findings counted from the start of the whole utterance."""
    moved = tuple(
        replace(entry, words=(entry.words[0] + by, entry.words[1] + by)) if place >= known else entry
        for place, entry in enumerate(state.entries)
    )
    return replace(state, entries=moved)


def _split_at(mentions: Sequence[Mention], cuts: Sequence[Mention]) -> list[list[Mention]]:
    groups: list[list[Mention]] = [[] for _ in range(len(cuts) + 1)]
    for mention in mentions:
        place = sum(1 for cut in cuts if cut.start < mention.start)
        if not any(cut.start < mention.end and mention.start < cut.end for cut in cuts):
            groups[place].append(mention)
    return groups


def _chunks(items: Sequence[Item], kinds: Sequence[str], tokens: Sequence[Token]) -> list[_Chunk]:
    """Cut the items of a sentence where the kind of talk changes, blanked words aside."""
    chunks: list[_Chunk] = []
    run: list[Item] = []
    kind = ""
    for item in items:
        now = kinds[item.start]
        between = range(run[-1].end, item.start) if run else range(0)
        broken = any(kinds[place] != now and tokens[place].norm for place in between)
        if run and (now != kind or broken):
            chunks.append(_Chunk(tuple(run), kind))
            run = []
        kind = now
        run.append(item)
    if run:
        chunks.append(_Chunk(tuple(run), kind))
    return chunks


def _first_word(items: Sequence[Item], after: int, frame: Frame) -> int:
    """Return the token that a frame's wording starts with, a negation or hedge before its first item included."""
    first = frame.items[0].start
    own = [i.start for i in items if after <= i.start <= first and i.kind not in ("and", "but", "neutral")]
    return min([first, *own])


def _words_said(tokens: Sequence[Token], words: Sequence[str], start: int, end: int) -> str:
    first, last = tokens[start].word, tokens[max(start, end - 1)].word
    return " ".join(words[first : last + 1]).strip(" ,.;:?!")


_OTHER_TALK = frozenset({"teaching", "history", "imaging", "patient", "condition"})


def _after_other_talk(context: Context, utterance: int) -> bool:
    """Whether talk that is not of this patient now stands right before, in this utterance."""
    kind, place = context.last_talk
    return kind in _OTHER_TALK and utterance - place <= (1 if kind == "imaging" else 0)


def _here(tokens: Sequence[Token], frame: Frame, context: Context) -> bool:
    """Whether "here" turns from what a test is, as just taught, to what it is in this patient."""
    start = frame.items[0].start
    return context.topic.bare and any(token.norm == "here" for token in tokens[max(0, start - 3) : start + 1])


def _past(tokens: Sequence[Token], frame: Frame) -> bool:
    start, end = max(0, frame.items[0].start - 2), frame.items[-1].end
    return any(token.norm in ("was", "were") for token in tokens[start:end])


def _doubt_subject(repaired: Repaired, frame: Frame, drafts: Sequence[Draft], empty: frozenset[str]) -> None:
    """Doubt values that were taken for what was named before, where the words before them name something unknown."""
    mentions = [m for m in (*repaired.content, *repaired.talk) if not _only_outcome(m)]
    known = frozenset(place for m in mentions for place in range(m.start, m.end))
    strange = unknown_subject(repaired.tokens, known, frame.items[0].start, empty=empty)
    if not strange:
        return
    detail = f"{strange!r} was not understood; taken for what was named before"
    for draft in drafts:
        draft.doubts.append(("incomplete", detail, None))


def _only_outcome(mention: Mention) -> bool:
    """Whether the words are known as the result of some test only ("extensor" of a plantar reflex)."""
    return bool(mention.senses) and all(sense.shape in ("positive", "negative") for sense in mention.senses)


def _loose(draft: Draft) -> bool:
    """Whether a draft is a sign that can come along with many things, without a place or a number ("they're sore")."""
    companion = draft.kind == "sign" and draft.term is not None and draft.term.companion
    return companion and draft.structure is None and draft.grade is None


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
