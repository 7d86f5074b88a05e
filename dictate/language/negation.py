"""What a negation reaches: the word it denies, and the list that goes on from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.language.item import Item
from dictate.language.tokens import COMMA, Token

# How many unexplained words may stand between a negation and what it negates.
_NEGATION_REACH_WORDS = 5
_NEGATABLE = frozenset(
    {"sign", "test", "pulse", "reflex", "structure", "movement", "task", "attribute", "status", "outcome", "level"}
)
_PASSED = frozenset({"neutral", "severity", "presence", "every", "modality", "place", "side", "double"})
_PERCEIVES = frozenset(
    {"any", "none", "see", "feel", "find", "appreciate", "get", "seeing", "feeling", "getting", "nil"}
)


def comma_between(tokens: Sequence[Token], left: Item, right: Item) -> bool:
    """Whether a comma stands between two items."""
    return any(token.break_after == COMMA for token in tokens[left.end - 1 : right.start])


def negate(items: list[Item], tokens: Sequence[Token]) -> None:
    """Give each negation to what it denies; one that denies nothing named keeps a value of its own."""
    for index, item in enumerate(items):
        if item.kind != "negation":
            continue
        if _answers(item, tokens) or _is_tag(item, tokens) or _moves_a_limb(item, tokens):
            items[index] = replace(item, kind="neutral")
            continue
        unable = any(sense.cue and sense.cue.unable for sense in item.senses)
        target = index + 1
        denies_noun = not _of_adjective(tokens, item)
        while target < len(items) and (
            items[target].kind in _PASSED or (denies_noun and _qualifies(items, target, tokens))
        ):
            if items[target].kind == "sign":
                items[target] = replace(items[target], kind="neutral")  # "no warm swelling" says nothing of warmth
            target += 1
        reach = target < len(items) and items[target].start - item.end <= _NEGATION_REACH_WORDS
        ends = _ends_with_comma(tokens, item) or _is_of_place_before(items, index, target, tokens)
        ends = ends or _at_all(item, tokens) or _closes(items, index, target, tokens)
        ends = ends or _of_another_verb(items, index, target, tokens) or _of_unknown(items, index, target, tokens)
        if not reach or items[target].kind not in _NEGATABLE or ends:
            alone = index + 1 == len(items) or items[index + 1].kind != "quantity"
            items[index] = replace(item, value="alone" if alone else "")
            turned = any(i.kind == "side" for i in items[max(0, index - 2) : index])
            spoken_of = index > 0 and (
                items[index - 1].is_target() or (turned and items[index - 1].kind in ("pronoun", "side"))
            )
            after_target = spoken_of and (target >= len(items) or ends)
            after_target = after_target and not _of_a_verb(tokens, item) and not _of_a_stranger(items, index, tokens)
            if alone and unable and index and items[index - 1].kind in ("task", "movement", "side", "test"):
                value = "not_examined" if items[index - 1].kind == "test" else "reduced"
                items[index] = replace(item, kind="status", value=value, unable=True)
            elif alone and not unable and (after_target or _denies_alone(item, items[index + 1 :], tokens)):
                items[index] = replace(item, kind="none", value="absent")
            continue
        compound = _sign_of_compound(items, target)
        if compound != target:
            for place in range(target, compound):
                items[place] = replace(items[place], extra={**items[place].extra, "compound": "denied"})
        target = compound
        first = items[target]
        if first.kind == "test" and _not_got(tokens, item.start, first.start):
            items[index] = replace(item, kind="status", value="not_examined")
            continue
        items[target] = replace(first, negated=True, unable=unable and first.kind in ("task", "movement"))
        if first.kind in ("status", "outcome"):
            continue
        _spread_negation(items, target, tokens)


def _of_adjective(tokens: Sequence[Token], item: Item) -> bool:
    """Whether a negation is "not" by itself: "isn't warm, swelling slight" denies the adjective."""
    words = {token.norm for token in tokens[item.start : item.end]}
    return "not" in words and not words & _PERCEIVES


def _qualifies(items: Sequence[Item], place: int, tokens: Sequence[Token]) -> bool:
    """Whether an adjective only says what kind of sign is meant: "no bony tenderness", "no warm swelling"."""
    item = items[place]
    following = items[place + 1] if place + 1 < len(items) else None
    adjective = item.kind == "end_feel" or (item.kind == "sign" and item.shape != "name")
    if not adjective or following is None or following.kind != "sign" or following.shape != "name":
        return False
    return following.start == item.end and not tokens[item.end - 1].break_after


def _at_all(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "at all" closes what was denied: "the lateral one isn't at all"."""
    return [token.norm for token in tokens[item.end : item.end + 2]] == ["at", "all"]


def _of_a_stranger(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether "no" stands before a word that was not understood, and denies that: "trace of effusion, no water"."""
    item = items[index]
    if [token.norm for token in tokens[item.start : item.end]] != ["no"] or tokens[item.end - 1].break_after:
        return False
    paused = item.start > 0 and bool(tokens[item.start - 1].break_after)
    follows = items[index + 1].start if index + 1 < len(items) else len(tokens)
    return paused and follows > item.end and bool(tokens[item.end].norm)


_COULD = frozenset({"could", "can"})
_REASONS = frozenset({"because", "as", "guarding", "guard", "guarded", "too"})
_REASON_WORDS = 5
_GOT = frozenset({"get", "do", "manage", "attempt", "try", "perform", "test"})


def _not_got(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a test was not done at all: "I didn't get the pivot shift, she's guarding"."""
    words = [token.norm for token in tokens[start:end]]
    if "not" not in words or not any(word in _GOT for word in words[1:]):
        return False
    reasoned = any(token.norm in _REASONS for token in tokens[end : end + _REASON_WORDS])
    return "did" in words[:1] or (bool(_COULD & set(words[:1])) and reasoned)


def _of_unknown(items: Sequence[Item], index: int, target: int, tokens: Sequence[Token]) -> bool:
    """Whether "not" denies a word nobody knows, with a pause behind: "he is not pretending, the drawer is positive"."""
    item = items[index]
    if target >= len(items) or tokens[item.end - 1].norm != "not":
        return False
    return any(token.break_after for token in tokens[item.end : items[target].start])


_SO = frozenset({"so", "because", "as", "until", "till"})


def _of_another_verb(items: Sequence[Item], index: int, target: int, tokens: Sequence[Token]) -> bool:
    """Whether what was denied is a verb of its own: "we don't load her today, so Thessaly not done"."""
    if target >= len(items) or tokens[items[index].start].norm not in ("do", "does", "did", "will", "would"):
        return False
    return any(token.norm in _SO for token in tokens[items[index].end : items[target].start])


_THEN_SAYS = frozenset({"that's", "it's", "they're", "he's", "she's"})


def _answers(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "no" is an answer, behind which a statement begins: "Froment's, no, that's negative"."""
    said = [token.norm for token in tokens[item.start : item.end]]
    return said == ["no"] and item.end < len(tokens) and tokens[item.end].norm in _THEN_SAYS


_TAGGED = frozenset({"there", "it", "he", "she", "they", "you"})


def _is_tag(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "isn't" only asks for agreement: "a slight list to the left, isn't there"."""
    said = [token.norm for token in tokens[item.start : item.end]]
    if item.start == 0 or said not in (["is", "not"], ["are", "not"]) or item.end >= len(tokens):
        return False
    ended = item.end + 1 == len(tokens) or bool(tokens[item.end].break_after)
    return bool(tokens[item.start - 1].break_after) and tokens[item.end].norm in _TAGGED and ended


_IS_NOT = frozenset({"is", "are", "not"})


def _is_of_place_before(items: Sequence[Item], index: int, target: int, tokens: Sequence[Token]) -> bool:
    """Whether "isn't" is said of the place right before it, and what follows has a value of its own: "the tendon is
    tender both malleoli aren't dorsiflexion fifteen"."""
    if not 0 < index < target < len(items) or items[index - 1].kind != "structure":
        return False
    words = {token.norm for token in tokens[items[index - 1].end : items[index].end] if token.norm}
    return words <= _IS_NOT and items[target].kind in ("movement", "test") and _has_value_after(items, target, tokens)


def _closes(items: Sequence[Item], index: int, target: int, tokens: Sequence[Token]) -> bool:
    """Whether "isn't" closes what is said of the place before it: "lateral isn't and the MCL's tender"."""
    if not 0 < index < target < len(items) or items[index - 1].kind != "structure":
        return False
    words = {token.norm for token in tokens[items[index - 1].end : items[index].end] if token.norm}
    following = items[target]
    noun = words == {"not"} and following.kind == "sign" and following.shape == "name"  # "LCL not, trace effusion"
    return (words <= _IS_NOT and following.kind in ("and", "but")) or noun


def _of_a_verb(tokens: Sequence[Token], item: Item) -> bool:
    """Whether the negation is that of a verb behind it, known or not: "you didn't expect that"."""
    auxiliary = bool({token.norm for token in tokens[item.start : item.end]} & {"do", "does", "did"})
    return auxiliary and item.end < len(tokens) and not tokens[item.end - 1].break_after


def _moves_a_limb(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "can't get" is said of where somebody's limb gets to: "she can't get the arm up that far"."""
    if item.end >= len(tokens) or tokens[item.end - 1].break_after or tokens[item.end - 1].norm != "get":
        return False
    return tokens[item.end].norm in _OF_A_LIMB and tokens[item.start].norm in ("can", "could")


_OF_A_LIMB = frozenset({"the", "her", "his", "your", "their", "up", "down", "there", "into", "out", "over", "to"})


def _denies_alone(item: Item, following: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether a negation without a noun still says something: "none", "I don't see any", "not on the left"."""
    words = {token.norm for token in tokens[item.start : item.end]}
    if words & _PERCEIVES:
        return True
    told = [item for item in following if item.kind not in ("neutral", "at")]
    return words == {"not"} and bool(told) and told[0].kind in ("place", "side", "structure", "level")


def _sign_of_compound(items: Sequence[Item], target: int) -> int:
    """In "no medial or lateral joint line tenderness" it is the sign that is denied, not its place."""
    place = target
    while place < len(items) and items[place].kind in ("structure", "and", "place"):
        if place > target and items[place].start - items[place - 1].end > 1:
            return target
        place += 1
    if not target < place < len(items) or items[place].start - items[place - 1].end > 1:
        return target
    return place if items[place].kind == "sign" and items[place].shape == "name" else target


def _ends_with_comma(tokens: Sequence[Token], item: Item) -> bool:
    return tokens[item.end - 1].break_after == COMMA


def _spread_negation(items: list[Item], start: int, tokens: Sequence[Token]) -> None:
    """Carry a negation through a list of the same kind, joined by commas, "or", "nor" or "and"."""
    kind, shape = items[start].kind, items[start].shape
    joined = False
    previous = items[start]
    for index in range(start + 1, len(items)):
        item = items[index]
        if item.kind == "and":
            joined = True
            continue
        if item.mention is items[start].mention and item.kind == kind:
            items[index] = replace(item, negated=True)  # another member of the same collective name
            previous = items[index]
            continue
        if item.kind == "severity" and kind == "sign" and items[index - 1].text == "and" and not item.senses[0].weak:
            return  # "no wasting, and slight winging"
        if item.kind in ("place", "side", "severity") or (item.kind == "structure" and kind == "sign"):
            previous = item
            continue
        joined = (
            joined
            or comma_between(tokens, previous, item)
            or (kind == previous.kind == "sign" and item.start == previous.end and shape == item.shape)
        )
        if item.kind != kind or not joined or _gap_words(tokens, previous, item) > 2:
            return
        if item.shape not in (shape, "name") or (shape == "name" and item.shape != "name"):
            return
        if _has_value_after(items, index, tokens) or _has_own_verb(previous, item, tokens):
            return
        if index == start + 1 and _has_own_place(items, index, tokens):
            items[index] = replace(item, extra={**item.extra, "perhaps_denied": "yes"})
            return
        items[index] = replace(item, negated=True)
        previous, joined = item, False


def _has_own_place(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether the second of two signs has a place: "no swelling, bruising over the tibial tubercle"."""
    before, item = items[index - 1], items[index]
    behind = [other for other in items[index + 1 :] if other.kind != "neutral"]
    placed = [other.kind for other in behind] == ["structure"]
    return item.kind == "sign" and placed and comma_between(tokens, before, item) and item.start == before.end


_VERBS = frozenset({"is", "are", "was", "were"})


def _has_own_verb(place: Item, item: Item, tokens: Sequence[Token]) -> bool:
    """Whether what is said of a place has a verb of its own: "C7 is not tender and the right upper trap is tender"."""
    if place.kind != "structure" or item.shape == "name":
        return False
    return bool(_VERBS & {t.norm for t in tokens[place.end : item.start]}) or tokens[place.end - 1].text.endswith("'s")


def _gap_words(tokens: Sequence[Token], left: Item, right: Item) -> int:
    return len(
        [token for token in tokens[left.end : right.start] if token.norm not in ("and", "or", "nor", "any", "the", "a")]
    )


def _has_value_after(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether the item has a value of its own right behind it: "no drawer, pivot shift positive", "swelling mild"."""
    if index + 1 >= len(items):
        return False
    following = items[index + 1]
    if comma_between(tokens, items[index], following):
        return False
    amount = following.kind == "severity" and following.start == items[index].end and _ends_statement(tokens, following)
    return amount or following.kind in ("status", "outcome", "quantity")


def _ends_statement(tokens: Sequence[Token], item: Item) -> bool:
    return item.end == len(tokens) or bool(tokens[item.end - 1].break_after)
