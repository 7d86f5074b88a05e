"""Prompts: each is raised by what breaks its rule, stays away otherwise, names its source, and is never a diagnosis.

The rules of order and comparison are common practice, no source.
"""

from __future__ import annotations

import re

import pytest

from dictate.contract import Note, Prompt
from dictate.errors import LexiconError
from dictate.interface import interpret
from dictate.lexicon.load import load_lexicon
from dictate.note.prompt_texts import MeasureLimit, PromptTexts, prompt_texts


def of(text: str, kind: str, **about: object) -> list[Prompt]:
    note = interpret(text, **{"region": "knee", **about})  # type: ignore[arg-type]
    return [prompt for prompt in note.prompts if prompt.kind == kind]


def test_injured_side_first() -> None:
    text = "Palpation. Medial joint line tender on the right. Medial joint line non-tender on the left."
    (prompt,) = of(text, "order", injured_side="right")
    assert "right" in prompt.text
    assert "palpation" in prompt.text
    assert prompt.findings == [0, 1]


def test_uninjured_side_first_is_right() -> None:
    text = "Palpation. Medial joint line non-tender on the left. Medial joint line tender on the right."
    assert of(text, "order", injured_side="right") == []


@pytest.mark.parametrize("injured", [None, "both"])
def test_without_one_injured_side_no_side_is_first(injured: str | None) -> None:
    text = "Palpation. Medial joint line tender on the right. Medial joint line non-tender on the left."
    assert of(text, "order", injured_side=injured) == []


def test_touch_before_inspection() -> None:
    (prompt,) = of("Palpation. Right medial joint line tender. On inspection, no bruising on the right.", "order")
    assert "look" in prompt.text


def test_inspection_before_touch() -> None:
    assert of("On inspection, no bruising on the right. Palpation. Right medial joint line tender.", "order") == []


def test_passive_before_active() -> None:
    (prompt,) = of("Right knee. Passive flexion one thirty. Active flexion one ten.", "order")
    assert "Passive motion came before active motion" in prompt.text


def test_active_before_passive_before_resisted() -> None:
    text = "Right knee. Active flexion one ten. Passive flexion one thirty. Resisted extension five out of five."
    assert of(text, "order") == []


def test_introduction_after_the_first_touch() -> None:
    (prompt,) = of("Palpation. Right medial joint line tender.\nLet me know if anything hurts.", "order")
    assert "pain to be reported" in prompt.text


def test_only_one_side_at_all() -> None:
    (prompt,) = of("Right knee. Lachman negative. Anterior drawer negative.", "comparison")
    assert "Only the right side was recorded." in prompt.text
    assert prompt.findings == [0, 1]


def test_one_side_of_some() -> None:
    text = "Lachman negative on the left. Lachman negative on the right. McMurray positive on the right."
    (prompt,) = of(text, "comparison")
    assert "mcmurray test" in prompt.text
    assert "lachman" not in prompt.text


def test_both_sides_are_a_comparison() -> None:
    assert of("Lachman negative on both sides.", "comparison") == []


def test_no_side_said() -> None:
    prompts = of("Lachman negative.", "side")
    assert any("lachman test" in prompt.text for prompt in prompts)


def test_gait_needs_no_side() -> None:
    assert not any("gait" in prompt.text for prompt in of("Gait normal.", "side"))


def test_an_unusual_angle_is_asked_about() -> None:
    # beyond ask_deg of knee flexion, project's choice, no source
    (prompt,) = of("Right knee, active flexion one sixty.", "plausibility")
    assert "160°" in prompt.text
    assert prompt.findings == [0]


def test_a_usual_angle_is_not() -> None:
    assert of("Right knee, active flexion one thirty.", "plausibility") == []


def test_what_no_joint_does_is_a_doubt_and_not_a_prompt() -> None:
    note = interpret("Right knee, active flexion three hundred and fifty.", region="knee")
    assert [doubt.reason for doubt in note.findings[0].doubts] == ["out_of_range"]
    assert [prompt for prompt in note.prompts if prompt.kind == "plausibility"] == []


@pytest.mark.parametrize(
    ("seconds", "about", "asked"),
    [
        # Schriger and Baraff 1988, Ann Emerg Med 17:932: 2 s usual, 2.9 s adult women, 4.5 s elderly (95th centiles)
        ("three", {}, True),
        ("two", {}, False),
        ("three", {"sex": "female", "age": 30}, True),
        ("two point five", {"sex": "female", "age": 30}, False),
        ("four", {"age": 80}, False),
        ("five", {"age": 80}, True),
    ],
)
def test_capillary_refill(seconds: str, about: dict[str, object], asked: bool) -> None:
    prompts = of(f"Vascular. Capillary refill {seconds} seconds on the right.", "plausibility", **about)
    assert bool(prompts) is asked


def test_rotation_of_a_straight_knee_is_asked_about() -> None:
    text = "Passive motion. Tibial rotation {} at {} degrees on the right."
    assert len(of(text.format("normal", "zero"), "plausibility")) == 1
    assert of(text.format("normal", "ninety"), "plausibility") == []


def test_skipped_sections_are_named_and_deferred_ones_are_not() -> None:
    prompts = of(
        "Right knee. Lachman negative. I'm skipping passive movements because she's too irritable.", "coverage"
    )
    skipped = next(prompt.text for prompt in prompts if prompt.text.startswith("Nothing was said of"))
    assert "vascular" in skipped
    assert "passive motion" not in skipped
    assert "special tests" not in skipped


def test_what_was_not_heard_of_the_introduction() -> None:
    prompts = of("Let me know if anything hurts. Right knee. Lachman negative.", "coverage")
    text = next(prompt.text for prompt in prompts if "Not heard" in prompt.text)
    assert "consent" in text
    assert "pain to be reported" not in text


def test_an_end_feel_is_due_after_passive_motion() -> None:
    assert any("end feel" in p.text for p in of("Right knee. Passive flexion one thirty.", "coverage"))
    with_one = of("Right knee. Passive flexion one thirty with a soft tissue end feel.", "coverage")
    assert not any("end feel" in p.text for p in with_one)


def test_an_exam_without_findings_is_not_lectured() -> None:
    assert {prompt.kind for prompt in interpret("Good morning.").prompts} <= {"coverage"}


def test_every_prompt_has_a_source_and_points_at_findings_that_exist() -> None:
    note = narrated()
    assert note.prompts
    for prompt in note.prompts:
        assert prompt.source
        assert all(0 <= index < len(note.findings) for index in prompt.findings)


def test_wordings_never_say_what_the_patient_has() -> None:
    texts = [entry.text for entry in prompt_texts(load_lexicon()).prompt]
    assert not [text for text in texts if re.search(r"\b(has|have|suffers from|diagnos\w+)\b", text)]


def test_a_prompt_that_the_file_lacks_is_a_lexicon_error() -> None:
    with pytest.raises(LexiconError, match="no prompt has the id 'nothing'"):
        PromptTexts(prompt=()).make("nothing")


def test_a_misspelled_name_in_a_wording_is_a_lexicon_error() -> None:
    raw = {"prompt": [{"id": "a", "kind": "order", "text": "first {syde}", "source": "common practice"}]}
    with pytest.raises(LexiconError, match="syde"):
        PromptTexts.model_validate(raw).make("a", side="left")


@pytest.mark.parametrize(("age", "sex", "fits"), [(None, "female", False), (30, "male", False), (30, "female", True)])
def test_a_limit_fits_only_whom_it_is_known_to_fit(age: float | None, sex: str, fits: bool) -> None:
    limit = MeasureLimit(finding="x", unit="s", above=1, age_from=18, sex="female", whom="x", source="x")
    assert limit.fits(age=age, sex=sex) is fits


def narrated() -> Note:
    return interpret(
        "Right knee, she twisted it. Palpation. Moderate effusion on the right. Passive flexion one sixty.\n"
        "Inspection. No bruising. Lachman positive on the right, negative on the left. Cap refill four seconds."
    )
