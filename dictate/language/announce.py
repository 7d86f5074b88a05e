"""What is announced rather than found: the section, side and region that follow, the topic, what is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from dictate.contract import Region, Section, Status
from dictate.language.draft import Draft, Parts, Topic, grade_of
from dictate.language.items import Item, label_of, says_nothing
from dictate.language.mentions import Mention
from dictate.language.repair import Repaired
from dictate.language.resolve import Resolver, Sentence, absolute_side
from dictate.language.state import Context, Entry, State
from dictate.language.talk import Sentence as Span
from dictate.language.tokens import COMMA, Token

_MOVES_ON = frozenset(
    {"now", "moving", "move", "next", "onto", "on", "over", "turn", "turning", "start", "starting", "then"}
)
_VALUE_KINDS = frozenset({"status", "quantity", "outcome", "nothing", "none", "negation", "ellipsis"})
_LISTED = frozenset({"movement", "test", "structure", "reflex", "pulse", "task"})
_BECAUSE = frozenset({"because", "as", "since", "given", "due", "cause", "cos"})
_SPLIT_STATUS = {"neurovascular status": ("neurological status", "vascular status")}


def speaker_words(words: Sequence[str], patients: frozenset[str], examiners: frozenset[str]) -> set[int]:
    """Return the places of words that a label in the transcript gives to the patient ("Patient: it hurts")."""
    theirs: set[int] = set()
    speaking = False
    for place, word in enumerate(words):
        name = word[:-1].lower().lstrip("([") if word.endswith(":") else ""
        if name in patients or name in examiners:
            speaking = name in patients
            theirs.add(place)
        elif speaking:
            theirs.add(place)
    return theirs


def opens_with_repair(repaired: Repaired, tokens: Sequence[Token]) -> bool:
    """Whether the utterance begins by taking something of an earlier one back."""
    fillers = {p for m in repaired.talk if m.cue("filler") for p in range(m.start, m.end)}
    start = next((p for p in range(len(tokens)) if p not in fillers and repaired.tokens[p].norm), len(tokens))
    if any(m.start == start and m.cue("repair") and not m.senses[0].weak for m in repaired.talk):
        return True
    return (
        start < len(tokens)
        and tokens[start].norm == "no"
        and bool(tokens[start].break_after)
        and start + 1 < len(tokens)
    )


def note_talk(state: State, repaired: Repaired, span: Span, kinds: Sequence[str], mentions: Sequence[Mention]) -> State:
    """Note what a sentence tells beside findings: things said at the introduction, and which side is injured."""
    cues = [m for m in repaired.talk if span.start <= m.start < span.end]
    introduced = {sense.cue.value for m in cues if (sense := m.cue("introduce")) and sense.cue and sense.cue.value}
    if introduced:
        state = replace(state, introduced=state.introduced | introduced)
    named = [sense.value for m in mentions if (sense := m.shaped("region"))]
    if named and not state.context.region_said:
        state = replace(state, context=replace(state.context, region=named[0], region_said=True))  # type: ignore[arg-type]
    if state.context.injured:
        return state
    sides = {s.cue.value for m in mentions if (s := m.cue("side")) and s.cue and s.cue.value}
    absolute = sides & {"left", "right"}
    if len(absolute) != 1:
        return state
    side = next(iter(absolute))
    history = any(kinds[place] in ("history", "patient") for place in range(span.start, span.end))
    if "injured" in sides or (history and "uninjured" not in sides):
        return replace(state, context=replace(state.context, injured=side))
    if "uninjured" in sides:
        other = "right" if side == "left" else "left"
        return replace(state, context=replace(state.context, injured=other))
    return state


# A region named outright weighs as much as this many of its own structures, movements or tests.
_NAMED_WEIGHT = 3


def region_votes(mentions: Sequence[Mention]) -> Counter[Region]:
    """Return how much an utterance speaks of each region: regions named, and things that only one region has."""
    votes: Counter[Region] = Counter()
    for mention in mentions:
        named = mention.shaped("region")
        if named is not None:
            votes[named.value] += _NAMED_WEIGHT  # type: ignore[index]
        regions = {region for sense in mention.terms_named() if sense.term for region in sense.term.regions}
        if len(regions) == 1 and all(sense.term and sense.term.regions for sense in mention.terms_named()):
            votes[next(iter(regions))] += 1
    return votes


def local_region(mentions: Sequence[Mention]) -> str:
    """Return the one region that a sentence names, or ""."""
    named = {sense.value for m in mentions if (sense := m.shaped("region"))}
    return next(iter(named)) if len(named) == 1 else ""


# -- sections left out ----------------------------------------------------------------------------------------------


def is_deferral(items: Sequence[Item], kinds: Sequence[str]) -> bool:
    """Whether the sentence says that a section is left out."""
    leaves = [i for i in items if i.mention.shaped("defer") or i.value == "not_examined" or _denied_section(items, i)]
    sections = [i for i in items if i.mention.shaped("section")]
    if not leaves or not sections or kinds[leaves[0].start] in ("condition", "teaching", "question", "history"):
        return False
    return not any(i.kind in ("test", "quantity", "outcome", "structure") for i in items) and not any(
        i.kind == "status" and i.value != "not_examined" for i in items
    )


def _denied_section(items: Sequence[Item], item: Item) -> bool:
    """Whether "no" stands right before the name of a section ("no resisted testing today")."""
    if item.kind != "negation":
        return False
    following = next((i for i in items if i.start == item.end), None)
    return following is not None and following.mention.shaped("section") is not None and not following.mention.terms()


def defer(state: State, items: Sequence[Item], tokens: Sequence[Token], words: Sequence[str]) -> State:
    """Record the sections that a sentence leaves out, with the reason if one follows."""
    sections = [sense.value for i in items if (sense := i.mention.shaped("section"))]
    anchors = [
        i for i in items if i.mention.shaped("section") or i.mention.shaped("defer") or i.value == "not_examined"
    ]
    reason = _reason(tokens, words, max(item.end for item in anchors))
    deferred = dict(state.deferred)
    for section in sections:
        deferred[section] = reason  # type: ignore[index]
    return replace(state, deferred=tuple(deferred.items()))


def _reason(tokens: Sequence[Token], words: Sequence[str], start: int) -> str | None:
    rest = []
    for position in range(start, len(tokens)):
        rest.append(tokens[position].word)
        if tokens[position].break_after not in ("", COMMA):
            break
    said = [words[place] for place in dict.fromkeys(rest)]
    while said and said[0].lower().strip(",.") in _BECAUSE | {
        "for",
        "today",
        "now",
        "to",
        "this",
        "time",
        "the",
        "and",
        "of",
        "on",
        "out",
        "altogether",
    }:
        said.pop(0)
    text = " ".join(said).strip(" ,.;")
    return text or None


# -- where the exam stands ------------------------------------------------------------------------------------------


def past_side(state: State, items: Sequence[Item]) -> State:
    """Take the side that a history names ("twisted her right knee") for what follows, until one is announced."""
    context = state.context
    sides = {absolute_side(item.value, context) for item in items if item.kind == "side"} & {"left", "right"}
    named = any(item.kind == "region" for item in items)
    if len(sides) != 1 or not named or context.side or context.last_side:
        return state
    return replace(state, context=replace(context, last_side=next(iter(sides))))


def heading(
    state: State, items: Sequence[Item], *, stated: bool, tokens: Sequence[Token], announces: bool = True
) -> State:
    """Move the context by what a stretch of talk announces."""
    context = state.context
    valued = any(i.kind in _VALUE_KINDS and not says_nothing(i) for i in items) or any(
        i.kind == "sign" or i.shape in ("normal", "reduced", "absent") for i in items
    )
    context = _section_heading(context, items, valued=valued, tokens=tokens)
    context = _region_heading(context, items, valued=valued, tokens=tokens)
    context = _side_heading(context, items, valued=valued, stated=stated)
    asked = [item for item in items if item.kind == "asked"]
    if asked:  # "lift your arms out to the front"
        named = tuple(replace(item, kind="movement") for item in asked[-1:])
        context = replace(context, topic=Topic(items=named, bare=True), topic_at=state.utterances)
    elif not stated and announces:
        named = tuple(i for i in items if i.is_target() and i.kind != "structure")
        if named:
            context = replace(context, topic=Topic(items=named, bare=True))
    visited = state.visited
    if context.section and context.section not in visited:
        visited = (*visited, context.section)
    return replace(state, context=context, visited=visited)


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
        return replace(context, region=named[0], region_said=True)  # type: ignore[arg-type]
    if valued or named[-1] == context.region or context.section == "adjacent_joints":
        return context
    targets = [item for item in items if item.is_target()]
    first = items[0].start
    moving = any(tokens[place].norm in _MOVES_ON for place in range(max(0, first - 5), items[-1].end))
    if moving and not targets and len(set(named)) == 1:
        return replace(context, region=named[0], section=None, topic=Topic())  # type: ignore[arg-type]
    return context


def first_side(state: State, items: Sequence[Item]) -> State:
    """Take the side of the joint that opens the exam ("right knee, planted and twisted …"), whatever else is said."""
    context = state.context
    if context.side or context.last_side or state.entries:
        return state
    for item, following in pairwise(items):
        named = item.kind == "side" and following.kind == "region" and following.start - item.end <= 1
        if named and item.value in ("left", "right") and item is next(i for i in items if i.kind not in _PREAMBLE):
            return replace(state, context=replace(context, side=item.value, last_side=item.value))
    return state


_PREAMBLE = frozenset({"neutral", "pronoun", "presence", "and", "modality", "section", "status"})


def _side_heading(context: Context, items: Sequence[Item], *, valued: bool, stated: bool) -> Context:
    sides = [
        item for item in items if item.kind == "side" and not any(s.cue and s.cue.symmetrical for s in item.senses)
    ]
    named_joint = any(item.kind == "region" for item in items)
    if not sides or valued or (all(item.text == "both" for item in sides) and not named_joint):
        return context
    named = {absolute_side(item.value, context) for item in sides} - {""}
    if len(named) != 1:
        return context
    side = next(iter(named))
    if side == "both" and stated and any(item.kind == "region" for item in items):
        return replace(context, side="both", last_side="")
    if side in ("both", "midline"):
        return replace(context, side="", last_side="")
    with_noun = any(item.kind == "region" for item in items) or any(item.end - item.start > 1 for item in sides)
    targets = any(item.is_target() for item in items)
    if stated or (with_noun and not targets):
        return replace(context, side=side, last_side=side)
    return replace(context, last_side=side)


def next_topic(state: State, parts: Parts, drafts: Sequence[Draft]) -> Context:
    """Return the context whose topic is what this frame named."""
    context = state.context
    own = tuple(item for item in parts.targets if not parts.inherited)
    if not own:
        return context
    hosts = tuple(item for item in own if item.kind != "sign")
    if any(item.kind in ("movement", "test", "task") for item in hosts):
        own = hosts
    strength = any(draft.finding == "strength" for draft in drafts)
    if all(item.kind == "level" for item in own):
        own = parts.targets
    topic = Topic(items=own, modality=parts.modality, strength=strength, bare=not drafts)
    before = context.topic
    same_kind = {item.kind for item in own} == {item.kind for item in before.items}
    if before.bare and not drafts and same_kind:
        topic = replace(topic, items=before.items + own)
    if not drafts and {item.kind for item in own} == {"structure"} and before.sign():
        return context
    return replace(context, topic=topic, topic_at=state.utterances)


_LISTS_KEPT = 3
_SHORTEST_LIST = 3
_SAID_OF = frozenset({"structure", "movement", "test"})


def name_list(state: State, parts: Parts, drafts: Sequence[Draft]) -> State:
    """Keep a list of which nothing was said ("SC joint, clavicle and AC joint, …") for what may follow of the rest."""
    own = tuple(item for item in parts.targets if not parts.inherited and item.kind in _SAID_OF)
    if drafts or len({label_of(item) for item in own}) < _SHORTEST_LIST:
        return state
    return replace(state, context=replace(state.context, named=own, named_in=state.utterances))


def others_of_list(state: State, parts: Parts) -> Parts | None:
    """Return a frame about "the others" as one about those of the list just named that nothing was said of."""
    context = state.context
    if "rest" not in parts.kinds or not context.named or state.utterances - context.named_in > 1:
        return None
    if any(not parts.inherited and item.kind in _SAID_OF for item in parts.targets):
        return None
    here = [entry.finding for entry in state.entries if entry.utterance >= context.named_in]
    done = {label for finding in here for label in (finding.finding, finding.structure)}
    left = tuple(item for item in context.named if label_of(item) not in done)
    return replace(parts, targets=left, inherited=True) if left else None


def list_targets(state: State, parts: Parts, drafts: Sequence[Draft], number: int) -> State:
    """Keep what the sentence gives findings of: "all four negative on the right" may follow."""
    own = tuple(item for item in parts.targets if not parts.inherited and item.kind in _LISTED)
    if not drafts or not own:
        return state
    here = (state.utterances, number)
    context = state.context
    if context.listed_in == here:
        return replace(state, context=replace(context, listed=context.listed + own))
    lists = (context.listed, *context.lists)[:_LISTS_KEPT] if context.listed else context.lists
    return replace(state, context=replace(context, listed=own, listed_in=here, lists=lists))


def remember_side(state: State, parts: Parts, sides_named: frozenset[str]) -> State:
    """Keep the side just said for what follows without one."""
    side = absolute_side(parts.side, state.context)
    if side not in ("left", "right"):
        return state
    context = replace(state.context, last_side=side)
    if context.side and context.side != side and sides_named == {side}:
        context = replace(context, side="")  # what was announced no longer holds for sure
    return replace(state, context=context)


def settle_region(state: State, before: int) -> State:
    """Once something of a region is heard, the findings from before it was known belong to it too."""
    context = state.context
    if context.region_said and not state.region_votes:
        if before < len(state.entries) or state.entries:
            state = replace(state, region_votes=((context.region, 1),), entries=_moved_to(state.entries, context))
        return state
    if context.region_said:
        return state
    for entry in state.entries[before:]:
        if entry.anchored:
            context = replace(context, region=entry.finding.region, region_said=True)
            return replace(
                state, context=context, region_votes=((context.region, 1),), entries=_moved_to(state.entries, context)
            )
    return state


def _moved_to(entries: Sequence[Entry], context: Context) -> tuple[Entry, ...]:
    return tuple(
        entry.with_finding(entry.finding.model_copy(update={"region": context.region})) if not entry.anchored else entry
        for entry in entries
    )


# -- one statement that stands for several -----------------------------------------------------------------------------


def expand(
    drafts: Sequence[Draft], parts: Parts, context: Context, sentence: Sentence, resolver: Resolver
) -> list[Draft]:
    """Return the drafts that a frame's drafts stand for: a range its movements, a bundle its two halves."""
    screens = [] if drafts else _screens(parts, context)
    rest = None if screens else _remainder(parts, context)
    if rest is not None:
        return [rest]
    drafts = screens or _others(drafts, parts, context)
    out: list[Draft] = []
    region = sentence.region or context.region
    for draft in drafts:
        if draft.finding in _SPLIT_STATUS:
            halves: tuple[tuple[str, Section], ...] = (
                ("neurological status", "neurological"),
                ("vascular status", "vascular"),
            )
            out += [replace(draft, finding=name, section=section, expanded=True) for name, section in halves]
        elif draft.finding == "range of motion" and draft.status == "normal" and resolver.full_range(region):
            named = {i.value for i in parts.frame.items if i.kind == "region"}
            if region == context.region and not named - {region} and context.section != "adjacent_joints":
                out += [replace(draft, finding=m, kind="movement", term=None) for m in resolver.full_range(region)]
            else:
                out.append(draft)
        else:
            out.append(draft)
    return out


def _others(drafts: Sequence[Draft], parts: Parts, context: Context) -> list[Draft]:
    """ "… the AC is tender, the others are fine": keep of the list what has not had its own finding."""
    if "rest" not in parts.kinds or not parts.inherited:
        return list(drafts)
    done = {label_of(item) for item in context.listed}
    return [draft for draft in drafts if (draft.structure or draft.finding) not in done]


def _screens(parts: Parts, context: Context) -> list[Draft]:
    """Return the quick screens of joints named with a status ("hip and ankle screened, full and pain free")."""
    regions = list(dict.fromkeys(item.value for item in parts.frame.items if item.kind == "region"))
    status, _ = parts.status()
    others = [region for region in regions if region != context.region]
    if status not in ("normal", "reduced", "negative") or not others or (parts.targets and not parts.inherited):
        return []
    value: Status = "reduced" if status == "reduced" else "normal"
    sides = _sides_of_regions(parts)
    return [
        Draft(
            finding="range of motion",
            kind="attribute",
            status=value,
            region=region,  # type: ignore[arg-type]
            section="adjacent_joints",
            side=sides[region],
            side_said=bool(sides[region]),
            start=parts.start,
            end=parts.end,
        )
        for region in regions
    ]


def _sides_of_regions(parts: Parts) -> dict[str, str]:
    """Return the side of each region named: the one said before it, else the one that closes the list."""
    side = ""
    out: dict[str, str] = {}
    for item in parts.frame.items:
        if item.kind == "side" and not item.role:
            side = item.value
        elif item.kind == "region":
            out.setdefault(item.value, side)
    bound = any(out.values())  # "neck and right shoulder": the side is the shoulder's
    return {region: said or ("" if bound else parts.side) for region, said in out.items()}


def _remainder(parts: Parts, context: Context) -> Draft | None:
    """Return "the rest of the exam is normal", recorded as said and never expanded."""
    status, _ = parts.status()
    summary = (
        "section" in parts.kinds and status in ("normal", "negative") and not parts.of("structure", "test", "movement")
    )
    grade = parts.grade_quantity or next((q for q in parts.quantities if q.value == 5 and not q.unit), None)
    if "rest" not in parts.kinds and not summary:
        return None
    if grade and not [t for t in parts.targets if not parts.inherited]:
        draft = Draft(
            finding="strength", kind="attribute", grade=grade_of("MRC", grade), start=parts.start, end=parts.end
        )
        draft.side, draft.side_said = parts.side, bool(parts.side)
        return draft
    if status is None or parts.quantities or (parts.targets and not parts.inherited and not parts.of("attribute")):
        return None
    if parts.inherited and parts.of("structure", "test", "movement", "level") and "section" not in parts.kinds:
        return None  # the rest of a list just named
    section = next((i.value for i in parts.frame.items if i.kind == "section"), None) or context.section or "inspection"
    draft = Draft(finding=section.replace("_", " "), kind="section", status=status, section=section)  # type: ignore[arg-type]
    draft.status = {"negative": "normal", "absent": "normal"}.get(status, status)  # type: ignore[assignment]
    draft.start, draft.end = parts.start, parts.end
    draft.side, draft.side_said = parts.side, bool(parts.side)
    return draft
