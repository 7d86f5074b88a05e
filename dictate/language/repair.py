"""Self-repair inside an utterance: the reparandum goes, the repair stands, and what was replaced is remembered.

"flexion one fifteen, no, one hundred and five": *one fifteen* is the reparandum, *no* the interregnum, *one hundred and
five* the repair. A repair is recognised by type: what follows the editing words has the type of something shortly
before. "No swelling" is not a repair: nothing of its type stands before it to be replaced.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from dictate.language.mentions import Mention
from dictate.language.tokens import COMMA, NO_BREAK, STOP, Token

_LOOK_BACK = 7  # mentions
_LOOK_BACK_WORDS = 14
_NEAR_WORDS = 3
_HEADING_WORDS = 6  # of a heading behind its side
_NO = frozenset({"no", "nope", "nah"})
_SOFT = frozenset({"neutral", "presence", "and", "at", "with", "hedge"})
_BARE_NO_TYPES = frozenset(
    {"quantity", "side", "place", "structure", "test", "movement", "status", "level", "reflex", "severity", "end_feel"}
)


@dataclass(frozen=True, slots=True)
class Replacement:
    """A mention that took another's place. `plain` is false when the two stood far apart."""

    repair: Mention
    reparandum: Mention
    type: str
    plain: bool


@dataclass(frozen=True, slots=True)
class Repaired:
    """An utterance after repair: words taken back are blanked, so that places still fit."""

    tokens: tuple[Token, ...]
    content: tuple[Mention, ...]
    talk: tuple[Mention, ...]
    replacements: tuple[Replacement, ...]


def type_of(mention: Mention) -> str:
    """Return the type by which repairs are matched."""
    if mention.quantity:
        return "quantity"
    if mention.levels:
        return "level"
    for kind in ("side", "place"):
        if mention.cue(kind):
            return kind
    terms = mention.terms()
    if terms and terms[0].term:
        return terms[0].term.kind
    for kind in ("status", "severity", "end_feel", "modality", "negation"):
        if mention.cue(kind):
            return kind
    return next(iter(sorted(mention.cues())), "") or (mention.senses[0].shape if mention.senses else "")


def repair(tokens: Sequence[Token], content: Sequence[Mention], talk: Sequence[Mention]) -> Repaired:
    """Return the utterance with its self-repairs carried out."""
    words = list(tokens)
    kept = list(content)
    replacements: list[Replacement] = []
    refused = [m for m in content if _is_bare_no(m, tokens)]
    withdrawn = {m.start for m in talk if m.cue("withdraw")}
    for no in refused:
        if no.end in withdrawn:  # "no, ignore that"
            kept.remove(no)
            words[no.start] = replace(words[no.start], norm="", text="")
    refused = [m for m in refused if m in kept]
    editing = [m for m in talk if m.cue("repair") and not _sets_apart(tokens, m)]
    cues = [_led_by_no(mention, refused) for mention in editing] + refused
    used: set[int] = set()
    answers = _answers_of_a_row(cues, content, tokens)
    for cue in sorted(cues, key=lambda mention: (mention.start, -mention.end)):
        if (
            cue.start in used
            or cue.start in answers
            or any(
                cue.start < m.end and m.start < cue.end and m is not cue and m in cues for m in cues if m.start in used
            )
        ):
            continue
        behind = _pair_before(words, kept, cue)
        reasoned = None if behind else _after_reason(words, kept, cue)
        found = behind or reasoned or _pair(words, kept, cue)
        if found is None:
            continue
        old, new, type_ = found
        dropped = _dropped(words, kept, old, cue, new)
        if reasoned:
            dropped += [m for m in kept if cue.end <= m.start and m.end <= new.start]
        dropped += [
            m for m in kept if old.end <= m.start and m.end <= new.start and m is not cue and _is_bare_no(m, words)
        ]
        if behind is not None:
            dropped += [m for m in kept if m.end == cue.start and m is not new]  # "one fifty, fifteen rather, one ten"
            if len(dropped) == 1:
                words[new.end - 1] = replace(words[new.end - 1], break_after=words[cue.end - 1].break_after)
        kept = [mention for mention in kept if mention not in dropped and mention is not cue]
        for place in range(min(m.start for m in dropped), max(m.end for m in dropped)):
            if any(m.start <= place < m.end for m in dropped):
                words[place] = replace(words[place], norm="", text="", break_after=NO_BREAK)
        _clear_breaks(words, old, new)
        plain = cue.start - old.end <= _NEAR_WORDS + 2 and not reasoned
        if type_ == "structure" and cue.cue("negation") and not words[cue.start].break_after:
            plain = False  # "medial epicondyle no olecranon fine": it may as well have answered for the first
        replacements.append(Replacement(new, old, type_, plain))
        used.add(cue.start)
    spent = {r for c in cues if c.start in used for r in range(c.start, c.end)}
    remaining = tuple(m for m in talk if not (m.start in spent and m.cue("repair")))
    for place in spent:
        words[place] = replace(words[place], norm="", text="", break_after=NO_BREAK)
    kept = [mention for mention in kept if not _is_within(mention, editing)]
    return Repaired(tuple(words), tuple(kept), remaining, tuple(replacements))


def _is_within(mention: Mention, editing: Sequence[Mention]) -> bool:
    """Whether a "no" is one of several editing words ("no, wait, slight swelling"), and denies nothing."""
    around = (cue for cue in editing if cue.end - cue.start > mention.end - mention.start)
    return bool(mention.cue("negation")) and any(c.start <= mention.start and mention.end <= c.end for c in around)


def _sets_apart(tokens: Sequence[Token], cue: Mention) -> bool:
    """Whether the words edit nothing: "with apprehension rather than pain", "sorry, love", said to who was hurt."""
    if cue.end >= len(tokens):
        return False
    soothes = tokens[cue.start].norm == "sorry" and cue.end - cue.start == 1
    return tokens[cue.end].norm == "than" or (soothes and tokens[cue.end].norm in _VOCATIVES)


_VOCATIVES = frozenset(
    {"love", "bud", "buddy", "mate", "pal", "dear", "darling", "sweetheart", "hen", "duck", "petal", "madam", "sir",
     "auntie", "uncle", "friend", "lad", "lass", "son", "honey", "cariad"}
)  # fmt: skip


def editing_places(repaired: Repaired) -> list[int]:
    """Return where editing words stand that no repair has spent: "sorry", "hang on", a "no" set off by a pause."""
    words = repaired.tokens
    places = [mention.start for mention in repaired.talk if mention.cue("repair")]
    for mention in repaired.content:
        paused = mention.start == 0 or words[mention.start - 1].break_after or words[mention.end - 1].break_after
        if paused and _is_bare_no(mention, words):
            places.append(mention.start)
    return places


def _is_bare_no(mention: Mention, tokens: Sequence[Token]) -> bool:
    return (
        mention.cue("negation") is not None and tokens[mention.start].norm in _NO and mention.end - mention.start == 1
    )


def _led_by_no(cue: Mention, refused: Sequence[Mention]) -> Mention:
    """Return the editing words with the "no" that leads them: "no, make it four"."""
    no = next((m for m in refused if m.end == cue.start), None)
    return replace(cue, start=no.start) if no is not None else cue


_BEHIND = frozenset(
    ["sorry", "rather", "i mean", "i meant", "i should say", "should say", "i beg your pardon", "beg your pardon"]
)


def _pair_before(
    words: Sequence[Token], content: Sequence[Mention], cue: Mention
) -> tuple[Mention, Mention, str] | None:
    """Return (reparandum, repair, type) where the editing words stand behind: "positive, negative, sorry"."""
    said = " ".join(word.norm for word in words[cue.start : cue.end])
    if said not in _BEHIND or not (cue.end == len(words) or words[cue.end - 1].break_after):
        return None
    new = next((m for m in content if m.end == cue.start), None)
    if new is None or type_of(new) in (*_SOFT, "negation"):
        return None
    type_ = type_of(new)
    before = [m for m in reversed(content) if m.end <= new.start and new.start - m.end <= _LOOK_BACK_WORDS]
    old = next((m for m in before[:_LOOK_BACK] if type_of(m) == type_), None)
    if old is None or _same(old, new, words):
        return None
    breaks = {word.break_after for word in words[old.end - 1 : new.start]} - {NO_BREAK}
    if breaks != {COMMA}:
        return None
    follows = next((m for m in content if m.start == cue.end), None)
    between = [m for m in before if old.end <= m.start and type_of(m) not in _SOFT]
    again = {type_of(m) for m in _clause_after(words, content, cue.end)}
    if any(type_of(m) not in again for m in between):
        return None
    if follows is not None and type_of(follows) == type_ and not between:
        return old, follows, type_
    return old, new, type_


def _clause_after(words: Sequence[Token], content: Sequence[Mention], place: int) -> list[Mention]:
    """Return the mentions from a place to the break behind it."""
    end = next((p + 1 for p in range(place, len(words)) if words[p].break_after), len(words))
    return [m for m in content if place <= m.start < end]


def _answers_of_a_row(cues: Sequence[Mention], content: Sequence[Mention], tokens: Sequence[Token]) -> set[int]:
    """Return where "no" answers for one place after another ("lunate, no, pisiform, no") and takes nothing back."""
    bare = [cue for cue in cues if cue.cue("negation") and tokens[cue.end - 1].break_after]
    answers = {  # "Medial epicondyle, no. Olecranon fine."
        cue.start
        for cue in bare
        if tokens[cue.end - 1].break_after == STOP and any(m.end == cue.start and m.terms("structure") for m in content)
    }
    for first, second in pairwise(sorted(bare, key=lambda mention: mention.start)):
        between = [m for m in content if first.end <= m.start and m.end <= second.start and type_of(m) not in _SOFT]
        alike = len(between) == 1 and between[0].terms_named() and second.start == between[0].end
        close = not (tokens[first.start - 1].break_after if first.start else True)
        if alike and (tokens[second.start - 1].break_after or close):  # "lunate, no, pisiform, no", "lunate no, …"
            answers |= {first.start, second.start}
    return answers


def _clear_breaks(words: list[Token], old: Mention, new: Mention) -> None:
    """A pause or full stop between reparandum and repair ends nothing."""
    for place in range(old.start, new.start):
        if words[place].break_after:
            words[place] = replace(words[place], break_after=NO_BREAK)


def _pair(words: Sequence[Token], content: Sequence[Mention], cue: Mention) -> tuple[Mention, Mention, str] | None:
    """Return (reparandum, repair, type) for an editing cue, or None if it edits nothing here."""
    bare_no = cue.cue("negation") is not None
    sense = cue.cue("repair")
    weak = bare_no or (sense is not None and sense.weak)
    after = [m for m in content if m.start >= cue.end and m is not cue][:3]
    before = [m for m in reversed(content) if m.end <= cue.start and m is not cue][:_LOOK_BACK]
    before = [m for m in before if cue.start - m.end <= _LOOK_BACK_WORDS]
    if not after or not before:
        return None
    for new in after[:2]:
        type_ = type_of(new)
        if new.start - cue.end > (2 if weak else 4):
            return None
        if type_ in _SOFT:
            continue
        old = next((m for m in before if type_of(m) == type_ and not _is_verb_of(new, m)), None)
        last = next((m for m in before if not _is_bare_no(m, words)), None)
        if old is None and not weak and (new.quantity or new.cue("lack")) and last is not None and last.cue("status"):
            old, type_ = last, "status"  # "full, no, sorry, lacks three"
        if old is None:
            if new.terms() or weak:
                return None
            continue
        apology = any(word.break_after not in (NO_BREAK, COMMA) for word in words[cue.end - 1 : new.start])
        if apology and type_ in _NAMES and not bare_no:
            return None  # "Yes, sorry. Lateral joint line, non-tender"
        if type_ in _NAMES and _excuses(words, cue) and _both_stated(words, content, old, cue, new):
            return None  # "Lachman positive, sorry, anterior drawer negative"
        if _same(old, new, words):
            if _steers(new):
                continue  # "lacks fifteen, no, lacks ten"
            return None
        if old.quantity and new.quantity and _of_time(new) and not _of_time(old):
            return None  # "flexion one twenty. Sorry, twenty seconds"
        if weak and type_ == "side" and _begins_anew(words, content, cue, new):
            return None  # "Thompson negative both. Hang on, the right dorsiflexion, that's eight."
        if weak and not _plain_weak_repair(words, content, cue, old, new, type_, bare_no=bare_no):
            return None
        if _stops_between(words, old, cue) > 1 or (type_ == "quantity" and _of_another(content, old, cue)):
            return None
        return old, new, type_
    return None


_NAMES = frozenset({"structure", "test", "sign", "movement"})
_EXCUSES = frozenset({"sorry", "apologies", "pardon", "pardon me", "excuse me", "forgive me", "oops", "whoops"})
_VERDICTS = frozenset({"status", "sign", "quantity", "end_feel", "lack", "over"})


def _excuses(words: Sequence[Token], cue: Mention) -> bool:
    """Whether the editing words may as well be said to who was hurt or waits."""
    return " ".join(word.norm for word in words[cue.start : cue.end]) in _EXCUSES


def _both_stated(words: Sequence[Token], content: Sequence[Mention], old: Mention, cue: Mention, new: Mention) -> bool:
    """Whether both names have a verdict of their own, and not the same: a slip of the tongue changes one thing."""
    first = {_wording(m, words) for m in content if old.end <= m.start < cue.start and type_of(m) in _VERDICTS}
    second = {_wording(m, words) for m in _clause_after(words, content, new.end) if type_of(m) in _VERDICTS}
    return bool(first) and bool(second) and not first & second


def _wording(mention: Mention, words: Sequence[Token]) -> str:
    return " ".join(word.norm for word in words[mention.start : mention.end])


def _of_time(mention: Mention) -> bool:
    return mention.quantity is not None and mention.quantity.unit == "s"


def _begins_anew(words: Sequence[Token], content: Sequence[Mention], cue: Mention, new: Mention) -> bool:
    """Whether a side behind "hang on" is that of a new statement: a sentence begins there, and names what it is of."""
    stopped = cue.start > 0 and words[cue.start - 1].break_after == STOP
    named = next((m for m in content if m.start == new.end), None)
    return stopped and named is not None and bool(named.terms("movement", "test", "reflex", "pulse", "structure"))


def _of_another(content: Sequence[Mention], old: Mention, cue: Mention) -> bool:
    """Whether something else was named since the number: "quads four left, five right, no, quads left, make it 3"."""
    return any(
        m.terms("structure", "movement", "test", "reflex") for m in content if old.end <= m.start and m.end <= cue.start
    )


_PAST = frozenset({"was", "were", "had", "did"})
_REASON_WORDS = 10


def _after_reason(
    words: Sequence[Token], content: Sequence[Mention], cue: Mention
) -> tuple[Mention, Mention, str] | None:
    """Return what "four, no, hang on, she was pushing with her hand, three" corrects: why it was wrong stands between.

    The reason is one clause of the past; the number that follows stands alone in its own.
    """
    sense = cue.cue("repair")
    denied = "no" in {word.norm for word in words[max(0, cue.start - 1) : cue.start + 1]}
    past = _PAST & {token.norm for token in words[cue.end + 1 : cue.end + 3]}
    if sense is None or (sense.weak and not denied) or not past:
        return None
    stop = next((p + 1 for p in range(cue.end, len(words)) if words[p].break_after), len(words))
    old = next((m for m in reversed(content) if m.end <= cue.start and not _is_bare_no(m, words)), None)
    new = next((m for m in content if m.start >= stop), None)
    if old is None or new is None or not old.quantity or not new.quantity or new.start > stop:
        return None
    alone = new.end == len(words) or bool(words[new.end - 1].break_after)
    near = cue.start - old.end <= 1 and stop - cue.end <= _REASON_WORDS
    alike = old.quantity.unit == new.quantity.unit
    return (old, new, "quantity") if near and alone and alike and not _same(old, new, words) else None


def _is_verb_of(new: Mention, old: Mention) -> bool:
    """Whether `new` is a verb said of the movement that `old` names: "extension full, sorry, lacks three"."""
    named = {sense.term.label for sense in old.terms("movement") if sense.term and sense.shape == "name"}
    terms = new.terms()
    return bool(terms) and all(s.shape in ("lack", "over", "to") and s.term and s.term.label in named for s in terms)


def _same(old: Mention, new: Mention, words: Sequence[Token]) -> bool:
    if old.quantity and new.quantity:
        return (old.quantity.value, old.quantity.plus_minus) == (new.quantity.value, new.quantity.plus_minus) and (
            old.quantity.to_value == new.quantity.to_value
        )
    sides = [sense.cue.value for m in (old, new) if (sense := m.cue("side")) and sense.cue and not m.terms()]
    if len(sides) == 2:
        return sides[0] == sides[1]  # "oh, the right, forgive me. Right shoulder it is"
    return _wording(old, words) == _wording(new, words)


def _steers(mention: Mention) -> bool:
    return mention.cue("lack") is not None or mention.cue("over") is not None


def _stops_between(words: Sequence[Token], old: Mention, cue: Mention) -> int:
    return sum(1 for word in words[old.end - 1 : cue.start] if word.break_after not in (NO_BREAK, COMMA))


def _plain_weak_repair(
    words: Sequence[Token],
    content: Sequence[Mention],
    cue: Mention,
    old: Mention,
    new: Mention,
    type_: str,
    *,
    bare_no: bool,
) -> bool:
    """Whether "no" or "actually" between two like things takes the first one back."""
    if bare_no and type_ not in _BARE_NO_TYPES and not _of_a_kind(words, cue, old, new, type_):
        return False
    near = [m for m in content if old.end <= m.start < cue.start and type_of(m) not in _SOFT]
    gap = cue.start - old.end
    if type_ == "quantity" and len(near) == 1 and near[0].cue("side"):  # "four on the left, no, five on the left"
        again = next((m for m in content if m.start >= new.end), None)
        if again is not None and again.cue("side") and _same(near[0], again, words):
            gap -= near[0].end - near[0].start
            near = []
    joint = next((m for m in content if m.start >= new.end), None)
    if type_ == "side" and len(near) == 1 and near[0].shaped("region"):
        alone = new.end == len(words) or bool(words[new.end - 1].break_after)  # "right knee today, no, the left"
        return gap <= _HEADING_WORDS and (alone or _named_again(near[0], joint, words))
    if near or gap > 2:
        return False
    if not bare_no:
        return True
    pause_before = words[cue.start - 1].break_after != NO_BREAK
    pause_after = words[cue.end - 1].break_after != NO_BREAK
    if type_ in ("structure", "test", "movement", "reflex", "level"):
        following = next((m for m in content if m.start >= new.end), None)
        if words[cue.end - 1].break_after == STOP and _is_answered(words, new):
            return False  # "deltoid, no. Peroneals, no.": two answers
        names_sign = following is not None and following.terms("sign") and following.start - new.end <= 2
        return pause_after or (not pause_before and not names_sign and type_ == "structure")
    if type_ == "status":
        return pause_after
    return True


def _of_a_kind(words: Sequence[Token], cue: Mention, old: Mention, new: Mention, type_: str) -> bool:
    """Whether "no" takes back one sign for another: "with a clunk, no, a click" ("no click" does not)."""
    articles = {words[mention.start - 1].norm for mention in (old, new) if mention.start}
    pauses = bool(words[cue.end - 1].break_after) and bool(words[cue.start - 1].break_after)
    return type_ == "sign" and articles <= {"a", "an"} and pauses


def _named_again(joint: Mention, later: Mention | None, words: Sequence[Token]) -> bool:
    return later is not None and later.shaped("region") is not None and _same(joint, later, words)


_ANSWERS = frozenset({"no", "yes", "yeah", "yep", "nope", "nothing"})


def _is_answered(words: Sequence[Token], mention: Mention) -> bool:
    """Whether an answer stands behind what is named, after a comma."""
    return bool(
        mention.end < len(words) and words[mention.end - 1].break_after == COMMA and words[mention.end].norm in _ANSWERS
    )


def _dropped(
    words: Sequence[Token], content: Sequence[Mention], old: Mention, cue: Mention, new: Mention
) -> list[Mention]:
    """Return the reparandum and whatever between it and the cue is said again after the repair."""
    restated = {type_of(new)}
    start = max(new.end, cue.end)
    for mention in content:
        if mention.start < start:
            continue
        if any(word.break_after for word in words[start - (start == new.end) : mention.start]):
            break
        restated.add(type_of(mention))
    between = [m for m in content if old.end <= m.start and m.end <= cue.start and m not in (cue, new)]
    denied = [m for m in content if m.end == old.start and m.cue("negation") and _affirms(content, cue, new)]
    return denied + [old] + [m for m in between if type_of(m) in restated and type_of(m) not in _SOFT]


def _affirms(content: Sequence[Mention], cue: Mention, new: Mention) -> bool:
    """Whether the repair says how much there is ("no effusion, sorry, mild swelling"), and so denies no more."""
    return any(cue.end <= m.start and m.end <= new.start and m.cue("severity") for m in content)


def opens_with_repair(repaired: Repaired, tokens: Sequence[Token]) -> bool:
    """Whether the utterance begins by taking something of an earlier one back."""
    fillers = {p for m in repaired.talk if m.cue("filler") for p in range(m.start, m.end)}
    start = next((p for p in range(len(tokens)) if p not in fillers and repaired.tokens[p].norm), len(tokens))
    if any(m.start == start and m.cue("repair") and not m.senses[0].weak for m in repaired.talk):
        return True
    if _concedes(tokens) and not any(mention.cue("side") for mention in repaired.content):
        return True
    return (
        start < len(tokens)
        and tokens[start].norm == "no"
        and bool(tokens[start].break_after)
        and start + 1 < len(tokens)
    )


_AGREES = frozenset({"yes", "yeah", "ok", "okay", "oh", "well", "no", "ah", "true", "sir"})
_CONCESSIONS = (("fair", "enough"), ("fair", "point"), ("point", "taken"), ("good", "catch"))


def _concedes(tokens: Sequence[Token]) -> bool:
    """Whether the speaker gives in to somebody's objection ("yes, fair enough, small effusion")."""
    start = next((place for place, token in enumerate(tokens) if token.norm not in _AGREES), 0)
    words = tuple(token.norm for token in tokens[start : start + 2])
    return words in _CONCESSIONS
