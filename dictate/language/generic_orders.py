"""Orders without a cue word: "do not bend it", "flex slowly", "thumb on the tubercle", "arms out to the side"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import after_openers
from dictate.language.mentions import Mention
from dictate.language.token_row import norms_between
from dictate.language.tokens import Token
from dictate.lexicon.general_model import GeneralWords


def prohibition(tokens: Sequence[Token], start: int, end: int) -> list[tuple[int, int, str]]:
    """ "Do not bend it": an order, where nobody is named who does not."""
    place = after_openers(tokens, start, end)
    if norms_between(tokens, place, place + 2) == ["do", "not"]:
        return [(place, end, "instruction")]
    return []


def order(
    tokens: Sequence[Token], start: int, end: int, by_start: dict[int, Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "Flex fully, and extend slowly": a movement's verb without anybody who does it opens an order."""
    place = after_openers(tokens, start, end)
    mention = by_start.get(place)
    if mention is None or mention.end - mention.start > 1:
        return []
    adverb = tokens[place + 1].norm.endswith("ly") if place + 1 < end else False
    if mention.shaped("to") is None and not (
        mention.terms("movement") and adverb and tokens[place].text in words.short_verbs
    ):
        return []
    if tokens[place].text.endswith(("s", "ed", "ing", "ion")):
        return []
    return [(place, end, "instruction")]


_PUT = frozenset({"on", "in", "over", "behind", "under", "above", "below", "between", "around", "round", "across",
                  "against", "off", "to"})  # fmt: skip


def placing(
    tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """ "Thumb on the tubercle", "foot in about twenty of plantar flexion": how it is held, where nothing is found."""
    place = after_openers(tokens, start, end)
    inside = [m for m in content if place <= m.start < end]
    joint = next((m for m in inside if m.start == place and m.shaped("region")), None)
    if any(m.start == place and m.terms("movement") for m in inside):
        return []  # "hand behind the back just makes the buttock"
    behind = joint.end if joint is not None else place + 1
    if (
        (joint is None and tokens[place].norm not in words.examining_hand)
        or behind >= end
        or tokens[behind].norm not in _PUT
    ):
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


def asked(tokens: Sequence[Token], start: int, end: int, content: Sequence[Mention]) -> list[tuple[int, int, str]]:
    """ "Arms out to the side and all the way up": asked of the patient, unless a number says how far it went."""
    inside = [m for m in content if start <= m.start < end]
    asked = any(m.terms() and all(s.shape == "asked" for s in m.terms()) and not m.cue("place") for m in inside)
    judged = bool(inside) and inside[-1].cue("status") and tokens[inside[-1].start - 1].norm in ("is", "are")
    if not asked or judged:
        return []
    reached = [m for m in inside if m.quantity or m.levels]
    said_to = bool(reached) and norms_between(tokens, reached[0].start - 1, reached[0].start) == ["to"]
    if reached and (not said_to or reached[0].levels or _told_of_someone(tokens, start, inside)):
        return []
    return [(start, end, "instruction")]


def _told_of_someone(tokens: Sequence[Token], start: int, inside: Sequence[Mention]) -> bool:
    """Whether somebody is named who went there: "you go up in front to ninety", and not "up in front to ninety"."""
    return bool(_GOERS & set(norms_between(tokens, start, inside[0].start + 1)))


_GOERS = frozenset({"you", "he", "she", "they", "it", "go", "get", "come", "reach", "manage", "hand", "thumb", "left",
                    "right", "this", "that", "active", "passive", "actively", "passively"})  # fmt: skip
