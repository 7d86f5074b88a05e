"""Things in general, introduced by "a" or "any": "a hot swollen knee", "an intact ligament stops with a knock"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import OPENERS, after_openers, clauses, sentence_end
from dictate.language.mentions import Mention
from dictate.language.token_row import norms_between
from dictate.language.tokens import COMMA, Token
from dictate.lexicon.general_model import GeneralWords

INDEFINITE = frozenset({"a", "an", "any"})
_HAVING = frozenset(
    [
        "is",
        "has",
        "have",
        "had",
        "got",
        "with",
        "there",
        "there's",
        "that's",
        "it's",
        "was",
        "shows",
        "show",
        "see",
        "feel",
        "get",
        "getting",
        "find",
        "notice",
        "had",
        "walk",
        "demonstrate",
        "demonstrates",
        "gives",
        "give",
        "by",
        "of",
        "to",
        "possibly",
        "maybe",
        "perhaps",
        "probably",
        "query",
    ]
)
_DENYING = frozenset({"not", "no", "without", "never", "hardly", "barely", "deny", "negative"})


def indefinite(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "A positive drawer", "a hot swollen knee": things in general, unless somebody has them."""
    spans = []
    for mention in content:
        if not start < mention.start < end or tokens[mention.start - 1].norm not in INDEFINITE:
            continue
        status = mention.cue("status")
        judged = status is not None and any(
            m.start == mention.end and (m.terms("test", "reflex", "movement", "pulse") or m.shaped("region"))
            for m in content
        )
        adjective = mention.shaped("adjective") is not None and mention.end < end
        if not judged and not adjective:
            continue
        before = set(norms_between(tokens, max(start, mention.start - 4), mention.start - 1))
        if "and" in before:
            before |= set(norms_between(tokens, start, mention.start - 1))
        if mention.start - 1 > start and before & _HAVING:
            continue
        if mention.start - 1 == start and not judged and tokens[start].norm == "a" and end - mention.end <= 1:
            continue
        spans.append((mention.start - 1, end, "teaching"))
    return spans


def contrast(tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention]) -> list[tuple[int, int, str]]:
    """ "A clunk, not a click": what is looked for, told from what is not."""
    thing = by_start.get(start + 1)
    if tokens[start].norm not in ("a", "an") or thing is None or thing.end != end or not thing.terms("sign"):
        return []
    denied = norms_between(tokens, end, end + 2)
    contrasted = len(denied) > 1 and denied[0] == "not" and denied[1] in ("a", "an", "just", "only")
    if not contrasted or tokens[end - 1].break_after != COMMA:
        return []
    stop = next(last for first, last in clauses(tokens) if first <= end < last)
    return [(start, stop, "teaching")]


def any_tissue(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "An intact ligament stops with a knock": what such a thing does, said of any."""
    place = start
    while place < end and tokens[place].norm in OPENERS:
        place += 1
    if norms_between(tokens, place, place + 1) not in (["a"], ["an"]) or place + 3 > end:
        return []
    noun = next((m.end for m in content if m.start <= place + 2 < m.end), place + 3)
    state = tokens[place + 1].norm in words.tissue_states
    goes_on = noun < end and not tokens[noun - 1].break_after
    measured = any(m.quantity or m.cue("side") for m in content if start <= m.start < end and m.end > noun)
    return [(start, end, "teaching")] if state and goes_on and not measured else []


def any_joint(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "A knee that's hot, red and swollen …": any such knee, to the end of the sentence."""
    place = after_openers(tokens, start, end)
    if tokens[place].norm not in INDEFINITE:
        return []
    thing = next((m for m in content if m.start == place + 1 and (m.shaped("region") or m.terms("test"))), None)
    if thing is None and tokens[place + 1 : place + 2] and tokens[place + 1].norm in ("normal", "healthy", "sound"):
        thing = next((m for m in content if m.start == place + 2 and m.shaped("region")), None)
        if thing is not None and thing.end < end:
            return [(start, end, "teaching")]  # "a normal elbow does nought to one fifty"
    if thing is None:
        return []
    following = norms_between(tokens, thing.end, thing.end + 1)
    judged = thing.terms("test") and following in (["is"], ["are"])  # "a straight leg raise is positive below sixty"
    such = ("that", "that's", "which", "with", "like", "who") if thing.shaped("region") else ("that", "that's", "which")
    if thing.end >= end or not (judged or following[0] in such):
        return []
    return [(start, sentence_end(tokens, end), "teaching")]


def any_of_it(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "From the side any fixed flexion": what is looked for, unless it is said that there is not any."""
    for mention in content:
        if not start < mention.start < end or tokens[mention.start - 1].norm != "any":
            continue
        if mention.terms("sign") and not _DENYING & set(norms_between(tokens, start, mention.start)):
            return [(start, end, "teaching")]
    return []
