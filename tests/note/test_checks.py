"""Doubts that only the whole list of findings can raise."""

from __future__ import annotations

import pytest

from dictate.contract import Finding
from dictate.note.checks import checked


def motion(section: str, degrees: float, **values: object) -> Finding:
    base = {"section": section, "region": "knee", "side": "right", "finding": "flexion", "degrees": degrees}
    return Finding.model_validate({**base, **values})


def pulse(side: str, grade: str, structure: str = "dorsalis pedis artery") -> Finding:
    raw = {"section": "vascular", "region": "knee", "side": side, "structure": structure, "finding": "pulse"}
    return Finding.model_validate({**raw, "grade": {"scale": "pulse", "value": grade}})


def reasons(findings: list[Finding]) -> list[list[str]]:
    return [[doubt.reason for doubt in finding.doubts] for finding in checked(findings)]


@pytest.mark.parametrize(("passive", "doubts"), [(104.0, ["conflicts"]), (105.0, []), (130.0, [])])
def test_passive_well_below_active_is_a_doubt(passive: float, doubts: list[str]) -> None:
    # more than 5 degrees: project's choice, no source
    found = reasons([motion("active_motion", 110), motion("passive_motion", passive)])
    assert found == [[], doubts]


def test_the_other_side_is_no_measure_for_it() -> None:
    found = reasons([motion("active_motion", 140, side="left"), motion("passive_motion", 110)])
    assert found == [[], []]


def test_pulses_of_two_and_three_plus_may_mean_the_same() -> None:
    # scales of pulses differ in what is normal: Hill and Smith 1990 (3+), Swartz (2+)
    assert reasons([pulse("left", "2+"), pulse("right", "3+")]) == [["readings_disagree"], ["readings_disagree"]]


@pytest.mark.parametrize(
    "pair",
    [
        (pulse("left", "2+"), pulse("right", "2+")),
        (pulse("left", "2+"), pulse("right", "1+")),
        (pulse("left", "2+"), pulse("right", "3+", "popliteal artery")),
    ],
)
def test_other_pulses_are_no_doubt(pair: tuple[Finding, Finding]) -> None:
    assert reasons(list(pair)) == [[], []]


def test_an_impossible_active_angle_throws_no_doubt_on_the_passive_one() -> None:
    slip = {"reason": "out_of_range", "detail": "no joint does that"}
    found = reasons([motion("active_motion", 215, doubts=[slip]), motion("passive_motion", 135)])
    assert found == [["out_of_range"], []]
