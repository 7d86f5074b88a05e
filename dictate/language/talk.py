"""Tell what kind of talk each word belongs to: statements about this patient now, or talk that makes no finding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from dictate.language.clauses import clauses
from dictate.language.explained import explained_spans
from dictate.language.generic import general_spans
from dictate.language.mentions import Mention
from dictate.language.quantity import LEAST_ANGLE
from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, STOP, Token
from dictate.lexicon.general_model import GeneralWords

STATEMENT = "statement"
# How far back in a sentence without punctuation a cue at its end can reach ("… it was swollen last week").
_BACK_WORDS = 7
# A sentence longer than this has lost its punctuation: full stops can no longer be relied on.
_UNPUNCTUATED_WORDS = 45
_FORWARD_ONLY = frozenset({"instruction", "diagnosis", "condition"})
_TAGS = frozenset(
    {
        "right",
        "ok",
        "okay",
        "yeah",
        "yes",
        "no",
        "correct",
        "agreed",
        "see",
        "you see",
        "see that",
        "see it",
        "feel that",
        "feel it",
        "is not it",
        "does not it",
        "are not they",
        "has not it",
        "all right",
        "do you feel that",
        "do you see that",
        "d'you feel that",
        "d'you see that",
        "can you feel that",
        "can you see that",
        "did you feel that",
        "did you see that",
    }
)
_TAGS_THAT_TURN = frozenset({"is not it", "does not it", "are not they", "has not it", "is it not"})
_SOFT_KINDS = frozenset({"instruction", "plan", "question", "teaching"})  # talk that may announce what comes next


@dataclass(frozen=True, slots=True)
class Sentence:
    """Token span (end exclusive) up to a full stop or question mark."""

    start: int
    end: int
    question: bool


def sentences(tokens: Sequence[Token]) -> list[Sentence]:
    """Cut tokens into sentences at the breaks that punctuation gives."""
    out = []
    start = 0
    for position, token in enumerate(tokens):
        if token.break_after in (STOP, QUESTION) or position == len(tokens) - 1:
            out.append(Sentence(start, position + 1, token.break_after == QUESTION))
            start = position + 1
    return out


def kinds_of_talk(
    tokens: Sequence[Token], talk: Sequence[Mention], content: Sequence[Mention], general: GeneralWords
) -> list[str]:
    """Return one kind a token: STATEMENT, or the kind of talk that makes no finding of it."""
    kinds = [STATEMENT] * len(tokens)
    for sentence in sentences(tokens):
        _mark_sentence(tokens, sentence, talk, content, kinds)
    for start, end, kind in [*explained_spans(tokens, content), *general_spans(tokens, content, general)]:
        for position in range(start, _resumed(tokens, start, end, talk, content)):
            if kinds[position] == STATEMENT:
                kinds[position] = kind
    for start, end in clauses(tokens):
        if start and tokens[start - 1].break_after == QUESTION and _answers_a_quiz(tokens, start, end):
            kinds[start:end] = ["question"] * (end - start)  # what it names may be examined next
        if start and _goes_for(tokens, start, end) and (kind := _kind_of_sentence(tokens, start, kinds, content)):
            kinds[start:end] = [kind] * (end - start)
        if start and _goes_on(tokens, start, end, kinds, content):
            kinds[start:end] = [kinds[start - 1]] * (end - start)
    return kinds


_ASKS_LEARNERS = frozenset({"which", "what", "who", "whose", "where", "why", "how", "many", "anyone", "anybody"})
_PRAISE = frozenset({"good", "correct", "exactly", "excellent", "perfect", "brilliant", "right", "yes", "spot", "nice",
                     "beauty", "ripper", "lovely", "great", "bang", "grand", "well"})  # fmt: skip


def _answers_a_quiz(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a clause behind a question to learners repeats the answer: "Which muscle's tight? Gastroc, good." """
    first = start - 1
    while first > 0 and tokens[first - 1].break_after in (NO_BREAK, COMMA):
        first -= 1
    asked = _ASKS_LEARNERS & {token.norm for token in tokens[first : min(first + 4, start)]}
    praised = end < len(tokens) and tokens[end - 1].break_after == COMMA and tokens[end].norm in _PRAISE
    alone = end + 1 == len(tokens) or bool(tokens[min(end, len(tokens) - 1)].break_after)
    return bool(asked) and praised and end - start <= _ANSWER_WORDS and alone


_ANSWER_WORDS = 4
_CARRIED_ON = frozenset({"for", "from", "or", "how", "whether", "any"})


def _goes_on(tokens: Sequence[Token], start: int, end: int, kinds: Sequence[str], content: Sequence[Mention]) -> bool:
    """Whether a clause only goes on with the list of the one before, which was taught or supposed.

    "You'd check for squinting kneecaps, for a valgus knee", "if it's hot, red and swollen": no verb, no value.
    """
    if tokens[start - 1].break_after != COMMA or kinds[start - 1] not in ("teaching", "condition"):
        return False
    if any(kind != STATEMENT for kind in kinds[start:end]):
        return False
    inside = [m for m in content if start <= m.start < end]
    if any(m.cue("status") or m.cue("negation") or m.quantity or m.cue("side") for m in inside):
        return False
    first = start + 1 if tokens[start].norm in ("and", "or") and start + 1 < end else start
    if tokens[first].norm in _CARRIED_ON or tokens[start].norm == "or":
        return not any(token.norm in _FINITE for token in tokens[start:end])
    before = next((m for m in reversed(content) if m.end == start), None)
    likes = [m for m in inside if m.start == first and m.shaped("adjective")]
    return kinds[start - 1] == "condition" and bool(likes) and before is not None and bool(before.shaped("adjective"))


def _goes_for(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a clause says that the one before it goes for something else too ("and the same goes for Yergason's")."""
    words = [token.text for token in tokens[start:end][:_GOES_FOR_WORDS]]
    return ("goes", "for") in pairwise(words)


_GOES_FOR_WORDS = 5


def _kind_of_sentence(
    tokens: Sequence[Token], start: int, kinds: Sequence[str], content: Sequence[Mention]
) -> str:  # fmt: skip
    """Return the kind of other talk that a sentence held up to a place, "" where a finding was stated in it."""
    place = start - 1
    while place >= 0 and tokens[place].break_after in (NO_BREAK, COMMA):
        if kinds[place] != STATEMENT:
            return kinds[place]
        place -= 1
    named = any(m.terms() for m in content if place < m.start < start)
    return "" if named else "teaching"


_FINITE = frozenset({"is", "are", "it's", "that's", "there's", "he's", "she's", "has", "have", "feel", "feels", "was"})


def _resumed(tokens: Sequence[Token], start: int, end: int, talk: Sequence[Mention], content: Sequence[Mention]) -> int:
    """Return where, inside a stretch without punctuation, talk of this patient resumes; its end otherwise."""
    for mention in talk:
        sense = mention.cue("resume")
        strong = sense is not None and not sense.weak
        if strong and start + 2 < mention.start < end and _value_follows(tokens, mention.start, end, content):
            end = mention.start
            break
    if end - start > _UNPUNCTUATED_WORDS:  # no such talk goes on for so long: its punctuation is lost
        rows = (p for p in range(start + 2, end) if _telegraphic(p, end, content) and not _of_the_talk(tokens, p))
        return next(rows, end)
    return end


def _mark_sentence(
    tokens: Sequence[Token], sentence: Sentence, talk: Sequence[Mention], content: Sequence[Mention], kinds: list[str]
) -> None:
    if sentence.question:
        start = _question_start(tokens, sentence, content)
        kinds[start : sentence.end] = ["question"] * (sentence.end - start)
    cues = [mention for mention in talk if sentence.start <= mention.start < sentence.end]
    resumes = [mention for mention in cues if mention.cue("resume")]
    for mention in cues:
        if mention.cue("introduce"):
            for position in range(mention.start, mention.end):
                kinds[position] = "condition"  # "if anything hurts, tell me"
        sense = mention.cue("talk")
        if sense is None or sense.cue is None or sense.cue.value is None:
            continue
        at_start = _opens_clause(tokens, mention.start, talk) and not _of_somebody(tokens, mention)
        if sense.weak and not at_start:
            continue
        kind = sense.cue.value
        if kind == "patient" and mention.cue("withdraw") and takes_back(mention, sentence, content):
            continue
        if kind == "instruction" and _is_movement_noun(tokens, mention, content):
            continue
        if kind == "patient" and sense.weak and _is_told_of_a_place(tokens, mention, content):
            continue
        if kind == "patient" and _comes_along(tokens, sentence, mention, content):
            continue
        start = mention.start
        told = (
            kind == "teaching" and tokens[start].norm in _TIMES_OF and _tells_before(tokens, sentence, start, content)
        )
        supposed = (
            kind == "condition" and tokens[mention.start].norm == "would"
        )  # "three positive would make it likely"
        if (kind not in _FORWARD_ONLY and not told) or supposed:
            start = _clause_start(tokens, sentence, mention.start, content)
            if _tells(tokens, mention) and start == mention.start > sentence.start:
                start = _clause_start(tokens, sentence, mention.start - 1, content)
        ends = [] if kind == "condition" else resumes  # "if there's a lot of fluid" supposes all the same
        end = _scope_end(tokens, sentence, mention, sense.cue.scope == "sentence", ends, content)
        for position in range(start, end):
            if kinds[position] in (STATEMENT, "instruction", "plan"):
                kinds[position] = kind


def takes_back(mention: Mention, sentence: Sentence, content: Sequence[Mention]) -> bool:
    """Whether words that withdraw do so: "no it isn't" only behind a statement, for elsewhere the patient answers."""
    sense = mention.cue("withdraw")
    if sense is None or sense.cue is None or sense.cue.value != "denied":
        return sense is not None
    return any(sentence.start <= m.start and m.end <= mention.start for m in content if m.terms())


_TELLING = frozenset({"say", "tell", "report"})


def _tells(tokens: Sequence[Token], mention: Mention) -> bool:
    """Whether the cue is a clause by itself that says whose words stand before it ("no numbness, he tells me")."""
    alone = mention.end == len(tokens) or tokens[mention.end - 1].break_after != NO_BREAK
    return alone and bool(_words(tokens, mention) & _TELLING) and mention.end - mention.start > 1


def _comes_along(tokens: Sequence[Token], sentence: Sentence, mention: Mention, content: Sequence[Mention]) -> bool:
    """Whether "but it hurts", "and it hurts" goes on from a result in the same sentence: the examiner says both."""
    if mention.start == 0 or tokens[mention.start - 1].norm not in ("but", "and") or "i" in _words(tokens, mention):
        return False
    before = [m for m in content if sentence.start <= m.start < mention.start]
    return any(m.cue("status") or m.quantity for m in before)


def _is_movement_noun(tokens: Sequence[Token], mention: Mention, content: Sequence[Mention]) -> bool:
    """Whether an order's words name a movement that was made: "lifting your arm forward you get one fifty"."""
    named = any(m.start == mention.start and m.end >= mention.end and m.terms("movement") for m in content)
    return named and tokens[mention.start].text.endswith("ing")


_TIMES_OF = frozenset({"when", "as", "while"})


def _tells_before(tokens: Sequence[Token], sentence: Sentence, start: int, content: Sequence[Mention]) -> bool:
    """Whether the patient was told something before "when you …": "your kneecap tracks laterally when you bend"."""
    begin = _clause_start(tokens, sentence, start, content)
    yours = any(token.norm == "your" for token in tokens[begin:start])
    return yours and any(m.shaped("verb") or m.cue("status") for m in content if begin <= m.start < start)


_SORE_AT = frozenset({"on", "over", "at", "along", "around"})


def _is_told_of_a_place(tokens: Sequence[Token], mention: Mention, content: Sequence[Mention]) -> bool:
    """Whether "it's sore" tells the patient where: "it's sore on the bicipital groove"."""
    if mention.end >= len(tokens) or tokens[mention.end].norm not in _SORE_AT or tokens[mention.end - 1].break_after:
        return False
    return any(m.terms("structure") for m in content if mention.end < m.start <= mention.end + 2)


def _words(tokens: Sequence[Token], mention: Mention) -> set[str]:
    return {token.norm for token in tokens[mention.start : mention.end]}


def _question_start(tokens: Sequence[Token], sentence: Sentence, content: Sequence[Mention]) -> int:
    """Return where the question begins: a short tag after a comma asks nothing of the words before it."""
    for length in (3, 2):  # "so it's the right one isn't it"
        start = sentence.end - length
        if start > sentence.start and " ".join(t.norm for t in tokens[start : sentence.end]) in _TAGS_THAT_TURN:
            return start
    end = sentence.end
    for position in range(sentence.end - 2, sentence.start - 1, -1):
        if tokens[position].break_after == COMMA:
            tag = " ".join(token.norm for token in tokens[position + 1 : end])
            if tag in _TAGS or _asks_on(tokens, sentence, position + 1, content):
                return position + 1
            named = any(position < m.start < end for m in content)
            if end < sentence.end or named or end - position - 1 > _VOCATIVE_WORDS:
                break
            end = position + 1  # who is asked: "…, d'you feel that, Eva?"
    return sentence.start


_VOCATIVE_WORDS = 2


def _asks_on(tokens: Sequence[Token], sentence: Sentence, place: int, content: Sequence[Mention]) -> bool:
    """Whether the last clause asks what was told before it: "and the left, that's a two, what's the end point?" """
    first, *then = [token.norm for token in tokens[place : place + 2]]
    wondering = first.removesuffix("'s") in _ASKS_LEARNERS
    shown = first in ("did", "do", "can", "could") and then == ["you"]
    opened = tokens[sentence.start].norm in (*_ASKS_LEARNERS, "did", "do", "can", "could", "is", "are", "does", "have")
    if not (wondering or shown) or opened:
        return False
    before = [m for m in content if sentence.start <= m.start < place]
    valued = any(m.quantity or m.cue("status") for m in before)
    named = any(m.terms("test", "movement", "reflex") for m in before)
    return valued and (named or (wondering and any(m.cue("side") for m in before)))


def _of_somebody(tokens: Sequence[Token], mention: Mention) -> bool:
    """Whether an order's verb stands in the third person, and orders nothing: "opens a bit at thirty"."""
    sense = mention.cue("talk")
    verb = tokens[mention.start]
    if sense is None or sense.cue is None or verb.text == verb.norm:
        return False
    return bool(sense.cue.verbs) or (sense.cue.value == "instruction" and verb.text == f"{verb.norm}s")


_CAN = frozenset({"can", "could", "not", "to", "will", "would", "may", "might", "must", "i", "he", "she", "we", "they"})


def _opens_clause(tokens: Sequence[Token], position: int, talk: Sequence[Mention]) -> bool:
    """Whether nothing but fillers stands between this word and the break before it."""
    fillers = {place for mention in talk if mention.cue("filler") for place in range(mention.start, mention.end)}
    place = position - 1
    if place >= 0 and tokens[place].norm in _CAN and tokens[place].break_after == NO_BREAK:
        return False  # "can't feel it", "I can milk a small effusion across"
    while place >= 0 and tokens[place].break_after == NO_BREAK:
        if place not in fillers and tokens[place].norm not in (
            "and",
            "now",
            "then",
            "so",
            "okay",
            "ok",
            "but",
            "right",
        ):
            return False
        place -= 1
    return True


def _clause_start(tokens: Sequence[Token], sentence: Sentence, position: int, content: Sequence[Mention]) -> int:
    """Return how far back a cue reaches: to the clause's start, or a few words where punctuation is missing."""
    limit = sentence.start
    if sentence.end - sentence.start > _UNPUNCTUATED_WORDS:
        limit = max(limit, position - _BACK_WORDS)
    values = {m.end for m in content if m.quantity or (m.cue("status") and not m.cue("negation") and not is_part(m))}
    values |= {m.end for m in content if m.cue("side") and m.start in values}  # "abduction five both would a scan …"
    place = position
    while place > limit:
        if tokens[place - 1].break_after != NO_BREAK:
            break
        if tokens[place - 1].norm in ("but", "although", "though", "because", "until", "till"):
            break
        if sentence.end - sentence.start > _UNPUNCTUATED_WORDS and place in values:
            break
        place -= 1
    return place


def is_part(mention: Mention) -> bool:
    """Whether the words are a part of an amount, which is also said of people ("half of healthy people")."""
    sense = mention.cue("status")
    return sense is not None and sense.cue is not None and sense.cue.amount and sense.cue.value == "reduced"


def _scope_end(
    tokens: Sequence[Token],
    sentence: Sentence,
    mention: Mention,
    whole_sentence: bool,
    resumes: Sequence[Mention],
    content: Sequence[Mention],
) -> int:
    """Return where the cue's reach ends: the clause or sentence, or an earlier word after which talk of now resumes."""
    sense = mention.cue("talk")
    asks = sense is not None and sense.cue is not None and sense.cue.value in ("instruction", "plan")
    long = sentence.end - sentence.start > _UNPUNCTUATED_WORDS
    unbroken = long or (asks and _unbroken(tokens, sentence))
    for position in range(mention.end, sentence.end):
        broke = tokens[position - 1].break_after != NO_BREAK
        if broke and not whole_sentence:
            return position
        if unbroken and position > mention.end and _measures_now(position, content):
            return position
        row = long and position > mention.end and _telegraphic(position, sentence.end, content)
        if row and not _of_the_talk(tokens, position):
            return position
        resume = next((r for r in resumes if r.start == position), None)
        if resume is None:
            continue
        sense = resume.cue("resume")
        strong = sense is not None and not sense.weak
        joined = position > 0 and tokens[position - 1].norm in ("and", "but", "so", "okay", "ok", "now", "then", "good")
        apart = broke or joined
        judged = unbroken and _judged_at_once(tokens, resume, content)
        resumes_here = judged or (strong and (apart or not whole_sentence or long)) or (apart and sense is not None)
        if resumes_here and _value_follows(tokens, position, sentence.end, content):
            return position
    return sentence.end


def _measures_now(position: int, content: Sequence[Mention]) -> bool:
    """Whether a way of moving, a movement and its number follow each other here: "active flexion one twenty"."""
    row = [m for m in content if position <= m.start]
    if len(row) < _MEASURED_WORDS or row[0].start != position or not row[0].cue("modality"):
        return False
    moved = bool(row[1].terms("movement")) and row[1].start == row[0].end
    return moved and row[2].quantity is not None and row[2].start == row[1].end


_MEASURED_WORDS = 3


def _unbroken(tokens: Sequence[Token], sentence: Sentence) -> bool:
    """Whether a sentence of some length has no pause in it nor a stop at its end: then its punctuation is lost."""
    inside = tokens[sentence.start : sentence.end]
    return len(inside) >= _UNBROKEN_WORDS and not any(token.break_after for token in inside)


def _judged_at_once(tokens: Sequence[Token], resume: Mention, content: Sequence[Mention]) -> bool:
    """Whether a result stands right behind "that's", "it's": "wrists down and hold it there that's positive"."""
    said = [m for m in content if m.start == resume.end]
    if any(m.quantity and m.quantity.value >= LEAST_ANGLE for m in said):
        return True
    return any((value := m.cue("status")) and value.cue and not value.weak for m in said)


_UNBROKEN_WORDS = 12
_TELEGRAM_WORDS = 6
_TELEGRAM_SHARE = 0.8


def _telegraphic(position: int, end: int, content: Sequence[Mention]) -> bool:
    """Whether the next words are nearly all terms and values, as notes without punctuation are."""
    opens = [m for m in content if m.start == position]
    if not any(m.terms_named() or m.cue("negation") or m.cue("modality") or m.cue("side") for m in opens):
        return False
    stop = min(end, position + _TELEGRAM_WORDS)
    inside = [m for m in content if position <= m.start < stop]
    known = {place for m in inside for place in range(m.start, min(m.end, stop))}
    named = any(m.terms_named() or m.levels for m in inside)
    valued = any(
        m.quantity or m.cue("status") or m.cue("negation") or m.shaped("adjective") or m.shaped("absent")
        for m in inside
    )
    return named and valued and stop - position >= 3 and len(known) / (stop - position) >= _TELEGRAM_SHARE


_TALKS_ON = frozenset({"it's", "is", "it", "he's", "she's", "where", "when", "if", "what"})


def _of_the_talk(tokens: Sequence[Token], position: int) -> bool:
    """Whether a word still belongs to the talk before it: "tell me where it's sore okay lateral epicondyle tender"."""
    return tokens[position - 1].norm in _TALKS_ON


def _value_follows(tokens: Sequence[Token], position: int, end: int, content: Sequence[Mention]) -> bool:
    """Whether the clause from here states something: a value, or a sign."""
    for mention in content:
        if not position <= mention.start < end:
            continue
        if mention.quantity or mention.cue("status") or mention.terms("sign") or mention.cue("negation"):
            return True
        if any(token.break_after for token in tokens[position : mention.start]):
            return False
    return False


def may_announce(kind: str) -> bool:
    """Whether talk of this kind can name what the next statement is about ("checking the Lachman. Negative.")."""
    return kind == STATEMENT or kind in _SOFT_KINDS
