"""The note of an exam as a fold over its journal: what was heard, then what people decided about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from dictate.contract import Finding, Note
from dictate.errors import JournalError
from dictate.journal.edits import Item, apply_edits, keys_of, standing_edits
from dictate.journal.events import About, Closed, Event, Gap, HeardUtterance, Opened, Resumed, Signed
from dictate.language.reader import Reader
from dictate.note.assemble import Draft, assemble
from dictate.note.fold import Heard, conclude, fold, start
from dictate.recognise.events import Utterance


@dataclass(frozen=True)
class Replayed:
    """An exam as its journal tells it. `items` are all findings, removed ones too; `shown` are the note's, in order."""

    opened: Opened  # with what was changed about it since
    note: Note
    items: tuple[Item, ...]
    shown: tuple[Item, ...]
    utterances: tuple[Utterance, ...]
    heard: Heard
    closed: bool
    seconds: float | None

    def finding(self, key: str) -> Finding | None:
        """Return the note's finding under a key, None if it is not in the note."""
        for item, finding in zip(self.shown, self.note.findings, strict=True):
            if item.key == key:
                return finding
        return None


def opened_of(events: Iterable[Event]) -> Opened:
    """Return what is known about an exam, changes carried out. Raises JournalError for a journal without a start."""
    opened: Opened | None = None
    for event in events:
        if isinstance(event, Opened):
            opened = opened or event
        elif isinstance(event, About) and opened is not None:
            opened = opened.model_copy(update=event.model_dump(exclude={"n", "at", "kind", "by"}))
    if opened is None:
        raise JournalError("the journal does not begin with the opening of an exam; restore it from a backup")
    return opened


def utterances_of(events: Iterable[Event]) -> tuple[Utterance, ...]:
    """Return what was heard, in order."""
    return tuple(event.utterance for event in events if isinstance(event, HeardUtterance))


def ending_of(events: Iterable[Event]) -> Closed | None:
    """Return how the exam was closed; None while it goes on, or since it was resumed."""
    ending: Closed | None = None
    for event in events:
        if isinstance(event, Closed):
            ending = event
        elif isinstance(event, Resumed):
            ending = None
    return ending


def unheard_in(events: Iterable[Event]) -> tuple[tuple[float, float], ...]:
    """Return where sound is missing, from and to, in seconds; nothing long where the program had stopped."""
    gaps = [event for event in events if isinstance(event, Gap)]
    return tuple((gap.from_s, gap.from_s if gap.to_s is None else gap.to_s) for gap in gaps)


def signatures_of(events: Iterable[Event]) -> list[Signed]:
    """Return the signatures, in order: the first is the note's, later ones are addenda."""
    return [event for event in events if isinstance(event, Signed)]


def replay(
    events: Sequence[Event], reader: Reader, *, heard: Heard | None = None, concluded: bool = False
) -> Replayed:  # fmt: skip
    """Return the exam that a journal tells of. The same events and lexicon give the same note.

    Args:
        events: of the journal, in order.
        reader: of the lexicon to read the words with.
        heard: the fold over all utterances of a running exam, where it is at hand; else it is made here.
        concluded: `heard` was concluded already (`dictate.note.fold.conclude`), which takes time in a long exam.

    Raises:
        JournalError: the journal does not begin with the opening of an exam.
    """
    opened = opened_of(events)
    said = utterances_of(events)
    ending = ending_of(events)
    if heard is None:
        typed = opened.source == "text"  # then the whole is known from the start
        ahead = said if typed else ()
        heard = start(reader, region=opened.region, injured_side=opened.injured_side, said=ahead)
        heard, concluded = fold(said, reader, heard=heard), typed
    if not concluded and ending is not None:
        heard = conclude(heard, said, reader, region=opened.region, injured_side=opened.injured_side)
    drafts = [Draft(entry.finding, entry.term) for entry in heard.state.entries]
    keys = keys_of([entry.utterance for entry in heard.state.entries])
    items = apply_edits(drafts, keys, standing_edits(events), reader.lexicon)
    return with_items(
        items, opened=opened, utterances=said, heard=heard, ending=ending, reader=reader, unheard=unheard_in(events)
    )


def with_items(
    items: Sequence[Item], *, opened: Opened, utterances: tuple[Utterance, ...], heard: Heard, ending: Closed | None,
    reader: Reader, unheard: Sequence[tuple[float, float]] = (),
) -> Replayed:  # fmt: skip
    """Return the exam whose findings are `items`: what of the note is derived from them is derived here."""
    shown = [item for item in items if item.present]
    seconds = ending.seconds if ending is not None else None
    note = assemble(
        heard.state, lexicon=reader.lexicon, source=opened.source, seconds=seconds, region=opened.region,
        injured_side=opened.injured_side, age=opened.age, sex=opened.sex,
        introduced_late=heard.introduced_late, passed_over=len(heard.passed_over),
        unheard=unheard, review=lambda _: [item.draft for item in shown],
    )  # fmt: skip
    return Replayed(
        opened=opened, note=note, items=tuple(items), shown=tuple(shown), utterances=utterances, heard=heard,
        closed=ending is not None, seconds=seconds,
    )  # fmt: skip
