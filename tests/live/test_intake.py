"""Sound from a page arrives once and in order, and what is missing is told."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dictate.live.intake import BadSound, Intake, MicrophoneTaken

PAGE, OTHER = object(), object()


class Heard:
    """An intake with what came of it; `now` is its clock."""

    def __init__(self) -> None:
        self.samples, self.missed, self.now = bytearray(), [], 0.0
        self.intake = Intake(self.samples.extend, self.missed.append, clock=lambda: self.now)

    def numbers(self) -> list[int]:
        return list(struct.unpack(f"<{len(self.samples) // 2}h", self.samples))


def piece(first: int, count: int = 4) -> bytes:
    """Return a message whose samples are their own numbers."""
    return struct.pack(f"<Q{count}h", first, *range(first, first + count))


@pytest.fixture
def heard() -> Heard:
    heard = Heard()
    heard.intake.begin(PAGE, "stream-1", sample=0)
    return heard


def test_pieces_are_taken_in_order(heard):
    heard.intake.message(PAGE, piece(0))
    assert heard.intake.message(PAGE, piece(4)) == 8
    assert heard.numbers() == list(range(8))


def test_a_piece_that_came_before_is_not_taken_again(heard):
    for first in (0, 4, 0, 4, 8):
        heard.intake.message(PAGE, piece(first))
    assert heard.numbers() == list(range(12))


def test_of_a_piece_that_came_in_part_the_rest_is_taken(heard):
    heard.intake.message(PAGE, piece(0))
    heard.intake.message(PAGE, piece(2))
    assert heard.numbers() == list(range(6))


def test_missing_samples_are_told_in_seconds(heard):
    heard.intake.message(PAGE, piece(0))
    heard.intake.message(PAGE, piece(4 + 8000))
    assert heard.missed == [0.5]


def test_a_page_that_is_back_goes_on_where_it_was(heard):
    heard.intake.message(PAGE, piece(0))
    heard.intake.leave(PAGE)
    assert heard.intake.begin(OTHER, "stream-1", sample=0) == 4


def test_a_page_may_be_back_before_its_absence_was_noticed(heard):
    heard.intake.message(PAGE, piece(0))
    assert heard.intake.begin(OTHER, "stream-1", sample=0) == 4


def test_while_one_page_gives_sound_another_may_not(heard):
    with pytest.raises(MicrophoneTaken):
        heard.intake.begin(OTHER, "stream-2", sample=0)


def test_after_one_page_has_gone_another_may(heard):
    heard.intake.leave(PAGE)
    assert heard.intake.begin(OTHER, "stream-2", sample=0) == 0


def test_the_pause_between_two_pages_is_told(heard):
    heard.intake.message(PAGE, piece(0))
    heard.intake.leave(PAGE)
    heard.now = 7.0
    heard.intake.begin(OTHER, "stream-2", sample=0)
    assert heard.missed == [7.0]


def test_sound_of_a_page_that_was_not_asked_is_refused(heard):
    with pytest.raises(BadSound):
        heard.intake.message(OTHER, piece(0))


@pytest.mark.parametrize("message", [b"", b"1234567", piece(0) + b"x"])
def test_a_damaged_message_is_refused(heard, message):
    with pytest.raises(BadSound):
        heard.intake.message(PAGE, message)


def test_a_piece_that_waits_to_be_taken_is_no_silence():
    seen: list[float | None] = []
    now = 0.0

    def take(samples: bytes) -> None:
        nonlocal now
        now = 30.0
        seen.append(intake.quiet_for_s)

    intake = Intake(take, seen.append, clock=lambda: now)
    intake.begin(PAGE, "stream-1", sample=0)
    intake.message(PAGE, piece(0))
    assert seen == [0.0]


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 20)), max_size=40))
def test_whatever_is_sent_again_no_sample_comes_twice_or_out_of_order(pieces):
    heard = Heard()
    heard.intake.begin(PAGE, "stream-1", sample=0)
    for first, count in pieces:
        heard.intake.message(PAGE, piece(first, count))
    numbers = heard.numbers()
    assert numbers == sorted(set(numbers))


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 20)), max_size=40))
def test_what_came_and_what_is_missing_add_up(pieces):
    heard = Heard()
    wanted = heard.intake.begin(PAGE, "stream-1", sample=0)
    for first, count in pieces:
        wanted = heard.intake.message(PAGE, piece(first, count))
    assert len(heard.numbers()) + round(sum(heard.missed) * 16_000) == wanted
