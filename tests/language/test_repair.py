"""Slips of the tongue that the speaker, or somebody else, takes back; and what only looks like one."""

from __future__ import annotations

import pytest

from tests.support.brief import said
from tests.support.reading import findings


@pytest.mark.parametrize(
    ("text", "found", "field", "value"),
    [
        ("Right knee flexion one fifteen, no, one hundred and five.", "right flexion 105", "degrees", 115.0),
        ("Right knee flexion one fifteen, sorry, one fifty.", "right flexion 150", "degrees", 115.0),
        ("Right knee flexion one fifteen, make that one twenty.", "right flexion 120", "degrees", 115.0),
        ("Right knee flexion one twenty, correction, one thirty.", "right flexion 130", "degrees", 120.0),
        (
            "Tender over the left, sorry, right medial joint line.",
            "right medial joint line tenderness present", "side", "left",
        ),
        ("Right quads four, rather, four minus.", "right quadriceps strength MRC 4-", "grade", "4"),
        ("Right knee. Lachman negative, no, sorry, positive.", "right lachman test positive", "status", "negative"),
        (
            "Tender over the right lateral meniscus, no, lateral collateral ligament.",
            "right lateral collateral ligament tenderness present", "structure", "lateral meniscus",
        ),
        (
            "Right knee. Valgus, I mean varus, stress is stable.",
            "right varus stress test negative", "finding", "valgus stress test",
        ),
        ("Right knee flexion one forty, fourteen rather, one fourteen.", "right flexion 114", "degrees", 140.0),
        (
            "Right knee. Posterior drawer negative, positive, sorry.",
            "right posterior drawer positive", "status", "negative",
        ),
        ("Right hamstrings four, five I beg your pardon.", "right hamstrings strength MRC 5", "grade", "4"),
        ("Right quads five, no, make it four.", "right quadriceps strength MRC 4", "grade", "5"),
    ],
)  # fmt: skip
def test_immediate_repair(text: str, found: str, field: str, value: object) -> None:
    assert said(text) == [found]
    (note,) = findings(text)[0].replaced
    assert (note.field, note.value) == (field, value)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        (
            "Right knee. Resisted: quads four minus on the left, five on the right, sorry, I have mixed it up, five on"
            " the left, four minus on the right.",
            ["left quadriceps strength MRC 5", "right quadriceps strength MRC 4-"],
        ),
        (
            "Right hip. Resisted: abductors five, hmm, push again for me, and push, no, abductors four plus.",
            ["right hip abductors strength MRC 4+"],
        ),
        ("Right elbow. Extension lacks five, wait, let me get my eye in, lacks eight.", ["right extension -8"]),
        (
            "Right knee. Fibular head tender, er, no, it is not, I was off it, so fibular head non-tender.",
            ["right fibular head tenderness absent"],
        ),
        (
            "Right knee. Lachman on the right one A. Oh, wait, that's the other leg, so one A on the left, and on the"
            " right, two B.",
            ["right lachman test laxity 2", "left lachman test laxity 1"],
        ),
    ],
)  # fmt: skip
def test_a_contrary_value_behind_editing_words_takes_the_place_of_the_first(text: str, found: list[str]) -> None:
    assert said(text) == found
    replaced = [finding for finding in findings(text) if finding.replaced]
    assert all("slip_repaired" in {doubt.reason for doubt in finding.doubts} for finding in replaced)
    assert replaced


def test_a_contrary_value_without_editing_words_is_kept_and_doubted() -> None:
    text = "Right knee. Resisted: hamstrings five. Quads five. Hamstrings four."
    assert said(text)[0::2] == ["right hamstrings strength MRC 5", "right hamstrings strength MRC 4"]
    assert [doubt.reason for doubt in findings(text)[2].doubts] == ["conflicts"]


def test_what_a_repair_names_keeps_the_number_of_another_side() -> None:
    text = "Left knee. Resisted: hams four minus left, five right. Ah no, hams left, make that four."
    assert said(text) == ["left hamstrings strength MRC 4", "right hamstrings strength MRC 5"]


@pytest.mark.parametrize(
    "text",
    [
        "Right knee, Lachman negative. Disregard that.",
        "Right knee.\nLachman negative.\nDisregard that.",
        "Right knee.\nMedial joint line tender.\nScratch that.",
    ],
)
def test_withdrawn(text: str) -> None:
    assert said(text) == []


def test_only_the_last_statement_is_withdrawn() -> None:
    text = "Right knee.\nFlexion one thirty.\nLachman positive.\nDisregard that.\nPosterior drawer negative."
    assert said(text) == ["right flexion 130", "right posterior drawer test negative"] or said(text) == [
        "right flexion 130", "right posterior drawer negative",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "found", "replaced"),
    [
        (
            "Right knee, tender over the gastrocnemius.\nYou said gastrocnemius there, it's the hamstring.",
            ["right hamstrings tenderness present"], [("structure", "gastrocnemius")],
        ),
        (
            "Right knee. Infrapatellar bursa swollen.\nLachman negative.\n"
            "The bursa I called infrapatellar is the prepatellar one.",
            ["right prepatellar bursa swelling present", "right lachman test negative"],
            [("structure", "infrapatellar bursa")],
        ),
        (
            "Right knee. Flexion one ten.\nExtension zero.\nThat flexion should be one twenty.",
            ["right flexion 120", "right extension 0"], [("degrees", 110.0)],
        ),
        (
            "Right knee. Quads four. Hamstrings five.\nDid I say four there? Five.",
            ["right quadriceps strength MRC 5", "right hamstrings strength MRC 5"], [("grade", "4")],
        ),
        (
            "Left hip. FABER equivocal.\nFADIR negative.\nGo back to FABER, make that positive.",
            ["left faber test positive", "left fadir test negative"], [("status", "equivocal")],
        ),
    ],
)  # fmt: skip
def test_late_repair_and_second_voice(text: str, found: list[str], replaced: list[tuple[str, object]]) -> None:
    assert said(text) == found
    assert [(note.field, note.value) for finding in findings(text) for note in finding.replaced] == replaced


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right knee. No swelling.", ["right swelling absent"]),
        ("Right knee. Effusion, no bruising.", ["right effusion present", "right bruising absent"]),
        ("Right knee. No swelling, no pain on flexion.", ["right swelling absent", "right flexion pain absent"]),
        ("Right knee. Flexion one thirty, no pain.", None),
        ("Right knee. Lachman negative, no laxity.", ["right lachman test negative"]),
        ("Right knee. Medial joint line tender, no lateral joint line tenderness.", None),
    ],
)
def test_negations_are_no_repairs(text: str, found: list[str] | None) -> None:
    assert all(not finding.replaced for finding in findings(text))
    if found is None:
        assert len(said(text)) >= 1
        assert said(text)[0] in ("right flexion 130", "right medial joint line tenderness present")
    else:
        assert said(text) == found


def test_a_verb_of_the_movement_repairs_its_value_not_its_name() -> None:
    assert said("Active extension full, no, sorry, lacks three.") == ["extension -3"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Right knee. Bruising over the calf, no, ignore that, it's dirt.", []),
        ("Right knee. It is swollen, no it isn't, that's the dressing.", []),
        ("Right knee. Lachman negative, anterior drawer positive, sorry.",
         ["right lachman test negative", "right anterior drawer positive"]),
        ("Right knee. Swollen. Does that hurt? No it doesn't.", ["right swelling present"]),
        ("Right knee. Lachman negative, sorry. Anterior drawer positive.",
         ["right lachman test negative", "right anterior drawer positive"]),
        ("Right knee. Anterior drawer negative, you moved, let me redo that. Anterior drawer positive.",
         ["right anterior drawer positive"]),
        ("Right knee. Light touch L4 reduced, let me do that again, L4 normal, L5 normal.",
         ["right L4 dermatome light touch normal", "right L5 dermatome light touch normal"]),
        ("Right knee. Anterior drawer negative, let me do that again on the left. Left anterior drawer positive.",
         ["right anterior drawer negative", "left anterior drawer positive"]),
        ("Right hamstrings four, rather four minus, out of five.", ["right hamstrings strength MRC 4-"]),
    ],
)  # fmt: skip
def test_taken_back_or_not(text: str, found: list[str]) -> None:
    assert said(text) == found


def test_a_late_correction_of_the_side_is_of_the_joint_that_it_names() -> None:
    text = "Right knee.\nRight hip internal rotation thirty.\nLachman negative on the right.\n"
    text += "The hip I gave you was the left hip."
    assert said(text) == ["left internal rotation 30", "right lachman test negative"]


def test_the_reason_may_stand_before_the_right_value_and_is_doubted() -> None:
    text = "Left hip. Abduction four, no, hang on, she was hitching her pelvis, three."
    (finding,) = findings(text)
    assert finding.grade is not None
    assert finding.grade.value == "3"
    assert "slip_repaired" in [doubt.reason for doubt in finding.doubts]


def test_what_follows_a_reason_with_a_name_of_its_own_corrects_nothing() -> None:
    text = "Left hip. Abduction four, no, hang on, she was on her side, flexion five."
    assert said(text) == ["left abduction strength MRC 4", "left flexion strength MRC 5"]


def test_two_answers_are_no_correction() -> None:
    text = "Right ankle. CFL tender. Deltoid ligament, no. ATFL, no."
    assert said(text)[1:] == [
        "right deltoid ligament tenderness absent",
        "right anterior talofibular ligament tenderness absent",
    ]


def test_who_gives_in_to_an_objection_corrects_what_was_said() -> None:
    text = "Right knee. Trace of an effusion.\nI'd say more than a trace.\nYes, fair enough, moderate effusion."
    assert said(text) == ["right effusion present moderate"]


def test_who_gives_in_and_goes_on_to_the_other_side_corrects_nothing() -> None:
    text = "Knees. Small effusion on the right.\nMore than that.\nFair enough, moderate effusion on the left."
    assert said(text) == ["right effusion present mild", "left effusion present moderate"]


@pytest.mark.parametrize(
    "heading",
    [
        "Right knee today, no, left knee.",
        "Right knee today, no, hang on, left knee.",
        "Right knee. No, left knee.",
        "Right knee today, no, the left.",
    ],
)
def test_the_side_of_a_heading_is_repaired_past_its_joint(heading: str) -> None:
    assert said(f"{heading}\nNo redness.") == ["left redness absent"]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("McMurray positive with a clunk, no, a click.", ["right mcmurray test positive with click"]),
        ("McMurray positive with a click, no clunk.", ["right mcmurray test positive with click"]),
        ("There's a bruise, no, a scar over the patella.", ["right patella scar present"]),
    ],
)
def test_one_sign_for_another(text: str, found: list[str]) -> None:
    assert said(f"Right knee. {text}") == found


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Right Lachman positive, sorry, anterior drawer negative.", ["lachman test", "anterior drawer"]),
        ("Right knee flexion one twenty, sorry, extension minus five.", ["flexion", "extension"]),
        ("Right MCL tender, sorry, LCL tender.", ["tenderness"]),
    ],
)
def test_an_apology_between_two_statements_takes_nothing_back_and_leaves_a_doubt(text: str, kept: list[str]) -> None:
    found = findings(text)
    assert [finding.finding for finding in found] == kept
    if len(kept) > 1:
        assert any(doubt.reason == "readings_disagree" for doubt in found[0].doubts)


def test_how_much_there_is_denies_nothing_any_more() -> None:
    (finding,) = findings("Left knee. No effusion, sorry, mild swelling.")
    assert (finding.finding, finding.status, finding.severity) == ("swelling", "present", "mild")
