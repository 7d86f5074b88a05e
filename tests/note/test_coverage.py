"""Coverage against a plan: what counts as recorded, and which of the four words each section gets."""

from __future__ import annotations

import pytest

from dictate.contract import Finding, SectionCoverage
from dictate.lexicon.load import Lexicon, load_lexicon
from dictate.lexicon.model import PlanItem, PlanSection, RegionFile
from dictate.note.coverage import Told, coverage, fits

PLAN = RegionFile(
    region="knee",
    forms=("knee",),
    plan=(
        PlanSection(section="introduction"),
        PlanSection(section="inspection", items=(PlanItem(label="swelling", any_of=("swelling", "effusion")),)),
        PlanSection(
            section="palpation",
            items=(
                PlanItem(label="effusion", any_of=("effusion",)),
                PlanItem(label="joint line", any_of=("@ joint line", "tenderness @ patella")),
            ),
        ),
        PlanSection(section="active_motion", items=(PlanItem(label="flexion", any_of=("flexion",), both_sides=True),)),
        PlanSection(section="referred_pain"),
        PlanSection(section="special_tests", items=(PlanItem(label="ligament", any_of=("lachman test",)),)),
    ),
)
LEXICON = Lexicon((), load_lexicon().cues, (), (), {"knee": PLAN})


def finding(section: str, name: str, **values: object) -> Finding:
    return Finding.model_validate({"section": section, "region": "knee", "finding": name, **values})


def of(section: str, *findings: Finding, told: Told | None = None) -> SectionCoverage:
    parts = coverage(findings, region="knee", lexicon=LEXICON, told=told or Told())
    return next(part for part in parts if part.section == section)


def test_one_line_a_section_in_the_order_of_the_plan() -> None:
    parts = coverage([], region="knee", lexicon=LEXICON, told=Told())
    assert [part.section for part in parts] == [part.section for part in PLAN.plan]


def test_a_region_without_a_plan_has_no_sections() -> None:
    assert coverage([], region="hip", lexicon=LEXICON, told=Told()) == []


def test_nothing_said_is_skipped_and_everything_is_missing() -> None:
    part = of("palpation")
    assert (part.coverage, part.missing, part.sides) == ("skipped", ["effusion", "joint line"], [])


def test_all_items_recorded_is_done() -> None:
    part = of(
        "palpation",
        finding("palpation", "effusion", side="left", status="absent"),
        finding("palpation", "tenderness", structure="joint line", side="left"),
    )
    assert (part.coverage, part.missing, part.sides) == ("done", [], ["left"])


def test_some_items_recorded_is_partial() -> None:
    part = of("palpation", finding("palpation", "effusion", side="right"))
    assert (part.coverage, part.missing) == ("partial", ["joint line"])


def test_a_section_that_was_opened_but_left_without_a_finding_is_partial() -> None:
    assert of("palpation", told=Told(visited=frozenset({"palpation"}))).coverage == "partial"


def test_what_was_seen_at_inspection_need_not_be_felt_again() -> None:
    part = of(
        "palpation", finding("inspection", "effusion"), finding("palpation", "tenderness", structure="joint line")
    )
    assert part.coverage == "done"


def test_a_finding_of_another_section_does_not_open_this_one() -> None:
    part = of("palpation", finding("inspection", "effusion"))
    assert (part.coverage, part.missing) == ("skipped", ["joint line"])


def test_passive_flexion_is_not_active_flexion() -> None:
    part = of("active_motion", finding("passive_motion", "flexion", side="both", degrees=130))
    assert (part.coverage, part.missing) == ("skipped", ["flexion"])


@pytest.mark.parametrize(
    ("sides", "missing"),
    [
        (["left"], ["flexion (right)"]),
        (["left", "right"], []),
        (["both"], []),
        ([None], ["flexion (side not said)"]),
        (["left", "left"], ["flexion (right)"]),
    ],
)
def test_items_of_both_sides(sides: list[str | None], missing: list[str]) -> None:
    part = of("active_motion", *(finding("active_motion", "flexion", side=side) for side in sides))
    assert part.missing == missing


def test_both_counts_as_both_sides() -> None:
    assert of("active_motion", finding("active_motion", "flexion", side="both")).sides == ["left", "right"]


def test_a_deferred_section_keeps_its_reason() -> None:
    part = of("palpation", told=Told(deferred={"palpation": "too irritable"}))
    assert (part.coverage, part.reason) == ("deferred", "too irritable")


def test_a_deferred_section_in_which_something_was_recorded_is_partial_and_keeps_its_reason() -> None:
    part = of("palpation", finding("palpation", "effusion"), told=Told(deferred={"palpation": "too irritable"}))
    assert (part.coverage, part.reason) == ("partial", "too irritable")


def test_a_test_left_out_aloud_does_not_defer_its_whole_section_and_covers_nothing() -> None:
    part = of("special_tests", finding("special_tests", "lachman test", status="not_examined", limited_by=["guarding"]))
    assert (part.coverage, part.missing, part.reason) == ("partial", ["ligament"], None)


def test_findings_of_another_region_do_not_cover_this_ones_plan() -> None:
    hip = finding("active_motion", "flexion", side="both").model_copy(update={"region": "hip"})
    assert of("active_motion", hip).coverage == "skipped"


def test_the_introduction_is_covered_by_what_was_said() -> None:
    cues = {cue.value for cue in LEXICON.cues if cue.type == "introduce" and cue.value}
    assert cues, "the lexicon names parts of an introduction"
    assert of("introduction", told=Told(introduced=frozenset(cues))).coverage == "done"
    part = of("introduction", told=Told(introduced=frozenset({"consent"})))
    assert part.coverage == "partial"
    assert set(part.missing) == cues - {"consent"}
    assert of("introduction").coverage == "skipped"


def test_a_section_without_items_is_done_once_visited() -> None:
    assert of("referred_pain", told=Told(visited=frozenset({"referred_pain"}))).coverage == "done"


@pytest.mark.parametrize(
    ("pattern", "matches"),
    [
        ("tenderness", True),
        ("@ patella", True),
        ("tenderness @ patella", True),
        ("swelling", False),
        ("@ fibular head", False),
        ("tenderness @ fibular head", False),
        ("swelling @ patella", False),
    ],
)
def test_patterns_of_a_plan(pattern: str, matches: bool) -> None:
    assert fits(pattern, finding("palpation", "tenderness", structure="patella")) is matches


@pytest.mark.parametrize("region", sorted(load_lexicon().regions))
def test_every_shipped_plan_can_be_reported_on(region: str) -> None:
    lexicon = load_lexicon()
    parts = coverage([], region=region, lexicon=lexicon, told=Told())  # type: ignore[arg-type]
    assert parts
    assert all(part.coverage == "skipped" for part in parts)
