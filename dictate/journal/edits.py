"""What people decided about findings, applied to what was heard. A decision outlives a new reading of the words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from dictate.contract import Finding
from dictate.journal.events import Edited, Event
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term
from dictate.note.assemble import Draft

_NAMES: tuple[Literal["structure", "finding"], ...] = ("structure", "finding")
Decision = Literal["open", "accepted", "changed", "removed", "added"]
DECISIONS: Mapping[str, Decision] = {
    "accept": "accepted", "change": "changed", "not_examined": "changed", "remove": "removed", "add": "added",
}  # fmt: skip


@dataclass(frozen=True)
class Item:
    """A finding of the exam under the key that edits name it by, with what was last decided about it."""

    key: str
    draft: Draft
    decision: Decision = "open"
    event: int = -1  # number of the event that decided; -1 while nobody did
    heard: Finding | None = None  # as heard; None when a person added it

    @property
    def present(self) -> bool:
        """Whether it stands in the note."""
        return self.decision != "removed"


@dataclass(frozen=True, slots=True)
class Renamed:
    """A name that a person put right, or confirmed although it only sounded like it."""

    edit: Edited
    before: Finding  # as it was before anybody touched it
    after: Finding
    was: str
    now: str
    field: Literal["structure", "finding"]


KEPT = "'"  # ends the key of a decision about a finding that a new reading of the words no longer gives


def keys_of(utterances: Sequence[int]) -> list[str]:
    """Return a key for each finding, given the number of the utterance that each came from.

    >>> keys_of([0, 3, 3])
    ['u0.0', 'u3.0', 'u3.1']
    """
    counts: dict[int, int] = {}
    keys = []
    for number in utterances:
        keys.append(f"u{number}.{counts.get(number, 0)}")
        counts[number] = counts.get(number, 0) + 1
    return keys


def standing_edits(events: Iterable[Event]) -> list[Edited]:
    """Return the edits that count: those that were not undone, in order. An undo may itself be undone."""
    edits = [event for event in events if isinstance(event, Edited)]
    undone: set[int] = set()
    for edit in reversed(edits):
        if edit.action == "undo" and edit.undoes is not None and edit.n not in undone:
            undone.add(edit.undoes)
    return [edit for edit in edits if edit.action != "undo" and edit.n not in undone]


def names_put_right(events: Iterable[Event]) -> list[Renamed]:
    """Return the names that people put right in an exam. What was changed twice counts once, as it was left."""
    edits = [edit for edit in standing_edits(events) if edit.before is not None and edit.after is not None]
    first = {edit.item: edit.before for edit in reversed(edits)}
    latest = {edit.item: edit for edit in edits}
    found = []
    for item, edit in latest.items():
        before, after = first[item], edit.after
        if before is None or after is None:  # they were left out above
            continue
        confirmed = any(doubt.reason == "sounds_like" for doubt in before.doubts)
        for name in _NAMES:
            was, now = getattr(before, name), getattr(after, name)
            if was and now and (was != now or confirmed):
                found.append(Renamed(edit, before, after, was, now, name))
    return found


def apply_edits(drafts: Sequence[Draft], keys: Sequence[str], edits: Sequence[Edited], lexicon: Lexicon) -> list[Item]:
    """Return the items of an exam in the order spoken, those that people added at the end.

    What a person decided stays decided when the words are read anew: a finding that no longer comes of them is kept as
    it was decided, and one that was removed stays away.
    """
    heard = [Item(key, draft, heard=draft.finding) for key, draft in zip(keys, drafts, strict=True)]
    return decide(heard, edits, lexicon)


def decide(stood: Iterable[Item], edits: Sequence[Edited], lexicon: Lexicon) -> list[Item]:
    """Return the items after some more decisions, in the order spoken."""
    items = {item.key: item for item in stood}
    places: dict[str, str] = {}  # key in the journal -> key of the item that it is now
    for edit in edits:
        key = places.setdefault(edit.item, _place(edit, items))
        earlier = items.get(key)
        if edit.action == "remove":
            if earlier is not None:
                items[key] = replace(earlier, decision="removed", event=edit.n)
            continue
        if edit.after is None:
            continue
        term = _term(edit.after, lexicon, earlier)
        items[key] = Item(
            key,
            Draft(edit.after, term, decided=True),
            DECISIONS[edit.action] if earlier is None or earlier.decision != "added" else "added",
            edit.n,
            earlier.heard if earlier else None,
        )
    return _ordered(items.values())


def same_meaning(one: Finding, other: Finding) -> bool:
    """Whether two findings say the same, whatever words they came from and however doubtful they are."""
    return _meaning(one) == _meaning(other)


def _meaning(finding: Finding) -> dict[str, object]:
    return finding.model_dump(exclude={"confidence", "doubts", "said", "time", "replaced"})


def _place(edit: Edited, items: Mapping[str, Item]) -> str:
    """Return the key of what an edit is about, also when the words were read anew since.

    That is the finding under the edit's key, or another of the same utterance, which means what the person saw or
    decided. Where there is none, the decision gets a key of its own: it must not hide what the new reading found.
    """
    if edit.action == "add":
        return edit.item
    meant = [finding for finding in (edit.before, edit.after) if finding is not None]
    utterance = edit.item.split(".")[0] + "."
    own = [edit.item] if edit.item in items else []
    twins = [key for key, item in items.items() if key.startswith(utterance) and item.decision == "open"]
    for wanted in meant:
        for key in (*own, *twins):
            if same_meaning(items[key].draft.finding, wanted):
                return key
    return f"{edit.item}{KEPT}" if own else edit.item


def _term(finding: Finding, lexicon: Lexicon, earlier: Item | None) -> Term | None:
    """Return the lexicon's entry of a finding: what it had, if it is still of that, else found by its label."""
    if earlier is not None and (earlier.draft.finding.finding, earlier.draft.finding.structure) == (
        finding.finding,
        finding.structure,
    ):
        return earlier.draft.term
    named = [term for term in lexicon.terms if term.label in (finding.finding, finding.structure)]
    of_region = [term for term in named if not term.regions or finding.region in term.regions]
    best = sorted(of_region or named, key=lambda term: term.label != finding.finding)
    return best[0] if best else None


def _ordered(items: Iterable[Item]) -> list[Item]:
    """Return items by utterance and place in it; what was added comes last, in the order of its adding."""

    def order(item: Item) -> tuple[int, int, int]:
        head, _, tail = item.key.rstrip(KEPT).partition(".")
        if head.startswith("u") and head[1:].isdigit() and tail.isdigit():
            return (0, int(head[1:]), int(tail))
        return (1, int(head[1:]) if head[1:].isdigit() else 0, 0)

    return sorted(items, key=order)
