"""What announces where the exam goes: the section, the region and the side of what follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.contract import OPPOSITE
from dictate.language.exchange import statement_start
from dictate.language.item import Item, label_of, says_nothing
from dictate.language.parts import Parts
from dictate.language.regions_named import comes_after_a_row, only_placed
from dictate.language.resolve import absolute_side
from dictate.language.segment import Frame
from dictate.language.state import Context, State, Topic
from dictate.language.tokens import COMMA, QUESTION, STOP, Token
from dictate.language.topic import note_tested

_MOVES_ON = frozenset(
    {"now", "moving", "move", "next", "onto", "on", "over", "turn", "turning", "start", "starting", "then"}
)
# What may stand between the word that moves on and the region: "over to have a look at your left ankle".
_ON_THE_WAY = frozenset(
    {"to", "the", "your", "his", "her", "their", "this", "that", "a", "at", "with", "in", "look", "looking", "have",
     "check", "checking", "we", "we'll", "go", "going", "and", "so", "for", "quick", "quickly", "just", "up", "down",
     "left", "right", "other", "side", "both", "let", "let's", "examining", "examine", "come", "coming", "i'll", "i"}
)  # fmt: skip
# "I'll borrow the left one to compare": a side that serves for comparison is not the one that is gone to.
_FOR_COMPARISON = frozenset({"compare", "comparing", "comparison"})
_COMPARISON_WITHIN = 6  # words after the side
_BOTH_LIMBS = frozenset({"both legs", "both arms", "both limbs"})
_BEFORE_A_SIDE = frozenset({"and", "the", "your", "his", "her", "their", "my"})
_VALUE_KINDS = frozenset({"status", "quantity", "outcome", "nothing", "none", "negation", "ellipsis"})
_PREAMBLE = frozenset({"neutral", "pronoun", "presence", "and", "modality", "section", "status"})


def heading(
    state: State, items: Sequence[Item], *, stated: bool, tokens: Sequence[Token], announces: bool = True
) -> State:
    """Move the context by what a stretch of talk announces."""
    context = state.context
    tested = any(i.kind == "test" for i in (*items, *context.topic.items))
    valued = any(
        i.kind in _VALUE_KINDS and not says_nothing(i) and (tested or i.kind != "outcome") for i in items
    ) or any(i.kind == "sign" or i.shape in ("normal", "reduced", "absent") for i in items)
    valued = valued or any(_is_judged(side, status, tokens) for side, status in pairwise(items))
    context = _section_heading(context, items, valued=valued, tokens=tokens)
    context = _region_heading(context, items, valued=valued, tokens=tokens)
    context = _side_heading(context, items, valued=valued, stated=stated, tokens=tokens)
    asked = [item for item in items if item.kind == "asked" and not _of_another_joint(item, context)]
    if asked:  # "lift your arms out to the front"
        named = tuple(replace(item, kind="movement") for item in asked[-1:])
        context = replace(context, topic=Topic(items=named, bare=True), topic_at=state.utterances)
    elif reached := _reached(context, items, tokens):  # "that's the first CMC. It's tender."
        context = replace(context, topic=Topic(items=(reached,), bare=True), topic_at=state.utterances)
    elif not stated:
        told = [item for item in items if not (item.kind == "movement" and _of_another_joint(item, context))]
        named = _announced(context, told, tokens, asked_about=not announces)
        kept = context.topic.bare and any(i.kind == "test" for i in context.topic.items)
        if named and not (kept and all(i.kind == "attribute" for i in named)):
            context = replace(context, topic=Topic(items=named, bare=True))
    if not stated:
        context = note_tested(context, items, state.utterances, judged=False)
    visited = state.visited
    if context.section and context.section not in visited:
        visited = (*visited, context.section)
    return replace(state, context=context, visited=visited)


def _is_judged(side: Item, status: Item, tokens: Sequence[Token]) -> bool:
    """Whether a side has a verdict and is not gone to: "right's fine", "the right is fine"."""
    if side.kind != "side" or not says_nothing(status) or tokens[side.end - 1].break_after:
        return False
    between = [token.norm for token in tokens[side.end : status.start]]
    return between == ["is"] or (not between and tokens[side.end - 1].text.endswith("'s"))


_ARRIVES = (("that's", "the"), ("this", "is", "the"), ("here's", "the"), ("you're", "on", "the"), ("that", "is", "the"),
            ("you", "are", "on", "the"))  # fmt: skip


def _reached(context: Context, items: Sequence[Item], tokens: Sequence[Token]) -> Item | None:
    """Return the place that a hand was told to go to, where the sentence ends with it."""
    last = items[-1] if items else None
    several = sum(item.is_target() or item.is_value() for item in items) > 1
    if last is None or last.kind != "structure" or several or context.section not in (None, "palpation", "inspection"):
        return None
    ended = last.end == len(tokens) or tokens[last.end - 1].break_after == STOP
    before = [token.norm for token in tokens[max(0, last.start - 4) : last.start]]
    led = any(tuple(before[-len(words) :]) == words for words in _ARRIVES)
    return last if ended and led else None


def _of_another_joint(item: Item, context: Context) -> bool:
    """Whether a movement that is asked for is not one of the joint examined ("bend the knee" in an ankle exam)."""
    regions = {region for sense in item.senses if sense.term for region in sense.term.regions}
    return context.region_said and bool(regions) and context.region not in regions


_ASKED_WHEN_FELT = frozenset({"tenderness", "pain"})
_NAMED_IN_A_QUESTION = frozenset({"test", "reflex", "pulse", "movement", "task"})
_SAID_BY_PATIENTS = frozenset({"tenderness", "pain", "numbness", "paraesthesia", "weakness", "stiffness", "locking"})
_SMALL_WORDS = frozenset({"and", "now", "so", "ok", "okay", "the", "then", "next", "how", "about", "what"})


# "Myotomes L2 to S1? Five throughout." "End feel on the IR? Bony.": what of it the answer is of.
_ASKED_IN_FULL: dict[tuple[str, ...], tuple[str, ...]] = {
    ("attribute", "level"): ("attribute", "level"),
    ("end_feel_head", "movement"): ("movement",),
}


def _kinds(items: Sequence[Item]) -> tuple[str, ...]:
    return tuple(item.kind for item in items if item.kind != "neutral")


def only_names(items: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether a question is nothing but a name ("Hoffmann's? Positive on the right."): the examiner asks themselves."""
    if _ASKED_IN_FULL.get(_kinds(items)):
        return items[0].start == 0 and tokens[items[-1].end - 1].break_after == QUESTION
    looked_for = len(items) == 1 and items[0].kind == "sign" and label_of(items[0]) not in _SAID_BY_PATIENTS
    if len(items) != 1 or not (looked_for or items[0].kind in _NAMED_IN_A_QUESTION):
        return False
    place = items[0].start - 1
    while place >= 0 and not tokens[place].break_after and tokens[place].norm in _SMALL_WORDS:
        place -= 1
    opens = place < 0 or bool(tokens[place].break_after)
    return opens and tokens[items[0].end - 1].break_after == QUESTION


def in_frame(state: State, frame: Frame) -> tuple[State, Frame]:
    """Take the section that opens a frame where no pause is heard ("… right eighty neuro knee extension five")."""
    first, *others = frame.items
    sense = first.mention.shaped("section")
    summary = first.kind == "attribute" and label_of(first).endswith(" status") and first.shape == "name"
    if sense is None or not summary or any(item.kind == "status" for item in others):
        return state, frame
    if others and not any(item.is_target() for item in others):
        return state, frame
    context = replace(state.context, section=sense.value, topic=Topic())  # type: ignore[arg-type]
    return replace(state, context=context), Frame(tuple(others))


_ASKS = frozenset({"is", "are", "does", "do", "any", "and", "sore", "tender", "how"})


def _asks_now(items: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether a question begins like one that is put while feeling ("Is the tendon sore?", not "Suppose he has …")."""
    start = items[0].start
    while start > 0 and tokens[start - 1].break_after not in (STOP, QUESTION):
        start -= 1
    return tokens[start].norm in _ASKS


def _announced(
    context: Context, items: Sequence[Item], tokens: Sequence[Token], *, asked_about: bool
) -> tuple[Item, ...]:
    """Return what talk names as the topic of the statement that follows it."""
    named = tuple(item for item in items if item.is_target() and item.kind not in ("structure", "level"))
    if wanted := _ASKED_IN_FULL.get(_kinds(items)):
        return tuple(item for item in items if item.kind in wanted)
    if asked_about:  # "Tinel's at the tunnel, anything?", "Lateral epicondyle?"
        sign = context.topic.sign()
        feeling = context.section in (None, "palpation") or (sign is not None and label_of(sign) == "tenderness")
        if any(item.kind == "test" for item in named):
            return tuple(item for item in items if item.is_target() and item.kind in ("test", "structure"))
        felt = frozenset({"structure", "sign"})
        asked = tuple(item for item in items if item.is_target() and item.kind in felt)
        signs = [item for item in asked if item.kind == "sign"]
        sore = all(label_of(item) in _ASKED_WHEN_FELT for item in signs) and (not signs or _asks_now(items, tokens))
        places = tuple(item for item in asked if item.kind == "structure")  # "is the tendon sore when I press?"
        return places if feeling and sore and not any(i.is_target() for i in items if i.kind not in felt) else ()
    waiting = context.topic.bare and any(item.kind == "test" for item in context.topic.items)
    if waiting and all(item.kind == "sign" for item in named):
        return ()  # "Hawkins: arm to ninety; pain means positive": the verdict is still that of the test
    return named


def _section_heading(context: Context, items: Sequence[Item], *, valued: bool, tokens: Sequence[Token]) -> Context:
    for place, item in enumerate(items):
        sense = item.mention.shaped("section")
        modality = item.mention.cue("modality")
        section = sense.value if sense else modality.cue.value if modality and modality.cue else None
        if section is None:
            continue
        first = all(other.kind in ("and", "side", "region", "neutral", "presence") for other in items[:place])
        paused = bool(tokens[item.end - 1].break_after)
        if not first:
            continue
        resisted = modality is not None and section == "resisted_motion" and place == 0
        ranged = modality is not None and any(later.kind == "movement" for later in items[place + 1 :])
        loose = sense is not None and (sense.weak or item.kind in ("attribute", "sign"))
        if valued and loose and not (paused or resisted or ranged):
            continue
        return replace(context, section=section, topic=context.topic if modality else Topic())  # type: ignore[arg-type]
    return context


def _region_heading(context: Context, items: Sequence[Item], *, valued: bool, tokens: Sequence[Token]) -> Context:
    named = [item.value for item in items if item.kind == "region"]
    if not named:
        return context
    if not context.region_said:
        mentions = [item.mention for item in items]
        passed_by = comes_after_a_row(mentions) or only_placed(mentions, tokens)
        return context if passed_by else replace(context, region=named[0], region_said=True)  # type: ignore[arg-type]
    if valued or named[-1] == context.region or context.section == "adjacent_joints":
        return context
    targets = [item for item in items if item.is_target()]
    place = next(item.start for item in items if item.kind == "region")
    if _moves_on_to(tokens, place) and not targets and len(set(named)) == 1:
        return replace(context, region=named[0], section=None, topic=Topic())  # type: ignore[arg-type]
    return context


def _moves_on_to(tokens: Sequence[Token], place: int) -> bool:
    """Whether the words before a region go there ("now the ankle"), not only past it ("now lift your foot")."""
    place -= 1
    while place >= 0 and tokens[place].norm in _ON_THE_WAY and tokens[place].break_after != STOP:
        place -= 1
    if place < 0 or tokens[place].norm not in _MOVES_ON:
        return False
    return tokens[place].norm not in ("on", "over") or tokens[place + 1].norm == "to"


def _side_heading(
    context: Context, items: Sequence[Item], *, valued: bool, stated: bool, tokens: Sequence[Token]
) -> Context:  # fmt: skip
    sides = [
        item
        for item in items
        if item.kind == "side"
        and not any(s.cue and s.cue.symmetrical for s in item.senses)
        and not _is_for_comparison(item, tokens)
    ]
    named_joint = any(item.kind == "region" or item.text in _BOTH_LIMBS for item in items)
    sides = [item for item in sides if not _is_a_step(item, tokens, stated=stated)]
    gone_to = {item.value for item in sides if _hands_go_to(item, tokens)}
    if len(gone_to) == 1:
        side = next(iter(gone_to))
        return replace(context, side=side, last_side=side)
    if any(item.value in OPPOSITE for item in sides):
        sides = [item for item in sides if item.value in OPPOSITE]  # "now the bad side, her left"
    if not sides or valued or (all(item.text == "both" for item in sides) and not named_joint):
        return context
    named = {absolute_side(item.value, context) for item in sides} - {""}
    if len(named) != 1:
        return context
    side = next(iter(named))
    if any(item.mention.restored for item in sides):
        return replace(context, last_side=side)  # what only sounds like a side is never more than assumed
    if side == "both" and stated and named_joint:
        return replace(context, side="both", last_side="")
    if side in ("both", "midline"):
        spoken = stated or named_joint  # "both of them suprascapular nerve" turns to no side
        return replace(context, side="", last_side="") if spoken else context
    with_noun = any(item.kind == "region" for item in items) or any(item.end - item.start > 1 for item in sides)
    targets = any(item.is_target() for item in items)
    if stated or (with_noun and not targets):
        return replace(context, side=side, last_side=side)
    return replace(context, last_side=side)


def goes_to_a_side(items: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether what sounds like a plan goes to a limb now: "let's do the left knee", "let's do the other one"."""
    if not items or any(item.kind not in ("side", "region", "neutral") for item in items):
        return False
    words = [token.norm for token in tokens[statement_start(tokens, items[0].start) : items[0].start]]
    return "do" in words and set(words) <= _DOING


_DOING = frozenset({"let's", "let", "do", "we'll", "i'll", "now", "then", "so", "and", "okay", "right", "just", "the"})


def _is_a_step(side: Item, tokens: Sequence[Token], *, stated: bool) -> bool:
    """Whether "the other side" is a step in how a test is done, or left to others: "then do the other side", "you can
    do her other one after"."""
    before = [token.norm for token in tokens[max(0, side.start - 2) : side.start]]
    if side.value != "other":
        return False
    if before in (["then", "do"], ["and", "do"], ["then", "repeat"]):
        return True
    clause = [token.norm for token in tokens[statement_start(tokens, side.start) : side.start]]
    behind = tokens[side.end].norm if side.end < len(tokens) and not tokens[side.end - 1].break_after else ""
    told = "you" in clause and not stated and "give" not in clause
    return behind in _LATER or told or any(pair in _LEFT_TO_YOU for pair in pairwise(clause))


_LEFT_TO_YOU = frozenset({("you", "can"), ("you", "could"), ("you", "try"), ("you", "do"), ("you'll", "do")})
_LATER = frozenset({"after", "afterwards", "later", "yourself", "yourselves"})
_HANDS = frozenset({"hand", "staying", "stay", "still", "sticking", "stick", "keeping", "keep"})
_TOWARDS = _HANDS | {"on", "with", "to", "the", "now", "so", "right", "and", "then", "okay", "back", "over", "down"}


def _hands_go_to(side: Item, tokens: Sequence[Token]) -> bool:
    """Whether a clause says nothing but where the hands are: "Hands on the left, and start far from the sore part"."""
    if side.value not in OPPOSITE or not (side.end == len(tokens) or tokens[side.end - 1].break_after):
        return False
    words = [token.norm for token in tokens[statement_start(tokens, side.start) : side.start]]
    return bool(set(words) & _HANDS) and set(words) <= _TOWARDS


_HEADS_A_ROW = frozenset({"side", "section", "modality", "region", "neutral", "and"})


def side_of_row(items: Sequence[Item], tokens: Sequence[Token], words: Sequence[str]) -> str:
    """Return the side in a heading before a colon ("AROM B/L: flexion …"), which is that of the whole row; else ""."""
    first = next((item for item in items if item.kind not in ("compare", "neutral")), None)
    if first is not None and first.kind == "side" and _is_for_comparison(first, tokens):
        paused = tokens[first.end - 1].break_after
        return first.value if paused and first.value in ("left", "right") else ""
    for place, item in enumerate(items):
        if item.kind not in _HEADS_A_ROW and item.mention.shaped("section") is None:
            return ""
        if item.kind == "side" and item.value in ("left", "right", "both"):
            ended = words[tokens[item.end - 1].word].endswith(":")
            return item.value if ended and place + 1 < len(items) else ""
    return ""


def _is_for_comparison(side: Item, tokens: Sequence[Token]) -> bool:
    """Whether a side only serves for comparison; one that opens its clause ("left hip for comparison") is gone to."""
    place = side.start - 1
    while place >= 0 and not tokens[place].break_after and tokens[place].norm in (_BEFORE_A_SIDE | _MOVES_ON):
        place -= 1
    if place >= 0 and tokens[place].norm in ("with", "to", "against") and tokens[place - 1].norm == "compare":
        return True  # "compare with the right: …"
    if place < 0 or tokens[place].break_after:
        return False
    for token in tokens[side.end : side.end + _COMPARISON_WITHIN]:
        if token.norm in _FOR_COMPARISON:
            return True
        if token.break_after:
            return False
    return False


def first_side(state: State, items: Sequence[Item], tokens: Sequence[Token]) -> State:
    """Take the side of the joint that opens the exam ("right knee, planted and twisted …"), whatever else is said."""
    context = state.context
    if context.side or context.last_side or state.entries:
        return state
    lent = _only_names_a_joint(items)
    valued = any(item.is_value() or item.kind in ("negation", "compare") for item in items)
    first = next((i for i in items if i.kind not in _PREAMBLE), None)
    if first is not None and first.kind == "side" and first.value in OPPOSITE and _is_one(first, tokens):
        return replace(state, context=replace(context, side=first.value, last_side=first.value))
    for item, following in pairwise(items):
        named = item.kind == "side" and following.kind == "region" and following.start - item.end <= 1
        owned = item.start > 0 and tokens[item.start - 1].norm in _WHOSE and not valued  # "… lent us his right knee"
        if named and item.value in ("left", "right") and (item is first or lent or owned):
            said = "" if item.mention.restored else item.value  # a side that was misheard is only assumed
            return replace(state, context=replace(context, side=said, last_side=item.value))
    return state


def _is_one(side: Item, tokens: Sequence[Token]) -> bool:
    """Whether the limb of this side is all that a clause names: "Left one, first time."."""
    opens = side.start == 0 or tokens[side.start - 1].break_after == STOP
    one = side.end < len(tokens) and tokens[side.end].norm == "one" and tokens[side.end].break_after == COMMA
    return opens and one and not tokens[side.end - 1].break_after


_WHOSE = frozenset({"his", "her", "your", "their"})


def _only_names_a_joint(items: Sequence[Item]) -> bool:
    """Whether one joint of one side is all that a sentence is about ("Mary, fifty, has lent us her right shoulder")."""
    sides = {item.value for item in items if item.kind == "side"}
    return len(sides) == 1 and not any(
        item.is_target() or item.kind in ("status", "negation", "compare") for item in items
    )


def past_side(state: State, items: Sequence[Item]) -> State:
    """Take the side that a history names ("twisted her right knee") for what follows, until one is announced."""
    context = state.context
    sides = {absolute_side(item.value, context) for item in items if item.kind == "side"} & {"left", "right"}
    named = any(item.kind == "region" for item in items)
    if len(sides) != 1 or not named or context.side or context.last_side:
        return state
    return replace(state, context=replace(context, last_side=next(iter(sides))))


def questioned(state: State, items: Sequence[Item]) -> State:
    """Take what another voice doubts ("I'd give that dorsalis pedis two plus") for what a nameless answer is of."""
    named = tuple(item for item in items if item.is_target() and item.kind in _NAMED_IN_A_QUESTION)
    if len(named) != 1:
        return state
    return replace(state, context=replace(state.context, topic=Topic(items=named, bare=True)))


def _was_an_aside(state: State) -> bool:
    """Whether the other side was only just spoken of: after more of it, nobody can tell which one is being examined."""
    return state.utterances - state.context.side_left_at <= 1


def _remember_announced(state: State, parts: Parts) -> State:
    """Let "the other side" be the other of the side announced, once something was found there again."""
    last = state.entries[-1] if state.entries else None
    of_this = last is not None and last.frame == state.frames - 1 and last.finding.side == state.context.side
    if parts.side or not of_this or state.context.side not in ("left", "right"):
        return state
    return replace(state, context=replace(state.context, last_side=state.context.side))


def remember_side(state: State, parts: Parts, sides_named: frozenset[str]) -> State:
    """Keep the side just said for what follows without one."""
    side = absolute_side(parts.side, state.context)
    if side not in ("left", "right"):
        return _remember_announced(state, parts)
    if parts.inherited and "every" in parts.kinds and OPPOSITE.get(side) == state.context.side:
        return state  # "left all five": of the list just found, and what comes is of the side examined again
    context = replace(state.context, last_side=side)
    if context.side and context.side != side and sides_named == {side}:
        # what was announced no longer holds for sure
        context = replace(context, side="", side_before=context.side, side_left_at=state.utterances)
    elif not context.side and side == context.side_before and sides_named == {side} and _was_an_aside(state):
        context = replace(context, side=side, side_before="")
    return replace(state, context=context)
