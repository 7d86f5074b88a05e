"""Statements told from talk by the trained model, where no phrase that the rules know says which it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.errors import LexiconError
from dictate.language.state import State
from dictate.language.stated import Clause, Heard, Opinion, StatementModel, clauses_of
from dictate.language.talk import STATEMENT
from dictate.recognise.events import Utterance
from tests.support.reading import findings, reader
from tests.support.stated import marked


def clauses(text: str) -> list[Clause]:
    words = text.split()
    repaired, kinds = reader().talk(reader().tokens(words), words, State())
    return clauses_of(repaired, kinds)


def likelihoods(text: str, heard: Heard | None = None) -> list[float]:
    return reader().statements.likelihoods(clauses(text), heard or Heard())[0]


def test_clauses_hold_every_word_once() -> None:
    text = "Lachman negative, firm end point. Now the pivot shift"
    found = clauses(text)
    assert [clause.end for clause in found[:-1]] == [clause.start for clause in found[1:]]
    assert sum(len(clause.words) for clause in found) == len(text.split())
    assert [clause.ends_in for clause in found] == [",", ".", ""]


def test_what_is_named_stands_for_all_of_its_kind() -> None:
    (clause,) = clauses("His fibular head is tender")
    (other,) = clauses("His tibial tubercle is tender")
    assert clause.words != other.words
    assert clause.masked == other.masked


def test_a_finding_is_likelier_than_the_textbook() -> None:
    (found,) = likelihoods("Flexion on the right is one twenty.")
    (taught,) = likelihoods("Most people will give you about one thirty of flexion.")
    assert found > 0.9
    assert taught < 0.5


def test_what_is_said_later_changes_no_likelihood() -> None:
    heard = Heard()
    alone = []
    for line in ("Lachman negative.", "Now the pivot shift.", "A glide is two plus."):
        likely, heard = reader().statements.likelihoods(clauses(line), heard)
        alone.append(likely)
    _, once = reader().statements.likelihoods(clauses("Lachman negative."), Heard())
    again, _ = reader().statements.likelihoods(clauses("Now the pivot shift."), once)
    assert again == alone[1]


def test_only_whole_clauses_of_talk_are_turned() -> None:
    text = "Lachman negative, if it opens tell me."
    found = clauses(text)
    kinds = [STATEMENT if place < found[0].end else "condition" for place in range(found[-1].end)]
    opinion = Opinion.of(
        [Clause(0, 4, (), (), (), (STATEMENT, "condition"), "", True)], [0.99], kinds[:4], turns_from=0.9
    )
    assert opinion.kinds == kinds[:4]
    turned = Opinion.of([Clause(0, 2, (), (), (), ("teaching",), "", True)], [0.99], ["teaching"] * 2, turns_from=0.9)
    assert turned.kinds == [STATEMENT] * 2
    assert turned.of_frame(0, 2).turned
    kept = Opinion.of([Clause(0, 2, (), (), (), ("teaching",), "", True)], [0.5], ["teaching"] * 2, turns_from=0.9)
    assert kept.kinds == ["teaching"] * 2


def test_the_textbook_between_findings_is_left_out_or_doubted() -> None:
    text = (
        "Right knee. Flexion one ten.\nMost textbooks quote you one thirty-five to one forty of flexion and nought of "
        "extension.\nMedial joint line tender."
    )
    sure = [finding for finding in findings(text) if not finding.doubts]
    assert [(finding.finding, finding.degrees) for finding in sure] == [("flexion", 110.0), ("tenderness", None)]


def test_a_missing_model_is_one_clear_line(tmp_path: Path) -> None:
    broken = tmp_path / "stated.crfsuite"
    with pytest.raises(LexiconError, match=r"stated\.crfsuite: cannot be read .* installing again"):
        StatementModel(broken)


def test_brackets_mark_words() -> None:
    narration = marked("Lachman now. [It's firm on the left], and [soft\nover here]. Good.")
    said = [word for line, flags in zip(narration.lines, narration.stated, strict=True)
            for word, flag in zip(line, flags, strict=True) if flag]  # fmt: skip
    assert said == ["It's", "firm", "on", "the", "left,", "soft", "over", "here."]
    assert all("[" not in word and "]" not in word for line in narration.lines for word in line)


def test_reading_never_asks_the_model_about_no_words() -> None:
    assert reader().step(State(), Utterance.of_text("… – …")).entries == ()
