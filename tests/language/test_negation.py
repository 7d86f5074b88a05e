"""What "no" denies: the sign, whatever stands between the two to say what kind of sign is meant. Invented sentences."""

from __future__ import annotations

import pytest

from tests.support.reading import findings

_KINDS = ("bony", "soft", "hard", "firm", "springy", "boggy", "warm", "red", "painful", "focal", "palpable", "gross")


@pytest.mark.parametrize("sign", ["tenderness", "swelling", "crepitus", "deformity"])
@pytest.mark.parametrize("kind", _KINDS)
def test_no_denies_the_sign_behind_an_adjective(kind: str, sign: str) -> None:
    (finding,) = findings(f"Right knee. No {kind} {sign} over the patella.")
    assert (finding.structure, finding.finding, finding.status) == ("patella", sign, "absent")


def test_no_bony_tenderness_in_a_row_of_places() -> None:
    found = findings("right ankle no bony tenderness medial malleolus lateral malleolus navicular or cuboid")
    assert [finding.status for finding in found] == ["absent"] * 4


@pytest.mark.parametrize("text", ["isn't warm swelling is mild", "not warm, swelling mild", "not warm swelling mild"])
def test_not_denies_the_adjective(text: str) -> None:
    found = findings(f"right ankle {text}")
    assert [(finding.finding, finding.status) for finding in found] == [("warmth", "absent"), ("swelling", "present")]


def test_a_test_that_could_not_be_got_was_not_examined() -> None:
    (finding,) = findings("Right knee. I couldn't get a pivot shift because she's guarding.")
    assert (finding.status, finding.limited_by) == ("not_examined", ["guarding"])


def test_a_sign_with_its_own_place_behind_a_comma_is_there_and_doubted() -> None:
    swelling, bruising = findings("Right knee. No swelling, bruising over the tibial tubercle.")
    assert (swelling.structure, swelling.status) == (None, "absent")
    assert (bruising.structure, bruising.status) == ("tibial tubercle", "present")
    assert bruising.doubts


def test_none_on_resisted_is_none_of_the_pain_before_it() -> None:
    found = findings("Right hip. Pain on resisted hip abduction, none on resisted hip adduction.")
    assert [(finding.finding, finding.structure, finding.status) for finding in found] == [
        ("pain", "abduction", "present"), ("pain", "adduction", "absent"),
    ]  # fmt: skip
