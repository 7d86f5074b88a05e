"""What the state of a running exam looks like: the part of the view that follows from the words alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from dictate.contract import Doubt, DoubtReason, Finding, Note, Section
from dictate.journal.events import Opened
from dictate.language.state import Entry
from dictate.lexicon.load import Lexicon
from dictate.live.view import TRACE_LENGTH, Last, PlanLine, View
from dictate.note.assemble import assemble
from dictate.note.describe import finding_name, side_text, value_words
from dictate.note.fold import Heard
from dictate.recognise.events import Utterance

# Doubts in plain words; the others are told by their own detail.
_PLAIN: dict[DoubtReason, str] = {
    "heard_unclearly": "not heard clearly",
    "readings_disagree": "heard in two ways",
    "sounds_like": "the term was not heard clearly",
    "incomplete": "something is missing",
    "out_of_range": "no joint does that",
    "side_assumed": "no side was said",
    "side_conflict": "the side does not fit",
}
# What was heard badly is to be said again. The rest is shown as not sure and waits for the review: asked for again at
# every side that was not said, nobody would heed it any more.
_SAY_AGAIN: frozenset[DoubtReason] = frozenset({"heard_unclearly", "readings_disagree", "out_of_range"})
# How the detail of a disagreement begins that is one of hearing; others are of reading, and said again read the same.
_HEARD_TWICE = ("another reading of the ", "without favouring ", "it was not heard ")


_WENT_ON = 3  # findings of other sections than the one announced (project's choice): one or two are looked at aside


@dataclass(frozen=True, slots=True)
class Touched:
    """What one utterance did: entries that it added or changed, whether one is doubtful, and where the exam went."""

    entries: tuple[Entry, ...] = ()
    doubtful: bool = False
    new_section: bool = False


def touched(before: Heard, after: Heard) -> Touched:
    """Return what one utterance did."""
    known = set(map(id, before.state.entries))
    entries = tuple(entry for entry in after.state.entries if id(entry) not in known)
    moved = before.state.context.section != after.state.context.section
    return Touched(
        entries=entries,
        doubtful=any(entry.finding.doubts for entry in entries),
        new_section=moved and after.state.context.section is not None,
    )


def draft_note(heard: Heard, opened: Opened, lexicon: Lexicon, *, prompted: bool = False) -> Note:
    """Return the note of a running exam, without prompts unless asked for."""
    return assemble(
        heard.state, lexicon=lexicon, source=opened.source, region=opened.region, injured_side=opened.injured_side,
        age=opened.age, sex=opened.sex, introduced_late=heard.introduced_late,
        passed_over=len(heard.passed_over), prompted=prompted,
    )  # fmt: skip


def picture(
    view: View, heard: Heard, note: Note, *, fresh: Sequence[Entry], trace: Sequence[Utterance], moved_at: int = 0
) -> View:  # fmt: skip
    """Return the view with all that follows from the words.

    Args:
        view: before.
        heard: the fold so far.
        note: of it.
        fresh: the entries that were added or changed last; they may be gone since.
        trace: the last utterances.
        moved_at: number of the utterance that announced the section.
    """
    context = heard.state.context
    known = context.region_said or bool(note.findings)
    wanted = set(map(id, fresh))
    places = [place for place, entry in enumerate(heard.state.entries) if id(entry) in wanted]
    recent = tuple(_line(note, place) for place in places)
    changes: dict[str, Any] = {
        "region": context.region if known else None,
        "section": _section(heard, note, moved_at),
        "side": context.side or context.last_side or None,
        "injured_side": note.exam.injured_side,
        "last": recent[-1] if recent else None,
        "recent": recent,
        "say_again": _say_again([note.findings[place] for place in places], note.exam.region),
        "plan": plan_lines(note),
        "trace": tuple(utterance.text for utterance in trace[-TRACE_LENGTH:]),
        "findings": len(note.findings),
        "doubts": sum(1 for found in note.findings if found.doubts),
    }
    return replace(view, **changes)


def plan_lines(note: Note) -> tuple[PlanLine, ...]:
    """Return how far each section of the plan is; while the exam runs nothing counts as skipped yet."""
    return tuple(
        PlanLine(
            section=part.section,
            coverage="untouched" if part.coverage == "skipped" else part.coverage,
            missing=tuple(part.missing),
            sides=tuple(part.sides),
            reason=part.reason,
        )
        for part in note.sections
    )


def finding_line(finding: Finding, region: str) -> str:
    """Return a finding in one line: "Medial joint line tenderness: present, left"."""
    name = finding_name(finding, region)
    values = ", ".join(part for part in (value_words(finding), side_text(finding)) if part)
    return f"{name[:1].upper()}{name[1:]}: {values}"


def _line(note: Note, place: int) -> Last:
    finding = note.findings[place]
    doubts = dict.fromkeys(_plain(doubt) for doubt in finding.doubts)
    return Last(finding_line(finding, note.exam.region), "; ".join(doubts) or None, place + 1)


def _section(heard: Heard, note: Note, moved_at: int) -> Section | None:
    """Return where the exam is: the section announced, until some findings in a row show that it went on without."""
    entries, announced = heard.state.entries, heard.state.context.section
    said = sorted(range(len(entries)), key=lambda place: (entries[place].utterance, place))
    since = [note.findings[place].section for place in said if entries[place].utterance >= moved_at]
    latest = since[-_WENT_ON:]
    if announced is None or (len(latest) == _WENT_ON and announced not in latest):
        return latest[-1] if latest else announced
    return announced


def _plain(doubt: Doubt) -> str:
    if doubt.reason == "readings_disagree" and not doubt.detail.startswith(_HEARD_TWICE):
        return doubt.detail
    return _PLAIN.get(doubt.reason) or doubt.detail


def _say_again(findings: Sequence[Finding], region: str) -> str | None:
    """Return what should be said again: the name of the first such finding, and why."""
    for finding in findings:
        for doubt in finding.doubts:
            plain = _plain(doubt)
            if doubt.reason in _SAY_AGAIN and plain == _PLAIN[doubt.reason]:
                name = " ".join(part for part in (finding.side, finding_name(finding, region)) if part)
                return f"{name}: {plain}"
    return None
