"""Signing: who, what is frozen, and what has to be decided before."""

import pytest

from dictate.cli.review_exams import IndexedExams
from dictate.errors import DictateError
from dictate.journal.signing import check, digest_of
from dictate.review.actions import Decision
from dictate.review.desk import Stale, version_of
from dictate.review.exams import Wanted
from dictate.review.sign import Signature
from tests.review.exams import doubtful_exam


@pytest.fixture
def on_desk(desk, exam):
    return desk.exam(exam[0].exam)


def wish(exam, **more):
    standing = exam.standing()
    given = {"name": "A. Tester", "role": "physiotherapist", "open": standing.queue(), "events": len(standing.events)}
    return Signature(**{**given, **more})


def remove_first(exam):
    standing = exam.standing()
    item = standing.replayed.shown[0]
    version = version_of(item, standing.finding(item))
    return exam.decide(Decision(action="remove", item=item.key, version=version, by="B", addendum=True))


def test_a_signature_freezes_the_note(on_desk):
    note = on_desk.standing().note
    assert on_desk.sign(wish(on_desk)).events[-1].note == note


def test_a_signature_is_sound(on_desk):
    on_desk.sign(wish(on_desk))
    assert check(on_desk.folder.journal_path).faults == ()


def test_the_doubts_signed_as_open_are_named(on_desk):
    queue = on_desk.standing().queue()
    assert on_desk.sign(wish(on_desk)).events[-1].open_doubts == queue


def test_a_doubt_that_is_neither_decided_nor_left_open_knowingly_is_asked_for(on_desk):
    queue = on_desk.standing().queue()
    with pytest.raises(DictateError, match="1 finding is doubtful"):
        on_desk.sign(wish(on_desk, open=queue[1:]))


@pytest.mark.parametrize("missing", ["name", "role"])
def test_who_signs_must_be_named(on_desk, missing):
    with pytest.raises(DictateError, match="name and a role"):
        on_desk.sign(wish(on_desk, **{missing: "  "}))


def test_nobody_signs_what_they_did_not_see(on_desk):
    seen = wish(on_desk)
    remove_first(on_desk)
    with pytest.raises(Stale):
        on_desk.sign(seen)


def test_an_exam_that_is_not_ended_cannot_be_signed(desk, data):
    folder, _ = doubtful_exam(data, closed=False)
    exam = desk.exam(folder.exam)
    with pytest.raises(DictateError, match="was not ended"):
        exam.sign(wish(exam))


def test_a_signed_note_is_not_changed_by_accident(on_desk):
    standing = on_desk.sign(wish(on_desk))
    item = standing.replayed.shown[0]
    with pytest.raises(DictateError, match="begin an addendum"):
        on_desk.decide(Decision(action="remove", item=item.key, version=version_of(item, standing.finding(item))))


def test_signing_twice_without_a_change_is_refused(on_desk):
    on_desk.sign(wish(on_desk))
    with pytest.raises(DictateError, match="nothing was changed"):
        on_desk.sign(wish(on_desk, addendum="because"))


def test_an_addendum_needs_a_reason(on_desk):
    on_desk.sign(wish(on_desk))
    remove_first(on_desk)
    with pytest.raises(DictateError, match="needs its reason"):
        on_desk.sign(wish(on_desk))


def test_an_addendum_has_a_signature_of_its_own_and_the_first_one_stays(on_desk):
    first = on_desk.sign(wish(on_desk)).signatures[0]
    remove_first(on_desk)
    signatures = on_desk.sign(wish(on_desk, name="B", addendum="said of another patient")).signatures
    assert signatures[0] == first and signatures[1].addendum == "said of another patient"


def test_the_digest_covers_who_signed(on_desk):
    signed = on_desk.sign(wish(on_desk)).signatures[0]
    other = signed.model_copy(update={"name": "Somebody Else"})
    assert digest_of(other, "0" * 64) != digest_of(signed, "0" * 64)


def test_the_list_says_who_signed(on_desk, data):
    on_desk.sign(wish(on_desk))
    assert [one.signed_by for one in IndexedExams(data).part(Wanted()).exams] == ["A. Tester"]
