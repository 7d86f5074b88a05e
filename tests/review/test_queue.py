"""The queue: what has to be looked at, worst first."""

from dictate.contract import Doubt, Finding
from dictate.journal.edits import Item
from dictate.note.assemble import Draft
from dictate.review.queue import touches_side_or_number, worst_first


def item(key, reason="sounds_like", *, confidence=0.8, decision="open", detail="", **fields):
    finding = Finding(
        section="palpation", region="knee", finding="tenderness", confidence=confidence,
        doubts=[Doubt(reason=reason, detail=detail)] if reason else [], **fields,
    )  # fmt: skip
    return Item(key, Draft(finding), decision), finding


def test_the_least_confident_comes_first():
    assert worst_first([item("u0.0", confidence=0.8), item("u1.0", confidence=0.5)]) == ["u1.0", "u0.0"]


def test_a_doubt_of_the_side_comes_before_a_worse_one_of_a_name():
    assert worst_first([item("u0.0", confidence=0.3), item("u1.0", "side_assumed")]) == ["u1.0", "u0.0"]


def test_a_doubt_of_a_number_comes_before_a_worse_one_of_a_name():
    assert worst_first([item("u0.0", confidence=0.3), item("u1.0", "heard_unclearly", degrees=15)]) == ["u1.0", "u0.0"]


def test_another_reading_with_another_side_is_a_doubt_of_the_side():
    _, finding = item("u0.0", "readings_disagree", detail="another reading of the sound gives side left")
    assert touches_side_or_number(finding)


def test_what_is_not_doubted_is_not_asked_about():
    assert worst_first([item("u0.0", None)]) == []


def test_what_was_decided_is_not_asked_about():
    assert worst_first([item("u0.0", decision="accepted"), item("u1.0", decision="removed")]) == []
