"""Laws that hold for any text: reading never raises, idle talk changes nothing, what was read stays read."""

from __future__ import annotations

import random
import time
from functools import cache

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from dictate.contract import Finding
from dictate.language.state import State
from dictate.recognise.events import Utterance
from tests.language.pools import NARRATION, idle_talk, plain_idle_talk, vocabulary
from tests.support.cases import fixtures, heldout
from tests.support.floors import floors
from tests.support.reading import findings, read, reader
from tests.support.scoring import key
from tests.support.show import show

FOUND = (
    Phase.explicit,
    Phase.reuse,
    Phase.generate,
)  # no shrinking: it takes minutes, and a failure is readable as it is
known_words = st.sampled_from(vocabulary())
odd_words = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        [
            "–",
            "…",
            "2+",
            "4-/5",
            "-10",
            "L5/S1",
            "1-12",
            "5-0-140",
            "°",
            "no,",
            "sorry,",
            "½",
            "٣",
            "İ",
            "ß",
            "\u200b",
            "'s",
        ]
    ),
    st.integers(-(10**30), 10**30).map(str),
)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=400))
def test_reading_never_raises_on_any_text(text: str) -> None:
    assert read(text).words >= 0


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(st.one_of(known_words, odd_words), max_size=25), max_size=6))
def test_reading_never_raises_on_words_of_the_trade_in_any_order(lines: list[list[str]]) -> None:
    found = findings("\n".join(" ".join(words) for words in lines))
    assert all(0 <= finding.confidence <= 1 for finding in found)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.one_of(known_words, odd_words), max_size=30))
def test_reading_is_the_same_every_time(words: list[str]) -> None:
    assert read(" ".join(words)) == read(" ".join(words))


def test_ten_thousand_words_in_one_line() -> None:
    rng = random.Random(5)
    words = rng.choices(vocabulary(), k=10_000)
    started = time.process_time()
    state = read(" ".join(words))
    assert state.words == 10_000
    assert time.process_time() - started < 60


@settings(max_examples=60, deadline=None, phases=FOUND)
@given(st.data())
def test_idle_talk_leaves_the_findings_alone(data: st.DataObject) -> None:
    """Talk that is not a finding, put anywhere between the sentences of a narration, any number of times."""
    talk = st.lists(st.sampled_from(plain_idle_talk()), max_size=2)
    lines = []
    for line in NARRATION:
        lines += [line, *data.draw(talk)]
    changed = [key(finding) for finding in findings("\n".join(lines))] != _alone()
    assert not changed, [line for line in lines if line not in NARRATION]


def test_every_idle_sentence_in_every_place(capsys: pytest.CaptureFixture[str]) -> None:
    """The share of all idle sentences, those that speak of sides and places too, that may stand anywhere."""
    disturbing = []
    for number, piece in enumerate(idle_talk()):
        place = 1 + number % (len(NARRATION) - 1)
        lines = [*NARRATION[:place], piece, *NARRATION[place:]]
        if [key(finding) for finding in findings("\n".join(lines))] != _alone():
            disturbing.append(f"  after “{NARRATION[place - 1]}”: “{piece}”")
    share = 1 - len(disturbing) / len(idle_talk())
    show(capsys, f"idle talk between findings: {share:.3f} of {len(idle_talk())} sentences change nothing", *disturbing)
    assert len(idle_talk()) >= 50
    assert len(plain_idle_talk()) >= 30
    assert share >= floors()["properties"]["idle_talk"]


@cache
def _alone() -> list[tuple[object, ...]]:
    return [key(finding) for finding in findings("\n".join(NARRATION))]


NARRATIONS = {
    case.name: case.said.splitlines()
    for case in [*heldout("knee"), *heldout("regions"), *fixtures()]
    if len(case.said.splitlines()) > 3
}


@settings(max_examples=60, deadline=None, phases=FOUND)
@given(st.sampled_from(sorted(NARRATIONS)), st.floats(0, 1))
def test_the_note_of_a_prefix_is_a_prefix_of_the_note(name: str, share: float) -> None:
    """What a finding is about and its number stay, unless the note says what was replaced or it was withdrawn."""
    lines = NARRATIONS[name]
    start = round(share * len(lines))
    state = read("\n".join(lines[:start]))
    for line in lines[start : start + 8]:
        after = reader().step(state, Utterance.of_text(line))
        kept = _kept(state, after) or _takes_back(line)
        assert kept, line
        state = after


def _kept(before: State, after: State) -> bool:
    """Whether the findings read so far are still there, in their places; what was open may have been filled in."""
    old, new = before.findings(), after.findings()
    if len(new) < len(old):
        return False
    return all(mine.replaced or _still(other, mine) for other, mine in zip(old, new, strict=False))


def _still(old: Finding, new: Finding) -> bool:
    names = ("finding", "structure", "degrees")
    return all(getattr(old, name) in (None, getattr(new, name)) for name in names)


def _takes_back(line: str) -> bool:
    """Whether a line says words that take something back: cues of withdrawal or repair."""
    tokens = reader().tokeniser.tokens(line.split())
    _, talk = reader().finder.find(tokens, regions=reader().resolver.near("knee"))
    return any(mention.cue("withdraw") or mention.cue("repair") for mention in talk)
