"""Read the cases of the tests with the program as it is: in a corpus's context, or from nothing, as a note."""

from __future__ import annotations

from functools import cache

from dictate import interpret
from dictate.contract import Finding
from dictate.language.reader import Reader
from dictate.language.state import Context, State
from dictate.lexicon.load import load_lexicon
from dictate.note.checks import checked
from dictate.recognise.events import Utterance
from tests.support.cases import Case
from tests.support.scoring import Score, settled


@cache
def reader() -> Reader:
    """Return the reader of the built-in lexicon, made once."""
    return Reader(load_lexicon())


def context_of(case: Case) -> Context:
    """Return the context that a corpus states for a phrase."""
    side = case.context.get("side")
    return Context(
        region=case.context.get("region", "knee"),
        region_said=True,
        section=case.context.get("section"),
        side="" if side in (None, "none") else side,
    )


def read(text: str, *, context: Context | None = None) -> State:
    """Return the state after a text, one utterance a line; without a context, from what the whole text is about."""
    utterances = [Utterance.of_text(line) for line in text.split("\n") if line.strip()]
    state = State(context=context) if context else reader().open(utterances)
    for utterance in utterances:
        state = reader().step(state, utterance)
    return state


def findings_in_context(case: Case) -> list[Finding]:
    """Return what a corpus's phrase gives in its context."""
    return read(case.said, context=context_of(case)).findings()


def findings_of_note(case: Case) -> list[Finding]:
    """Return what a narration gives when nothing is known of it beforehand, doubts of the whole note included."""
    return interpret(case.said).findings


def findings(text: str) -> list[Finding]:
    """Return what a text gives from nothing, with the doubts that only the whole note raises."""
    return checked(read(text).findings())


def score(case: Case, got: list[Finding], *, into: Score) -> None:
    """Count one case, what the scribe's rules leave open left out."""
    expected = settled(case.findings, got, case.open_fields) if case.open_fields else case.findings
    into.add(expected, got, name=case.name)
