"""The spoken fixtures, through the real recogniser with the embedded weights: what the program is for.

Each recording is heard once in a session of tests; the tests read what came of it. Without DICTATE_ALL_FIXTURES=1 only
those are heard that are `daily` in the index: every voice and noise, and all talk without findings.
"""

from __future__ import annotations

import os
import tomllib
from collections import defaultdict
from dataclasses import dataclass

import pytest

from dictate import transcribe
from dictate.contract import Note
from tests.support.cases import FIXTURES, Case, fixtures
from tests.support.floors import floors
from tests.support.reading import score
from tests.support.scoring import Score
from tests.support.show import show

pytestmark = pytest.mark.slow

INDEX = {entry["name"]: entry for entry in tomllib.loads((FIXTURES / "fixtures.toml").read_text("utf-8"))["fixture"]}
ALL = os.environ.get("DICTATE_ALL_FIXTURES") == "1"
TEACHING = ("teaching_demo_ligaments", "teaching_demo_swelling", "no_finding_consent_talk")


@dataclass(frozen=True)
class Heard:
    """A fixture with the note of its recording."""

    case: Case
    note: Note
    voices: str
    noise: str

    @property
    def clean(self) -> bool:
        return self.noise == "none"

    def score(self) -> Score:
        """Return the figures of this recording alone."""
        one = Score()
        score(self.case, self.note.findings, into=one)
        return one


@pytest.fixture(scope="session")
def heard() -> list[Heard]:
    """Hear the recordings, each once."""
    found = []
    for case in fixtures():
        entry = INDEX[case.name]
        if not (ALL or entry["daily"]):
            continue
        note = transcribe(FIXTURES / f"{case.name}.flac", engine="whisper")
        found.append(Heard(case, note, "+".join(entry["voices"]), entry["noise"]))
    return found


def test_clean_voices(heard: list[Heard], capsys: pytest.CaptureFixture[str]) -> None:
    """Field F1 over all voices without noise, and how many fields are wrong with nothing to warn of it."""
    clean = Score()
    voices: defaultdict[str, Score] = defaultdict(Score)
    lines = []
    for one in heard:
        own = one.score()
        lines.append(f"{own.line('  ' + one.case.name)}  {one.voices}, noise {one.noise}")
        score(one.case, one.note.findings, into=voices[one.voices if one.clean else f"{one.voices} in noise"])
        if one.clean:
            score(one.case, one.note.findings, into=clean)
    by_voice = [own.line(f"  voice {name}") for name, own in sorted(voices.items())]
    share = f"  wrong without a doubt: {clean.silent_share:.4f} of all findings"
    show(capsys, clean.line("from sound, without noise"), share, *by_voice, *lines)
    floor = floors()["fixtures_sound"]
    assert len(voices) >= 4
    assert round(clean.f1, 4) >= floor["f1"]
    assert round(clean.silent_share, 4) <= floor["silent"]


def test_teaching_demonstrations(heard: list[Heard], capsys: pytest.CaptureFixture[str]) -> None:
    """False findings in talk that is mostly teaching or consent."""
    lines, false, seconds = [], 0, 0.0
    for one in heard:
        if one.case.name in TEACHING:
            own = one.score()
            wrong = own.found - own.right
            false, seconds = false + wrong, seconds + (one.note.exam.seconds or 0)
            lines.append(f"  {one.case.name}: {wrong} false of {own.found} findings in {one.note.exam.seconds:.0f} s")
    rate = 600 * false / seconds
    show(capsys, f"teaching and consent from sound: {rate:.1f} false findings in ten minutes", *lines)
    assert len(lines) == len(TEACHING)
    assert rate <= floors()["fixtures_sound"]["false_per_ten_minutes"]


def test_times_lie_in_the_recording(heard: list[Heard]) -> None:
    """Every finding of a recording is somewhere in it, and its end is not before its start."""
    outside = [
        f"{one.case.name}: {finding.said} {finding.time}"
        for one in heard
        for finding in one.note.findings
        if finding.time is None or not 0 <= finding.time[0] <= finding.time[1] <= (one.note.exam.seconds or 0) + 0.1
    ]
    untimed = [line for line in outside if line.endswith("None")]
    assert [line for line in outside if line not in untimed] == []
    assert (
        len(untimed) <= sum(len(one.note.findings) for one in heard) / 20
    )  # copies ("same on the left") may have none
