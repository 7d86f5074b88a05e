"""A finding typed as one would say it is read from where the exam stood."""

import pytest

from dictate.errors import DictateError
from dictate.interface import reader_of
from dictate.review.reading import read_words
from dictate.review.typed import Typed, read_typed
from tests.support.exams import kept_exam


@pytest.fixture
def said(tmp_path):
    _, journal = kept_exam(
        tmp_path, ["Right knee. Palpation.", "Medial joint line tender.", "Left knee. Active flexion one twenty."]
    )
    return read_words(journal.events, reader_of(None))


def read(said, text, **where):
    return read_typed(Typed(text=text, **where), said, reader_of(None))


def test_the_side_is_that_of_the_place_where_it_is_added(said):
    assert [read(said, "lateral joint line tender", utterance=place)[0].side for place in (1, 2)] == ["right", "left"]


def test_without_a_place_it_comes_after_the_end(said):
    assert read(said, "lateral joint line tender")[0].side == "left"


def test_several_findings_are_several(said):
    assert len(read(said, "right extension zero, flexion one thirty")) == 2


def test_talk_records_nothing(said):
    assert read(said, "bend your knee for me") == []


def test_empty_words_record_nothing(said):
    assert read(said, "   ") == []


def test_words_in_the_place_of_a_finding_have_its_section_and_side(said):
    now = read(said, "right active flexion one ten", utterance=1)[0]
    found = read_typed(Typed(text="flexion one fifteen", key="u2.0"), said, reader_of(None), now=now)[0]
    assert (found.section, found.side, found.degrees) == ("active_motion", "right", 115)


def test_a_correction_of_something_earlier_is_refused(said):
    with pytest.raises(DictateError, match="change that one"):
        read(said, "no, one thirty", utterance=2)
