"""Corrections that come late, or from a second voice: "I said lateral meniscus, I meant the ligament"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.admitted import admitted
from dictate.language.exchange import blanked, labels, sentence_start, statement_start
from dictate.language.mentions import Mention, MentionFinder
from dictate.language.phrases import PhraseIndex
from dictate.language.pointed import answered_side, other_side, this_not_that
from dictate.language.put_right import is_value, put_right, put_right_by_kind
from dictate.language.state import State
from dictate.language.tokens import NO_BREAK, QUESTION, Token
from dictate.lexicon.word_lists import CorrectionWords

_HEAD_WORDS = 8  # before "I said", "I gave you"


def correct(
    state: State, tokens: Sequence[Token], finder: MentionFinder, index: PhraseIndex, words: CorrectionWords, *,
    regions: frozenset[str],
) -> tuple[State, Sequence[Token]]:  # fmt: skip
    """Carry out a late correction found in the tokens; return the state and the tokens that are left to read."""
    content, talk = finder.find(tokens, regions=regions)
    turned = this_not_that(state, tokens, content, words) or other_side(state, tokens, content, words)
    turned = turned or answered_side(state, tokens, words) or admitted(state, tokens, content, words)
    if turned is not None:
        return turned
    cue = next((m for m in talk if m.cue("late")), None) or _ought(tokens, content, talk, words.pointing_back)
    cue = cue or _made(state, tokens, content, talk, words.changing)
    if cue is None or not state.entries:
        return state, tokens
    if tokens[cue.start].norm == "you" and not _opens(tokens, cue.start, words.before_you_are):
        return state, tokens  # "step off two fingers and you are on the pillar" tells where that is
    end = _statement_end(tokens, cue.end)
    pivot = _pivot(talk, content, cue, end) or _asked_back(tokens, content, cue, end)
    sense = cue.cue("late")
    asked = any(token.break_after == QUESTION for token in tokens[cue.end : pivot.start if pivot else end])
    if (pivot is None or asked) and sense and sense.cue and sense.cue.value == "direct":
        return _correct_directly(state, tokens, content, cue, end, words.wondering)
    if pivot is None:
        return state, tokens
    if any(token.norm == "wrong" for token in tokens[cue.end : pivot.start]):
        return state, tokens  # "I gave you the wrong knees": what is right is said in full, see `challenge`
    begin = max(sentence_start(tokens, cue.start), cue.start - _HEAD_WORDS)
    head = [m for m in content if begin <= m.start and m.end <= cue.start]  # "the abduction on the right, I said four"
    old = [*head, *(m for m in content if cue.end <= m.start and m.end <= pivot.start)]
    new = [m for m in content if pivot.end <= m.start < end and not _is_pronoun(tokens, m)]
    corrected = put_right(state, tokens, cue, pivot, old, new, end, index)
    if corrected is None:
        return state, tokens
    start = min([statement_start(tokens, cue.start), *(m.start for m in head)])
    opening = sentence_start(tokens, start)
    if not any(is_value(m) for m in content if opening <= m.start < start):
        start = opening  # "one more thing: …"
    return corrected, blanked(tokens, start, end)


def _opens(tokens: Sequence[Token], place: int, before: frozenset[str]) -> bool:
    """Whether a statement begins here, words that may stand `before` it not counted as its beginning."""
    return place == 0 or bool(tokens[place - 1].break_after) or tokens[place - 1].norm in before


def _is_pronoun(tokens: Sequence[Token], mention: Mention) -> bool:
    return mention.end - mention.start == 1 and tokens[mention.start].norm == "one"


def _correct_directly(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], cue: Mention, end: int, wondering: frozenset[str]
) -> tuple[State, Sequence[Token]]:
    """ "I make that one twenty", "did you mean valgus?": the right value stands right behind the cue."""
    start = statement_start(tokens, cue.start)
    if tokens[sentence_start(tokens, cue.start)].norm in wondering:
        return state, tokens  # "how would you know you're on the line and not down on the tibia?"
    if any(m.end <= cue.start and m.quantity and m.start >= sentence_start(tokens, cue.start) for m in content):
        return state, tokens  # "four plus, no, I'd make that five" repairs what this sentence says
    inside = [m for m in content if start <= m.start < end and is_value(m) and not m.cue("negation")]
    right = next((m for m in inside if m.start >= cue.end), None) or next((m for m in inside if m.cue("side")), None)
    if right is None:
        return state, tokens
    said = " ".join(token.text for token in tokens[right.start : right.end])
    corrected = put_right_by_kind(state, right, said)
    return (corrected, blanked(tokens, start, end)) if corrected is not None else (state, tokens)


def _ought(
    tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention], pointing_back: frozenset[str]
) -> Mention | None:
    """ "That flexion should be one twenty": a correction, where something said before is pointed at."""
    for mention in talk:
        if not mention.cue("late_target") or tokens[mention.start].norm != "should":
            continue
        term = next((m for m in reversed(content) if m.end <= mention.start and m.terms()), None)
        if term is not None and mention.start - term.end <= 1:
            pointed = {token.norm for token in tokens[max(0, term.start - 2) : term.start]}
            if pointed & pointing_back:
                return Mention(term.start, term.start)
    return None


def _made(
    state: State, tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention],
    changing: frozenset[str],
) -> Mention | None:  # fmt: skip
    """ "Back to Gillet's, make that positive": a correction of something that was said of in an earlier utterance."""
    for mention in talk:
        words = {token.norm for token in tokens[mention.start : mention.end]}
        if not mention.cue("late_target") or not words & changing:
            continue
        before = [m for m in content if m.end <= mention.start]
        if len(before) != 1 or not before[0].terms() or mention.start - before[0].end > 1:
            continue
        said = {label for entry in state.entries for label in (entry.finding.finding, entry.finding.structure)}
        if labels(before[0]) & said:
            return Mention(before[0].start, before[0].start)
    return None


def _statement_end(tokens: Sequence[Token], start: int) -> int:
    """The correction may run over one full stop: "You said left there. It's the right." """
    stops = 0
    for place in range(start, len(tokens)):
        if tokens[place].break_after not in (NO_BREAK, ","):
            stops += 1
            if stops == 2:
                return place + 1
    return len(tokens)


def _pivot(talk: Sequence[Mention], content: Sequence[Mention], cue: Mention, end: int) -> Mention | None:
    """Return what stands between wrong and right: "it's", "I meant", "sorry"."""
    options = [m for m in talk if cue.end <= m.start < end and (m.cue("late_target") or m.cue("repair"))]
    for option in options:
        before = any(cue.end <= m.start and m.end <= option.start for m in content) or option.start > cue.end
        after = any(option.end <= m.start < end for m in content)
        if before and after:
            return option
    return None


def _asked_back(tokens: Sequence[Token], content: Sequence[Mention], cue: Mention, end: int) -> Mention | None:
    """ "Did I say four there? Five.": the question mark stands between wrong and right."""
    if tokens[cue.start].norm != "did":
        return None
    stop = next((place for place in range(cue.end, end) if tokens[place].break_after == QUESTION), None)
    if stop is None or not any(stop < m.start < end and is_value(m) for m in content):
        return None
    return Mention(stop + 1, stop + 1)
