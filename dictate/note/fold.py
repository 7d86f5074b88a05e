"""The fold that a note is: utterances in order through the reader, with times and the doubts of hearing.

The reader knows words only. What the sound adds is added here, after each step: when a finding was said, how sure the
recogniser was of its words, and whether another reading of the same sound means something else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from dictate.contract import Doubt, Finding, Region, Section
from dictate.language.control import Control
from dictate.language.reader import Reader
from dictate.language.state import Entry, State
from dictate.note.hearing import PLACELESS, clarity, heard_doubts, words_of
from dictate.note.procedure import after_opening, as_correction, changed, corrected, passed_over, taken_back, would_find
from dictate.note.readings import reading_doubts
from dictate.recognise.events import Utterance

TOUCH: frozenset[Section] = frozenset({"palpation", "passive_motion", "resisted_motion", "special_tests"})


@dataclass(frozen=True)
class Heard:
    """The accumulator of the fold: the reader's state, and what the words before mean for those to come."""

    state: State = field(default_factory=State)
    introduced_late: frozenset[str] = frozenset()  # what of the introduction came only after the first touch
    standing_by: bool = False  # since "stand by": what is said makes no findings
    passed_over: tuple[int, ...] = ()  # utterances that would have changed the findings but for "stand by"
    correcting: bool = False  # "Correction." was said, and the correct version is still to come
    undo: State | None = None  # before the last utterance that changed anything


def start(
    reader: Reader, *, region: Region | None = None, injured_side: str | None = None, said: Iterable[Utterance] = ()
) -> Heard:  # fmt: skip
    """Return the accumulator that an exam starts from.

    Args:
        reader: reads the utterances.
        region: the region examined; else the one that `said` speaks of most, else settled by what is heard first.
        injured_side: else taken from what is said.
        said: the utterances to come, where they are known beforehand.
    """
    opened = reader.open(said, region=region)
    return Heard(replace(opened, context=replace(opened.context, injured=injured_side or "")))


def fold(utterances: Iterable[Utterance], reader: Reader, *, heard: Heard | None = None) -> Heard:
    """Return what was heard after all utterances."""
    heard = heard or Heard()
    for utterance in utterances:
        heard = hear(heard, utterance, reader)
    return heard


def conclude(
    heard: Heard, utterances: Sequence[Utterance], reader: Reader, *, region: Region | None = None,
    injured_side: str | None = None,
) -> Heard:  # fmt: skip
    """Return what was heard once the exam is over: only then is it known which region most of it was about.

    Args:
        heard: after all `utterances`, one by one.
        utterances: all of them.
        reader: read them.
        region, injured_side: as for `start`.
    """
    opened = start(reader, region=region, injured_side=injured_side, said=utterances)
    same = opened.state.context.region == heard.state.context.region
    return heard if same else fold(utterances, reader, heard=opened)


def hear(heard: Heard, utterance: Utterance, reader: Reader) -> Heard:
    """Return what was heard after one more utterance."""
    control = reader.controls.control_of([word.text for word in utterance.words])
    kind = control.kind if control else ""
    if heard.standing_by and kind != "resume":
        return _passed_over(heard, utterance, reader)
    if control is None:
        if heard.correcting and utterance.words:
            return _correct(heard, as_correction(utterance, heard=0), reader, misheard=False)
        return _read(heard, utterance, reader)
    heard = replace(heard, correcting=False)
    if kind == "resume":
        return _go_on(replace(heard, standing_by=False), utterance, control, reader)
    if kind == "correction":
        if not control.argument:
            return replace(heard, state=passed_over(heard.state, utterance), correcting=True)
        said = as_correction(utterance, heard=control.opening) if control.misheard else utterance
        return _correct(heard, said, reader, misheard=control.misheard)
    if kind == "stand_by":
        return replace(_passed_over(heard, utterance, reader), standing_by=True)
    if kind == "disregard":
        return _go_on(replace(heard, state=taken_back(heard.state, heard.undo), undo=None), utterance, control, reader)
    return replace(
        heard, state=passed_over(heard.state, utterance)
    )  # asked of the program: it answers, and the note stays as it is


def _go_on(heard: Heard, utterance: Utterance, control: Control, reader: Reader) -> Heard:
    """Read what an utterance says after the command that opens it."""
    rest = after_opening(utterance, control.opening)
    if rest is None or not control.argument:
        return replace(heard, state=passed_over(heard.state, utterance))
    after = _read(heard, rest, reader)
    return replace(after, state=replace(after.state, words=after.state.words + control.opening))


def _read(heard: Heard, utterance: Utterance, reader: Reader) -> Heard:
    before = heard.state
    after = reader.step(before, utterance)
    late = heard.introduced_late
    if any(entry.finding.section in TOUCH for entry in before.entries):
        late = late | (after.introduced - before.introduced)
    if utterance.timed:
        after = _with_sound(before, after, utterance, reader)
    undo = before if changed(before, after) else heard.undo
    return replace(heard, state=after, introduced_late=late, undo=undo, correcting=False)


def _correct(heard: Heard, utterance: Utterance, reader: Reader, *, misheard: bool) -> Heard:
    after = _read(heard, utterance, reader)
    return replace(after, state=corrected(heard.state, after.state, utterance, reader, misheard=misheard))


def _passed_over(heard: Heard, utterance: Utterance, reader: Reader) -> Heard:
    number = heard.state.utterances
    lost = (number,) if would_find(heard.state, utterance, reader) else ()
    return replace(heard, state=passed_over(heard.state, utterance), passed_over=heard.passed_over + lost)


def _with_sound(before: State, after: State, utterance: Utterance, reader: Reader) -> State:
    number = before.utterances
    known = set(map(id, before.entries))
    fresh = [place for place, entry in enumerate(after.entries) if entry.utterance == number and id(entry) not in known]
    if not fresh:
        return after
    entries = list(after.entries)
    for place in fresh:
        entries[place] = _heard(entries[place], utterance, before)
    doubts = reading_doubts(before, [entries[place] for place in fresh], utterance, reader)
    for place, added in zip(fresh, doubts, strict=True):
        finding = entries[place].finding
        entries[place] = entries[place].with_finding(finding.model_copy(update={"doubts": [*finding.doubts, *added]}))
    return replace(after, entries=tuple(entries))


def _heard(entry: Entry, utterance: Utterance, before: State) -> Entry:
    """Return the entry with the time of its words, and with the doubt that the recogniser had of them."""
    words = words_of(entry, utterance)
    doubts = [*entry.finding.doubts, *heard_doubts(words)]
    if entry.span == PLACELESS:
        doubts += _inherited(entry, before)
    time = (round(words[0].start_s, 3), round(words[-1].end_s, 3)) if words else None
    update = {
        "time": time,
        "doubts": doubts,
        "confidence": clarity(words),
    }  # of the words; `assemble` weighs the doubts in
    return entry.with_finding(entry.finding.model_copy(update=update))


def _inherited(copy: Entry, before: State) -> list[Doubt]:
    """Return the doubts of hearing of the finding that was copied: what was misheard once is wrong twice."""
    wanted = _but_for_side(copy.finding)
    for entry in reversed(before.entries):
        if _but_for_side(entry.finding) == wanted:
            return [doubt for doubt in entry.finding.doubts if doubt.reason in ("heard_unclearly", "readings_disagree")]
    return []


def _but_for_side(finding: Finding) -> Finding:
    blank: dict[str, object] = {
        "side": None,
        "doubts": [],
        "said": "",
        "time": None,
        "replaced": [],
        "confidence": 1.0,
        "section": "palpation",
    }
    return finding.model_copy(update=blank)
