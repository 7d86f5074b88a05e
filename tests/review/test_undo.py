"""Undo, undo of undo, and what undo never reaches. The law: undoing all and doing all again changes nothing."""

import random

import pytest

from dictate.errors import DictateError
from dictate.review.actions import Decision, last_to_redo, last_to_undo
from dictate.review.desk import version_of
from dictate.review.sign import Signature


@pytest.fixture
def on_desk(desk, exam):
    return desk.exam(exam[0].exam)


def decide(exam, action="accept", key=None, **more):
    standing = exam.standing()
    item = standing.item(key or standing.queue()[0])
    return exam.decide(Decision(action=action, item=item.key, version=version_of(item, standing.finding(item)), **more))


def said(standing):
    return [finding.model_dump() for finding in standing.note.findings]


def test_undo_brings_the_doubt_back(on_desk):
    before = on_desk.standing().queue()
    decide(on_desk)
    assert on_desk.undo(by="")[0].queue() == before


def test_undo_takes_the_latest_decision(on_desk):
    first, second = on_desk.standing().queue()[:2]
    decide(on_desk, key=first)
    decide(on_desk, key=second)
    assert on_desk.undo(by="")[1].item == second


def test_undo_twice_takes_the_two_latest(on_desk):
    first, second = on_desk.standing().queue()[:2]
    decide(on_desk, key=first)
    decide(on_desk, key=second)
    on_desk.undo(by="")
    assert on_desk.undo(by="")[1].item == first


def test_doing_again_brings_the_decision_back(on_desk):
    after = said(decide(on_desk, "remove"))
    on_desk.undo(by="")
    assert said(on_desk.redo(by="")[0]) == after


def test_after_another_decision_there_is_nothing_to_do_again(on_desk):
    decide(on_desk)
    on_desk.undo(by="")
    decide(on_desk, "remove")
    with pytest.raises(DictateError, match="nothing to do again"):
        on_desk.redo(by="")


def test_without_a_decision_there_is_nothing_to_undo(on_desk):
    with pytest.raises(DictateError, match="nothing to undo"):
        on_desk.undo(by="")


def test_an_added_finding_can_be_undone(on_desk):
    before = on_desk.standing()
    finding = before.note.findings[0].model_copy(update={"side": "left"})
    on_desk.decide(Decision(action="add", after=finding, text="left medial joint line tender"))
    assert said(on_desk.undo(by="")[0]) == said(before)


def test_what_was_signed_is_not_undone(on_desk):
    standing = decide(on_desk)
    on_desk.sign(Signature(name="A", role="r", events=len(standing.events), open=standing.queue()))
    with pytest.raises(DictateError, match="nothing to undo"):
        on_desk.undo(by="", addendum=True)


@pytest.mark.parametrize("seed", range(4))
def test_undoing_and_doing_again_walks_back_and_forth_over_the_same_notes(on_desk, seed):
    choice = random.Random(seed)
    notes = [said(on_desk.standing())]
    for _ in range(5):
        standing = on_desk.standing()
        present = [item.key for item in standing.replayed.shown]
        action = choice.choice(["accept", "remove", "not_examined"])
        notes.append(said(decide(on_desk, action, choice.choice(present))))
    back = [said(on_desk.undo(by="")[0]) for _ in range(5)]
    forth = [said(on_desk.redo(by="")[0]) for _ in range(5)]
    assert back == notes[-2::-1] and forth == notes[1:]


def test_nothing_is_ever_overwritten(on_desk, exam):
    _, journal = exam
    before = journal.path.read_bytes()
    decide(on_desk)
    on_desk.undo(by="")
    on_desk.redo(by="")
    assert journal.path.read_bytes().startswith(before)


def test_an_undo_names_who_undid(on_desk):
    decide(on_desk, by="A")
    events = on_desk.undo(by="B")[0].events
    assert events[-1].by == "B"


def test_last_to_undo_and_redo_of_an_untouched_exam_are_none(exam):
    events = exam[1].events
    assert (last_to_undo(events), last_to_redo(events)) == (None, None)
