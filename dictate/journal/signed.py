"""A signed exam: what was signed is frozen, and only what people decided since is laid over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dictate.journal.edits import DECISIONS, Item, decide, standing_edits
from dictate.journal.events import Event, HeardUtterance, Signed
from dictate.journal.replay import Replayed, ending_of, replay, signatures_of, unheard_in, with_items
from dictate.language.reader import Reader
from dictate.note.assemble import Draft
from dictate.note.fold import Heard


def standing(
    events: Sequence[Event], reader: Reader, *, heard: Heard | None = None, concluded: bool = False
) -> Replayed:  # fmt: skip
    """Return the exam as it counts: as it was last signed, with what was decided since; unsigned, as it is read.

    A newer lexicon reads old words anew, but never what was signed. What was heard after a signature (the exam was
    resumed) is read and added.

    Args:
        events, reader, heard, concluded: as for `dictate.journal.replay.replay`.
    """
    fresh = replay(events, reader, heard=heard, concluded=concluded)
    signatures = signatures_of(events)
    if not signatures:
        return fresh
    last = signatures[-1]
    stood = _signed_items(events, last, fresh)
    later = _heard_since(events, last, fresh)
    items = decide([*stood, *later], standing_edits(events[last.n + 1 :]), reader.lexicon)
    if not later and all(item.event < last.n for item in items):
        return replace(fresh, note=last.note, items=tuple(items), shown=_in_order(items, last))
    whole = with_items(
        items, opened=fresh.opened, utterances=fresh.utterances, heard=fresh.heard, ending=ending_of(events),
        reader=reader, unheard=unheard_in(events),
    )  # fmt: skip
    frozen = {item.key: item.draft.finding for item in stood}
    findings = [
        frozen[item.key] if item.event < last.n and item.key in frozen else finding
        for item, finding in zip(whole.shown, whole.note.findings, strict=True)
    ]
    return replace(whole, note=whole.note.model_copy(update={"findings": findings, "exam": last.note.exam}))


def _signed_items(events: Sequence[Event], last: Signed, fresh: Replayed) -> list[Item]:
    """Return the findings as signed, with what had been decided about each; and those that were removed before."""
    read = {item.key: item for item in fresh.items}
    decided = {edit.item: edit for edit in standing_edits(events[: last.n])}
    items = []
    for key, finding in zip(_keys(last), last.note.findings, strict=True):
        known, edit = read.get(key), decided.get(key)
        items.append(
            Item(
                key,
                Draft(finding, known.draft.term if known else None),
                DECISIONS[edit.action] if edit else "open",
                edit.n if edit else -1,
                known.heard if known else None,
            )
        )
    signed = {item.key for item in items}
    removed = [
        replace(item, event=edit.n, decision="removed")
        for item in fresh.items
        if item.key not in signed and (edit := decided.get(item.key)) is not None and edit.action == "remove"
    ]
    return [*items, *removed]


def _heard_since(events: Sequence[Event], last: Signed, fresh: Replayed) -> list[Item]:
    already = sum(isinstance(event, HeardUtterance) for event in events[: last.n])
    since = []
    for item in fresh.items:
        head = item.key[1:].partition(".")[0]
        if item.key.startswith("u") and head.isdigit() and int(head) >= already and item.heard is not None:
            since.append(Item(item.key, replace(item.draft, finding=item.heard, decided=False), heard=item.heard))
    return since


def _keys(signed: Signed) -> list[str]:
    """Return the keys of the findings that were signed; made up, for a signature that does not name them."""
    number = len(signed.note.findings)
    return signed.keys if len(signed.keys) == number else [f"s{place}" for place in range(number)]


def _in_order(items: Sequence[Item], signed: Signed) -> tuple[Item, ...]:
    by_key = {item.key: item for item in items}
    return tuple(by_key[key] for key in _keys(signed))
