"""The note as text: everything that a person must see before signing is on the page, once and where it belongs."""

from __future__ import annotations

import pytest

from dictate.contract import (
    Doubt,
    Exam,
    Finding,
    Grade,
    Measure,
    Note,
    Prompt,
    Replaced,
    SectionCoverage,
)  # fmt: skip
from dictate.interface import interpret
from dictate.note.describe import clock, grade_text, measure_text, value_words
from dictate.note.text import CAUTION, MARK, text_of


def finding(**values: object) -> Finding:
    base = {"section": "active_motion", "region": "knee", "finding": "flexion", "side": "right", "said": "the words"}
    return Finding.model_validate({**base, **values})


def page(*findings: Finding, **values: object) -> str:
    exam = Exam(region="knee", injured_side="right", source="text")
    return text_of(Note.model_validate({"exam": exam, "findings": findings, **values}))


def line(*findings: Finding) -> str:
    """Return the lines of the only section, joined."""
    text = page(*findings).split("\n\n")[1]
    return " ".join(part.strip() for part in text.splitlines()[1:])


def test_the_caution_closes_every_note() -> None:
    assert page().rstrip().endswith(CAUTION)
    assert CAUTION == "Draft from speech; to be checked and signed by the examiner. Not a diagnosis."


def test_an_empty_note_says_so() -> None:
    assert "No findings were recorded." in page()


@pytest.mark.parametrize(("injured", "words"), [(None, "not said"), ("left", "left"), ("both", "both sides")])
def test_the_injured_side_is_spelled_out(injured: str | None, words: str) -> None:
    text = text_of(Note(exam=Exam(region="knee", injured_side=injured)))  # type: ignore[arg-type]
    assert f"Injured side: {words}" in text


def test_left_and_right_of_one_thing_stand_on_one_line() -> None:
    assert (
        line(finding(side="left", degrees=140), finding(side="right", degrees=110)) == "Flexion: left 140°; right 110°"
    )


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"degrees": 110}, "110°"),
        ({"finding": "extension", "degrees": -10}, "−10°"),
        ({"finding": "extension", "degrees": 5}, "+5°"),
        ({"finding": "extension", "degrees": 0}, "0°"),
        ({"finding": "effusion", "status": "present", "severity": "moderate"}, "moderate"),
        ({"finding": "effusion", "status": "equivocal", "severity": "trace"}, "equivocal (trace)"),
        ({"status": "normal", "with": ["pain"]}, "normal with pain"),
        ({"degrees": 110, "limited_by": ["pain", "stiffness"]}, "110°, limited by pain and stiffness"),
        ({"degrees": 110, "end_feel": "empty"}, "110°, empty end feel"),
        ({"finding": "valgus stress test", "status": "negative", "at_degrees": 30}, "negative at 30°"),
        ({"finding": "pivot shift", "status": "not_examined"}, "not examined"),
        ({"degrees": 105, "replaced": [{"field": "degrees", "value": 115.0, "said": "x"}]}, "105° (first said: 115)"),
        ({"replaced": [{"field": "side", "value": "left", "said": "left"}], "degrees": 9}, "9° (first said: left)"),
    ],
)
def test_values(values: dict[str, object], words: str) -> None:
    assert value_words(finding(**values)) == words


@pytest.mark.parametrize(
    ("grade", "name", "words"),
    [
        (Grade(scale="MRC", value="4-"), "strength", "MRC 4-/5"),
        (Grade(scale="reflex", value="2+"), "reflex", "2+"),
        (Grade(scale="pulse", value="1+"), "pulse", "1+"),
        (Grade(scale="effusion", value="2+"), "stroke test", "effusion grade 2+"),
        (Grade(scale="laxity", value="2"), "lachman test", "laxity grade 2"),
        (Grade(scale="pain", value="6"), "pain", "6/10"),
    ],
)
def test_a_scale_is_named_where_what_is_graded_does_not_tell(grade: Grade, name: str, words: str) -> None:
    assert grade_text(grade, finding=name) == words


@pytest.mark.parametrize(
    ("measure", "words"),
    [
        (Measure(value=2, unit="s", comparator="<"), "< 2 s"),
        (Measure(value=46.5, unit="cm"), "46.5 cm"),
        (Measure(value=3, unit="1"), "3"),
    ],
)
def test_measures(measure: Measure, words: str) -> None:
    assert measure_text(measure) == words


def test_a_doubt_stands_beside_its_value_in_plain_words_with_its_suggestion() -> None:
    doubt = Doubt(reason="out_of_range", detail="1350 degrees", suggestion="135")
    text = line(finding(degrees=1350, doubts=[doubt]))
    assert text.startswith(f"Flexion: right 1350° {MARK} {MARK} right:")
    assert "no joint does that" in text
    assert "Perhaps: 135." in text
    assert "“the words”" in text


def test_every_doubted_finding_is_marked_and_counted() -> None:
    doubt = Doubt(reason="side_assumed", detail="taken from before")
    text = page(finding(degrees=1, doubts=[doubt]), finding(finding="extension", degrees=2))
    assert f"1 of 2 findings, marked {MARK}" in text


def test_a_doubt_tells_where_in_the_recording_to_listen() -> None:
    doubt = Doubt(reason="heard_unclearly", detail="x")
    assert "Said at 1:05:" in line(finding(doubts=[doubt], time=(65.2, 66.0), degrees=5))


def plain(name: str, *doubts: Doubt) -> Finding:
    return finding(section="palpation", finding=name, status="absent", doubts=list(doubts))


def test_a_doubted_finding_is_never_listed_with_those_that_are_not() -> None:
    doubt = Doubt(reason="side_assumed", detail="x")
    text = page(plain("warmth"), plain("redness"), plain("swelling", doubt))
    assert "Absent on the right: warmth, redness\n" in text
    assert f"Swelling: right absent {MARK}" in text


def test_findings_with_the_same_doubt_share_it() -> None:
    doubt = Doubt(reason="side_assumed", detail="x")
    text = page(plain("warmth", doubt), plain("redness", doubt))
    assert f"Absent on the right {MARK}: warmth, redness" in text
    assert text.count("side assumed") == 1


def test_findings_with_different_doubts_do_not_share_a_line() -> None:
    text = page(
        plain("warmth", Doubt(reason="side_assumed", detail="x")),
        plain("redness", Doubt(reason="conflicts", detail="y")),
    )
    assert f"Warmth: right absent {MARK}" in text
    assert f"Redness: right absent {MARK}" in text


def test_what_a_test_spoke_for_follows_its_name() -> None:
    values = {"section": "special_tests", "finding": "mcmurray test", "structure": "medial meniscus", "with": ["click"]}
    assert line(finding(**values, status="positive")) == "McMurray test (medial meniscus): right positive with click"


def test_plain_findings_of_one_side_share_a_line() -> None:
    names = ("warmth", "redness", "scar")
    findings = [finding(section="inspection", finding=name, status="absent") for name in names]
    assert line(*findings) == "Absent on the right: warmth, redness, scar"


def test_a_side_that_was_not_said_is_said_to_be_missing() -> None:
    assert "side not said" in line(finding(side=None, degrees=100))


def test_a_finding_of_another_region_names_it() -> None:
    text = line(finding(region="hip", section="adjacent_joints", degrees=100))
    assert text == "Hip flexion: right 100°"


def test_sections_stand_in_the_order_of_the_plan_whatever_was_said_first() -> None:
    sections = [SectionCoverage(section=s, coverage="done") for s in ("inspection", "palpation", "active_motion")]
    text = page(finding(degrees=100), finding(section="inspection", finding="scar", status="absent"), sections=sections)
    assert text.index("\nInspection") < text.index("\nActive motion")


def test_a_section_that_the_plan_does_not_list_is_not_lost() -> None:
    sections = [SectionCoverage(section="inspection", coverage="skipped")]
    assert "Flexion: right 100°" in page(finding(degrees=100), sections=sections)


def test_coverage_stands_at_the_end_with_reasons() -> None:
    sections = [
        SectionCoverage(section="inspection", coverage="done"),
        SectionCoverage(section="palpation", coverage="partial", missing=["fibular head"]),
        SectionCoverage(section="passive_motion", coverage="deferred", reason="too irritable"),
        SectionCoverage(section="vascular", coverage="skipped", missing=["pulses"]),
    ]
    text = page(finding(degrees=100), sections=sections)
    assert text.index("Flexion") < text.index("Coverage of the exam plan")
    for words in (
        "Complete: inspection",
        "In part: palpation (without fibular head)",
        "Left out, as said: passive motion (“too irritable”)",
        "Not mentioned: vascular",
    ):
        assert words in text


def test_prompts_stand_with_their_source() -> None:
    prompt = Prompt(kind="order", text="Look before touching.", source="common practice")
    assert "- Look before touching. (common practice)" in page(prompts=[prompt])


def test_no_line_is_too_long_to_print() -> None:
    note = interpret("Right knee. " + "Lachman negative on the right. McMurray positive medially with a click. " * 4)
    assert max(map(len, text_of(note).splitlines())) <= 100


def test_every_finding_of_a_note_is_on_the_page() -> None:
    note = interpret(
        "Right knee. No swelling, warmth or redness. Flexion one twenty. Lachman negative. Quads four plus out of five."
    )
    text = text_of(note).lower()
    assert note.findings
    assert all(one.finding in text for one in note.findings)


def test_what_was_replaced_is_noted() -> None:
    replaced = Replaced(field="structure", value="medial joint line", said="medial joint line")
    assert "first said: medial joint line" in line(finding(replaced=[replaced], degrees=1))


@pytest.mark.parametrize(("seconds", "words"), [(0, "0:00"), (59.9, "0:59"), (162.4, "2:42"), (3600, "60:00")])
def test_clock(seconds: float, words: str) -> None:
    assert clock(seconds) == words


def test_a_reason_for_doubt_is_named_once_however_many_details_it_has() -> None:
    doubts = [Doubt(reason="readings_disagree", detail=detail) for detail in ("one way", "another way")]
    assert "two readings (one way; another way)" in line(finding(degrees=120, doubts=doubts))
