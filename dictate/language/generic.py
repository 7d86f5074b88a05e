"""Structural signs that a clause speaks in general, or to a person about what to do, rather than of this patient now.

Cue words (`lexicon/common/talk.toml`) name kinds of talk; these rules look at how a clause is built: who its subject
is, whether a thing is introduced by "a", whether it is defined rather than judged.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.mentions import Mention
from dictate.language.tokens import COMMA, NO_BREAK, Token

_YOU_STATES = frozenset({"have", "do", "are", "got", "feel", "can", "did", "were", "also", "still", "really"})
_YOU_MOVE = frozenset({"get", "go", "come", "reach", "manage", "lift", "turn", "bend", "straighten", "rotate", "take"})
_DONE_TO_YOU = frozenset(
    {"give", "giving", "get", "getting", "take", "hurt", "hurting", "cause", "causing", "stop", "catch"}
)
_INDEFINITE = frozenset({"a", "an", "any"})
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
_WONDER = frozenset({"where", "who", "whose", "what", "why", "how", "whether", "whichever", "whatever"})
_DEFINING = frozenset(
    {"inside", "outside", "a", "an", "the", "this", "what", "where", "how", "when", "why", "one", "your", "for"}
)
_RELATIVE = frozenset({"that", "which", "who", "you"})
_EQUATES = frozenset({"is", "are", "mean"})
_THINGS = frozenset({"a", "an", "the", "what", "where", "nothing", "never", "always", "worth", "sensitive", "specific"})
_DISEASE = ("itis", "osis", "pathy", "algia", "oma")  # what names of diseases end in
_DENYING = frozenset({"not", "no", "without", "never", "hardly", "barely", "deny", "negative"})
_VERB_NAMES = frozenset({"flex", "abd", "ext"})  # short for a movement, and also its verb
_OPENERS = frozenset({"and", "so", "but", "now", "then", "ok", "okay", "right", "please", "just", "well", "also"})


def general_spans(tokens: Sequence[Token], content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """Return (start, end, kind) of stretches that are built like teaching or instruction."""
    spans: list[tuple[int, int, str]] = []
    by_start = {mention.start: mention for mention in content}
    for start, end in clauses(tokens):
        spans += _second_person(tokens, start, end, by_start)
        spans += _because(tokens, start, end, spans)
        spans += _asks_for_signs(tokens, start, end, by_start)
        spans += _prohibition(tokens, start, end)
        spans += _order(tokens, start, end, by_start)
        spans += _placing(tokens, start, end, content)
        spans += _asked(tokens, start, end, content)
        spans += _indefinite(tokens, start, end, content)
        spans += _any_tissue(tokens, start, end, content)
        spans += _any_joint(tokens, start, end, content)
        spans += _anything_of_a_kind(tokens, start, end)
        spans += _any_of_it(tokens, start, end, content)
        spans += _equation(tokens, start, end, content)
        spans += _contrast(tokens, start, end, by_start)
        spans += _wondering(tokens, start, end)
        spans += _lasting(tokens, start, end)
        spans += _reference(tokens, start, end, content)
        spans += _definition(tokens, start, end, content)
    return spans


def clauses(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    """Cut tokens at every break."""
    out = []
    start = 0
    for position, token in enumerate(tokens):
        if token.break_after != NO_BREAK or position == len(tokens) - 1:
            out.append((start, position + 1))
            start = position + 1
    return out


def _norms(tokens: Sequence[Token], start: int, end: int) -> list[str]:
    return [token.norm for token in tokens[max(0, start) : end]]


def _second_person(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention]
) -> list[tuple[int, int, str]]:
    """ "You stroke the fluid upwards": what you do is not what was found, unless it is what you have or are."""
    for place in range(start, end):
        if tokens[place].norm != "you":
            continue
        if any(place in range(m.start, m.end) and m.cue("presence") for m in by_start.values()):
            continue
        if place > start and tokens[place - 1].norm in _DONE_TO_YOU:
            continue  # "it does give you pain"
        following = tokens[place + 1].norm if place + 1 < end else ""
        if _norms(tokens, place + 1, place + 3) == ["do", "not"] and _norms(tokens, place + 3, place + 4) != ["have"]:
            return [(place, end, "teaching")]
        if not following or following in _YOU_STATES or following.startswith("'"):
            continue
        if following in _YOU_MOVE and _so_far(tokens, place, end, by_start):
            continue
        asked = tokens[start].norm == "for"  # "for stiffness you test external rotation"
        return [(start if asked else place, end, "teaching")]
    return []


def _because(
    tokens: Sequence[Token], start: int, end: int, spans: Sequence[tuple[int, int, str]]
) -> list[tuple[int, int, str]]:
    """ "You watch them walk, because a sore leg limps, and …": the reason for what is taught is taught as well."""
    taught = [span for span in spans if span[1] == start and span[2] == "teaching"]
    if tokens[start].norm != "because" or not taught or tokens[start - 1].break_after != COMMA:
        return []
    return [(start, _sentence_end(tokens, end), "teaching")]


_SYMPTOMS = frozenset({"pain", "paraesthesia", "numbness"})
_ANSWERS = frozenset({"no", "none", "yes", "yeah", "nope", "nothing", "good", "ok", "okay", "great", "lovely", "fine"})


def _asks_for_signs(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention]
) -> list[tuple[int, int, str]]:
    """ "Any tingling round the chest, no, good": asked of the patient, whose bare answer is no finding."""
    place = start
    while place < end and tokens[place].norm in _OPENERS:
        place += 1
    mention = by_start.get(place + 1)
    signs = mention.terms("sign") if mention is not None and place < end and tokens[place].norm == "any" else ()
    inside = [m for start_of, m in by_start.items() if place < start_of < end]
    if not signs or any(m.quantity or (m.cue("status") and not m.cue("negation")) for m in inside):
        return []  # "any pain is mild"
    answered = end
    while answered < len(tokens) and tokens[answered].norm in _ANSWERS and tokens[answered - 1].break_after == COMMA:
        broken = tokens[answered].break_after
        if not broken and answered + 1 < len(tokens):
            break
        answered += 1
    if answered > end:
        return [(start, answered, "patient")]
    felt = any(sense.term and sense.term.label in _SYMPTOMS for sense in signs)
    return [(start, end, "question")] if felt else []


def _so_far(tokens: Sequence[Token], place: int, end: int, by_start: dict[int, Mention]) -> bool:
    """Whether "you get a hundred degrees of flexion", "you straighten fully": said of this patient, now."""
    inside = [mention for start, mention in by_start.items() if place < start < end]
    if any(mention.shaped("normal") and mention.terms("movement") for mention in inside):
        return True
    if any(m.quantity and _norms(tokens, m.start - 3, m.start) == ["as", "far", "as"] for m in inside):
        return True
    if any(m.shaped("to") and any(q.quantity and q.start <= m.end + 1 for q in inside) for m in inside):
        return True  # "and you straighten to zero"
    degrees = any(m.quantity and m.quantity.unit == "deg" for m in inside)
    arrived = any(m.quantity and m.quantity.to_value is None and m.quantity.value >= LEAST_ANGLE for m in inside)
    last = any(m.quantity and m.end == end and m.quantity.value >= LEAST_ANGLE for m in inside)
    named = any(m.start < place and m.terms("movement") for m in by_start.values() if not _parted(tokens, m.end, place))
    managed = tokens[place + 1].norm in ("reach", "manage") or (last and named)
    return (
        degrees
        or (arrived and managed)
        or (arrived and any(m.cue("side") for m in by_start.values() if m.start < place))
    )


def _parted(tokens: Sequence[Token], first: int, last: int) -> bool:
    """Whether a sentence ends between two places."""
    return any(token.break_after not in (NO_BREAK, COMMA) for token in tokens[first - 1 : last])


LEAST_ANGLE = 10  # degrees: a smaller bare number is more often a count (the project's choice)


def _prohibition(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "Do not bend it": an order, where nobody is named who does not."""
    place = _after_openers(tokens, start, end)
    if _norms(tokens, place, place + 2) == ["do", "not"]:
        return [(place, end, "instruction")]
    return []


def _order(tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention]) -> list[tuple[int, int, str]]:
    """ "Flex fully, and extend slowly": a movement's verb without anybody who does it opens an order."""
    place = _after_openers(tokens, start, end)
    mention = by_start.get(place)
    if mention is None or mention.end - mention.start > 1:
        return []
    adverb = tokens[place + 1].norm.endswith("ly") if place + 1 < end else False
    if mention.shaped("to") is None and not (
        mention.terms("movement") and adverb and tokens[place].text in _VERB_NAMES
    ):
        return []
    if tokens[place].text.endswith(("s", "ed", "ing", "ion")):
        return []
    return [(place, end, "instruction")]


_HANDS = frozenset({"thumb", "fist", "heel", "palm", "hand", "finger", "fingertip", "knuckle", "forearm"})
_PUT = frozenset({"on", "in", "over", "behind", "under", "above", "below", "between", "around", "round", "across",
                  "against", "off", "to"})  # fmt: skip


def _placing(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Thumb on the tubercle", "foot in about twenty of plantar flexion": how it is held, where nothing is found."""
    place = _after_openers(tokens, start, end)
    inside = [m for m in content if place <= m.start < end]
    joint = next((m for m in inside if m.start == place and m.shaped("region")), None)
    if any(m.start == place and m.terms("movement") for m in inside):
        return []  # "hand behind the back just makes the buttock"
    behind = joint.end if joint is not None else place + 1
    if (joint is None and tokens[place].norm not in _HANDS) or behind >= end or tokens[behind].norm not in _PUT:
        return []
    numbers = [m for m in inside if m.quantity]
    if any(m.cue("status") or m.cue("negation") or m.cue("side") or m.terms("sign", "test") for m in inside):
        return []
    if joint is not None or numbers:  # "knee at ninety, Lachman …" says where a test is done
        bent = [
            m for m in numbers if any(m.end <= other.start <= m.end + 2 for other in inside if other.terms("movement"))
        ]
        if not bent or tokens[behind].norm != "in":
            return []
    return [(place, end, "instruction")]


def _asked(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Arms out to the side and all the way up": asked of the patient, unless a number says how far it went."""
    inside = [m for m in content if start <= m.start < end]
    asked = any(m.terms() and all(s.shape == "asked" for s in m.terms()) and not m.cue("place") for m in inside)
    judged = bool(inside) and inside[-1].cue("status") and tokens[inside[-1].start - 1].norm in ("is", "are")
    if not asked or judged:
        return []
    reached = [m for m in inside if m.quantity or m.levels]
    said_to = bool(reached) and _norms(tokens, reached[0].start - 1, reached[0].start) == ["to"]
    if reached and (not said_to or reached[0].levels or _told_of_someone(tokens, start, inside)):
        return []
    return [(start, end, "instruction")]


def _told_of_someone(tokens: Sequence[Token], start: int, inside: Sequence[Mention]) -> bool:
    """Whether somebody is named who went there: "you go up in front to ninety", and not "up in front to ninety"."""
    return bool(_GOERS & set(_norms(tokens, start, inside[0].start + 1)))


_GOERS = frozenset({"you", "he", "she", "they", "it", "go", "get", "come", "reach", "manage", "hand", "thumb", "left",
                    "right", "this", "that", "active", "passive", "actively", "passively"})  # fmt: skip


def _indefinite(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]
) -> list[tuple[int, int, str]]:
    """ "A positive drawer", "a hot swollen knee": things in general, unless somebody has them."""
    spans = []
    for mention in content:
        if not start < mention.start < end or tokens[mention.start - 1].norm not in _INDEFINITE:
            continue
        status = mention.cue("status")
        judged = status is not None and any(
            m.start == mention.end and (m.terms("test", "reflex", "movement", "pulse") or m.shaped("region"))
            for m in content
        )
        adjective = mention.shaped("adjective") is not None and mention.end < end
        if not judged and not adjective:
            continue
        before = set(_norms(tokens, max(start, mention.start - 4), mention.start - 1))
        if "and" in before:
            before |= set(_norms(tokens, start, mention.start - 1))
        if mention.start - 1 > start and before & _HAVING:
            continue
        if mention.start - 1 == start and not judged and tokens[start].norm == "a" and end - mention.end <= 1:
            continue
        spans.append((mention.start - 1, end, "teaching"))
    return spans


def _contrast(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention]
) -> list[tuple[int, int, str]]:
    """ "A clunk, not a click": what is looked for, told from what is not."""
    thing = by_start.get(start + 1)
    if tokens[start].norm not in ("a", "an") or thing is None or thing.end != end or not thing.terms("sign"):
        return []
    denied = _norms(tokens, end, end + 2)
    contrasted = len(denied) > 1 and denied[0] == "not" and denied[1] in ("a", "an", "just", "only")
    if not contrasted or tokens[end - 1].break_after != COMMA:
        return []
    stop = next(last for first, last in clauses(tokens) if first <= end < last)
    return [(start, stop, "teaching")]


_STATES = frozenset({"intact", "normal", "healthy", "torn", "ruptured", "stable", "loose", "lax", "inflamed"})


def _any_tissue(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]
) -> list[tuple[int, int, str]]:
    """ "An intact ligament stops with a knock": what such a thing does, said of any."""
    place = start
    while place < end and tokens[place].norm in _OPENERS:
        place += 1
    if _norms(tokens, place, place + 1) not in (["a"], ["an"]) or place + 3 > end:
        return []
    noun = next((m.end for m in content if m.start <= place + 2 < m.end), place + 3)
    state = tokens[place + 1].norm in _STATES
    goes_on = noun < end and not tokens[noun - 1].break_after
    measured = any(m.quantity or m.cue("side") for m in content if start <= m.start < end and m.end > noun)
    return [(start, end, "teaching")] if state and goes_on and not measured else []


def _any_joint(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "A knee that's hot, red and swollen …": any such knee, to the end of the sentence."""
    place = _after_openers(tokens, start, end)
    if tokens[place].norm not in _INDEFINITE:
        return []
    thing = next((m for m in content if m.start == place + 1 and (m.shaped("region") or m.terms("test"))), None)
    if thing is None and tokens[place + 1 : place + 2] and tokens[place + 1].norm in ("normal", "healthy", "sound"):
        thing = next((m for m in content if m.start == place + 2 and m.shaped("region")), None)
        if thing is not None and thing.end < end:
            return [(start, end, "teaching")]  # "a normal elbow does nought to one fifty"
    if thing is None:
        return []
    following = _norms(tokens, thing.end, thing.end + 1)
    judged = thing.terms("test") and following in (["is"], ["are"])  # "a straight leg raise is positive below sixty"
    such = ("that", "that's", "which", "with", "like", "who") if thing.shaped("region") else ("that", "that's", "which")
    if thing.end >= end or not (judged or following[0] in such):
        return []
    return [(start, _sentence_end(tokens, end), "teaching")]


def _anything_of_a_kind(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "An effusion that taps is a big one", "a locked knee won't straighten": says what such a thing is or does."""
    place = _after_openers(tokens, start, end)
    if place + 2 >= end or tokens[place].norm not in _INDEFINITE:
        return []
    near = range(place + 2, min(place + 4, end))
    if any(_norms(tokens, p, p + 2)[:1] == ["will"] or _norms(tokens, p, p + 2) == ["can", "not"] for p in near):
        return [(start, end, "teaching")]
    relative = next((p for p in near if tokens[p].norm in _RELATIVE), None)
    if relative is None:
        return []
    copula = next((p for p in range(relative + 2, end) if tokens[p].norm in _EQUATES), None)
    if copula is None or not _equals_a_thing(tokens, copula + 1, end):
        return []
    return [(start, end, "teaching")]


def _any_of_it(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "From the side any fixed flexion": what is looked for, unless it is said that there is not any."""
    for mention in content:
        if not start < mention.start < end or tokens[mention.start - 1].norm != "any":
            continue
        if mention.terms("sign") and not _DENYING & set(_norms(tokens, start, mention.start)):
            return [(start, end, "teaching")]
    return []


def _equation(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Swelling above the patella is an effusion", "sixty degrees is plenty": a bare thing said to be another thing.

    What this patient has is "the swelling", or the swelling is judged: "swelling is mild", "is over the patella".
    """
    place = _after_openers(tokens, start, end)
    inside = [m for m in content if place <= m.start < end]
    if not inside or inside[0].start > place + (tokens[place].norm in _INDEFINITE):
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
        if normal or _norms(tokens, copula + 1, copula + 2) in (["plenty"], ["enough"]):
            return [(start, end, "teaching")]
        return []
    signs = [m for m in before if _is_noun_of_sign(m) and not m.terms("test")]  # "valgus is the same" is of the test
    status = subject.cue("status")
    lost = status is not None and any(m.start <= subject.end + 1 and m.terms() for m in before[1:])
    if not signs and not lost:
        return []
    another = judged is not None and bool(judged.terms("structure", "test") or _is_noun_of_sign(judged))
    judged_soon = _judged_soon(content, copula + 2, end, signs=False)
    if another or (_equals_a_thing(tokens, copula + 1, end) and not judged_soon):
        return [(start, end, "teaching")]
    return []


def _equals_a_thing(tokens: Sequence[Token], place: int, end: int) -> bool:
    """Whether what follows "is" names a thing, or weighs what a finding is worth, rather than judging one."""
    return place < end and (tokens[place].norm in _THINGS or tokens[place].norm.endswith(_DISEASE))


def _after_openers(tokens: Sequence[Token], start: int, end: int) -> int:
    """Return the first place of a clause that is not a word such as "and", "so", "now"."""
    place = start
    while place < end - 1 and tokens[place].norm in _OPENERS:
        place += 1
    return place


def _sentence_end(tokens: Sequence[Token], end: int) -> int:
    """Return where the sentence ends, commas passed over."""
    while end < len(tokens) and tokens[end - 1].break_after in (NO_BREAK, COMMA):
        end += 1
    return end


def _reference(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Normal flexion is about one thirty-five and extension is zero": how things should be."""
    for mention in content:
        status = mention.cue("status")
        if not start <= mention.start < end or status is None or not status.cue or status.cue.value != "normal":
            continue
        named = next((m for m in content if m.start == mention.end and m.terms("movement", "measure")), None)
        if named is None or _norms(tokens, named.end, named.end + 1) not in (["is"], ["are"]):
            continue
        if any(m.quantity and named.end < m.start <= named.end + 3 for m in content):
            return [(start, end, "teaching")]
    return []


_LASTS = frozenset({"day", "week", "month", "year"})


_TIMES = frozenset({"x", "for", "in", "at", "after", "until", "till"})
_FRACTIONS = frozenset({"52", "12", "7"})  # "3/52" is written for three weeks, "/12" for months, "/7" for days


def _lasting(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "Left leg pain for six weeks": what lasts is reported, not found."""
    for place in range(start, end):
        written = _norms(tokens, place + 1, min(end, place + 4))
        if tokens[place].norm in _TIMES and len(written) == 3 and written[1] == "over" and written[2] in _FRACTIONS:
            return [(start, end, "plan")]  # "no throwing x 3/52"
        if tokens[place].norm == "for" and any(
            word in _LASTS for word in _norms(tokens, place + 2, min(end, place + 5))
        ):
            return [(start, end, "history")]
    return []


def _wondering(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "Where jumper's knee hurts", "what a sag looks like": from the question word to the end of the clause."""
    for place in range(start, end):
        sided = any(word in ("left", "right", "other") for word in _norms(tokens, place + 1, place + 3))
        if tokens[place].norm == "where" and sided:
            continue  # "thirty, where the right one gives me sixty"
        if tokens[place].norm in _WONDER and tokens[place].norm != "how":
            return [(place, end, "teaching")]
    return []


def _definition(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]
) -> list[tuple[int, int, str]]:
    """ "L2 is hip flexion", "the Thessaly is the one on one leg": says what a thing is, not how it is."""
    for mention in content:
        named = mention.terms_named() or mention.levels or (mention.quantity and mention.quantity.is_grade)
        if not start <= mention.start < end or not named:
            continue
        if _norms(tokens, mention.end, mention.end + 1) not in (["is"], ["are"]):
            continue
        place = mention.end + 1
        if _norms(tokens, place, place + 1) == ["not"]:  # "a Baker's cyst isn't a ligament problem"
            place += 1
        following = next((m for m in content if m.start == place), None)
        defined_by_term = (
            following is not None and following.terms("movement", "structure", "reflex") and mention.levels
        )
        nxt = tokens[place].norm if place < end else ""
        if mention.terms("test") and following is not None and _is_noun_of_sign(following):
            return [(start, _sentence_end(tokens, end), "teaching")]
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
