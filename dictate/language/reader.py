"""Read one utterance into the state of the exam: the pure step of which the whole note is the fold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.contract import Region, Section
from dictate.language import deferral, heading, late, regions_named, told
from dictate.language.agreement import doubt_unless_agreed
from dictate.language.attach import attach
from dictate.language.breaks import BreakRestorer
from dictate.language.by_name import terms_by_name
from dictate.language.control import Controls
from dictate.language.correction_starts import corrected_from
from dictate.language.exchange import withdraw
from dictate.language.frame_reader import FrameReader
from dictate.language.item import Item, says_nothing
from dictate.language.items import items_of
from dictate.language.joints import of_one_joint
from dictate.language.mended import mended
from dictate.language.mentions import Mention, MentionFinder, longest_first
from dictate.language.misheard_values import ValueRestorer
from dictate.language.numbers import NumberReader
from dictate.language.opening_right import is_opening_right
from dictate.language.order import in_set_order, order_set
from dictate.language.otherwise import OtherReading, heard_otherwise
from dictate.language.phrases import PhraseIndex
from dictate.language.pieces import MOST_SENTENCES, chunks, pieces, shifted, split_at
from dictate.language.repair import Repaired, opens_with_repair, repair
from dictate.language.reread import (
    both_of_those_named,
    felt_there,
    neither_of_two,
    nothing_of_it,
    of_the_digit,
    reflexes_by_muscle,
    said_once,
    same_end_feel,
    same_pain,
    second_of_pair,
    stable_in_position,
    straight_at_zero,
    with_a_sign_tested,
    with_its_amount,
    with_knee_held,
    without_small_words,
    without_sought,
    without_where_it_goes,
)
from dictate.language.resolve import Resolver, Sentence
from dictate.language.restore import Restorer
from dictate.language.revise import Revision, note_replacements
from dictate.language.segment import Frame, Segmenter
from dictate.language.state import Context, State
from dictate.language.stated import Opinion, StatementModel, clauses_of
from dictate.language.talk import STATEMENT, kinds_of_talk, may_announce, sentences, takes_back
from dictate.language.talk import Sentence as Span
from dictate.language.tokens import Token, Tokeniser
from dictate.language.word_lists import word_lists
from dictate.lexicon.general_model import general_words
from dictate.lexicon.load import Lexicon, builtin_folder
from dictate.lexicon.word_lists import CorrectionWords, SmallWords, ThisPatientWords
from dictate.recognise.events import Hypothesis, Utterance

# More mentions than this in one sentence: its punctuation is lost, and a side at its end is not that of its start.
_LONG_SENTENCE = 24


class Reader:
    """Reads utterances one after another. All that it knows is the lexicon; all that it remembers is the state."""

    def __init__(self, lexicon: Lexicon) -> None:
        words = lexicon.reference["words"]
        self.lexicon = lexicon
        self.tokeniser = Tokeniser(words)
        self._small_words = word_lists(SmallWords, lexicon, self.tokeniser)
        self._of_corrections = word_lists(CorrectionWords, lexicon, self.tokeniser)
        self.index = PhraseIndex(lexicon, self.tokeniser)
        self.controls = Controls(lexicon)
        self.finder = MentionFinder(self.index, NumberReader(words, known=self.index.vocabulary), words)
        self.breaks = BreakRestorer(builtin_folder() / "common" / "breaks.crfsuite", self.finder)
        self.statements = StatementModel(builtin_folder() / "common" / "stated.crfsuite")
        self._turns_from = lexicon.reference["grammar"]["stated"]["turns"]
        self.segmenter = Segmenter(lexicon.reference["grammar"])
        self.resolver = Resolver(lexicon)
        self.restorer = Restorer(self.index, words)
        self.values = ValueRestorer(self.index, words, self._small_words)
        self.frames = FrameReader(lexicon, self.resolver, word_lists(ThisPatientWords, lexicon, self.tokeniser))
        self.general = general_words(lexicon.reference)
        self._groups = terms_by_name(lexicon)
        self._number_words = frozenset(words["units"]) | frozenset(words["tens"])
        little = frozenset(words["function_words"])  # "for", "to": as often said for themselves
        self._misheard = {word: value for word, value in words["misheard_numbers"].items() if word not in little}
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
            tokens = self.tokeniser.tokens([word.text for word in utterance.words])
            content, _ = self.finder.find(tokens)
            placed = regions_named.joints_placed(content, tokens)
            votes.update(regions_named.region_votes([m for m in content if m.start not in placed]))
        return State(context=Context(region=votes.most_common(1)[0][0])) if votes else State()

    def tokens(self, words: list[str]) -> list[Token]:
        """Return the tokens of spoken words, without stops that cut a name in two."""
        return mended(self.tokeniser.tokens(words), self.index, self._number_words, self._small_words)

    def step(self, state: State, utterance: Utterance) -> State:
        """Return the state after one more utterance. Never raises on any text."""
        words = [word.text for word in utterance.words]
        before = len(state.entries)
        for number, (first, piece) in enumerate(self._pieces(words)):
            tokens = self.tokens(piece)
            known = len(state.entries)
            if tokens:
                others = utterance.alternatives if len(piece) == len(words) else ()
                state = self._read_unbroken(state, tokens, piece, others, number * MOST_SENTENCES)
            if first:
                state = shifted(state, known, first)
        state = replace(state, utterances=state.utterances + 1, words=state.words + len(words))
        return regions_named.settle_region(state, before)

    # -- one utterance ----------------------------------------------------------------------------------------------

    def mentions(self, tokens: Sequence[Token], state: State, others: Sequence[Hypothesis] = ()) -> Repaired:
        """Return the mentions of an utterance, misheard terms restored and self-repairs carried out."""
        near = self.resolver.near(state.context.region)
        content, talk = self.finder.find(tokens, regions=near)
        if others:
            restored = heard_otherwise(tokens, content, talk, self._other(others, near), self.index, self._misheard)
            content = longest_first([*content, *restored])
        content = longest_first([*content, *self.values.restored(tokens, content)])
        content = self.restorer.restore(tokens, content, talk, region=state.context.region)
        return repair(tokens, content, talk)

    def talk(
        self, tokens: Sequence[Token], words: Sequence[str], state: State, others: Sequence[Hypothesis] = ()
    ) -> tuple[Repaired, list[str]]:
        """Return the mentions of an utterance, and for each token the kind of talk that the rules take it for."""
        repaired = self.mentions(tokens, state, others)
        kinds = kinds_of_talk(repaired.tokens, repaired.talk, repaired.content, self.general)
        theirs = told.speaker_words(words, self._patients, self._examiners) | told.quoted_words(words)
        return repaired, ["patient" if t.word in theirs else kind for t, kind in zip(tokens, kinds, strict=True)]

    def _other(self, hypotheses: Sequence[Hypothesis], near: frozenset[str]) -> list[OtherReading]:
        readings = [self.tokens(hypothesis.text.split()) for hypothesis in hypotheses]
        return [OtherReading(tokens, self.finder.find(tokens, regions=near)[0]) for tokens in readings]

    def _pieces(self, words: Sequence[str]) -> Iterator[tuple[int, list[str]]]:
        """Give (place of the first word, words) of the pieces of an utterance that are read one after another."""
        for first, piece in pieces(words):
            tokens = self.tokeniser.tokens(piece)
            starts = [span.start for span in sentences(tokens)]
            cuts = corrected_from(tokens, self.index, starts, self._number_words, self._of_corrections)
            places = [0, *(tokens[cut].word for cut in cuts), len(piece)]
            yield from ((first + start, piece[start:end]) for start, end in pairwise(places))

    def _read_unbroken(
        self,
        state: State,
        tokens: Sequence[Token],
        words: Sequence[str],
        others: Sequence[Hypothesis],
        number: int,
    ) -> State:
        """Read words with their breaks put back, if they came without; what only that reading gives is doubted."""
        restored = self.breaks.restored(tokens)
        if restored is None:
            return self._read(state, tokens, words, others, number)
        plain = self._read(state, tokens, words, others, number, judged=False)
        return doubt_unless_agreed(self._read(state, restored, words, others, number), plain, len(state.entries))

    def _read(
        self,
        state: State,
        tokens: Sequence[Token],
        words: Sequence[str],
        others: Sequence[Hypothesis],
        first_sentence: int,
        *,
        judged: bool = True,
    ) -> State:
        """Read words. `judged`: their breaks are known, so that the model can tell which clauses are statements."""
        near = self.resolver.near(state.context.region)
        state, tokens = late.correct(state, tokens, self.finder, self.index, self._of_corrections, regions=near)
        repaired, kinds = self.talk(tokens, words, state, others)
        opinion = Opinion.none(kinds)
        if judged:
            likely, heard = self.statements.likelihoods(clauses := clauses_of(repaired, kinds), state.heard)
            opinion = Opinion.of(clauses, likely, kinds, turns_from=self._turns_from)
            state = replace(state, heard=heard)
        quoted = told.quoted_words(words)
        first_entry = len(state.entries)
        withdrawals = [m for m in repaired.talk if m.cue("withdraw")]
        again = [m for m in repaired.talk if (sense := m.cue("repair")) and sense.cue and sense.cue.value == "again"]
        revising = Revision(first_entry, opens=True) if opens_with_repair(repaired, tokens) else None
        for number, span in enumerate(sentences(repaired.tokens), first_sentence):
            inside = [m for m in repaired.content if span.start <= m.start < span.end]
            here = [m for m in withdrawals if span.start <= m.start < span.end and takes_back(m, span, inside)]
            cuts = sorted([*here, *(m for m in again if span.start <= m.start < span.end)], key=lambda m: m.start)
            if told.challenges(repaired, span, quoted, tokens):
                state = replace(state, challenged=(len(state.entries), state.utterances))
            state = told.note_talk(state, repaired, span, opinion.kinds, inside)
            for index, group in enumerate(split_at(inside, cuts)):
                if index and cuts[index - 1] in here:
                    state = withdraw(state)
                elif index:
                    revising = Revision(len(state.entries), opens=False)
                state = self._sentence(state, repaired, opinion, group, words, number, span, revising=revising)
                if group or (revising and revising.opens):
                    revising = None
        return note_replacements(state, first_entry, repaired.replacements)

    def _sentence(
        self,
        state: State,
        repaired: Repaired,
        opinion: Opinion,
        mentions: Sequence[Mention],
        words: Sequence[str],
        number: int,
        span: Span,
        *,
        revising: Revision | None,
    ) -> State:
        if not mentions:
            return state
        tokens, kinds = repaired.tokens, opinion.kinds
        local = regions_named.local_region(mentions)
        region = local or state.context.region
        near = self.resolver.near(state.context.region)
        around = self.resolver.around(state.context.region)
        items = items_of(
            mentions, tokens, region=region, near=near, around=around, section=_section_of(state), groups=self._groups,
            graded=bool(state.entries) and state.entries[-1].finding.finding == "strength",
        )  # fmt: skip
        items = with_its_amount(items, tokens)
        small = self._small_words
        items = said_once(items, tokens, _degrees_here(state), small.only)
        items = with_a_sign_tested(without_sought(items, tokens))
        items = same_pain(without_where_it_goes(without_small_words(items, tokens, small), tokens, small))
        items = with_knee_held(items, state.context.region, small.held)
        items = straight_at_zero(items, tokens, self._groups, region, small.gets_to)
        items = same_end_feel(items, [entry.finding.end_feel for entry in state.entries])
        if deferral.is_deferral(items, kinds):
            return deferral.defer(state, items, tokens, words)
        left = _found_of_left(state)
        items = [i for place, i in enumerate(items) if not is_opening_right(items, place, tokens, left)]
        items = [i for place, i in enumerate(items) if not _leads_to_talk(items, place, kinds, state.context.side)]
        if any(item.kind in ("test", "task", "reflex") for item in items):
            items = [replace(i, kind="status", value="not_examined") if i.kind == "defer" else i for i in items]
        items = reflexes_by_muscle(items, self._groups, state.context)
        items = stable_in_position(items, state.context)
        items = felt_there(neither_of_two(nothing_of_it(both_of_those_named(items, small.both_of_those))), tokens)
        items = of_the_digit(items, self._groups, state.context)
        items = second_of_pair(items, self._groups, state.context, tokens)
        items = of_one_joint(items, tokens, self._groups, state.context.topic.items)
        if any(item.value == "not_examined" for item in items):
            kinds = [STATEMENT if kind == "plan" else kind for kind in kinds]
        sentence = Sentence(
            region=local,
            sides_named=frozenset(i.value for i in items if i.kind == "side"),
            long=len(mentions) > _LONG_SENTENCE,
        )
        order = order_set(items, tokens)
        if order is not None:
            state = replace(state, context=replace(state.context, order=order))
        if items and kinds[items[0].start] not in ("condition", "teaching"):
            state = heading.first_side(state, items, tokens)
        before = state.context.topic
        carried = heading.side_of_row(items, tokens, words)
        for chunk in chunks(items, kinds, tokens):
            if chunk.kind != STATEMENT:
                context = replace(state.context, last_talk=(chunk.kind, state.utterances), topic_at=-1)
                state = replace(state, context=context)
                if may_announce(chunk.kind) or heading.goes_to_a_side(chunk.items, tokens):
                    announces = chunk.kind != "question" or heading.only_names(chunk.items, tokens)
                    announces = announces and not _is_byname(chunk.items, sentence)
                    state = heading.heading(state, chunk.items, stated=False, tokens=tokens, announces=announces)
                elif chunk.kind in ("history", "patient"):
                    state = heading.past_side(state, chunk.items)
                    if state.challenged[1] == state.utterances:
                        state = heading.questioned(state, chunk.items)
                continue
            state = heading.heading(state, chunk.items, stated=True, tokens=tokens)
            asked = "instruction" in kinds[span.start : chunk.items[0].start]
            said = _without_praise(chunk.items, tokens) if asked else chunk.items
            attached = attach(in_set_order(said, tokens, state.context.order), tokens)
            row = _only_lists_signs(chunk.items)
            divisions = self.segmenter.divide(attached, tokens)
            if not divisions:
                continue
            runner_up = divisions[1] if len(divisions) > 1 else None
            frames = divisions[0].frames
            close = runner_up is not None and runner_up.cost - divisions[0].cost < self.segmenter.margin
            other = self.frames.meaning(state, runner_up.frames) if runner_up is not None and close else frozenset()
            place = chunk.items[0].start
            for frame in frames:
                start = _first_word(chunk.items, place, frame)
                place = frame.items[-1].end
                state, frame = heading.in_frame(state, frame)
                if not frame.items:
                    continue
                sentence = replace(sentence, side=carried)
                doubtful = close and not self.frames.meaning(state, (frame,)) <= other
                state, carried = self.frames.read(
                    state,
                    frame,
                    sentence,
                    repaired,
                    words,
                    number,
                    doubtful=doubtful,
                    likely=opinion.of_frame(frame.items[0].start, frame.items[-1].end, listed=row),
                    revising=revising,
                    start=start,
                )
                if state.context.topic_at == state.utterances and state.context.topic is not before:
                    sentence = replace(sentence, topic=state.context.topic)
        return state


def _leads_to_talk(items: Sequence[Item], place: int, kinds: Sequence[str], announced: str) -> bool:
    """Whether "right" only leads on to what is asked next ("fat pad okay right can you bend it up"): the other side is
    being examined, and an order or question begins right behind the word."""
    item = items[place]
    left = announced == "left" or any(other.kind == "side" and other.value == "left" for other in items[:place])
    bare = item.kind == "side" and item.text == "right" and left
    asked = item.end < len(kinds) and kinds[item.end] in ("instruction", "question", "plan", "condition", "teaching")
    return bare and asked and kinds[item.start] == STATEMENT


def _first_word(items: Sequence[Item], after: int, frame: Frame) -> int:
    """Return the token that a frame's wording starts with, a negation or hedge before its first item included."""
    first = frame.items[0].start
    own = [i.start for i in items if after <= i.start <= first and i.kind not in ("and", "but", "neutral")]
    return min([first, *own])


def _without_praise(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Drop "perfect" after a comma, when the patient was told how to hold a joint ("…, bottom knee bent, perfect")."""
    out = list(items)
    for place in range(len(items) - 1, 0, -1):
        item, before = items[place], items[place - 1]
        paused = bool(tokens[before.end - 1].break_after) and bool(tokens[item.end - 1].break_after)
        if says_nothing(item) and before.kind == "movement" and paused:
            del out[place]
    return out


_A_ROW = 3


def _only_lists_signs(items: Sequence[Item]) -> bool:
    """Whether words only name what may be looked for: "Swelling, bruising, wasting, scars"."""
    told = [item for item in items if item.kind not in ("and", "neutral")]
    named = all(item.kind == "sign" and item.shape == "name" and not (item.negated or item.severity) for item in told)
    return named and len(told) >= _A_ROW


def _is_byname(items: Sequence[Item], sentence: Sentence) -> bool:
    """Whether talk only says what people call the place just named ("the big toe joint, what you call your bunion")."""
    place = sentence.topic is not None and sentence.topic.bare and not sentence.topic.sign()
    return place and all(item.kind == "sign" for item in items if item.is_target())


_JUST_FOUND = 8  # findings


def _found_of_left(state: State) -> frozenset[str]:
    """Return the names and levels of what was found of the left just now, if that is the side being examined."""
    names: set[str] = set()
    for entry in reversed(state.entries[-_JUST_FOUND:]):
        if entry.finding.side != "left" or state.utterances - entry.utterance > 1:
            break
        structure = entry.finding.structure or ""
        names |= {entry.finding.finding, structure, structure.split(" ")[0]}
    return frozenset(names - {""})


def _degrees_here(state: State) -> float | None:
    """Return the angle that was found last, if this utterance said it."""
    last = state.entries[-1] if state.entries else None
    return last.finding.degrees if last is not None and last.utterance == state.utterances else None


def _section_of(state: State) -> Section | None:
    """Return the section that decides what a word means: among tests "varus" is one, whatever was announced."""
    last = state.entries[-1].finding.section if state.entries else None
    return last if last == "special_tests" else state.context.section
