"""What goes along with a note when it is handed on: whose exam it is, when it was, and who signed it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

Sex = Literal["female", "male"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Signing:
    """A person's signature under the note. Times know their zone.

    `digest` is what was signed, as the exam's journal has it: sha256, in hexadecimal.
    """

    name: str
    role: str
    at: datetime
    digest: str | None = None

    def __post_init__(self) -> None:
        _zoned(self.at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Addendum(Signing):
    """What a person added or changed after the note was signed, and why, with the signature under that."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """What is known beside the note; all of it may be missing. `signing` None: a draft, and every format says so.

    `patient` is a pseudonym, never a name; `age` is in years; `exported_at` is given by tests, else the time of day.
    """

    exam_id: str | None = None
    exam_date: datetime | None = None
    patient: str | None = None
    age: float | None = None
    sex: Sex | None = None
    signing: Signing | None = None
    addenda: tuple[Addendum, ...] = ()
    exported_at: datetime | None = None

    def __post_init__(self) -> None:
        for moment in (self.exam_date, self.exported_at):
            if moment:
                _zoned(moment)

    @property
    def signed(self) -> bool:
        """Whether a person signed the note."""
        return self.signing is not None


NOTHING_KNOWN = Handover()


def _zoned(moment: datetime) -> None:
    if moment.tzinfo is None:
        raise ValueError(f"{moment} has no time zone, so that nobody could tell when it was; give it one")


def moment_text(moment: datetime) -> str:
    """Return a time as people read it, with its zone.

    >>> from datetime import UTC
    >>> moment_text(datetime(2026, 11, 25, 9, 15, tzinfo=UTC))
    '2026-11-25 09:15 UTC'
    """
    zone = moment.tzname() or ""
    return f"{moment:%Y-%m-%d %H:%M} {zone}".strip()


def about_lines(handover: Handover) -> list[str]:
    """Return whose exam it is and when it was, as lines; what is not known is left out."""
    lines = []
    if handover.exam_id:
        lines.append(f"Exam: {handover.exam_id}")
    if handover.exam_date:
        lines.append(f"Date of the exam: {moment_text(handover.exam_date)}")
    if handover.patient or handover.age is not None or handover.sex:
        age = f"{handover.age:g} years" if handover.age is not None else None
        known = [part for part in (handover.patient, handover.sex, age) if part]
        lines.append(f"Patient (pseudonym): {', '.join(known)}" if handover.patient else f"Patient: {', '.join(known)}")
    return lines


def signing_lines(handover: Handover) -> list[str]:
    """Return who signed, and what was added afterwards; nothing for a draft."""
    lines = []
    if handover.signing:
        signing = handover.signing
        lines.append(f"Signed by {signing.name}, {signing.role}, {moment_text(signing.at)}")
        if signing.digest:
            lines.append(f"Digest of what was signed: sha256 {signing.digest}")
    for addendum in handover.addenda:
        who = f"{addendum.name}, {addendum.role}, {moment_text(addendum.at)}"
        lines.append(f"Addendum by {who}: {addendum.text}")
        if addendum.digest:
            lines.append(f"Digest of what was signed then: sha256 {addendum.digest}")
    return lines
