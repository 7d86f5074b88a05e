"""Which region an exam is of: joints that are only told where to go do not say it. Invented sentences."""

from __future__ import annotations

import pytest

from tests.support.reading import findings


@pytest.mark.parametrize(
    "set_up",
    ["Sit tall for me, feet flat.", "Hands on hips.", "Stand with your feet under your hips.", "Hand on your knee."],
)
def test_joints_that_are_put_somewhere_are_not_examined(set_up: str) -> None:
    found = findings(f"{set_up}\nC6 spinous process tender.\nActive flexion forty five, rotation to the left seventy.")
    assert [(finding.region, finding.finding) for finding in found[1:]] == [
        ("cervical", "flexion"), ("cervical", "rotation"),
    ]  # fmt: skip
    assert not any(finding.doubts for finding in found)


def test_a_region_that_is_gone_to_is_examined() -> None:
    (finding,) = findings("Moving on to the hips. Flexion one hundred on the left.")
    assert finding.region == "hip"
