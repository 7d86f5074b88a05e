"""Read the cases of the tests with the program as it is: in a corpus's context, or from nothing, as a note."""

from __future__ import annotations

from functools import cache

from dictate import interpret, lexicon_corpus
from dictate.contract import Finding
from dictate.language.reader import Reader
from dictate.language.state import Context, State
from dictate.lexicon.load import load_lexicon
from dictate.lexicon_corpus import context_of
from dictate.note.checks import checked
from tests.support.cases import Case
from tests.support.scoring import Score, settled

__all__ = ["context_of", "findings", "findings_in_context", "findings_of_note", "read", "reader", "score"]


@cache
def reader() -> Reader:
    """Return the reader of the built-in lexicon, made once."""
    return Reader(load_lexicon())


def read(text: str, *, context: Context | None = None) -> State:
    """Return the state after a text, one utterance a line; without a context, from what the whole text is about."""
    return lexicon_corpus.read(text, reader(), context=context)


def findings_in_context(case: Case) -> list[Finding]:
    """Return what a corpus's phrase gives in its context."""
    return read(case.said, context=context_of(case)).findings()


def findings_of_note(case: Case) -> list[Finding]:
    """Return what a narration gives when nothing is known of it beforehand, doubts of the whole note included."""
    return list(_interpreted(case.said))


@cache  # several tests ask the same of one narration, which is never changed
def _interpreted(text: str) -> tuple[Finding, ...]:
    return tuple(interpret(text).findings)


def findings(text: str) -> list[Finding]:
    """Return what a text gives from nothing, with the doubts that only the whole note raises."""
    return checked(read(text).findings())


def score(case: Case, got: list[Finding], *, into: Score) -> None:
    """Count one case, what the scribe's rules leave open left out."""
    expected = settled(case.findings, got, case.open_fields) if case.open_fields else case.findings
    into.add(expected, got, name=case.name)
