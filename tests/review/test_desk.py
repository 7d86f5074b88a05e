"""Decisions: what they write, what they refuse, and that nobody decides about what they did not see."""

import pytest

from dictate.contract import Grade
from dictate.errors import DictateError
from dictate.journal.events import HeardUtterance
from dictate.journal.journal import Journal
from dictate.journal.lock import ExamLock
from dictate.review.actions import Decision
from dictate.review.desk import Desk, Stale, version_of
from tests.review.exams import doubtful_exam
from tests.support.exams import kept_exam, timed, told


@pytest.fixture
def on_desk(desk, exam):
    return desk.exam(exam[0].exam)


def decision(exam, key, action="accept", **more):
    standing = exam.standing()
    item = standing.item(key)
    return Decision(action=action, item=key, version=version_of(item, standing.finding(item)), **more)


def finding_of(standing, key):
    return standing.replayed.finding(key)


FLEXION, LACHMAN = "u2.0", "u6.0"


def test_accepting_keeps_the_value_and_ends_the_doubt(on_desk):
    after = finding_of(on_desk.decide(decision(on_desk, FLEXION)), FLEXION)
    assert (after.degrees, after.doubts, after.confidence) == (215, [], 1.0)


def test_a_decision_is_an_event_with_what_was_seen_and_what_it_is_now(on_desk):
    standing = on_desk.standing()
    other = finding_of(standing, FLEXION).model_copy(update={"degrees": 115.0})
    event = on_desk.decide(decision(on_desk, FLEXION, "change", after=other, by="R")).events[-1]
    assert (event.before.degrees, event.after.degrees, event.by) == (215, 115, "R")


def test_what_was_said_stays_whatever_the_page_sends(on_desk):
    standing = on_desk.standing()
    was = finding_of(standing, FLEXION)
    forged = was.model_copy(update={"degrees": 115.0, "said": "something else", "time": (0.0, 1.0)})
    after = finding_of(on_desk.decide(decision(on_desk, FLEXION, "change", after=forged)), FLEXION)
    assert (after.said, after.time) == (was.said, was.time)


def test_a_removed_finding_is_not_in_the_note(on_desk):
    assert finding_of(on_desk.decide(decision(on_desk, FLEXION, "remove")), FLEXION) is None


def test_a_removed_finding_can_be_put_back(on_desk):
    on_desk.decide(decision(on_desk, FLEXION, "remove"))
    assert finding_of(on_desk.decide(decision(on_desk, FLEXION, "accept")), FLEXION).degrees == 215


def test_not_examined_leaves_no_value(on_desk):
    after = finding_of(on_desk.decide(decision(on_desk, FLEXION, "not_examined")), FLEXION)
    assert (after.status, after.degrees) == ("not_examined", None)


def test_an_added_finding_says_how_it_was_typed(on_desk):
    finding = finding_of(on_desk.standing(), LACHMAN).model_copy(update={"side": "right"})
    standing = on_desk.decide(Decision(action="add", after=finding, text="right  lachman negative"))
    assert (standing.note.findings[-1].said, standing.note.findings[-1].time) == ("right lachman negative", None)


def test_a_wrong_label_is_refused_and_the_nearest_named(on_desk):
    other = finding_of(on_desk.standing(), LACHMAN).model_copy(update={"finding": "lachmann tset"})
    with pytest.raises(DictateError, match="did you mean 'lachman test'"):
        on_desk.decide(decision(on_desk, LACHMAN, "change", after=other))


def test_an_unknown_scale_is_refused(on_desk):
    other = finding_of(on_desk.standing(), LACHMAN).model_copy(update={"grade": Grade(scale="zeal", value="2")})
    with pytest.raises(DictateError, match="scale"):
        on_desk.decide(decision(on_desk, LACHMAN, "change", after=other))


@pytest.mark.parametrize("degrees", [float("nan"), float("inf"), 1e9])
def test_a_number_that_is_none_is_refused(on_desk, degrees):
    other = finding_of(on_desk.standing(), FLEXION).model_copy(update={"degrees": degrees})
    with pytest.raises(DictateError, match="no number"):
        on_desk.decide(decision(on_desk, FLEXION, "change", after=other))


def test_what_another_tab_decided_is_not_decided_over(on_desk):
    seen = decision(on_desk, FLEXION)
    on_desk.decide(decision(on_desk, FLEXION, "remove"))
    with pytest.raises(Stale):
        on_desk.decide(seen)


def test_a_refused_decision_writes_nothing(on_desk):
    seen = decision(on_desk, FLEXION)
    number = len(on_desk.decide(decision(on_desk, FLEXION, "remove")).events)
    with pytest.raises(Stale):
        on_desk.decide(seen)
    assert len(on_desk.standing().events) == number


def test_what_another_program_decided_is_not_decided_over(on_desk, data, desk):
    seen = decision(on_desk, FLEXION)
    other = Desk(data, desk.reader)
    there = other.exam(on_desk.folder.exam)
    there.decide(decision(there, FLEXION, "remove"))
    other.close()
    with pytest.raises(Stale):
        on_desk.decide(seen)


def test_a_decision_about_another_finding_goes_through(on_desk):
    seen = decision(on_desk, LACHMAN)
    on_desk.decide(decision(on_desk, FLEXION))
    assert finding_of(on_desk.decide(seen), LACHMAN).doubts == []


def test_a_finding_whose_doubt_another_decision_ended_is_shown_again_first(desk, data):
    """Passive flexion is doubted because it is below the active one; putting that right changes what was seen."""
    folder, _ = kept_exam(data, ["Right knee. Passive flexion one ten.", "Active flexion one thirty."])
    exam = desk.exam(folder.exam)
    passive, active = "u0.0", "u1.0"
    assert exam.standing().queue() == [passive]
    seen = decision(exam, passive)
    right = finding_of(exam.standing(), active).model_copy(update={"degrees": 105.0})
    exam.decide(decision(exam, active, "change", after=right))
    with pytest.raises(Stale):
        exam.decide(seen)


def test_words_that_are_heard_meanwhile_come_in(on_desk, exam):
    _, journal = exam
    journal.append(HeardUtterance(utterance=timed("Right knee effusion.", start_s=60)))
    assert "effusion" in {finding.finding for finding in on_desk.standing().note.findings}


def test_a_damaged_exam_is_shown_as_far_as_it_can_be_trusted(desk, exam):
    folder, journal = exam
    content = journal.path.read_bytes().splitlines(keepends=True)
    content[7] = content[7].replace(b"patellar", b"achilles")
    journal.path.write_bytes(b"".join(content))
    standing = desk.exam(folder.exam).standing()
    assert len(standing.events) == 7


def test_nothing_is_added_to_a_damaged_exam(desk, exam):
    folder, journal = exam
    journal.path.write_bytes(journal.path.read_bytes().replace(b"patellar", b"achilles"))
    on_desk = desk.exam(folder.exam)
    with pytest.raises(DictateError, match="nothing can be added"):
        on_desk.decide(decision(on_desk, FLEXION))


def test_nothing_is_added_to_an_exam_that_was_damaged_while_it_was_open(desk, exam):
    folder, journal = exam
    on_desk = desk.exam(folder.exam)
    seen = decision(on_desk, FLEXION)
    journal.path.write_bytes(journal.path.read_bytes()[:-400])
    with pytest.raises(DictateError, match="nothing can be added"):
        on_desk.decide(seen)


def test_a_cut_off_exam_can_be_ended(desk, data):
    folder, _ = doubtful_exam(data, closed=False)
    standing = desk.exam(folder.exam).end()
    assert standing.replayed.closed and standing.events[-1].sounds


def test_an_exam_that_runs_is_not_ended_here(desk, data):
    folder, _ = doubtful_exam(data, closed=False)
    listening = ExamLock(folder.path)
    with pytest.raises(DictateError, match="running in another window"):
        desk.exam(folder.exam).end()
    listening.release()


def test_the_note_on_the_desk_is_the_note_of_the_journal(on_desk, exam):
    on_desk.decide(decision(on_desk, FLEXION, "remove"))
    journal = Journal(exam[1].path)
    assert on_desk.standing().note == told(journal).note
