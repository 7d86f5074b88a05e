"""Slips that nobody repairs: recorded as said, doubted, never changed."""

from __future__ import annotations

import pytest

from tests.support.brief import doubts, said
from tests.support.reading import findings


@pytest.mark.parametrize(
    ("text", "found", "reason"),
    [
        ("Flexion two hundred and fifteen.", "right flexion 215", "out_of_range"),
        ("Flexion 1350.", "right flexion 1350", "out_of_range"),
        ("Quads seven out of five.", "right quadriceps strength MRC 7", "out_of_range"),
        ("Tender over the supraspinatus.", "right supraspinatus tenderness present", "wrong_region"),
        ("The L5 patellar reflex is two plus.", "right patellar reflex reflex reflex 2+", "level_mismatch"),
        ("Minus five to one twenty.", "right extension -5", "readings_disagree"),
    ],
)
def test_recorded_and_doubted(text: str, found: str, reason: str) -> None:
    whole = f"Right knee.\n{text}"
    assert said(whole)[0] == found
    assert reason in doubts(whole)[0]


@pytest.mark.parametrize(
    "text", ["Flexion one thirty-five.", "Quads five out of five.", "The L4 patellar reflex is two plus."]
)
def test_what_is_possible_is_not_doubted(text: str) -> None:
    assert doubts(f"Right knee.\n{text}") == [[]]


def test_a_later_finding_that_contradicts_is_doubted() -> None:
    text = "Right knee.\nLachman negative.\nMedial joint line tender.\nLachman positive."
    assert "conflicts" in {reason for reasons in doubts(text) for reason in reasons}
    assert len(findings(text)) == 3


@pytest.mark.parametrize(
    ("heard", "structure"),
    [
        ("Dorsali's petties two plus.", "dorsalis pedis artery"),
        ("Tender over the medial joint lion.", "medial joint line"),
    ],
)
def test_a_restored_term_is_doubted(heard: str, structure: str) -> None:
    (finding,) = findings(f"Right knee.\n{heard}")
    assert finding.structure == structure
    assert "sounds_like" in [doubt.reason for doubt in finding.doubts]


@pytest.mark.parametrize(
    ("text", "restored"),
    [
        ("Right knee. Medial joint line is tinder.", "right medial joint line tenderness present"),
        ("Right knee. Pat teller grind positive.", "right patellar grind positive"),
        ("Right knee. Active flex shun ninety five.", "right flexion 95"),
        ("Right hip. Favor negative.", "right faber test negative"),
    ],
)
def test_an_ordinary_word_where_the_sentence_asks_for_a_term_that_sounds_the_same(text: str, restored: str) -> None:
    assert said(text) == [restored]
    assert all("sounds_like" in reasons for reasons in doubts(text))


@pytest.mark.parametrize(
    "text",
    ["Right knee. Put the tinder away.", "Right knee. That could be a false positive.", "Right hip. Do me a favor."],
)
def test_the_same_word_elsewhere_is_itself(text: str) -> None:
    assert said(text) == []


@pytest.mark.parametrize(
    ("text", "status"), [("the joint line is timber", "present"), ("the joint line untender", "absent")]
)
def test_a_mishearing_keeps_the_shape_of_the_word(text: str, status: str) -> None:
    (finding,) = findings(f"Left knee. Now {text.replace('joint line', 'medial joint line')}.")
    assert (finding.structure, finding.finding, finding.status) == ("medial joint line", "tenderness", status)
    assert "sounds_like" in {doubt.reason for doubt in finding.doubts}
