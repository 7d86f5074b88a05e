"""The note of a journal: the same as of what was said, then what people decided, and decisions outlive re-readings."""

import dataclasses

import pytest

from dictate import interpret
from dictate.contract import Finding
from dictate.interface import reader_of
from dictate.journal.events import Closed, Edited, Gap, HeardUtterance, Resumed
from dictate.journal.replay import replay
from dictate.recognise.events import Utterance
from tests.support.exams import kept_exam, script, timed, told

SAID = ["Right knee. Medial joint line is tender.", "Flexion one fifteen.", "Lachman negative."]


@pytest.fixture
def exam(tmp_path):
    return kept_exam(tmp_path, SAID)[1]


def edit(journal, action, place, after=None, **more):
    """Decide about the finding at a place of the note."""
    now = told(journal)
    item, before = now.shown[place], now.note.findings[place]
    return journal.append(Edited(action=action, item=item.key, before=before, after=after, **more))


def labels(replayed):
    return [finding.finding for finding in replayed.note.findings]


@pytest.mark.parametrize("name", ["acl_right_clinic", "teaching_demo_ligaments", "colleague_corrects"])
def test_a_journal_gives_the_note_of_its_words(tmp_path, name):
    lines = script(name)
    assert told(kept_exam(tmp_path, lines)[1]).note == interpret(lines)


def test_the_note_says_where_sound_is_missing(exam):
    exam.append(Gap(from_s=61.2, to_s=73.4, why="the microphone was away"))
    exam.append(Gap(from_s=90.0, to_s=90.0, why="the program had stopped here"))
    prompts = [prompt.text for prompt in told(exam).note.prompts]
    assert any(text.startswith("Sound is missing at 1:01 to 1:13, 1:30.") for text in prompts)


def test_a_change_is_in_the_note_and_no_longer_doubted(exam):
    right = told(exam).note.findings[1]
    edit(exam, "change", 1, right.model_copy(update={"degrees": 105.0, "doubts": []}))
    finding = told(exam).note.findings[1]
    assert (finding.degrees, finding.doubts, finding.confidence) == (105.0, [], 1.0)


def test_accepting_takes_the_doubts_away(tmp_path):
    _, exam = kept_exam(tmp_path, [timed("Right knee lachman negative", start_s=1.0, confidence=0.2)])
    before = told(exam).note.findings[0]
    edit(exam, "accept", 0, before.model_copy(update={"doubts": []}))
    assert before.doubts and not told(exam).note.findings[0].doubts


def test_what_was_removed_is_gone_from_the_note_and_kept_among_the_items(exam):
    edit(exam, "remove", 0)
    now = told(exam)
    assert labels(now) == ["flexion", "lachman test"]
    assert [item.decision for item in now.items] == ["removed", "open", "open"]


def test_what_was_added_comes_last(exam):
    added = Finding(section="special_tests", region="knee", side="right", finding="pivot shift", status="negative")
    exam.append(Edited(action="add", item="a1", after=added))
    assert labels(told(exam))[-1] == "pivot shift"


def test_undo_brings_back_what_was(exam):
    before = told(exam).note
    removed = edit(exam, "remove", 0)
    exam.append(Edited(action="undo", item=removed.item, undoes=removed.n))
    assert told(exam).note == before


def test_an_undo_can_be_undone(exam):
    removed = edit(exam, "remove", 0)
    undone = exam.append(Edited(action="undo", item=removed.item, undoes=removed.n))
    exam.append(Edited(action="undo", item=removed.item, undoes=undone.n))
    assert labels(told(exam)) == ["flexion", "lachman test"]


def test_a_second_decision_replaces_the_first(exam):
    edit(exam, "remove", 0)
    first = told(exam)
    item = first.items[0]
    exam.append(Edited(action="change", item=item.key, after=item.draft.finding.model_copy(update={"side": "left"})))
    assert told(exam).note.findings[0].side == "left"


def test_coverage_follows_what_people_decided(exam):
    before = {part.section: part.coverage for part in told(exam).note.sections}
    edit(exam, "remove", 2)
    after = {part.section: part.coverage for part in told(exam).note.sections}
    assert (before["special_tests"], after["special_tests"]) == ("partial", "skipped")


def reread(exam, said):
    """Return the exam as if its words were read otherwise, by a newer lexicon say; people's decisions stay."""
    utterances = iter(said)
    events = [
        event.model_copy(update={"utterance": Utterance.of_text(next(utterances))})
        if isinstance(event, HeardUtterance) else event
        for event in exam.events
    ]  # fmt: skip
    return replay(events, reader_of(None))


def test_a_change_outlives_a_new_reading(exam):
    right = told(exam).note.findings[1]
    edit(exam, "change", 1, right.model_copy(update={"degrees": 105.0}))
    now = reread(exam, [SAID[0], "Nothing that is a finding.", SAID[2]])
    assert [f.degrees for f in now.note.findings if f.finding == "flexion"] == [105.0]


def test_a_decision_hides_nothing_that_a_new_reading_found(exam):
    edit(exam, "change", 1, told(exam).note.findings[1].model_copy(update={"degrees": 105.0}))
    now = reread(exam, [SAID[0], "Patella tap is positive.", SAID[2]])
    assert {"flexion", "patellar tap test"} <= set(labels(now)) or {"flexion", "patellar tap"} <= set(labels(now))


def test_a_removed_finding_stays_away_when_its_place_moved(exam):
    edit(exam, "remove", 2)
    now = reread(exam, [SAID[0], SAID[1], "Anterior drawer negative. Lachman negative."])
    assert "lachman test" not in labels(now) and "anterior drawer test" in " ".join(labels(now)) + " test"


def test_a_resumed_exam_is_open_until_it_is_closed_again(exam):
    exam.append(Resumed())
    assert not told(exam).closed
    exam.append(Closed(seconds=None))
    assert told(exam).closed


def test_items_and_findings_stay_side_by_side(exam):
    edit(exam, "remove", 1)
    now = told(exam)
    assert [now.finding(item.key) for item in now.shown] == now.note.findings
    assert now.finding("u9.9") is None


def test_replaying_changes_nothing_of_what_it_was_given(exam):
    events = exam.events
    replay(events, reader_of(None))
    assert events == exam.events and dataclasses.is_dataclass(told(exam))
