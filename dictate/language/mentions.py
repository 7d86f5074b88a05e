"""Find the mentions in an utterance: stretches of words that name something, give a value, or steer the reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from typing import Any

from dictate.language.levels import spoken_levels
from dictate.language.numbers import NumberReader
from dictate.language.phrases import PhraseIndex, Sense
from dictate.language.quantity import Quantity
from dictate.language.tokens import COMMA, NO_BREAK, STOP, Token
from dictate.lexicon.model import Term

_TALK = frozenset(
    {"talk", "resume", "repair", "withdraw", "late", "late_target", "challenge", "filler", "introduce", "own_hand"}
)


@dataclass(frozen=True, slots=True)
class Mention:
    """Words that matched: token span (end exclusive) and what they may mean, best guesses left to the context."""

    start: int
    end: int
    senses: tuple[Sense, ...] = ()
    quantity: Quantity | None = None
    levels: tuple[str, ...] = ()
    number: float | None = None  # a number inside a term's wording ("Thessaly at twenty")
    restored: str = ""  # what the words were taken for, when that is not what they say

    def cue(self, kind: str) -> Sense | None:
        """Return the sense as a cue of this type, if it has one."""
        return next((sense for sense in self.senses if sense.cue and sense.cue.type == kind), None)

    def cues(self) -> frozenset[str]:
        """Return the types of all its cue senses."""
        return frozenset(sense.cue.type for sense in self.senses if sense.cue)

    def terms(self, *kinds: str) -> tuple[Sense, ...]:
        """Return its senses as a term of one of these kinds (any kind when none is named)."""
        return tuple(sense for sense in self.senses if sense.term and (not kinds or sense.term.kind in kinds))

    def terms_named(self) -> tuple[Sense, ...]:
        """Return its senses as the name or another shape of a term, places of tests left out."""
        return tuple(sense for sense in self.senses if sense.term and sense.shape != "place")

    def shaped(self, shape: str) -> Sense | None:
        """Return the sense of this shape, if any."""
        return next((sense for sense in self.senses if sense.shape == shape), None)

    @property
    def heard(self) -> bool:
        """Whether every meaning rests on a known mishearing."""
        return bool(self.senses) and all(sense.heard for sense in self.senses)


class MentionFinder:
    """Finds mentions by the phrase index, the number reader, spinal levels, and coordinated adjectives."""

    def __init__(self, index: PhraseIndex, numbers: NumberReader, words: Mapping[str, Any]) -> None:
        """Find the phrases of `index` and the numbers, by `lexicon/common/words.toml`."""
        self._index = index
        self._numbers = numbers
        self._verbs = frozenset(words["also_verbs"])
        self._everyday = frozenset(words["also_everyday"])
        self._full_words = self._adjective_heads()
        self._alone = self._movements_by_adjective(frozenset(words["left_out_nouns"]))

    def find(
        self, tokens: Sequence[Token], *, regions: frozenset[str] = frozenset()
    ) -> tuple[list[Mention], list[Mention]]:
        """Return (content mentions, talk mentions), each in order and without overlaps.

        Where phrases overlap the longest wins, but a term of the region examined (or named here) wins over a longer
        one that belongs elsewhere.
        """
        content: list[Mention] = []
        talk: list[Mention] = []
        for start, end, senses in self._index.matches(tokens):
            steering = tuple(sense for sense in senses if sense.cue and sense.cue.type in _TALK)
            meaning = tuple(sense for sense in senses if not (sense.cue and sense.cue.type in _TALK))
            if steering:
                talk.append(Mention(start, end, steering))
            if meaning:
                content.append(Mention(start, end, meaning))
        named = frozenset(
            m.start
            for m in content
            if m.end - m.start > 1 and m.terms("movement", "test") and not tokens[m.end - 1].text.endswith("s")
        )  # "do ten side bends" counts them
        quantities = self._numbers.quantities(tokens, named=named)
        edits = [m for m in talk if m.cue("repair")]
        content = [m for m in content if not any(_is_part_of(m, edit) for edit in edits)]
        content = _without_fillers(tokens, content, talk, regions)
        here = regions | {sense.value for m in content for sense in m.senses if sense.shape == "region"}
        content = self._without_everyday(tokens, content, {quantity.start for quantity in quantities}, here)
        content = self._with_side_inside(tokens, content)
        content = [_numbered(mention, quantities) for mention in content]
        said = (q for q in quantities if not (_is_pronoun(tokens, q, content) or _is_too(tokens, q, content)))
        content += [Mention(q.start, q.end, quantity=q) for q in said]
        levels = _level_mentions(tokens)
        content = [m for m in content if not any(_ends_a_range(m, level) for level in levels)] + levels
        content = self._with_coordinated(tokens, content, talk)
        content = self._with_digits(tokens, self._with_head_before(tokens, content))
        here = regions | {sense.value for m in content for sense in m.senses if sense.shape == "region"}
        content = longest_first(_at_home(content, here))
        return content, _outside_terms(longest_first(talk), content)

    def _without_everyday(
        self, tokens: Sequence[Token], content: list[Mention], numbers: Set[int], regions: frozenset[str]
    ) -> list[Mention]:
        """Drop terms whose one word is an everyday one, where nothing supports that the term is meant."""
        kept = []
        for mention in content:
            word = tokens[mention.start].norm if mention.end - mention.start == 1 and mention.terms() else ""
            numbered = mention.end in numbers and not tokens[mention.start].break_after
            home = any(sense.term and regions & set(sense.term.regions) for sense in mention.terms())
            if (word not in self._verbs or numbered) and (word not in self._everyday or home):
                kept.append(mention)
        return kept

    def _adjective_heads(self) -> frozenset[str]:
        """First words of phrases of two words or more that name a term: they may be shared ("medial and lateral …")."""
        heads = set()
        for key, senses in self._index.senses.items():
            words = key.split()
            if len(words) > 1 and any(sense.term and sense.shape == "name" for sense in senses):
                heads.add(words[0])
        return frozenset(heads)

    def _movements_by_adjective(self, nouns: frozenset[str]) -> dict[str, tuple[Sense, ...]]:
        """Return movements by their adjective, of which, with a number behind it, the noun may be left out."""
        found = {}
        for key, senses in self._index.senses.items():
            words = key.split()
            movements = tuple(s for s in senses if s.term and s.term.kind == "movement" and s.shape == "name")
            if len(words) == 2 and words[1] in nouns and movements and words[0] not in self._index.senses:
                found[words[0]] = movements
        return found

    def _with_coordinated(
        self, tokens: Sequence[Token], found: list[Mention], talk: Iterable[Mention]
    ) -> list[Mention]:
        """Add words that lean on a later phrase: on its noun ("medial and lateral joint line") or its head
        ("biceps, triceps and brachioradialis reflexes"), also across a self-repair ("valgus, I mean varus, stress")."""
        joining = {p for m in talk if m.cue("repair") for p in range(m.start, m.end)}
        joining |= {p for p, token in enumerate(tokens) if token.norm in _JOINERS}
        added: list[Mention] = []
        several = [m for m in found if m.terms_named() and m.end - m.start >= 2]
        for mention in several:
            if any(m.start == mention.start and m.end > mention.end for m in several):
                continue  # "first and fifth metatarsal heads": heads, not the bones
            noun = [token.norm for token in tokens[mention.start + 1 : mention.end]]
            head = [tokens[mention.end - 1].norm]
            position = mention.start - 1
            while position >= 0:
                before = _skip_joiner(tokens, position, joining)
                paused = tokens[position].break_after
                joined = paused in (NO_BREAK, COMMA) and (before < position or paused == COMMA)
                if before < 0 or not joined or _stops(tokens, before, position):
                    break
                listed = {token.norm for token in tokens[before + 1 : position + 1]} & _LISTS
                if not listed and any(m.end == before + 1 and m.shaped("region") for m in found):
                    break  # "hips then, internal rotation thirty": the joint leads on
                width, senses = self._leaning(tokens, before, noun, head)
                if not senses:
                    break
                if _stands_alone(found, before - width + 1, before + 1, senses):
                    position = before - width
                    continue
                added.append(Mention(before - width + 1, before + 1, senses))
                position = before - width
        spans = {(m.start, m.end) for m in added}
        return [m for m in found if (m.start, m.end) not in spans] + added

    def _with_head_before(self, tokens: Sequence[Token], found: list[Mention]) -> list[Mention]:
        """Add movements whose noun was said of the one before: "radial deviation ten, ulnar twenty-five", or was left
        out where the adjective belongs to no other movement: "extension seventy, radial twenty"."""
        named = [m for m in found if m.end - m.start > 1 and any(s.shape == "name" for s in m.terms("movement"))]
        counted = {m.start for m in found if m.quantity}
        valued = {m.start for m in found if m.quantity or m.cue("status") or m.cue("lack")}
        taken = {place for m in found if m.terms_named() or m.quantity for place in range(m.start, m.end)}
        added: list[Mention] = []
        for place, token in enumerate(tokens):
            paused = token.break_after and not token.heads  # "Internal rotation: thirty. External: forty."
            if place in taken or paused or token.norm not in self._full_words or place + 1 not in valued:
                continue
            if place + 1 in counted and (alone := self._alone.get(token.norm)):
                added.append(Mention(place, place + 1, alone))
                continue
            before = next((m for m in reversed(named) if m.end <= place), None)
            stopped = before is None or (_stops(tokens, before.end - 1, place) and not token.heads)
            if before is None or stopped or not _pauses(tokens, place - 1):
                continue
            senses = self._index.lookup([token.norm, tokens[before.end - 1].norm])
            movements = tuple(s for s in senses if s.term and s.term.kind == "movement" and s.shape == "name")
            if movements:
                added.append(Mention(place, place + 1, movements))
        return [*found, *added]

    def _with_digits(self, tokens: Sequence[Token], found: list[Mention]) -> list[Mention]:
        """Add fingers and toes whose noun was said before: "present in the ring finger, absent in the middle"."""
        heads = [m for m in found if tokens[m.end - 1].norm in _DIGITS and m.end - m.start > 1 and m.terms("structure")]
        taken = {place for m in found if m.terms_named() for place in range(m.start, m.end)}
        added: list[Mention] = []
        for place, token in enumerate(tokens) if heads else ():
            head = next((m for m in reversed(heads) if m.end <= place), None)
            if head is None or place in taken or place == 0 or tokens[place - 1].norm not in _BEFORE_A_DIGIT:
                continue
            ended = place + 1 == len(tokens) or token.break_after or tokens[place + 1].norm in _AFTER_A_DIGIT
            if not ended or _stops(tokens, head.end - 1, place):
                continue
            senses = self._index.lookup([token.norm, tokens[head.end - 1].norm])
            digits = tuple(s for s in senses if s.term and s.term.kind == "structure" and s.shape == "name")
            if digits:
                added.append(Mention(place, place + 1, digits))
        return [m for m in found if not any(a.start <= m.start < a.end for a in added)] + added

    def _with_side_inside(self, tokens: Sequence[Token], found: list[Mention]) -> list[Mention]:
        """Add terms with a side in the middle: "dorsum of the left foot", "tip of the right lateral malleolus"."""
        sides = [
            p for p in range(1, len(tokens) - 1) if tokens[p].norm in _SIDES and tokens[p - 1].norm in _BEFORE_A_SIDE
        ]
        if not sides:
            return found
        places = [p for p in range(len(tokens)) if p not in sides]
        out = list(found)
        for start, end, senses in self._index.matches([tokens[p] for p in places]):
            first, last = places[start], places[end - 1]
            side = next((p for p in sides if first < p < last), None)
            terms = tuple(sense for sense in senses if sense.term and sense.shape in ("name", "asked"))
            if side is None or not terms or all(tokens[p].norm in _BEFORE_A_SIDE for p in range(first, side)):
                continue
            out = [m for m in out if not side < m.start <= last and not (m.start < side < m.end)]
            out.append(Mention(first, side, terms))
        out += [Mention(p, p + 1, self._index.lookup([tokens[p].norm])) for p in sides]
        return out

    def _leaning(
        self, tokens: Sequence[Token], last: int, noun: list[str], head: list[str]
    ) -> tuple[int, tuple[Sense, ...]]:
        """Return how many words up to `last` make a term with what follows, and its senses."""
        for rest in (noun, head):
            for width in (1, 2):
                words = [token.norm for token in tokens[max(0, last - width + 1) : last + 1]]
                if len(words) < width or words[0] not in self._full_words:
                    continue
                senses = tuple(s for s in self._index.lookup([*words, *rest]) if s.shape == "name" and s.term)
                if senses:
                    return width, senses
        return 0, ()


def _is_part_of(mention: Mention, edit: Mention) -> bool:
    """Whether what seems to name something is part of longer editing words: "hold" of a lag sign, in "hold on"."""
    inside = edit.start <= mention.start and mention.end <= edit.end
    return inside and mention.end - mention.start < edit.end - edit.start and bool(mention.terms())


def _stops(tokens: Sequence[Token], first: int, last: int) -> bool:
    """Whether a sentence ends between two words."""
    return any(token.break_after not in (NO_BREAK, COMMA) for token in tokens[first:last])


def _pauses(tokens: Sequence[Token], place: int) -> bool:
    """Whether a pause or "and" stands at a word."""
    return place >= 0 and (tokens[place].break_after != NO_BREAK or tokens[place].norm in ("and", "but"))


def _without_fillers(
    tokens: Sequence[Token], content: list[Mention], talk: Sequence[Mention], regions: frozenset[str]
) -> list[Mention]:  # fmt: skip
    """Drop what only seems to name something.

    A term whose one word fills a pause: "er" before a comma, behind the movement that its number is said of, or where
    no joint near has such a movement. A side or joint of the examiner: "use both hands", "my left hand".
    """
    own = [(m.start, m.end) for m in talk if m.cue("own_hand")]
    fillers = {m.start for m in talk if m.cue("filler") and m.end - m.start == 1}
    kept = []
    for mention in content:
        terms = mention.terms()
        if any(start <= mention.start and mention.end <= end for start, end in own):
            continue
        if mention.start in fillers and mention.end - mention.start == 1 and terms:
            elsewhere = bool(regions) and all(
                s.term and s.term.regions and not regions & set(s.term.regions) for s in terms
            )
            hesitates = any(m.end == mention.start and m.terms("movement") for m in content)
            hesitates = hesitates and not tokens[mention.start - 1].break_after  # "flexion er one ten"
            ends = {mention.end, *(m.end for m in content if m.start == mention.end and m.cue("modality"))}
            named = (s for m in content if m.start in ends for s in m.terms("movement") if s.term)
            hesitates = hesitates or any("rotation" not in s.term.label for s in named if s.term)  # "er flexion …"
            if elsewhere or hesitates or tokens[mention.start].break_after:
                continue
        kept.append(mention)
    return kept


def _at_home(mentions: list[Mention], regions: frozenset[str]) -> list[Mention]:
    """Drop terms of other regions whose words are mostly those of a term of this one.

    A test is more than the nerve or place that its name begins with ("femoral nerve stretch").
    """
    home = [m for m in mentions if any(s.term and regions & set(s.term.regions) for s in m.senses)]
    if not home:
        return mentions
    kept = []
    for mention in mentions:
        terms = mention.terms()
        foreign = terms and all(s.term and s.term.regions and not regions & set(s.term.regions) for s in terms)
        rival = foreign and any(
            h.start < mention.end
            and mention.start < h.end
            and h.end - h.start > 1
            and 2 * (h.end - h.start) >= mention.end - mention.start
            and (h.start, h.end) != (mention.start, mention.end)
            and not (mention.terms("test") and mention.start <= h.start and h.end < mention.end and not h.terms("test"))
            for h in home
        )
        if not rival:
            kept.append(mention)
    return kept


def _is_pronoun(tokens: Sequence[Token], quantity: Quantity, content: Sequence[Mention]) -> bool:
    """Whether "one" stands for a thing: "the bursa one", "the figure four one"."""
    if quantity.value != 1 or quantity.end - quantity.start != 1 or tokens[quantity.start].norm != "one":
        return False
    named = next((m for m in content if m.end == quantity.start and m.terms()), None)
    before = [token.norm for token in tokens[max(0, quantity.start - 2) : quantity.start]]
    unknown = not any(m.start == quantity.start - 1 for m in content)
    described = unknown or _describes(content, quantity.start)
    if before[-1:] in (["left"], ["right"]) and _names_a_limb(tokens, quantity.start):
        return True  # "Left one, first time."
    if before[-1:] in (["left"], ["right"]) and before[:1] in (["the"], ["her"], ["his"], ["your"]):
        return quantity.start < 3 or tokens[quantity.start - 3].norm != "on"  # "on the right one, on the left two"
    article = before[:1] in (["the"], ["a"], ["an"]) and len(before) > 1
    if article and described and not tokens[quantity.start - 1].break_after:
        return True  # "the left foot's the crook one"
    return named is not None and named.start > 0 and tokens[named.start - 1].norm in ("the", "that", "this")


def _names_a_limb(tokens: Sequence[Token], one: int) -> bool:
    """Whether a sentence opens with "left one," and does not go on with the other side ("left one, right two")."""
    opens = one == 1 or tokens[one - 2].break_after == STOP
    sides = {"left", "right", "both"} & {token.norm for token in tokens[one + 1 : one + _SIDES_WITHIN]}
    return opens and tokens[one].break_after == COMMA and not sides


_SIDES_WITHIN = 7


def _describes(content: Sequence[Mention], end: int) -> bool:
    """Whether an adjective ends here: "that's the quiet one" """
    return any(m.end == end and not m.quantity and (m.cue("status") or m.cue("severity")) for m in content)


_NO_GRADE_OF = frozenset({"negative", "normal"})
_TWO = frozenset({"two", "2"})


def _is_too(tokens: Sequence[Token], quantity: Quantity, content: Sequence[Mention]) -> bool:
    """Whether "two" is "too": "the anterior drawer is negative two." Nothing negative or normal is of grade two."""
    if tokens[quantity.end - 1].norm not in _TWO or quantity.unit or quantity.is_grade:
        return False
    closes = quantity.end == len(tokens) or bool(tokens[quantity.end - 1].break_after)
    if quantity.end - quantity.start == 2:
        named = next((m for m in reversed(content) if m.end <= quantity.start and m.terms_named()), None)
        measured = named is not None and bool(named.terms("movement"))  # then "negative two" is minus two
        return closes and tokens[quantity.start].norm == "negative" and not measured
    if quantity.start and tokens[quantity.start - 1].norm == "both" and closes and quantity.end - quantity.start == 1:
        return True  # "extension is full on both two"
    judged = (m.cue("status") for m in content if m.end == quantity.start and not tokens[m.end - 1].break_after)
    alone = quantity.end - quantity.start == 1
    return closes and alone and any(sense and sense.cue and sense.cue.value in _NO_GRADE_OF for sense in judged)


def _numbered(mention: Mention, quantities: Iterable[Quantity]) -> Mention:
    if not mention.terms("test"):
        return mention
    inside = [q for q in quantities if mention.start < q.start and q.end <= mention.end and q.value >= 5]
    return replace(mention, number=inside[0].value) if inside else mention


def _stands_alone(found: Iterable[Mention], start: int, end: int, leaning: Sequence[Sense]) -> bool:
    """Whether the words already name a thing of that kind by themselves ("patella and patellar tendon")."""
    kinds = {sense.term.kind for sense in leaning if sense.term}
    own = [s for m in found if (m.start, m.end) == (start, end) for s in m.terms_named()]
    return any(sense.term and sense.term.kind in kinds for sense in own)


_SIDES = frozenset({"left", "right"})
_DIGITS = frozenset({"finger", "toe"})
_BEFORE_A_DIGIT = frozenset({"in", "of", "the", "and", "or", "on", "at"})
_AFTER_A_DIGIT = frozenset({"and", "or", "is", "are", "but"})
_BEFORE_A_SIDE = frozenset({"the", "his", "her", "their", "your", "of"})
_JOINERS = frozenset({"and", "or", "nor", "then", "no"})
_LISTS = frozenset({"and", "or", "nor"})


def _skip_joiner(tokens: Sequence[Token], position: int, joining: set[int]) -> int:
    """Return the place of the word before the joining words that end at `position`."""
    while position >= 0 and (position in joining or tokens[position].norm == "the"):
        position -= 1
    return position


def _outside_terms(talk: list[Mention], content: Sequence[Mention]) -> list[Mention]:
    """Drop steering words that are only part of a longer term ("golfer's elbow" in a test's name, "same muscles")."""
    return [
        t
        for t in talk
        if not any(
            c.start <= t.start < c.end
            and c.end - c.start > 1
            and (c.start, c.end) != (t.start, t.end)
            and (c.terms_named() or c.cue("every"))
            and c.end - c.start >= t.end - t.start
            for c in content
        )
    ]


def longest_first(mentions: Iterable[Mention]) -> list[Mention]:
    """Return mentions without overlaps: the longest wins, then a term before a number, then the earliest."""
    ranked = sorted(mentions, key=lambda m: (-(m.end - m.start), not m.terms(), m.quantity is None, m.start))
    taken: set[int] = set()
    kept: list[Mention] = []
    for mention in ranked:
        span = range(mention.start, mention.end)
        if taken.isdisjoint(span):
            taken.update(span)
            kept.append(mention)
        else:
            twin = next((k for k in kept if (k.start, k.end) == (mention.start, mention.end)), None)
            if twin and mention.senses and twin.senses:
                senses = twin.senses + tuple(sense for sense in mention.senses if sense not in twin.senses)
                kept[kept.index(twin)] = replace(twin, senses=senses)
    return sorted(kept, key=lambda mention: mention.start)


def _level_mentions(tokens: Sequence[Token]) -> list[Mention]:
    return [Mention(start, end, levels=levels) for start, end, levels in spoken_levels(tokens)]


def _ends_a_range(mention: Mention, levels: Mention) -> bool:
    """Whether a term begins with the last of a row of levels: "L1 to L4 spinous processes" is of them all."""
    several = len(levels.levels) > 1
    return several and levels.start < mention.start < levels.end < mention.end and bool(mention.terms("structure"))


def term_of(sense: Sense) -> Term:
    """Return the term of a sense that is known to have one."""
    if sense.term is None:
        raise ValueError("this sense is no term")
    return sense.term
