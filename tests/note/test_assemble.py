"""The whole note from a reading: region, injured side, and what the options decide."""

from __future__ import annotations

from dictate.contract import Note
from dictate.interface import interpret, reader_of
from dictate.note.assemble import assemble
from dictate.note.fold import fold, start
from dictate.recognise.events import Utterance


def test_no_words_give_an_empty_valid_note() -> None:
    note = interpret("")
    assert note.findings == []
    assert note.exam.region == "knee"
    assert {part.coverage for part in note.sections} == {"skipped"}
    assert Note.model_validate_json(note.to_json()) == note


def test_the_region_is_the_one_that_most_findings_belong_to() -> None:
    note = interpret("Right shoulder. Hawkins Kennedy positive. Neer positive. Empty can negative.")
    assert note.exam.region == "shoulder"


def test_neighbours_do_not_decide_the_region() -> None:
    text = "Right knee. Lachman negative.\nAdjacent joints. Hip internal rotation normal. Hip flexion normal."
    assert interpret(text).exam.region == "knee"


def test_the_region_that_was_given_counts() -> None:
    assert interpret("Good morning.", region="ankle").exam.region == "ankle"


def test_the_injured_side_as_said() -> None:
    assert interpret("Right knee is the injured one. Lachman negative.").exam.injured_side == "right"


def test_the_injured_side_that_was_given_counts() -> None:
    assert interpret("Right knee is the injured one.", injured_side="left").exam.injured_side == "left"
    assert interpret("Lachman negative.", injured_side="both").exam.injured_side == "both"


def test_nobody_said_which_side_is_injured() -> None:
    assert interpret("Lachman negative.").exam.injured_side is None


def test_source_and_length() -> None:
    reader = reader_of()
    note = assemble(fold([], reader).state, lexicon=reader.lexicon, source="live", seconds=12.5)
    assert (note.exam.source, note.exam.seconds) == ("live", 12.5)
    assert interpret("").exam.seconds is None


def test_findings_stand_in_the_order_spoken_with_a_confidence() -> None:
    note = interpret("Right knee. Flexion one twenty.\nLachman negative.")
    assert [finding.finding for finding in note.findings] == ["flexion", "lachman test"]
    assert all(0 < finding.confidence < 1 for finding in note.findings)


def test_a_doubted_finding_is_less_sure() -> None:
    plain, doubted = interpret("Right knee. Flexion one twenty.\nActive flexion four hundred.").findings
    assert doubted.doubts
    assert doubted.confidence < plain.confidence


def test_the_same_words_give_the_same_note() -> None:
    text = "Right knee, lacks ten, flexes to one twenty. Same on the left."
    assert interpret(text) == interpret(text)


def test_lines_and_text_are_the_same() -> None:
    assert interpret("Right knee. Lachman negative.\nFlexion ninety.") == interpret(
        ["Right knee. Lachman negative.", "Flexion ninety."]
    )


def test_a_region_that_was_given_is_where_the_reading_starts() -> None:
    heard = fold(
        [Utterance.of_text("Flexion one twenty on the right.")], reader_of(), heard=start(reader_of(), region="elbow")
    )
    assert [finding.region for finding in heard.state.findings()] == ["elbow"]
