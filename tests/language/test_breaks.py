"""A line without punctuation is read by breaks put back; what only that reading gives is doubted."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest

from dictate.errors import LexiconError
from dictate.language.breaks import LONGEST_UNBROKEN, BreakRestorer
from dictate.language.tokens import STOP
from tests.support.cases import heldout, unpunctuated
from tests.support.reading import findings, reader

ONE_LINE = (
    "this is the left shoulder there's no wasting and no bruising the coracoid is a bit tender how's that fine "
    "active movement flexion one forty abduction ninety with pain we'll get you another week in the sling"
)


def broken(line: str) -> str:
    tokens = reader().tokeniser.tokens(line.split())
    restored = reader().breaks.restored(tokens)
    return " ".join(token.text + token.break_after for token in restored or tokens)


def test_sentence_ends_are_put_back() -> None:
    assert "left shoulder. there's no wasting" in broken(ONE_LINE)
    assert "with pain. we'll get you" in broken(ONE_LINE)


@pytest.mark.parametrize(
    "line",
    [
        "moderate effusion medial joint line tender",  # short: the grammar parts it
        ONE_LINE.replace("bruising the", "bruising, the"),  # whoever gave that comma would have given the others
    ],
)
def test_other_lines_stay_as_they_are(line: str) -> None:
    assert reader().breaks.restored(reader().tokeniser.tokens(line.split())) is None


def test_words_that_turn_to_a_side_begin_a_sentence() -> None:
    line = "right shoulder rotation eighty left flexion one eighty abduction one seventy back to the right drop arm"
    assert "one seventy. back to the right" in broken(line)


def test_findings_keep_their_words() -> None:
    said = [finding.said for finding in findings(ONE_LINE)]
    assert said
    assert all(words in ONE_LINE for words in said)


def test_what_one_reading_gives_is_doubted() -> None:
    """Every finding of a long unbroken line that the reading without breaks lacks has a doubt."""
    line = unpunctuated(heldout("later")[0].said).replace("\n", " ")
    got = findings(line)
    tokens = reader().tokeniser.tokens(line.split())
    assert len(tokens) > LONGEST_UNBROKEN
    assert any(d.detail.startswith("nothing marked") for finding in got for d in finding.doubts)


def test_a_damaged_model_is_named(tmp_path: Path) -> None:
    path = tmp_path / "breaks.crfsuite"
    with pytest.raises(LexiconError, match=re.escape(str(path))):
        BreakRestorer(path, reader().finder)
    path.write_bytes(b"no model")
    with pytest.raises(LexiconError, match=re.escape(str(path))):
        BreakRestorer(path, reader().finder)


def test_a_break_stands_between_words_never_inside_one() -> None:
    for case in heldout("final"):
        tokens = reader().tokeniser.tokens(unpunctuated(case.said).split())
        restored = reader().breaks.restored(tokens) or tokens
        inside = [a.break_after for a, b in pairwise(restored) if a.word == b.word]
        assert not any(inside)
        assert [token.norm for token in restored] == [token.norm for token in tokens]
        assert STOP in {token.break_after for token in restored} or len(tokens) < 3 * LONGEST_UNBROKEN
