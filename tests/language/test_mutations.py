"""The parser reads sides, negations and numbers: change one, and the findings change."""

from __future__ import annotations

import pytest

from tests.language.mutations import KINDS
from tests.support.floors import floors
from tests.support.show import show


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_phrases_react(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    mutations = list(KINDS[kind]())
    deaf = [f"  “{one.phrase}” -> “{one.changed}”" for one in mutations if not one.reacted]
    share = 1 - len(deaf) / len(mutations)
    show(capsys, f"{kind} changed in {len(mutations)} phrases: {share:.4f} react", *deaf)
    assert len(mutations) >= 100
    assert share >= floors()["mutations"][kind]
