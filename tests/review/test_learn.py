"""Learning from corrections: offered after the second one, learned only when accepted, and used from then on."""

import stat

import pytest

from dictate.cli.main import main
from dictate.data_folder import chosen_lexicon
from dictate.errors import DictateError
from dictate.interface import interpret, reader_of
from dictate.journal.events import now
from dictate.journal.exam import ExamFolder, exam_ids
from dictate.journal.journal import read_journal
from dictate.lexicon_check import check
from dictate.review.actions import Decision
from dictate.review.desk import version_of
from dictate.review.learn import Lessons
from dictate.review.learned import Learned
from tests.support.exams import kept_exam

MISHEARD = "Latchmen negative."


def corrected(data, desk, *said, to=None, times=1):
    """Keep exams in which the last finding was accepted, or changed to another label."""
    for _ in range(times):
        folder, _ = kept_exam(data, ["Right knee. Special tests.", *said])
        exam = desk.exam(folder.exam)
        standing = exam.standing()
        item, finding = standing.replayed.shown[-1], standing.note.findings[-1]
        after = finding.model_copy(update=to) if to else None
        action = "change" if to else "accept"
        exam.decide(Decision(action=action, item=item.key, version=version_of(item, finding), after=after, by="R"))


def offered(data):
    return Lessons(reader_of(None)).offers([ExamFolder.of(data, exam) for exam in exam_ids(data)])


def test_once_is_not_enough(data, desk):
    corrected(data, desk, MISHEARD)
    assert offered(data) == []


def test_the_second_time_it_is_offered_with_the_words_that_were_heard(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    assert [(one.heard, one.term.label) for one in offered(data)] == [("latchmen", "lachman test")]


def test_a_name_that_was_changed_is_offered_for_what_it_was_changed_to(data, desk):
    corrected(data, desk, MISHEARD, to={"finding": "pivot shift"}, times=2)
    assert [(one.heard, one.term.label) for one in offered(data)] == [("latchmen", "pivot shift")]


def test_what_was_undone_does_not_count(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    desk.exam(exam_ids(data)[0]).undo(by="R")
    assert offered(data) == []


def test_an_exam_is_read_again_only_when_it_was_changed(data, desk, monkeypatch):
    corrected(data, desk, MISHEARD, times=2)
    folders = [ExamFolder.of(data, exam) for exam in exam_ids(data)]
    lessons, read = Lessons(desk.reader), []
    monkeypatch.setattr("dictate.review.learn.read_journal", lambda path: read.append(path) or read_journal(path))
    first, second = lessons.offers(folders), lessons.offers(folders)
    desk.exam(folders[0].exam).undo(by="R")
    third = lessons.offers(folders)
    assert (len(first), second, third) == (1, first, [])
    assert [path.parent.name for path in read] == [*(one.exam for one in folders), folders[0].exam]


def test_the_real_name_of_something_is_never_offered(data, desk):
    corrected(data, desk, "Pivot shift negative.", to={"finding": "lachman test"}, times=3)
    assert offered(data) == []


def test_a_changed_value_teaches_nothing(data, desk):
    corrected(data, desk, "Lachman negative.", to={"status": "positive"}, times=3)
    assert offered(data) == []


def test_nothing_is_learned_by_being_offered(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    offered(data)
    assert not Learned(data).folder.exists() and chosen_lexicon(None, data=data) is None


@pytest.fixture
def learned(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    return Learned(data).accept(offered(data)[0], by="R. Tester", at=now())


def test_what_is_learned_passes_the_check_of_authors(learned):
    report = check(learned.parent)
    assert (report.terms, report.problems) == (1, [])


def test_the_term_keeps_all_that_it_had(learned):
    built_in = next(t for t in reader_of(None).lexicon.terms if t.label == "lachman test")
    now_is = next(t for t in reader_of(learned.parent).lexicon.terms if t.label == "lachman test")
    heard_as = tuple(dict.fromkeys((*built_in.heard_as, "latchmen")))
    assert now_is == built_in.model_copy(update={"heard_as": heard_as})


def test_the_file_says_who_learned_what_from_where(learned, data):
    text = learned.read_text()
    assert "R. Tester" in text and all(exam in text for exam in exam_ids(data))


def test_the_file_is_its_owners_only(learned):
    assert stat.S_IMODE(learned.stat().st_mode) == 0o600


def test_what_was_learned_is_still_doubted(learned):
    note = interpret(["Right knee.", MISHEARD], lexicon_dir=learned.parent)
    assert [doubt.reason for doubt in note.findings[0].doubts] == ["sounds_like"]


def test_a_second_lesson_keeps_the_first(learned, data, desk):
    corrected(data, desk, "Lachmin negative.", times=2)
    second = next(one for one in offered(data) if one.heard == "lachmin")
    Learned(data).accept(second, by="R", at=now())
    text = learned.read_text()
    assert "latchmen" in text and "lachmin" in text and text.count("[[term]]") == 1


def test_what_cannot_be_read_as_the_term_is_not_learned(learned, data):
    offer = offered(data)[0]
    senseless = type(offer)("no such words", offer.term, offer.corrections[:0] or offer.corrections)
    before = learned.read_bytes()
    sentence = senseless.corrections[0]
    wrong = type(offer)("no such words", offer.term.model_copy(update={"label": "pivot shift"}), (sentence,))
    with pytest.raises(DictateError, match="would still not be read"):
        Learned(data).accept(wrong, by="R", at=now())
    assert learned.read_bytes() == before


def test_a_declined_offer_is_remembered(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    offer = offered(data)[0]
    Learned(data).decline(offer)
    assert offer.id in Learned(data).declined() and chosen_lexicon(None, data=data) is None


def test_a_file_of_ones_own_in_the_folder_that_is_wrong_is_named(data, desk):
    corrected(data, desk, MISHEARD, times=2)
    folder = Learned(data).folder
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text('[[term]]\nkind = "test"\nlable = "x"\n')
    with pytest.raises(DictateError, match=r"mine\.toml:1: label: Field required"):
        Learned(data).accept(offered(data)[0], by="R", at=now())


def test_dictate_text_uses_what_was_learned(learned, data, monkeypatch, tmp_path, capsys):
    (tmp_path / "said.txt").write_text("Right knee. Special tests.\nI think the latchmen is negative.\n")
    monkeypatch.setenv("DICTATE_DATA", str(data))
    assert main(["text", str(tmp_path / "said.txt"), "--json"]) == 0
    assert "lachman test" in capsys.readouterr().out


def test_dictate_text_is_the_same_as_ever_where_nothing_was_learned(tmp_path, monkeypatch):
    monkeypatch.setenv("DICTATE_DATA", str(tmp_path / "none"))
    assert chosen_lexicon(None) is None


def test_a_lexicon_that_is_named_is_used_alone(tmp_path, learned):
    assert chosen_lexicon(str(tmp_path)) == tmp_path
