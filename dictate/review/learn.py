"""What corrections teach: a term that was misheard in the same way twice is offered, and only offered, for learning."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from dictate.contract import Finding, Region
from dictate.journal.edits import names_put_right
from dictate.journal.events import Edited, Event
from dictate.journal.exam import ExamFolder
from dictate.journal.journal import read_journal
from dictate.journal.replay import opened_of, utterances_of
from dictate.language.mentions import Mention
from dictate.language.reader import Reader
from dictate.language.state import Context, State
from dictate.lexicon.model import Term
from dictate.recognise.events import Utterance
from dictate.review.reading import utterance_number

OFTEN_ENOUGH = 2  # corrections of the same mishearing before it is offered
_OF_STRUCTURES = frozenset({"structure", "reflex", "pulse"})
_SHORTEST_LETTERS = 4
_EVERYDAY_ZIPF = 3.0  # once in a million words: said for themselves now and then
_COMMON_ZIPF = 4.7  # once in twenty thousand: such words are said all the time


@dataclass(frozen=True, slots=True)
class Correction:
    """One time that a person put a term in the place of what was heard."""

    heard: str  # the words, as the lexicon spells wordings
    term: Term
    exam: str
    edit: Edited
    sentence: str
    region: Region


@dataclass(frozen=True)
class Offer:
    """A mishearing that could be learned."""

    heard: str
    term: Term
    corrections: tuple[Correction, ...] = field(default=())
    everyday: bool = False  # the words are ordinary ones, which may also be said for themselves

    @property
    def id(self) -> str:
        """What names it on the page."""
        named = f"{self.heard}\n{self.term.kind}\n{self.term.label}\n{','.join(self.term.regions)}"
        return hashlib.sha256(named.encode()).hexdigest()[:16]


class Lessons:
    """What exams teach. An exam is read again only when its journal changed: many exams were corrected in a year."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._read: dict[Path, tuple[tuple[int, int], tuple[Correction, ...]]] = {}

    def offers(self, folders: Iterable[ExamFolder]) -> list[Offer]:
        """Return what could be learned from all corrections in these exams, the most often corrected first."""
        found: dict[tuple[str, str, str, tuple[str, ...]], list[Correction]] = {}
        for folder in folders:
            for one in self._corrections(folder):
                key = (one.heard, one.term.kind, one.term.label, one.term.regions)
                found.setdefault(key, []).append(one)
        return sorted(
            (
                Offer(many[0].heard, many[0].term, tuple(many), _everyday(many[0].heard))
                for many in found.values()
                if len(many) >= OFTEN_ENOUGH
            ),
            key=lambda offer: -len(offer.corrections),
        )

    def _corrections(self, folder: ExamFolder) -> tuple[Correction, ...]:
        path = folder.journal_path
        state = path.stat()
        stamp = (state.st_size, state.st_mtime_ns)
        known = self._read.get(path)
        if known is None or known[0] != stamp:
            known = self._read[path] = (stamp, tuple(corrections(read_journal(path).events, self._reader)))
        return known[1]


def corrections(events: Sequence[Event], reader: Reader) -> Iterator[Correction]:
    """Yield the corrections of names in one exam, where it is known which words were misheard."""
    renamed = names_put_right(events)
    if not renamed:
        return
    opened, said = opened_of(events), utterances_of(events)
    for one in renamed:
        number = utterance_number(one.edit.item)
        if number is None or number >= len(said):
            continue
        regions = [region for region in (opened.region, one.after.region, one.before.region) if region]
        heard = _words_for(one.was, said[number], one.before, regions, reader)
        term = _term(one.now, one.field, one.after, reader)
        if heard and term and _learnable(heard, term, reader):
            yield Correction(heard, term, opened.exam, one.edit, said[number].text, one.after.region)


def _words_for(
    label: str, said: Utterance, finding: Finding, regions: Sequence[Region], reader: Reader
) -> str | None:  # fmt: skip
    """Return the words of an utterance that were read as a label."""
    tokens = reader.tokeniser.tokens([word.text for word in said.words])
    for region in dict.fromkeys(regions):
        context = Context(region=region, region_said=True, section=finding.section)
        mentions = reader.mentions(tokens, State(context=context)).content
        named = [mention for mention in mentions if _names(mention, label)]
        if len({" ".join(t.norm for t in tokens[m.start : m.end]) for m in named}) == 1:
            return " ".join(token.norm for token in tokens[named[0].start : named[0].end])
    return None


def _names(mention: Mention, label: str) -> bool:
    return mention.restored == label or any(
        sense.term is not None and sense.term.label == label for sense in mention.senses
    )


def _term(label: str, name: str, finding: Finding, reader: Reader) -> Term | None:
    fits = [
        term
        for term in reader.lexicon.terms
        if term.label == label
        and (term.kind in _OF_STRUCTURES) == (name == "structure")
        and (not term.regions or finding.region in term.regions)
    ]
    return fits[0] if fits else None


def _learnable(heard: str, term: Term, reader: Reader) -> bool:
    """Whether words may be learned as a mishearing: new to the term, no wording of anything, and not too common."""
    words = heard.split()
    if sum(map(len, words)) < _SHORTEST_LETTERS or heard in {
        " ".join(reader.tokeniser.norms(w)) for w in term.heard_as
    }:
        return False
    if any(not sense.heard for sense in reader.index.senses.get(heard, ())):
        return False  # a real name or value, here or in another region: what it is said of is for the doubts to ask
    if all(word.isdigit() for word in words):
        return False
    return not all(_zipf(word) >= _COMMON_ZIPF for word in words)


def _everyday(heard: str) -> bool:
    return all(_zipf(word) >= _EVERYDAY_ZIPF for word in heard.split())


def _zipf(word: str) -> float:
    from wordfreq import zipf_frequency  # its tables take time to read

    return float(zipf_frequency(word, "en"))
