"""What is known of the patient of an exam: a pseudonym and, if wanted, age and sex; never a name."""

from __future__ import annotations

from typing import Literal

from dictate.journal.events import About
from dictate.journal.journal import Journal
from dictate.journal.pseudonym import pseudonym
from dictate.journal.replay import opened_of

Sex = Literal["female", "male"]


def tell_about(
    journal: Journal, *, patient: str | None = None, age: float | None = None, sex: Sex | None = None,
    forget: frozenset[str] = frozenset(), by: str = "",
) -> About:  # fmt: skip
    """Change what an exam's journal says of its patient. What is None stays as it was.

    Args:
        journal: of the exam.
        patient: a pseudonym.
        age: in years.
        sex: of the patient.
        forget: fields of these to take away.
        by: who says so.

    Raises:
        PseudonymError: it could be a name.
        JournalError: the journal cannot be written, or was changed meanwhile.
    """
    told = {"patient": pseudonym(patient) if patient is not None else None, "age": age, "sex": sex}
    events = journal.events
    kept = opened_of(events).model_dump(include=set(About.model_fields) - {"n", "at", "kind", "by"})
    changed = {name: value for name, value in told.items() if value is not None}
    fields = kept | changed | dict.fromkeys(forget)
    event = journal.append(About(**fields, by=by), expected=len(events))
    assert isinstance(event, About)  # noqa: S101  what was appended comes back
    return event
