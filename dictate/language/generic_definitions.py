"""What a thing is, rather than how it is: "L2 is hip flexion", "sixty degrees is plenty", "normal flexion is …"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import after_openers, sentence_end
from dictate.language.generic_things import INDEFINITE
from dictate.language.mentions import Mention
from dictate.language.token_row import norms_between
from dictate.language.tokens import COMMA, NO_BREAK, Token
from dictate.lexicon.general_model import GeneralWords

_DEFINING = frozenset(
    {"inside", "outside", "a", "an", "the", "this", "what", "where", "how", "when", "why", "one", "your", "for"}
)
_EQUATES = frozenset({"is", "are", "mean"})
_THINGS = frozenset({"a", "an", "the", "what", "where", "nothing", "never", "always", "worth", "sensitive", "specific"})
_RELATIVE = frozenset({"that", "which", "who", "you"})


def anything_of_a_kind(
    tokens: Sequence[Token], start: int, end: int, words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "An effusion that taps is a big one", "a locked knee won't straighten": says what such a thing is or does."""
    place = after_openers(tokens, start, end)
    if place + 2 >= end or tokens[place].norm not in INDEFINITE:
        return []
    near = range(place + 2, min(place + 4, end))
    if any(
        norms_between(tokens, p, p + 2)[:1] == ["will"] or norms_between(tokens, p, p + 2) == ["can", "not"]
        for p in near
    ):
        return [(start, end, "teaching")]
    relative = next((p for p in near if tokens[p].norm in _RELATIVE), None)
    if relative is None:
        return []
    copula = next((p for p in range(relative + 2, end) if tokens[p].norm in _EQUATES), None)
    if copula is None or not _equals_a_thing(tokens, copula + 1, end, words):
        return []
    return [(start, end, "teaching")]


def equation(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "Swelling above the patella is an effusion", "sixty degrees is plenty": a bare thing said to be another thing.

    What this patient has is "the swelling", or the swelling is judged: "swelling is mild", "is over the patella".
    """
    place = after_openers(tokens, start, end)
    inside = [m for m in content if place <= m.start < end]
    if not inside or inside[0].start > place + (tokens[place].norm in INDEFINITE):
        return []
    subject = inside[0]
    copula = next((p for p in range(subject.end, end) if tokens[p].norm in _EQUATES), None)
    before = [m for m in inside if copula is not None and m.end <= copula]
    if copula is None or any(m.cue("side") for m in before):
        return []
    denied = copula + 1 < end and tokens[copula + 1].norm == "not"  # "pain isn't apprehension"
    judged = next((m for m in inside if m.start == copula + 1 + denied), None)
    if subject.quantity is not None:
        status = judged.cue("status") if judged is not None else None
        normal = status is not None and status.cue is not None and status.cue.value == "normal"
        if normal or norms_between(tokens, copula + 1, copula + 2) in (["plenty"], ["enough"]):
            return [(start, end, "teaching")]
        return []
    signs = [m for m in before if _is_noun_of_sign(m) and not m.terms("test")]  # "valgus is the same" is of the test
    status = subject.cue("status")
    lost = status is not None and any(m.start <= subject.end + 1 and m.terms() for m in before[1:])
    if not signs and not lost:
        return []
    another = judged is not None and bool(judged.terms("structure", "test") or _is_noun_of_sign(judged))
    judged_soon = _judged_soon(content, copula + 2, end, signs=False)
    if another or (_equals_a_thing(tokens, copula + 1, end, words) and not judged_soon):
        return [(start, end, "teaching")]
    return []


def _equals_a_thing(tokens: Sequence[Token], place: int, end: int, words: GeneralWords) -> bool:
    """Whether what follows "is" names a thing, or weighs what a finding is worth, rather than judging one."""
    return place < end and (tokens[place].norm in _THINGS or tokens[place].norm.endswith(words.disease_endings))


def reference(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Normal flexion is about one thirty-five and extension is zero": how things should be."""
    for mention in content:
        status = mention.cue("status")
        if not start <= mention.start < end or status is None or not status.cue or status.cue.value != "normal":
            continue
        named = next((m for m in content if m.start == mention.end and m.terms("movement", "measure")), None)
        if named is None or norms_between(tokens, named.end, named.end + 1) not in (["is"], ["are"]):
            continue
        if any(m.quantity and named.end < m.start <= named.end + 3 for m in content):
            return [(start, end, "teaching")]
    return []


def definition(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "L2 is hip flexion", "the Thessaly is the one on one leg": says what a thing is, not how it is."""
    for mention in content:
        named = mention.terms_named() or mention.levels or (mention.quantity and mention.quantity.is_grade)
        if not start <= mention.start < end or not named:
            continue
        if norms_between(tokens, mention.end, mention.end + 1) not in (["is"], ["are"]):
            continue
        place = mention.end + 1
        if norms_between(tokens, place, place + 1) == ["not"]:  # "a Baker's cyst isn't a ligament problem"
            place += 1
        following = next((m for m in content if m.start == place), None)
        defined_by_term = (
            following is not None and following.terms("movement", "structure", "reflex") and mention.levels
        )
        nxt = tokens[place].norm if place < end else ""
        if mention.terms("test") and following is not None and _is_noun_of_sign(following):
            return [(start, sentence_end(tokens, end), "teaching")]
        if defined_by_term or (nxt in _DEFINING and not _judged_soon(content, place, end)):
            return [(start, end, "teaching")]
    return []


def _is_noun_of_sign(mention: Mention) -> bool:
    """Whether the words name a sign: "a painful arc is pain in the middle third" says what a painful arc is."""
    signs = mention.terms("sign")
    return bool(signs) and all(sense.shape == "name" for sense in signs) and not mention.cue("status")


def _judged_soon(content: Sequence[Mention], place: int, end: int, *, signs: bool = True) -> bool:
    """Whether an amount or status follows within a few words ("is a bit reduced", "is the same")."""
    near = [m for m in content if place <= m.start < min(end, place + 4)]
    return any(
        m.cue("status")
        or m.cue("severity")
        or m.quantity
        or m.cue("ellipsis")
        or (signs and m.terms("sign"))
        or m.cue("compare")
        for m in near
    )


def presumption(tokens: Sequence[Token]) -> list[tuple[int, int, str]]:
    """ "A hot, swollen knee is septic until proven otherwise": what holds of any."""
    spans = []
    for place in range(len(tokens) - 2):
        until, proven, otherwise = (token.norm for token in tokens[place : place + 3])
        if until in ("until", "till") and proven in ("proved", "proven") and otherwise == "otherwise":
            start = place
            while start and tokens[start - 1].break_after in (NO_BREAK, COMMA):
                start -= 1
            spans.append((start, place + 3, "teaching"))
    return spans
