"""Confidence falls with each reason for doubt and with unclear words, and stays a probability."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.contract import Doubt, DoubtReason, Finding
from dictate.note.confidence import FACTOR, START, confidence

REASONS: tuple[DoubtReason, ...] = get_args(DoubtReason)


def doubted(*reasons: DoubtReason) -> Finding:
    doubts = [Doubt(reason=reason, detail="x") for reason in reasons]
    return Finding(section="palpation", region="knee", finding="tenderness", doubts=doubts)


def test_every_reason_has_its_factor() -> None:
    assert set(FACTOR) == set(REASONS)


def test_a_clear_finding_without_a_doubt() -> None:
    assert confidence(doubted()) == START


@pytest.mark.parametrize("reason", REASONS)
def test_every_reason_lowers_it(reason: DoubtReason) -> None:
    assert confidence(doubted(reason)) < START


def test_a_reason_counts_once() -> None:
    assert confidence(doubted("conflicts", "conflicts")) == confidence(doubted("conflicts"))


def test_unclear_words_lower_it() -> None:
    assert confidence(doubted(), clarity=0.2) < confidence(doubted(), clarity=0.9) < START


@given(st.sets(st.sampled_from(REASONS)), st.sampled_from(REASONS), st.floats(0, 1))
def test_one_more_reason_never_raises_it(reasons: set[DoubtReason], more: DoubtReason, clarity: float) -> None:
    before = confidence(doubted(*reasons), clarity=clarity)
    after = confidence(doubted(*reasons, more), clarity=clarity)
    assert 0 <= after <= before <= 1
