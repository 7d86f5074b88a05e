"""Tokens: words in the form in which they are matched, with their place among the words spoken."""

from __future__ import annotations

import pytest

from dictate.language.tokens import COMMA, NO_BREAK, QUESTION, STOP, Token
from tests.support.reading import reader


def tokens(text: str) -> list[Token]:
    return reader().tokeniser.tokens(text.split())


def norms(text: str) -> list[str]:
    return [token.norm for token in tokens(text)]


@pytest.mark.parametrize(
    ("said", "matched"),
    [
        ("Lachman's negative", ["lachman", "negative"]),
        ("McMurray’s", ["mcmurray"]),
        ("joint lines", ["joint", "line"]),
        ("pes", ["pes"]),
        ("don't", ["do", "not"]),
        ("can't", ["can", "not"]),
        ("isn't", ["is", "not"]),
        ("L3-S1", ["l3", "to", "s1"]),
        ("L4/L5", ["l4", "and", "l5"]),
        ("L4/5", ["l4/5"]),
        ("0-135", ["0", "to", "135"]),
        ("5-0-140", ["5", "to", "0", "to", "140"]),
        ("1-12", ["112"]),
        ("4+/5", ["4", "plus", "over", "5"]),
        ("4-", ["4", "minus"]),
        ("-10", ["minus", "10"]),
        ("(tender)", ["tender"]),
    ],
)
def test_words_as_matched(said: str, matched: list[str]) -> None:
    assert norms(said) == matched


@pytest.mark.parametrize(
    ("said", "breaks"),
    [
        ("no swelling, no bruising.", [NO_BREAK, COMMA, NO_BREAK, STOP]),
        ("does that hurt?", [NO_BREAK, NO_BREAK, QUESTION]),
        ("flexion… one thirty", [COMMA, NO_BREAK, NO_BREAK]),
        ("flexion - one thirty", [COMMA, NO_BREAK, NO_BREAK]),
        ("medial; lateral", [STOP, NO_BREAK]),
    ],
)
def test_breaks(said: str, breaks: list[str]) -> None:
    assert [token.break_after for token in tokens(said)] == breaks


def test_places_point_at_the_words_spoken() -> None:
    assert [token.word for token in tokens("Lachman isn't 2+ today")] == [0, 1, 1, 2, 2, 3]


@pytest.mark.parametrize("text", ["", " ", "...", "-", "?!,", "“”", "🦵", "\u200b", "\u202eabc"])
def test_what_holds_no_words(text: str) -> None:
    assert all(token.norm for token in tokens(text))


def test_punctuation_that_is_dictated_by_name() -> None:
    read = tokens("Right knee period no effusion comma no warmth full stop MCL colon tender new paragraph")
    assert [token.text for token in read] == ["right", "knee", "no", "effusion", "no", "warmth", "mcl", "tender"]
    assert [token.break_after for token in read] == ["", STOP, "", COMMA, "", STOP, COMMA, STOP]
    assert [token.heads for token in read].index(True) == 6


@pytest.mark.parametrize("text", ["over a period of six weeks", "he came to a full stop", "the period pain"])
def test_an_everyday_word_is_no_punctuation(text: str) -> None:
    assert [token.text for token in tokens(text)] == text.split()
