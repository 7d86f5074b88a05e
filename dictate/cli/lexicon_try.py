"""Show how one phrase is read: every layer between the words and the findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from dictate.contract import Region, Section
from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.reader import Reader
from dictate.language.segment import Division
from dictate.language.state import Context, State
from dictate.language.stated import clauses_of
from dictate.language.talk import kinds_of_talk
from dictate.language.tokens import Token
from dictate.lexicon.load import Lexicon
from dictate.note.describe import finding_name, side_text, value_words
from dictate.recognise.events import Utterance


def steps(phrase: str, lexicon: Lexicon, *, region: Region, section: Section | None, side: str | None) -> Iterator[str]:
    """Yield the lines that explain how a phrase is read in a place of an exam."""
    reader = Reader(lexicon)
    context = Context(region=region, region_said=True, section=section, side=side or "", last_side=side or "")
    state = State(context=context)
    plain = reader.tokens(phrase.split())
    restored = reader.breaks.restored(plain)
    tokens = restored or plain
    yield f"words     {' '.join(token.norm + token.break_after for token in tokens)}"
    if restored:
        yield "breaks    put back; the frames below are those of both readings, without the breaks and with them"
    repaired = reader.mentions(tokens, state)
    for mention in repaired.content:
        yield f"mention   {_words(tokens, mention.start, mention.end)}: {_meaning(mention)}"
    for mention in repaired.talk:
        yield f"steering  {_words(tokens, mention.start, mention.end)}: {_meaning(mention)}"
    for replacement in repaired.replacements:
        old, new = replacement.reparandum, replacement.repair
        first, then = _words(tokens, old.start, old.end), _words(tokens, new.start, new.end)
        yield f"repair    {first} -> {then} ({replacement.type})"
    kinds = kinds_of_talk(repaired.tokens, repaired.talk, repaired.content, reader.general)
    for kind, words in _runs(tokens, kinds):
        yield f"talk      {kind}: {words}"
    clauses = clauses_of(repaired, kinds)
    likely, _ = reader.statements.likelihoods(clauses, state.heard)
    for clause, likelihood in zip(clauses, likely, strict=True):
        if clause.names:
            yield f"stated    {likelihood:.0%} likely: {_words(tokens, clause.start, clause.end)}"
    watched = _Watched(reader.segmenter)
    reader.segmenter = watched  # type: ignore[assignment]
    after = reader.step(state, Utterance.of_text(phrase))
    for division in watched.divisions:
        for frame in division.frames:
            yield f"frame     {' | '.join(_item(item, tokens) for item in frame.items)}  (cost {division.cost:.2f})"
    for entry in after.entries:
        finding = entry.finding
        doubts = "".join(f"  [{doubt.reason}: {doubt.detail}]" for doubt in finding.doubts)
        where = " ".join(part for part in (finding.section.replace("_", " "), side_text(finding)) if part)
        yield f"finding   {finding_name(finding, region)}: {value_words(finding) or 'no value'} ({where}){doubts}"
    if not after.entries:
        yield "finding   none"


class _Watched:
    """The segmenter, with the divisions that it chose kept to be shown."""

    def __init__(self, segmenter: Any) -> None:
        self._segmenter = segmenter
        self.margin = segmenter.margin
        self.divisions: list[Division] = []

    def divide(self, items: Sequence[Item], tokens: Sequence[Token]) -> list[Division]:
        divisions: list[Division] = self._segmenter.divide(items, tokens)
        self.divisions += divisions[:1]
        return divisions


def _words(tokens: Sequence[Token], start: int, end: int) -> str:
    return f'"{" ".join(token.text for token in tokens[start:end])}"'


def _meaning(mention: Mention) -> str:
    parts = [
        f"{sense.term.kind} {sense.term.label} ({sense.shape})" if sense.term
        else f"{sense.cue.type}{f' {sense.cue.value}' if sense.cue.value else ''}" if sense.cue
        else f"{sense.shape} {sense.value}".strip()
        for sense in mention.senses
    ]  # fmt: skip
    if mention.quantity:
        parts.append(f"quantity {mention.quantity.value:g} {mention.quantity.unit or ''}".strip())
    if mention.levels:
        parts.append(f"levels {', '.join(mention.levels)}")
    if mention.restored:
        parts.append(f"restored as {mention.restored}")
    return "; ".join(dict.fromkeys(parts))


def _item(item: Item, tokens: Sequence[Token]) -> str:
    role = f" as {item.role}" if item.role else ""
    return f"{item.kind}{role} {_words(tokens, item.start, item.end)}"


def _runs(tokens: Sequence[Token], kinds: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield each stretch of one kind of talk with its words."""
    start = 0
    for place in range(1, len(kinds) + 1):
        if place == len(kinds) or kinds[place] != kinds[start]:
            yield kinds[start], _words(tokens, start, place)
            start = place
