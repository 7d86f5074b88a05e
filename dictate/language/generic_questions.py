"""What is asked of the patient, or wondered about: "any tingling, no, good", "where jumper's knee hurts"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import OPENERS
from dictate.language.mentions import Mention
from dictate.language.token_row import norms_between
from dictate.language.tokens import COMMA, Token
from dictate.lexicon.general_model import GeneralWords


def asks_for_signs(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "Any tingling round the chest, no, good": asked of the patient, whose bare answer is no finding."""
    place = start
    while place < end and tokens[place].norm in OPENERS:
        place += 1
    mention = by_start.get(place + 1)
    signs = mention.terms("sign") if mention is not None and place < end and tokens[place].norm == "any" else ()
    inside = [m for start_of, m in by_start.items() if place < start_of < end]
    if not signs or any(m.quantity or (m.cue("status") and not m.cue("negation")) for m in inside):
        return []  # "any pain is mild"
    answered = end
    while (
        answered < len(tokens)
        and tokens[answered].norm in words.bare_answers
        and tokens[answered - 1].break_after == COMMA
    ):
        broken = tokens[answered].break_after
        if not broken and answered + 1 < len(tokens):
            break
        answered += 1
    if answered > end:
        return [(start, answered, "patient")]
    felt = any(sense.term and sense.term.label in words.felt_signs for sense in signs)
    return [(start, end, "question")] if felt else []


_WONDER = frozenset({"where", "who", "whose", "what", "why", "how", "whether", "whichever", "whatever"})


def wondering(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "Where jumper's knee hurts", "what a sag looks like": from the question word to the end of the clause."""
    for place in range(start, end):
        sided = any(word in ("left", "right", "other") for word in norms_between(tokens, place + 1, place + 3))
        if tokens[place].norm == "where" and sided:
            continue  # "thirty, where the right one gives me sixty"
        if tokens[place].norm in _WONDER and tokens[place].norm != "how":
            return [(place, end, "teaching")]
    return []
