"""The spoken fixtures' scripts, read as text: what no recogniser can spoil.

What the findings files mark as open is not scored: the scribe's rules do not settle it.
"""

from __future__ import annotations

import pytest

from tests.support.cases import FIXTURES, fixtures
from tests.support.floors import floors
from tests.support.reading import findings_of_note, score
from tests.support.scoring import Score, settled
from tests.support.show import show

CASES = fixtures()


def test_scripts(capsys: pytest.CaptureFixture[str]) -> None:
    total, lines = Score(), []
    for case in CASES:
        one = Score()
        got = findings_of_note(case)
        score(case, got, into=one)
        score(case, got, into=total)
        lines.append(one.line(f"  {case.name}"))
    head = total.line("scripts of the fixtures")
    show(capsys, head, *lines, f"  wrong without a doubt: {total.silent_share:.3f} of all findings")
    assert len(CASES) >= 12
    floor = floors()["fixtures_text"]
    assert round(total.f1, 4) >= floor["f1"]
    assert round(total.wrong_side_share, 4) <= floor["wrong_side"]
    assert round(total.silent_share, 4) <= floor["silent"]


def test_open_fields_are_not_scored() -> None:
    """A side that the rules leave open counts neither for nor against; one that they settle does."""
    case = next(case for case in CASES if any("side" in fields for fields in case.open_fields))
    place = next(n for n, fields in enumerate(case.open_fields) if "side" in fields)
    finding = case.findings[place]
    other = finding.model_copy(update={"side": "left" if finding.side != "left" else "right"})
    assert settled([finding], [other], [("side",)])[0].side == other.side
    assert settled([finding], [other], [()])[0].side == finding.side
    assert settled([finding], [other.model_copy(update={"finding": "gait"})], [("side",)])[0].side == finding.side


def test_every_script_has_its_sound() -> None:
    assert [case.name for case in CASES if not (FIXTURES / f"{case.name}.flac").is_file()] == []
