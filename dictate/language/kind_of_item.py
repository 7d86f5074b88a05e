"""What a mention is among its neighbours: a target of one kind, a value, a small word."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

from dictate.language.item import Item, label_of
from dictate.language.mentions import Mention
from dictate.language.phrases import Sense
from dictate.language.senses import OUTCOMES, prefer_region, sore_here

_TERM_KINDS = ("test", "reflex", "pulse", "movement", "measure", "task", "structure", "sign", "attribute")
_CUE_ORDER = (
    "double",
    "except",
    "rest",
    "every",
    "status",
    "negation",
    "nothing",
    "side",
    "modality",
    "place",
    "ellipsis",
    "lack",
    "over",
    "limiter_head",
    "limiter_tail",
    "with",
    "severity",
    "hedge",
    "but",
    "compare",
    "at",
    "position",
    "presence",
    "pressing",
    "and",
    "pronoun",
    "limiter",
    "end_feel",
    "end_feel_head",
    "neutral",
)


def item_of(
    mention: Mention,
    before: Item | None,
    following: Mention | None,
    region: str,
    near: frozenset[str],
    around: frozenset[str],
    *,
    placed: bool,
    section: str | None,
    listed: bool,
    tests_here: frozenset[str],
    outcomes: frozenset[str],
) -> Item:
    """Return a mention as the item that it is between the item before and the mention that follows.

    `placed`: the sentence names a place; `listed`: tests are named beside it; `tests_here`: labels of the tests named
    by other mentions; `outcomes`: labels of the tests whose results are said. The regions are those of `items_of`.
    """
    if mention.levels:
        return Item("level", mention)
    if mention.quantity:
        return Item("quantity", mention, quantity=mention.quantity)
    cues = mention.cues()
    if "over" in cues and _numbered(before, following):
        return Item("over", mention, mention.senses)
    counted = following is not None and following.quantity is not None and following.start == mention.end
    short = "status" in cues and not counted and not (before is not None and before.kind == "quantity")
    if "lack" in cues and not short and not (mention.terms("sign") and not _numbered(before, following)):
        return Item("lack", mention, mention.senses)
    place = mention.shaped("place")
    if place and not mention.terms_named():
        return Item("place", mention, mention.senses, value=place.value)
    if "end_feel_head" in cues:
        return Item("end_feel_head", mention, mention.senses)
    if "end_feel" in cues and _near_end_feel(before, following):
        return Item("end_feel", mention, mention.senses, value=cue_value(mention, "end_feel"))
    if "limiter" in cues and before and (before.kind == "limiter_head" or not mention.terms()):
        return Item("limiter", mention, mention.senses, value=cue_value(mention, "limiter"))
    if mention.cue("side") and mention.terms() and not (following is not None and following.levels):
        return Item("side", mention, mention.senses, value=cue_value(mention, "side"))  # "lt knee", not "LT C8"
    along = tuple(sense for sense in mention.terms("sign") if sense.term and sense.term.companion)
    if before is not None and before.kind == "with" and along:
        return Item("sign", mention, along)  # "rotation forty with apprehension": no test of that name
    senses = prefer_region(mention.terms(), region=region, near=near, around=around)
    status = mention.cue("status")
    leads = bool(following and not mention.terms("sign") and following.terms("structure", "movement"))
    weighs = before is not None and (leads or before.kind in ("structure", "movement", "level", "attribute"))
    if weighs and status and status.cue and status.cue.strength:
        senses = ()  # "quads weak": a value, not the sign of weakness
    if senses and all(sense.shape == "asked" for sense in senses):
        reached = before is not None and before.kind == "quantity"
        if "place" not in cues or (reached and any(s.term and region in s.term.regions for s in senses)):
            return Item("movement" if reached and "place" in cues else "asked", mention, senses)
    senses = tuple(sense for sense in senses if sense.shape != "asked")
    if senses:
        said = [sense for sense in senses if sense.shape in OUTCOMES]
        if len(said) == len(senses):
            shared = next((s for s in mention.senses if s.cue and s.cue.type == "status"), None)
            value = shared.cue.value if shared and shared.cue and shared.cue.value else ""
            return Item("outcome", mention, tuple(said), value=value)
        if said and any(sense.term and sense.term.label in tests_here for sense in said):
            return Item("outcome", mention, tuple(said))  # "valgus is tight at zero"
        if said:
            names = tuple(sense for sense in senses if sense not in said)
            named_kind = next(sense.term.kind for sense in names if sense.term)
            return Item(named_kind, mention, (*names, *said))
        senses = tuple(sense for sense in senses if sense.shape != "place") or senses
        senses = sore_here(senses, placed)
        kinds = {sense.term.kind for sense in senses if sense.term}
        tests = {sense.term.label for sense in senses if sense.term and sense.term.kind == "test"}
        tests |= {label for sense in senses if sense.term for label in sense.term.stands_for}
        if {"test", "structure"} <= kinds and tests & outcomes:
            kinds.discard("structure")  # "collaterals stable at thirty": a ligament is not stable, its test is
        kind = _kind_by_context(kinds, senses, before, following, section, listed)
        chosen = tuple(sense for sense in senses if sense.term and sense.term.kind == kind)
        rest = tuple(sense for sense in mention.senses if sense.term is None)
        return Item(kind, mention, chosen + rest)
    for shape in ("section", "region", "defer"):
        sense = mention.shaped(shape)
        if sense and not cues & {"modality", "status", "side"}:
            return Item(shape, mention, mention.senses, value=sense.value)
    if {"status", "negation"} <= cues and not (before is not None and before.kind == "test"):
        return Item("negation", mention, mention.senses)  # "negative for swelling"; of a test it is the result
    part = mention.cue("status")
    moved = before is not None and before.kind in ("movement", "side", "modality", "task")
    if part is not None and part.cue and part.cue.amount and part.cue.value == "reduced" and not moved:
        return Item("neutral", mention, mention.senses)  # "positive in half of people"
    if part is not None and part.weak and part.cue and part.cue.faint and not _can_be_faint(before):
        return Item("neutral", mention, mention.senses)  # "down the left leg"
    for kind in _CUE_ORDER:
        if kind in cues:
            return Item(kind, mention, mention.senses, value=cue_value(mention, kind))
    return Item("neutral", mention, mention.senses, value=cue_value(mention, "neutral"))


def _kind_by_context(
    kinds: AbstractSet[str],
    senses: Sequence[Sense],
    before: Item | None,
    following: Mention | None,
    section: str | None,
    listed: bool,
) -> str:
    """Return which kind of term is meant where the same words name two."""
    status = following.cue("status") if following else None
    placed = bool(following and (following.cue("at") or following.quantity))
    judged = placed or bool(status and status.cue and status.cue.value in ("positive", "negative", "not_examined"))
    listed = listed or bool(before and before.kind == "test")
    if {"test", "sign"} <= kinds:
        if section == "special_tests" and senses[0].term and senses[0].term.label.endswith("alignment"):
            return "test"
        if before is not None and before.kind == "severity" and not judged and not listed:
            return "sign"  # "both in slight varus"
        judged_before = bool(before and before.kind == "status" and before.value in ("positive", "negative"))
        return "test" if judged or judged_before or listed else "sign"
    if {"movement", "sign"} <= kinds and any(sense.shape == "lack" for sense in senses):
        return "movement" if _numbered(before, following) else "sign"
    if {"movement", "task"} <= kinds:
        return "movement" if following is not None and following.quantity and section != "function" else "task"
    if {"test", "structure"} <= kinds:
        return "test" if section == "special_tests" else "structure"
    if {"reflex", "structure"} <= kinds:
        plus = bool(following and following.quantity and following.quantity.plus_minus)
        return "reflex" if plus or (before and before.kind == "reflex") or section == "neurological" else "structure"
    return next(kind for kind in _TERM_KINDS if kind in kinds)


_FAINT = frozenset({"reflex", "pulse", "level"})
_SENSED = frozenset({"sensation", "light touch", "pin prick", "vibration sense", "proprioception", "reflex", "pulse"})


def _can_be_faint(before: Item | None) -> bool:
    """Whether "down" can be said of what stands before: a reflex, a pulse, sensation ("C7 down", "ankle jerk down")."""
    if before is None:
        return False
    own = any(sense.term and sense.term.said_of for sense in before.senses)  # "Babinski up on the right, down …"
    turned = before.kind == "side" and before.role == ""
    return own or turned or before.kind in _FAINT or label_of(before) in _SENSED


def _numbered(before: Item | None, following: Mention | None) -> bool:
    return bool(following and following.quantity) or bool(before and before.kind == "quantity")


def _near_end_feel(before: Item | None, following: Mention | None) -> bool:
    if following is not None and "end_feel_head" in following.cues():
        return True
    return before is not None and (
        before.kind in ("end_feel_head", "end_feel") or before.extra.get("after") == "end feel"
    )


def cue_value(mention: Mention, kind: str) -> str:
    """Return what the lexicon gives a mention as a cue of this type; empty: nothing."""
    sense = mention.cue(kind)
    return sense.cue.value or "" if sense and sense.cue else ""
