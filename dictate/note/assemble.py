"""From the state of a reading to the whole note: exam, findings, coverage and prompts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from dictate.contract import Exam, Finding, Note, Region
from dictate.language.state import State
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term
from dictate.note.asked import Asked
from dictate.note.checks import checked
from dictate.note.confidence import confidence
from dictate.note.coverage import Told, coverage
from dictate.note.prompt_unread import with_neighbours
from dictate.note.prompts import prompts

Sex = Literal["female", "male"]
InjuredSide = Literal["left", "right", "both"]
_NEIGHBOURLY = frozenset(
    {"adjacent_joints", "referred_pain"}
)  # what is found there says nothing of the region examined


@dataclass(frozen=True)
class Draft:
    """A finding on its way into the note, with its entry in the lexicon where it has one."""

    finding: Finding
    term: Term | None = None
    decided: bool = False  # a person decided about it: nothing in it is doubted any more


Review = Callable[[Sequence[Draft]], list[Draft]]


def assemble(
    state: State, *, lexicon: Lexicon, source: Literal["text", "file", "live"], seconds: float | None = None,
    region: Region | None = None, injured_side: InjuredSide | None = None, age: float | None = None,
    sex: Sex | None = None, introduced_late: frozenset[str] = frozenset(), passed_over: int = 0,
    unheard: Sequence[tuple[float, float]] = (), review: Review | None = None, prompted: bool = True,
) -> Note:  # fmt: skip
    """Return the note of an exam. The same state gives the same note.

    Args:
        state: of the reader after all utterances.
        lexicon: the one that was read with.
        source: what the words came from.
        seconds: length of the recording; None for text.
        region: the region examined, where it was given; else the one that most findings belong to.
        injured_side: where it was given; else as said.
        age: of the patient in years.
        sex: of the patient.
        introduced_late: parts of the introduction that were said only after the first touch.
        passed_over: utterances that would have changed the findings, had they not been said after "stand by".
        unheard: where sound is missing, from and to, in seconds.
        review: what people decided about the findings, before anything is derived from them.
        prompted: with prompts; they are most of the cost, and a display of a running exam shows none.
    """
    drafts = [Draft(entry.finding, entry.term) for entry in state.entries]
    drafts = review(drafts) if review else drafts
    findings = checked([draft.finding for draft in drafts])
    findings = [_weighed(finding, decided=draft.decided) for finding, draft in zip(findings, drafts, strict=True)]
    terms = [draft.term for draft in drafts]
    exam = Exam(
        region=region or _region(findings, state),
        injured_side=injured_side or _injured(state),
        source=source,
        seconds=seconds,
    )
    told = Told(dict(state.deferred), state.introduced, frozenset(state.visited))
    sections = coverage(findings, region=exam.region, lexicon=lexicon, told=told)
    if not prompted:
        return Note(exam=exam, findings=findings, sections=sections)
    asked = Asked(
        findings=findings, terms=terms, exam=exam, sections=sections, lexicon=lexicon, age=age, sex=sex,
        introduced=state.introduced, introduced_late=introduced_late, passed_over=passed_over,
        unheard=unheard, unread=with_neighbours(state.unread, state.entries, findings),
    )  # fmt: skip
    return Note(exam=exam, findings=findings, sections=sections, prompts=prompts(asked))


def _weighed(finding: Finding, *, decided: bool) -> Finding:
    if decided:
        return finding.model_copy(update={"doubts": [], "confidence": 1.0})
    return finding.model_copy(update={"confidence": confidence(finding, clarity=finding.confidence)})


def _region(findings: Sequence[Finding], state: State) -> Region:
    """Return the region that most findings belong to; the first said of those that are equal."""
    votes = Counter(finding.region for finding in findings if finding.section not in _NEIGHBOURLY)
    return votes.most_common(1)[0][0] if votes else state.context.region


def _injured(state: State) -> InjuredSide | None:
    said = state.context.injured
    return said if said in ("left", "right", "both") else None  # type: ignore[return-value]
