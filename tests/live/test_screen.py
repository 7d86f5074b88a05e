"""The exam in a terminal."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest

from dictate.cli.listen_screen import Lines, render
from dictate.live.view import Last, PlanLine, View

SECTIONS = (
    "introduction", "history", "inspection", "palpation", "active_motion", "passive_motion", "resisted_motion",
    "neurological", "vascular", "adjacent_joints", "referred_pain", "special_tests", "function", "measurement",
)  # fmt: skip
FOUND = Last("Flexion: 105°, right", None, 3)
VIEW = View(
    state="listening", region="knee", section="active_motion", side="right", last=FOUND, recent=(FOUND,),
    plan=tuple(PlanLine(section, "partial", ("a", "long", "list of what is missing" * 3)) for section in SECTIONS),
    trace=("Flexion one hundred and five.",), seconds=83.2, findings=3, doubts=1,
)  # fmt: skip


def plain(lines: list[str]) -> list[str]:
    """Return lines without their emphasis (SGR, ECMA-48)."""
    return [re.sub(r"\x1b\[[0-9;]*m", "", line) for line in lines]


def shown(**changes: object) -> str:
    return "\n".join(plain(render(replace(VIEW, **changes))))  # type: ignore[arg-type]


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40), (60, 24)])
def test_it_fits_the_terminal(columns: int, rows: int) -> None:
    recent = (Last("word " * 40, "doubt " * 40, 3),) * 4
    full = replace(VIEW, recent=recent, say_again="flexion", notice="late " * 50, partial="x" * 300)
    lines = plain(render(full, columns=columns, rows=rows))
    assert len(lines) <= rows and max(map(len, lines)) <= columns


def test_the_side_stands_at_its_edge_spelled_out() -> None:
    left, right = shown(side="left").splitlines()[2], shown(side="right").splitlines()[2]
    assert left.strip() == "◀ LEFT" and left.index("LEFT") < 10
    assert right.strip() == "RIGHT ▶" and right.index("RIGHT") > 60


def test_a_side_that_was_not_said_is_said_to_be() -> None:
    assert "SIDE NOT SAID" in shown(side=None)


def test_the_last_finding_and_its_doubt_are_shown() -> None:
    doubted = Last("Flexion: 105°, right", "not heard clearly", 3)
    assert "3. Flexion: 105°, right\n [?] not heard clearly" in shown(last=doubted, recent=(doubted,))


def test_what_must_be_said_again_is_shown() -> None:
    assert "SAY AGAIN: right flexion" in shown(say_again="right flexion")


def test_words_are_shown_as_they_are_spoken() -> None:
    assert "» flexion one" in shown(partial="flexion one")


@pytest.mark.parametrize(
    ("state", "words"),
    [("microphone_lost", "MICROPHONE LOST"), ("disk_full", "DISK FULL"), ("standing_by", "STANDING BY")],
)
def test_a_state_that_needs_something_is_shown(state: str, words: str) -> None:
    assert words in shown(state=state)


@pytest.mark.parametrize(
    ("level", "words"), [("quiet", "TOO QUIET"), ("clipping", "TOO LOUD"), ("silent", "NOTHING HEARD")]
)
def test_the_level_is_told_in_words(level: str, words: str) -> None:
    assert words in shown(level=level)


def test_text_cannot_steer_the_terminal() -> None:
    assert "\x1b" not in shown(partial="\x1b[2Jflexion\x07", notice="\x1b]0;title\x07")


def test_plain_lines_tell_each_finding_once() -> None:
    stream = io.StringIO()
    lines = Lines(stream)
    lines.show(VIEW)
    lines.show(VIEW)
    assert stream.getvalue().count("Flexion: 105°, right") == 1


def test_plain_lines_do_not_repeat_a_lag_that_only_grows() -> None:
    stream = io.StringIO()
    lines = Lines(stream)
    for seconds in (4, 5, 6):
        lines.show(View(notice=f"The words come {seconds} seconds late; the sound is kept."))
    assert stream.getvalue().count("late") == 1


def test_doubts_among_findings_that_there_is_no_room_for_are_counted() -> None:
    recent = [Last(f"Sign {n}: present", "no side was said" if n == 1 else None, n) for n in range(7)]
    assert "3 more, 1 to check" in shown(recent=tuple(recent))
