"""Signing a note: who, with which doubts knowingly left open, and, after a first signature, why it was changed."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict, Field

from dictate.journal.events import Edited, Event, HeardUtterance, Signed
from dictate.journal.replay import Replayed, signatures_of
from dictate.review.actions import Impossible
from dictate.review.queue import worst_first


class Signature(BaseModel):
    """What the page sends: who signs, what they saw, and the doubtful findings that they sign as open, by key."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(max_length=120)
    role: str = Field(max_length=120)
    events: int = Field(ge=0)  # how much of the journal the person saw
    open: list[str] = Field(default_factory=list, max_length=2000)
    addendum: str | None = Field(default=None, max_length=1000)


def signed_event(wish: Signature, replayed: Replayed, events: Sequence[Event]) -> Signed:
    """Return the signature, its digest still to be given.

    Raises:
        Impossible: a name, a role or a reason is missing, the exam was not ended, nothing changed since the last
            signature, or a doubt is neither decided nor knowingly left open.
    """
    name, role = " ".join(wish.name.split()), " ".join(wish.role.split())
    if not name or not role:
        raise Impossible("a signature needs a name and a role, such as physiotherapist")
    if not replayed.closed and replayed.opened.source != "text":
        raise Impossible("this exam was not ended; record its end first, then sign")
    reason = " ".join((wish.addendum or "").split()) or None
    if signatures := signatures_of(events):
        since = events[signatures[-1].n + 1 :]
        if not any(isinstance(event, Edited | HeardUtterance) for event in since):
            raise Impossible("nothing was changed since it was signed; there is nothing to add a signature to")
        if reason is None:
            raise Impossible("an addendum needs its reason: say why the signed note was changed")
    else:
        reason = None
    open_keys = worst_first(zip(replayed.shown, replayed.note.findings, strict=True))
    missing = [key for key in open_keys if key not in wish.open]
    if missing:
        number = len(missing)
        what = "1 finding is" if number == 1 else f"{number} findings are"
        raise Impossible(f"{what} doubtful and not decided; decide, or mark each as signed open")
    return Signed(
        name=name, role=role, note=replayed.note, digest="", keys=[item.key for item in replayed.shown],
        open_doubts=open_keys, addendum=reason,
    )  # fmt: skip
