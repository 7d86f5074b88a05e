"""What a reviewer does, as events: nothing is overwritten, and whatever was done can be undone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Finding
from dictate.errors import DictateError
from dictate.journal.edits import Item, standing_edits
from dictate.journal.events import Edited, Event, Signed
from dictate.review.labels import Labels

_LONGEST = 200  # characters of one entry of a list
_MOST_ENTRIES = 20


class Impossible(DictateError):
    """A decision that cannot be carried out; the line says why."""


class Decision(BaseModel):
    """What the page sends: what to do with which finding, and the state of it that the person saw."""

    model_config = ConfigDict(extra="forbid")

    action: Literal["accept", "change", "remove", "not_examined", "add"]
    item: str = Field(default="", max_length=40)
    version: str = Field(default="", max_length=40)
    after: Finding | None = None
    text: str = Field(default="", max_length=2000)  # typed, as one would say it
    by: str = Field(default="", max_length=120)
    comment: str | None = Field(default=None, max_length=500)
    addendum: bool = False  # the person knows that the note is signed


def edit_of(decision: Decision, item: Item, now: Finding, labels: Labels) -> Edited:
    """Return the event of a decision about a finding that is there. `now` is what the person saw."""
    if decision.action == "remove" and not item.present:
        raise Impossible("this finding is removed already")
    after = None if decision.action == "remove" else decided(_wanted(decision, now), now)
    if after is not None and decision.action == "change":
        check_values(after)
        labels.check(after, also=_labels_in(now))
    return Edited(
        action=decision.action, item=item.key, before=now, after=after, by=decision.by.strip(), comment=decision.comment
    )


def addition_of(decision: Decision, key: str, labels: Labels) -> Edited:
    """Return the event that adds a finding under a new key."""
    if decision.after is None:
        raise Impossible("there is nothing to add; type it as you would say it")
    origin = Finding(section="inspection", region="knee", finding="-", said=" ".join(decision.text.split()))
    after = decided(decision.after, origin)
    check_values(after)
    labels.check(after)
    return Edited(action="add", item=key, after=after, by=decision.by.strip(), comment=decision.comment)


def decided(finding: Finding, origin: Finding) -> Finding:
    """Return a finding as decided: no doubts any more; where it came from stays that of `origin`."""
    slips = origin.replaced if finding.replaced == origin.replaced else finding.replaced
    kept = {"said": origin.said, "time": origin.time, "doubts": [], "confidence": 1.0, "replaced": slips}
    return finding.model_copy(update=kept)


def check_values(finding: Finding) -> None:
    """Raise Impossible for numbers and texts that no note can hold."""
    numbers = {"angle": finding.degrees, "position": finding.at_degrees}
    if finding.measure is not None:
        numbers["measure"] = finding.measure.value
    for name, value in numbers.items():
        if value is not None and not (math.isfinite(value) and abs(value) <= 10_000):
            raise Impossible(f"{name}: {value} is no number that can be measured")
    texts = [finding.end_feel or "", finding.grade.value if finding.grade else "", *finding.with_, *finding.limited_by]
    if any(len(text) > _LONGEST for text in texts) or len(finding.with_) + len(finding.limited_by) > _MOST_ENTRIES:
        raise Impossible("a text is too long; shorten it")


def _wanted(decision: Decision, now: Finding) -> Finding:
    if decision.action == "accept":
        return now
    if decision.action == "not_examined":
        empty: dict[str, object] = {
            "status": "not_examined", "degrees": None, "grade": None, "measure": None, "at_degrees": None,
            "severity": None, "end_feel": None, "limited_by": [], "with_": [],
        }  # fmt: skip
        return now.model_copy(update=empty)
    if decision.after is None:
        raise Impossible("nothing was said to change it to")
    return decision.after


def _labels_in(finding: Finding) -> list[str]:
    names = [finding.finding, finding.structure, finding.grade.scale if finding.grade else None]
    return [name for name in names if name]


# -- undo ------------------------------------------------------------------------------------------------------------


def last_to_undo(events: Sequence[Event]) -> Edited | None:
    """Return the latest decision that stands, made since the last signature: what was signed is not taken back."""
    signed = max((event.n for event in events if isinstance(event, Signed)), default=-1)
    edits = [edit for edit in standing_edits(events) if edit.n > signed]
    return edits[-1] if edits else None


def last_to_redo(events: Sequence[Event]) -> Edited | None:
    """Return the undo that would be taken back next: none, once something else was decided since."""
    signed = max((event.n for event in events if isinstance(event, Signed)), default=-1)
    edits = [event for event in events if isinstance(event, Edited) and event.n > signed]
    by_number = {edit.n: edit for edit in edits}
    redone = {edit.undoes for edit in edits if edit.undoes is not None}
    for edit in reversed(edits):
        if edit.action != "undo" or edit.undoes is None:
            return None
        target = by_number.get(edit.undoes)
        if target is not None and target.action != "undo" and edit.n not in redone:
            return edit
    return None


def undoing(edit: Edited, *, by: str) -> Edited:
    """Return the event that takes another one back."""
    return Edited(action="undo", item=edit.item, undoes=edit.n, by=by.strip())
