"""What else a finding may have been: from other readings, from the doubts, from slips, and what is easily confused.

Numbers that sound alike (thirteen and thirty, …): common practice, no source.
"""

import pytest

from dictate.interface import reader_of
from dictate.journal.edits import same_meaning
from dictate.review.alternatives import MOST, Chooser
from dictate.review.labels import Labels
from dictate.review.reading import read_words
from tests.review.exams import also, unclear
from tests.support.exams import kept_exam, timed, told


@pytest.fixture(scope="module")
def chooser():
    reader = reader_of(None)
    return Chooser(reader, Labels.of(reader.lexicon))


@pytest.fixture
def others(chooser, tmp_path):
    """What else the last finding of some utterances may have been."""

    def work(*said):
        _, journal = kept_exam(tmp_path, said)
        read = read_words(journal.events, chooser.reader)
        replayed = told(journal)
        finding, item = replayed.note.findings[-1], replayed.shown[-1]
        return finding, chooser.alternatives(item.key, finding, read, region=replayed.note.exam.region)

    return work


def test_another_reading_of_the_sound_comes_first(others):
    said = timed("Right knee, flexion one fifteen.", start_s=0)
    _, found = others(also(unclear(said, "fifteen"), "Right knee, flexion one fifty."))
    assert found[0].finding.degrees == 150 and "another reading" in found[0].why


def test_what_the_doubt_suggests_is_offered(others):
    _, found = others("Right knee, active flexion two hundred and fifteen.")
    assert found[0].finding.degrees == 115


def test_a_structure_of_another_region_may_be_one_of_this_region(others):
    _, found = others("Right knee. Palpation.", "The supraspinatus is non-tender.")
    assert (found[0].finding.structure, found[0].finding.region) == ("suprapatellar pouch", "knee")


def test_the_side_examined_is_the_first_thing_a_wrong_side_may_be(others):
    _, found = others("Right knee. Special tests.", "Left Lachman negative.")
    assert found[0].finding.side == "right"


def test_what_was_said_first_is_offered_again(others):
    _, found = others("Right knee, flexion one twenty, no, one thirty.")
    assert any(other.finding.degrees == 120 and other.why.startswith("said first") for other in found)


def test_fifteen_may_have_been_fifty(others):
    _, found = others("Right knee, active flexion fifty.")
    assert 15 in {other.finding.degrees for other in found}


def test_extension_may_have_the_other_sign(others):
    _, found = others("Right knee, active extension lacks ten degrees.")
    assert 10 in {other.finding.degrees for other in found}


def test_a_grade_may_be_its_neighbour(others):
    _, found = others("Right knee. Quadriceps strength four minus out of five.")
    assert "4" in {other.finding.grade.value for other in found}


def test_medial_may_be_lateral(others):
    _, found = others("Right knee. Medial joint line tender.")
    assert "lateral joint line" in {other.finding.structure for other in found}


def test_what_was_restored_may_be_another_term_that_sounds_like_it(others):
    _, found = others("Right knee. Palpation.", "Medial jointline tender.")
    assert any(other.why == "sounds like what was heard" for other in found)


def test_gait_gets_no_side(others):
    _, found = others(unclear(timed("Right knee. Gait normal.", start_s=0), "gait"))
    assert {other.finding.side for other in found} == {None}


@pytest.mark.parametrize(
    "said",
    [
        "Right knee, flexion one fifteen.",
        "Right knee. Medial jointline tender.",
        "Right knee. Patellar reflex two plus.",
    ],
)
def test_every_alternative_is_another_meaning_and_there_is_a_key_for_each(others, said):
    finding, found = others(said)
    assert len(found) <= MOST
    meanings = [finding, *(other.finding for other in found)]
    assert not any(same_meaning(a, b) for place, a in enumerate(meanings) for b in meanings[:place])


def test_where_it_came_from_stays(others):
    finding, found = others(
        also(timed("Right knee, flexion one fifteen.", start_s=3), "Right knee, flexion one fifty.")
    )
    assert {(other.finding.said, other.finding.time) for other in found} == {(finding.said, finding.time)}
