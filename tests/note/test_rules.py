"""Decision rules and red flags give the published answer, and what nobody recorded never counts as "no"."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from dictate.contract import Finding, Prompt
from dictate.errors import LexiconError
from dictate.lexicon.load import load_lexicon
from dictate.lexicon.reference_model import Match, Reference, Way, reference_of
from dictate.note.rules import Answer, decided, matches, prompts_from_rules

LEXICON = load_lexicon()
REFERENCE: Reference = reference_of(LEXICON.reference)


def finding(name: str, **fields: Any) -> Finding:
    """Return a finding of a right knee, whatever is not said otherwise."""
    usual = {"section": "special_tests", "region": "knee", "side": "right"}
    return Finding.model_validate({**usual, "finding": name, **fields})


def prompts(findings: list[Finding], region: str = "knee", age: float | None = None) -> list[Prompt]:
    return prompts_from_rules(findings, region=region, reference=REFERENCE, age=age)


def starting(found: list[Prompt], name: str) -> list[Prompt]:
    return [prompt for prompt in found if prompt.text.startswith(name)]


def one(found: list[Prompt], name: str) -> Prompt:
    """Return the only prompt of a rule or flag."""
    chosen = starting(found, name)
    assert len(chosen) == 1, [prompt.text for prompt in found]
    return chosen[0]


# -- Ottawa knee rule: Stiell 1995, 1996 ---------------------------------------------------------------------------

TENDER_HEAD = finding("tenderness", structure="fibular head", status="present", section="palpation")
NO_HEAD = finding("tenderness", structure="fibular head", status="absent", section="palpation")
NO_PATELLA = finding("tenderness", structure="patella", status="absent", section="palpation")
BENDS_WELL = finding("flexion", degrees=130, section="active_motion")
WALKS = finding("weight bearing", status="normal", section="function")
EVERY_NO = [NO_HEAD, NO_PATELLA, BENDS_WELL, WALKS]


def test_ottawa_knee_is_met_by_one_criterion() -> None:
    prompt = one(prompts([NO_PATELLA, TENDER_HEAD]), "Ottawa knee rule")
    assert (prompt.kind, prompt.findings) == ("decision_rule", [0, 1])
    assert "Met: tenderness of the fibular head." in prompt.text
    assert "Not known: age 55 or over; cannot flex to 90 degrees" in prompt.text


def test_ottawa_knee_waits_for_the_age() -> None:
    assert not starting(prompts(EVERY_NO), "Ottawa knee rule")


def test_ottawa_knee_is_not_met_when_all_is_known() -> None:
    assert "none is met" in one(prompts(EVERY_NO, age=54), "Ottawa knee rule").text


def test_ottawa_knee_age_of_55_meets_it() -> None:
    assert "Met: age 55 or over." in one(prompts(EVERY_NO, age=55), "Ottawa knee rule").text


@pytest.mark.parametrize("left_out", range(len(EVERY_NO)))
def test_what_is_not_recorded_is_never_no(left_out: int) -> None:
    some = EVERY_NO[:left_out] + EVERY_NO[left_out + 1 :]
    assert not starting(prompts(some, age=30), "Ottawa knee rule")


@pytest.mark.parametrize("status", ["not_examined", "equivocal"])
def test_neither_a_skipped_nor_a_doubtful_finding_decides(status: str) -> None:
    doubtful = finding("tenderness", structure="fibular head", status=status, section="palpation")
    assert not starting(prompts([doubtful, *EVERY_NO[1:]], age=30), "Ottawa knee rule")


def test_the_other_knee_does_not_answer_for_this_one() -> None:
    left = [item.model_copy(update={"side": "left"}) for item in EVERY_NO]
    found = starting(prompts([*left[:2], *EVERY_NO[2:]], age=30), "Ottawa knee rule")
    assert found == []


# -- clusters ------------------------------------------------------------------------------------------------------


def positive(name: str, region: str, side: str | None = "right") -> Finding:
    return finding(name, status="positive", region=region, side=side)


def negative(name: str, region: str, side: str | None = "right") -> Finding:
    return finding(name, status="negative", region=region, side=side)


def test_sacroiliac_any_two_of_the_four() -> None:
    """Laslett 2005: any two of distraction, thigh thrust, compression, sacral thrust."""
    tests = [positive("thigh thrust", "sacroiliac"), positive("sacroiliac distraction", "sacroiliac", None)]
    assert one(prompts(tests, "lumbar"), "sacroiliac provocation cluster (right)").findings == [0, 1]


def test_sacroiliac_gaenslen_and_one_other_are_not_enough() -> None:
    tests = [positive("gaenslen test", "sacroiliac"), positive("thigh thrust", "sacroiliac")]
    assert not starting(prompts(tests, "lumbar"), "sacroiliac provocation cluster")


def test_sacroiliac_sides_are_not_added_up() -> None:
    tests = [positive("thigh thrust", "sacroiliac"), positive("sacroiliac compression", "sacroiliac", "left")]
    assert not starting(prompts(tests, "lumbar"), "sacroiliac provocation cluster")


def wainner(*statuses: bool, rotation: float) -> list[Finding]:
    names = ("upper limb tension test a", "cervical distraction test", "spurling test")
    tests = [(positive if met else negative)(name, "cervical") for name, met in zip(names, statuses, strict=True)]
    return [*tests, finding("rotation", region="cervical", degrees=rotation, section="active_motion")]


@pytest.mark.parametrize(
    ("statuses", "rotation", "said"),
    [
        ((True, True, True), 59, "All four: LR+ 30.3"),
        ((True, True, True), 60, "Three of four: 39/94"),
        ((True, False, True), 40, "Three of four: 39/94"),
        ((True, False, False), 40, "fewer than three of four"),
    ],
)
def test_cervical_radiculopathy(statuses: tuple[bool, ...], rotation: float, said: str) -> None:
    """Wainner 2003: ULTT A, rotation below 60 degrees to that side, distraction, Spurling A."""
    found = prompts(wainner(*statuses, rotation=rotation), "cervical")
    assert said in one(found, "cervical radiculopathy cluster (right)").text


def test_myelopathy_counts_the_age() -> None:
    """Cook 2010: three of gait deviation, Hoffmann, inverted supinator, Babinski, age over 45."""
    signs = [positive("hoffmann sign", "cervical"), positive("babinski sign", "cervical")]
    assert not starting(prompts(signs, "cervical", age=45), "cervical myelopathy cluster")
    assert "no manipulation" in one(prompts(signs, "cervical", age=46), "cervical myelopathy cluster").text


def test_pittsburgh_names_the_trauma_that_nobody_recorded() -> None:
    """Seaberg 1994: fall or blunt trauma, and age under 12 or over 50 or no four steps."""
    cannot = finding("weight bearing", status="reduced", section="function")
    text = one(prompts([cannot], age=30), "Pittsburgh knee rule").text
    assert "if there was a fall or blunt trauma" in text and "Not known: fall or blunt trauma" in text


@pytest.mark.parametrize(("drawer", "shown"), [(None, 0), ("negative", 0), ("equivocal", 0), ("positive", 1)])
def test_cruciate_in_primary_care_needs_the_drawer(drawer: str | None, shown: int) -> None:
    """Wagemakers 2010: two of effusion, popping, giving way, and then the anterior drawer."""
    knee = [finding("effusion", status="present"), finding("giving way", status="present")]
    knee += [finding("anterior drawer", status=drawer)] if drawer else []
    assert len(starting(prompts(knee), "anterior cruciate ligament in primary care")) == shown


# -- red flags -----------------------------------------------------------------------------------------------------

LIMITED = finding("flexion", degrees=40, limited_by=["pain"], section="passive_motion")
HOT = finding("warmth", status="present", section="palpation")
SWOLLEN = finding("effusion", status="present", section="palpation")


def test_septic_joint_needs_heat_swelling_and_lost_motion() -> None:
    prompt = one(prompts([HOT, SWOLLEN, LIMITED]), "hot, swollen joint")
    assert (prompt.kind, prompt.findings) == ("safety", [0, 1, 2])
    assert "septic arthritis" in prompt.text


@pytest.mark.parametrize("left_out", range(3))
def test_septic_joint_not_without_one_of_them(left_out: int) -> None:
    three = [HOT, SWOLLEN, LIMITED]
    assert not starting(prompts(three[:left_out] + three[left_out + 1 :]), "hot, swollen joint")


def test_flags_do_not_mix_the_sides() -> None:
    assert not starting(prompts([HOT, SWOLLEN.model_copy(update={"side": "left"}), LIMITED]), "hot, swollen joint")


def test_both_counts_for_each_side() -> None:
    found = starting(prompts([HOT, SWOLLEN.model_copy(update={"side": "both"}), LIMITED]), "hot, swollen joint")
    assert [prompt.text.split(":")[0] for prompt in found] == ["hot, swollen joint that will not move (right)"]


def test_absent_pulse_after_a_knee_exam() -> None:
    pulse = finding("pulse", structure="dorsalis pedis artery", region="foot", status="absent", section="vascular")
    assert "popliteal artery" in one(prompts([pulse]), "circulation beyond").text


@pytest.mark.parametrize(("age", "shown"), [(None, 0), (7, 0), (8, 1), (15, 1), (16, 0)])
def test_slipped_epiphysis_between_8_and_15(age: float | None, shown: int) -> None:
    hip = finding("internal rotation", region="hip", status="reduced", section="passive_motion")
    assert len(starting(prompts([hip], "hip", age=age), "growing child")) == shown


def test_saddle_sensation_in_any_region() -> None:
    saddle = finding("sensation", structure="saddle area", region="lumbar", side=None, status="reduced")
    assert "cauda equina" in one(prompts([saddle], "hip"), "saddle, bladder or bowel").text


def test_leg_signs_must_be_on_both_sides() -> None:
    right, left = positive("straight leg raise", "lumbar"), positive("straight leg raise", "lumbar", "left")
    assert not starting(prompts([right], "lumbar"), "leg signs on both sides")
    assert one(prompts([right, left], "lumbar"), "leg signs on both sides").findings == [0, 1]


def test_negative_findings_raise_nothing() -> None:
    names = ("hoffmann sign", "babinski sign", "lhermitte sign", "clonus", "sharp-purser test")
    assert prompts([negative(name, "cervical") for name in names], "cervical") == []


def test_an_empty_note_raises_nothing() -> None:
    assert [prompt for region in LEXICON.regions for prompt in prompts([], region, age=70)] == []


# -- laws of the evaluator -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("met", "unknown", "expected"),
    [(2, 0, True), (1, 1, None), (1, 0, False), (0, 2, None), (0, 1, False), (3, 0, True)],
)
def test_two_of_three_in_three_valued_logic(met: int, unknown: int, expected: bool | None) -> None:
    answers = [Answer("a", True)] * met + [Answer("b", None)] * unknown + [Answer("c", False)] * (3 - met - unknown)
    assert decided(Way(at_least=2), answers) is expected


def test_a_pattern_keeps_to_its_regions() -> None:
    pattern = Match(finding=("flexion",), degrees_below=90)
    bent = finding("flexion", degrees=60)
    assert matches(pattern, bent, regions=frozenset({"knee"}))
    assert not matches(pattern, bent, regions=frozenset({"hip"}))
    assert not matches(pattern, bent.model_copy(update={"degrees": None}), regions=frozenset({"knee"}))


def test_a_skipped_test_fits_no_pattern_that_does_not_ask_for_it() -> None:
    skipped = finding("flexion", status="not_examined", limited_by=["pain"])
    assert not matches(Match(finding=("flexion",), limited_by=("pain",)), skipped, regions=frozenset({"knee"}))
    assert matches(Match(finding=("flexion",), status=("not_examined",)), skipped, regions=frozenset({"knee"}))


def test_a_misspelt_key_names_the_file() -> None:
    broken = {**LEXICON.reference, "rules": {"rule": [{"name": "x", "regionz": ["knee"]}]}}
    with pytest.raises(LexiconError, match=r"rules\.toml: rule\.0"):
        reference_of(broken)


# -- the data against the lexicon ----------------------------------------------------------------------------------

LABELS = {term.label for term in LEXICON.terms} | {"strength"}


def _patterns() -> Iterator[tuple[str, Match]]:
    for rule in REFERENCE.rules:
        for criterion in rule.criterion:
            yield from ((rule.name, match) for match in (*criterion.met_by, *criterion.not_met_by))
    for flag in REFERENCE.red_flags:
        yield from ((flag.name, match) for group in flag.groups for match in group.any_of)


def test_rules_and_flags_use_labels_that_can_be_said() -> None:
    named = {(name, label) for name, match in _patterns() for label in (*match.finding, *match.structure)}
    by_level = re.compile(r"[CTLS]\d+ (dermatome|myotome)")
    assert {pair for pair in named if pair[1] not in LABELS and not by_level.fullmatch(pair[1])} == set()


def test_levels_and_terms_agree() -> None:
    """Two tellings of one fact: a level that levels.toml gives a label is among the levels of its term."""
    given: dict[str, set[str]] = {}
    for term in LEXICON.terms:
        for name in (term.label, *(f"{region} {term.label}" for region in term.regions)):
            given.setdefault(name, set()).update(term.levels)
    wrong = [
        (level.name, label)
        for level in REFERENCE.levels.level
        for label in (*level.reflexes, *level.areas, *level.myotome)
        if level.name not in given.get(label, set())
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("label", "levels"),
    [
        ("patellar reflex", {"L2", "L3", "L4"}),  # L4, L3-L4 or L2-L4 by tradition: orthopaedic texts (secondary pages)
        ("achilles reflex", {"S1", "S2"}),  # S1 or S1-S2 (secondary pages)
        ("biceps reflex", {"C5", "C6"}),  # C5 or C5-C6 (secondary pages)
        ("triceps reflex", {"C6", "C7", "C8"}),  # C7, C6-C7 or C7-C8 (secondary pages)
        ("lateral foot", {"S1"}),  # sural nerve, S1 skin, general texts (from memory)
    ],
)
def test_levels_outside_every_tradition_are_not_given(label: str, levels: set[str]) -> None:
    assert set(REFERENCE.levels.giving(label)) == levels


@pytest.mark.parametrize(
    ("scale", "value", "status"),
    [
        ("MRC", "5", "normal"),  # Medical Research Council 1976
        ("MRC", "4-", "reduced"),
        ("reflex", "0", "absent"),
        ("reflex", "3+", None),  # brisk in one scale, normal in another: never decided
        ("pulse", "3+", None),  # normal or bounding, by the scale
        ("pulse", "2+", None),
        ("spasticity", "1+", None),
    ],
)
def test_scales_decide_only_what_every_user_means(scale: str, value: str, status: str | None) -> None:
    named = REFERENCE.scales.named(scale)
    assert named is not None
    entry = named.value(value)
    assert entry is not None and entry.status == status


def test_scales_know_no_grade_six_of_strength() -> None:
    named = REFERENCE.scales.named("MRC")
    assert named is not None and named.value("6") is None


def test_every_scale_of_a_term_is_described() -> None:
    described = {scale.name for scale in REFERENCE.scales.scale}
    assert {term.scale for term in LEXICON.terms if term.scale} - described == set()
