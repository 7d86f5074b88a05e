"""Type the mentions of a statement: each becomes one item with the role that it plays for the words around it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace

from dictate.contract import Severity
from dictate.language.mentions import Mention
from dictate.language.numbers import Quantity
from dictate.language.phrases import Sense
from dictate.language.tokens import COMMA, STOP, Token

TARGETS = frozenset(
    {"structure", "sign", "attribute", "movement", "test", "reflex", "pulse", "task", "measure", "level"}
)


@dataclass(frozen=True)
class Item:
    """One mention in its role. `flags` hold what neighbours lend it: negated, severity, hedge."""

    kind: str
    mention: Mention
    senses: tuple[Sense, ...] = ()
    value: str = ""
    quantity: Quantity | None = None
    negated: bool = False
    unable: bool = False  # negated by "can't"
    severity: Severity | None = None
    hedged: bool = False
    role: str = ""  # "": free; "with", "limiter", "position", "circumstance": taken by what stands before it
    extra: dict[str, str] = field(default_factory=dict)
    text: str = ""  # its words as said

    @property
    def start(self) -> int:
        return self.mention.start

    @property
    def end(self) -> int:
        return self.mention.end

    @property
    def shape(self) -> str:
        return self.senses[0].shape if self.senses else ""

    def says(self, form: str) -> bool:
        """Whether its words are this wording, as written in the lexicon."""
        return any(form in sense.cue.forms for sense in self.senses if sense.cue) and self.text == form

    def is_target(self) -> bool:
        """Whether a finding can be about it."""
        return self.kind in TARGETS and self.role == ""

    def is_value(self) -> bool:
        """Whether it says what was found."""
        return (
            self.kind in ("status", "quantity", "outcome", "nothing", "ellipsis", "end_feel", "none", "some")
            and not self.role
        )


def label_of(item: Item) -> str:
    """Return the label that the item's first sense stores."""
    sense = next((sense for sense in item.senses if sense.term), None)
    return sense.term.label if sense and sense.term else ""


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


def items_of(
    mentions: Sequence[Mention],
    tokens: Sequence[Token],
    *,
    region: str,
    near: frozenset[str],
    around: frozenset[str],
    section: str | None,
    groups: Groups,
    graded: bool = False,
) -> list[Item]:
    """Return items in order.

    `region` is the one examined, `near` those that are examined along with it, `around` those next to them. `graded`
    says that what was found last was graded: "all five" then is a grade rather than a count.
    """
    out: list[Item] = []
    placed = any(mention.terms("structure") or mention.levels for mention in mentions)
    naming = Counter(label for m in mentions for label in _tests_named(m))
    outcomes = frozenset(s.term.label for m in mentions for s in m.senses if s.term and s.shape in _OUTCOMES)
    judged = bool(outcomes) or any(mention.cue("at") for mention in mentions)
    if judged and section is None:
        section = "special_tests"
    for position, mention in enumerate(mentions):
        following = mentions[position + 1] if position + 1 < len(mentions) else None
        listed = any(later.terms("test") for later in mentions[position + 1 : position + 3])
        listed = listed or _among_tests(out)
        item = _item(
            mention,
            out[-1] if out else None,
            following,
            region,
            near,
            around,
            placed=placed and not _was_loaded(out),
            section=section,
            listed=listed,
            tests_here=frozenset(naming - Counter(_tests_named(mention))),
            outcomes=outcomes,
        )
        item = _preferring_section(item, section)
        if item.kind == "test" and mention.number is not None:
            item = replace(item, extra={"position": str(mention.number)})
        item = replace(item, text=" ".join(token.text for token in tokens[mention.start : mention.end]))
        item = _one_or_several(item)
        if item.kind == "measure" and item.text == "measure":
            item = replace(item, kind="neutral")  # "measure again": only "measures" is said of a limb
        if item.kind == "sign" and item.end < len(tokens) and tokens[item.end].norm in ("there", "here"):
            item = replace(item, extra={**item.extra, "pointed": tokens[item.end].norm})
        runs_on = following is not None and following.start == item.end and not tokens[item.end - 1].break_after
        if item.text == "right then" and runs_on and following is not None:
            left = following.cue("side")
            if left is not None and left.cue and left.cue.value == "left":
                item = replace(item, kind="side", value="right", text="right")  # "right then left each time"
        if (
            _points_nowhere(item, following, tokens)
            or _is_of_examiner(item, position, mentions, tokens, near)
            or _exactly_there(item, out, following, tokens)
        ):
            item = replace(item, kind="neutral")
        if item.text == "both" and out and out[-1].kind in ("quantity", "status", "outcome") and _trails(item, tokens):
            item = replace(item, text="both sides")  # "inversion and eversion five, both"
        if item.value == "both_positions" and following is not None and following.start == item.end:
            item = replace(item, kind="at")  # "at both zero and thirty"
        if _explained_by_side(item, following, tokens):
            item = replace(item, kind="neutral")
        if item.kind == "compare" and _sets_beside(item, mentions[position + 1 : position + 3], out, tokens):
            item = replace(item, kind="but")
        if item.kind == "status" and item.text in ("up", "down") and _goes_on(item, tokens):
            item = replace(item, kind="neutral")
        if item.kind == "attribute" and item.text in _LEVEL_NOUNS and _beside_level(mentions, position):
            continue  # "the L5 dermatome": the level says it all
        again = bool(out) and out[-1].kind == "every" and "same" in out[-1].text  # "same muscles, all five"
        valued = following is not None and (following.quantity or following.cue("status") or following.cue("negation"))
        powers = graded or any(label_of(other) == "strength" for other in out)
        tested = item.kind == "every" and (section == "resisted_motion" or again or (powers and not valued))
        grade = _GRADES.get(item.text) if tested else None
        if grade:
            out += [
                item,
                replace(item, kind="quantity", quantity=Quantity(start=item.start, end=item.end, value=grade)),
            ]
            continue  # "all five" of strengths is a grade, not a count
        if item.kind == "negation" and mention.cue("side"):
            out.append(replace(item, kind="side", value=_cue_value(mention, "side")))  # "neither knee is warm"
        out += _members(item, groups)
    return [item for place, item in enumerate(out) if not _only_explains(out, place, tokens)]


def _among_tests(before: Sequence[Item]) -> bool:
    """Whether the last thing named before is a test: "valgus stable at thirty, varus as well"."""
    last = next((item for item in reversed(before) if item.is_target()), None)
    return last is not None and last.kind == "test"


_EXPLAINS = frozenset({"that's", "which", "ie", "meaning", "aka"})  # "the snuffbox, that's the hollow at the base …"
_LANDMARK = frozenset({"above", "below", "beneath", "beside", "behind", "near", "under", "underneath"})


def _only_explains(items: Sequence[Item], place: int, tokens: Sequence[Token]) -> bool:
    """Whether a structure only says where or what the one named beside it is, and is no place of its own."""
    item = items[place]
    if item.kind != "structure" or item.mention.shaped("place"):
        return False
    before = next((other for other in reversed(items[:place]) if other.kind not in ("at", "neutral")), None)
    words = [token.norm for token in tokens[(before.end if before else 0) : item.start]]
    following = items[place + 1] if place + 1 < len(items) else None
    if before is not None and before.kind == "structure" and before.mention is not item.mention:
        unbroken = not any(token.break_after for token in tokens[before.end - 1 : item.start])
        if unbroken and words in (["at", "the"], ["at"]):
            return True  # "the plantar fascia at the heel"
    if following is not None and following.kind == "structure" and words and set(words[-2:]) & _LANDMARK:
        link = [token.norm for token in tokens[item.end : following.start]]
        if link and link[0] == "in":
            return True  # "above the kneecap, in the suprapatellar pouch"
    named = any(other.kind in ("structure", "test") for other in items[:place])
    judged = following is not None and following.kind in ("sign", "status", "negation", "quantity", "outcome")
    return named and not judged and bool(words) and words[0] in _EXPLAINS and len(words) <= 6


def _points_nowhere(item: Item, following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether words that often point at something do not here: "the same ankle", "the other side of the tendon",
    "the tendon below it"."""
    after = tokens[item.end].norm if item.end < len(tokens) and not tokens[item.end - 1].break_after else ""
    if item.kind == "nothing" and after in ("you", "you'd", "i'd"):
        return True  # "nothing you'd notice in the mirror"
    if item.kind == "ellipsis" and item.text in ("same", "the same"):
        named = following is not None and following.start == item.end and following.shaped("region")
        return bool(after) and (bool(named) or after in _NOT_COPIED or _is_new_noun(item, following, after))
    if item.kind == "sign" and [token.norm for token in tokens[item.end : item.end + 2]] == ["or", "not"]:
        return True  # "feel, tender or not"
    if item.kind == "side" and item.text == "right" and _is_agreement(item, tokens):
        return True  # "she is right, it is grade two"
    if item.kind == "side" and item.text == "on either":
        return bool(after)  # "on either facet": of two facets, not of two sides
    if item.kind == "side" and item.value in ("other", "same"):
        return after == "of"
    before = tokens[item.start - 1] if item.start else None
    return item.kind == "pronoun" and before is not None and not before.break_after and before.norm in _LANDMARK


_WHOM = frozenset({"he", "she", "you", "they"})
_WHOM_IS = frozenset({"he's", "she's", "you're", "they're"})
_HOW_RIGHT = frozenset({"quite", "absolutely", "probably", "dead", "perfectly"})


def _is_agreement(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "right" says that somebody is: "she is right, …", "you're quite right"."""
    if item.end < len(tokens) and not tokens[item.end - 1].break_after:
        return False
    before = [token for token in tokens[max(0, item.start - 3) : item.start] if token.norm not in _HOW_RIGHT]
    if not before or any(token.break_after for token in before[-2:]):
        return False
    who, verb = [None, before[-1].norm] if len(before) == 1 else [token.norm for token in before[-2:]]
    return before[-1].text in _WHOM_IS or (who in _WHOM and verb in ("is", "are"))


# What may stand behind "same" where it points at a result: "same on the left", "same again", "same for abduction".
_BEHIND_SAME = frozenset({"on", "again", "thing", "here", "for", "both", "story", "result", "finding", "there",
                          "as", "with", "in", "at", "other", "left", "right", "side", "and", "but", "range",
                          "grade", "strength", "throughout", "all", "bilaterally", "to", "too", "also", "picture",
                          "answer", "either", "every", "of", "exactly", "level", "way", "then", "now", "pattern",
                          "amount", "number", "value", "over", "down", "across", "the", "no", "is", "if", "when",
                          "so", "up", "angle", "position", "degree"})  # fmt: skip


def _is_new_noun(item: Item, following: Mention | None, after: str) -> bool:
    """Whether "same" only belongs to a thing that makes no finding: "same six centimetres", "same back edge"."""
    known = following is not None and following.start == item.end and not following.quantity
    return not known and after not in _BEHIND_SAME


_HANDS = frozenset({"other hand", "the other hand", "both hands", "the other thumb", "both thumbs", "in both hands"})


def _is_of_examiner(
    item: Item, position: int, mentions: Sequence[Mention], tokens: Sequence[Token], near: AbstractSet[str]
) -> bool:
    """Whether a side is of the hands that examine: "other hand clamps the thigh", "both hands, dig in"."""
    if item.kind != "side" or near & {"hand", "wrist"}:
        return False
    first, last = item.start, item.end
    while first and not tokens[first - 1].break_after:
        first -= 1
    while last < len(tokens) and not tokens[last - 1].break_after:
        last += 1
    clause = [m for m in mentions if first <= m.start < last]
    told = any(m.quantity or m.cue("status") or m.cue("negation") or m.terms("sign") for m in clause)
    following = mentions[position + 1] if position + 1 < len(mentions) else None
    joint = following.shaped("region") if following is not None and following.start == item.end else None
    both = item.text == "both" and joint is not None and joint.value == "hand"
    return not told and (item.text in _HANDS or both)


_PLACED_BY = frozenset({"on", "over", "along", "at", "there", "here", "where", "in", "behind", "under", "below"})
_THE = frozenset({"the", "that", "this", "her", "his", "your", "their"})


def _exactly_there(item: Item, before: Sequence[Item], following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether "right" only says exactly where: "he's sore right on the medial joint line"."""
    said = before[-1] if before else None
    adjoins = said is not None and said.end == item.start and not tokens[item.start - 1].break_after
    if item.kind != "side" or item.text != "right" or not adjoins or said is None or said.kind != "sign":
        return False
    place = item.end
    if place >= len(tokens) or tokens[item.end - 1].break_after or tokens[place].norm not in _PLACED_BY:
        return False
    while place < len(tokens) and tokens[place].norm in _PLACED_BY | _THE:
        place += 1
    turned = following is not None and following.cue("side") is not None and following.start <= place
    return not turned


def _explained_by_side(item: Item, following: Mention | None, tokens: Sequence[Token]) -> bool:
    """Whether a side says nothing by itself: "other knee, now the right", "both compared with the right"."""
    if item.kind != "side" or item.value not in ("other", "both"):
        return False
    after = tokens[item.end].norm if item.end < len(tokens) else ""
    if item.value == "both":
        return item.text == "both" and after == "compared"
    side = following.cue("side") if following is not None and following.start - item.end <= _NEXT_SIDE else None
    return side is not None and side.cue is not None and side.cue.value in ("left", "right")


_NEXT_SIDE = 2  # words between "other knee" and the side that it is
# "That's the same spot", "with the same capsular feel": nothing is copied.
_NOT_COPIED = frozenset(
    {"spot", "place", "day", "time", "one", "idea", "principle", "trick", "capsular", "firm", "bony", "springy", "soft",
     "feel"}
)  # fmt: skip
_SET_BESIDE = ("against", "as against", "versus", "vs", "compared with", "compared to", "in comparison with")


def _sets_beside(item: Item, following: Sequence[Mention], before: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether "one ten right versus ninety left" sets two values beside each other, rather than saying by how much
    they differ: a number stands on both sides of the word."""
    if item.text not in _SET_BESIDE or not following or any(t.break_after for t in tokens[item.end - 1 : item.end]):
        return False
    sided = following[0].cue("side") is not None and len(following) > 1
    counted = following[1] if sided else following[0]
    near = counted.start - (following[0].end if sided else item.end) <= 1
    return counted.quantity is not None and near and any(i.kind == "quantity" for i in before[-3:])


def _one_or_several(item: Item) -> Item:
    """Where one wording names a thing and a set of things, its plural names the set ("rotation", "rotations")."""
    terms = [sense for sense in item.senses if sense.term]
    sets = [sense for sense in terms if sense.term and sense.term.stands_for]
    if not sets or len(sets) == len(terms) or item.kind == "outcome" or item.shape != "name":
        return item
    plural = item.text.endswith("s") or item.text.startswith("both ")
    kept = [s for s in item.senses if not s.term or bool(s.term.stands_for) == plural]
    return replace(item, senses=tuple(kept))


def _trails(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether an item ends a sentence, behind a comma."""
    ended = item.end == len(tokens) or tokens[item.end - 1].break_after == STOP
    return ended and tokens[item.start - 1].break_after == COMMA


_OUTCOMES = ("positive", "negative")
_GRADES = {"all three": 3.0, "all four": 4.0, "all five": 5.0}
_LEVEL_NOUNS = frozenset({"dermatome", "dermatomes"})


def _beside_level(mentions: Sequence[Mention], position: int) -> bool:
    mention = mentions[position]
    before = mentions[position - 1] if position else None
    return bool(before and before.levels and before.end == mention.start)


Groups = Mapping[tuple[str, str], Sequence[Sense]]  # (kind, label) -> the terms of that name, one a region


def named(groups: Groups, kind: str, label: str, regions: Sequence[str] = ()) -> Sense | None:
    """Return the term of this kind and label: of these regions, else of every region, else the first there is."""
    senses = groups.get((kind, label), ())
    home = [sense for sense in senses if sense.term and set(sense.term.regions) & set(regions)]
    general = [sense for sense in senses if sense.term and not sense.term.regions]
    return next(iter([*home, *general, *senses]), None)


def _members(item: Item, groups: Groups) -> list[Item]:
    """Return the items that a collective name stands for ("joint lines"), or the item itself."""
    term = next((sense.term for sense in item.senses if sense.term), None)
    if term is None or not term.stands_for:
        return [item]
    members = [named(groups, term.kind, label, term.regions) for label in term.stands_for]
    return [replace(item, senses=(member,)) for member in members if member] or [item]


def _preferring_section(item: Item, section: str | None) -> Item:
    """Where one form names two things, the section being examined decides ("tib post" felt, "tib post" resisted)."""
    labels = {sense.term.label for sense in item.senses if sense.term}
    if len(labels) < 2 or section is None:
        return item
    fitting = [s for s in item.senses if s.term and section in s.term.sections and s.shape not in _OUTCOMES]
    if not fitting:
        return item
    others = tuple(sense for sense in item.senses if sense not in fitting)
    return replace(item, senses=(*fitting, *others))


def _item(
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
        return Item("end_feel", mention, mention.senses, value=_cue_value(mention, "end_feel"))
    if "limiter" in cues and before and (before.kind == "limiter_head" or not mention.terms()):
        return Item("limiter", mention, mention.senses, value=_cue_value(mention, "limiter"))
    if mention.cue("side") and mention.terms() and not (following is not None and following.levels):
        return Item("side", mention, mention.senses, value=_cue_value(mention, "side"))  # "lt knee", not "LT C8"
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
        said = [sense for sense in senses if sense.shape in _OUTCOMES]
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
        senses = _sore(senses, placed)
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
            return Item(kind, mention, mention.senses, value=_cue_value(mention, kind))
    return Item("neutral", mention, mention.senses, value=_cue_value(mention, "neutral"))


_ALONG = frozenset({"the", "both", "to", "into", "his", "her", "your", "their", "left", "right", "from", "through"})


def _goes_on(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether "up" or "down" says where to ("down the leg", "up to the knee")."""
    return item.end < len(tokens) and not tokens[item.end - 1].break_after and tokens[item.end].norm in _ALONG


_FAINT = frozenset({"reflex", "pulse", "level"})
_SENSED = frozenset({"sensation", "light touch", "pin prick", "vibration sense", "proprioception", "reflex", "pulse"})


def _can_be_faint(before: Item | None) -> bool:
    """Whether "down" can be said of what stands before: a reflex, a pulse, sensation ("C7 down", "ankle jerk down")."""
    if before is None:
        return False
    own = any(sense.term and sense.term.said_of for sense in before.senses)  # "Babinski up on the right, down …"
    turned = before.kind == "side" and before.role == ""
    return own or turned or before.kind in _FAINT or label_of(before) in _SENSED


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


def _tests_named(mention: Mention) -> frozenset[str]:
    return frozenset(s.term.label for s in mention.terms("test") if s.term and s.shape == "name")


def _was_loaded(before: Sequence[Item]) -> bool:
    """Whether it was just said how strong something is: "triceps weak and sore"."""
    last = next((item for item in reversed(before) if item.kind not in ("and", "but", "severity", "neutral")), None)
    return last is not None and last.kind == "status" and any(s.cue and s.cue.strength for s in last.senses)


def _sore(senses: tuple[Sense, ...], placed: bool) -> tuple[Sense, ...]:
    """ "Sore" is tenderness where the sentence names a place, else the pain of what was just done."""
    labels = {sense.term.label for sense in senses if sense.term}
    if not {"tenderness", "pain"} <= labels:
        return senses
    wanted = "tenderness" if placed else "pain"
    return tuple(sense for sense in senses if sense.term and sense.term.label == wanted)


def _numbered(before: Item | None, following: Mention | None) -> bool:
    return bool(following and following.quantity) or bool(before and before.kind == "quantity")


def prefer_region(
    senses: Sequence[Sense], *, region: str, near: frozenset[str], around: frozenset[str]
) -> tuple[Sense, ...]:
    """Return the senses that belong to the region examined; else to those near it, to every region, or next to it."""
    outcomes = tuple(s for s in senses if s.shape in ("positive", "negative"))
    if outcomes and len(outcomes) < len(senses):
        names = tuple(s for s in senses if s not in outcomes)
        kept = prefer_region(names, region=region, near=near, around=around)
        return kept + outcomes
    if outcomes:
        return outcomes  # whose outcome it is, the test that it is said of decides
    home = tuple(s for s in senses if s.term and region in s.term.regions)
    if home:
        return home
    general = tuple(s for s in senses if s.term and not s.term.regions)
    close = tuple(s for s in senses if s.term and near & set(s.term.regions))
    beside = tuple(s for s in senses if s.term and around & set(s.term.regions))
    return close or general or beside or tuple(senses)


def _near_end_feel(before: Item | None, following: Mention | None) -> bool:
    if following is not None and "end_feel_head" in following.cues():
        return True
    return before is not None and (
        before.kind in ("end_feel_head", "end_feel") or before.extra.get("after") == "end feel"
    )


def _cue_value(mention: Mention, kind: str) -> str:
    sense = mention.cue(kind)
    return sense.cue.value or "" if sense and sense.cue else ""


def says_nothing(item: Item) -> bool:
    """Whether the item is a status word such as "okay", which may be said of anything or of nothing."""
    sense = item.mention.cue("status")
    return item.kind == "status" and sense is not None and sense.weak


# "Two plus" is an ordinary reflex and a rare strength; "four plus" the other way round.
