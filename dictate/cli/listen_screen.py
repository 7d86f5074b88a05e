"""The running exam in a terminal, to be read at arm's length: few lines, one thing on each, plain words."""

from __future__ import annotations

import shutil
import sys
import textwrap
from typing import TextIO

from dictate.live.view import PlanLine, View
from dictate.note.describe import clock

_BOLD, _DIM, _REVERSE, _PLAIN = "\x1b[1m", "\x1b[2m", "\x1b[7m", "\x1b[0m"
_ENTER, _LEAVE = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"  # the other screen, without a cursor (ECMA-48, DEC)
_HOME, _TO_END_OF_LINE, _TO_END = "\x1b[H", "\x1b[K", "\x1b[J"
_STATES = {
    "starting": "Starting …",
    "listening": "Listening",
    "standing_by": "STANDING BY: say “ready to continue”",
    "microphone_lost": "MICROPHONE LOST",
    "disk_full": "DISK FULL",
    "closed": "Ended",
}
_LEVELS = {"good": "sound good", "quiet": "TOO QUIET", "clipping": "TOO LOUD", "silent": "NOTHING HEARD"}
_COVERAGE = {"done": "done", "partial": "partly", "deferred": "left out", "untouched": "open"}
_MOST_RECENT = 4  # findings of one utterance; the others are only counted
_SHORT = 34  # characters of a section and what is missing of it


class Screen:
    """Draws views on a terminal's other screen, and gives the terminal back as it was."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream or sys.stderr
        self._drawn: list[str] = []

    def __enter__(self) -> Screen:
        self._write(_ENTER)
        return self

    def __exit__(self, *_: object) -> None:
        self._write(_LEAVE)

    def show(self, view: View) -> None:
        """Draw a view; nothing is written when nothing changed."""
        size = shutil.get_terminal_size((80, 24))
        lines = render(view, columns=size.columns, rows=size.lines)
        if lines != self._drawn:
            self._drawn = lines
            self._write(_HOME + "\r\n".join(line + _TO_END_OF_LINE for line in lines) + _TO_END)

    def _write(self, text: str) -> None:
        self._stream.write(text)
        self._stream.flush()


def render(view: View, *, columns: int = 80, rows: int = 24) -> list[str]:
    """Return the lines of a view, at most `rows`, each at most `columns` wide without its emphasis."""
    width = max(20, columns - 2)
    head = [_bold(_spread(_where(view), clock(view.seconds), width)), "─" * width, _bold(_side_line(view, width)), ""]
    body = _finding(view, width)
    foot = [_partial(view, width), "", *_plan(view, width), "─" * width, *_status(view, width)]
    room = rows - len(head) - len(foot)
    body = body[: max(1, room)]
    filled = [*head, *body, *[""] * max(0, room - len(body)), *foot]
    return [f" {line}" for line in filled][:rows]


def _where(view: View) -> str:
    parts = [view.region or "region not said yet", (view.section or "").replace("_", " ")]
    return " · ".join(part.upper() for part in parts if part)


def _side_line(view: View, width: int) -> str:
    """The side stands at its own edge, spelled out."""
    if view.side == "left":
        return "◀ LEFT"
    if view.side == "right":
        return "RIGHT ▶".rjust(width)
    return (view.side or "side not said").upper().center(width)


def _finding(view: View, width: int) -> list[str]:
    lines: list[str] = []
    if view.answer:
        lines += [_bold(line) for line in _wrap(view.answer, width)] + [""]
    if hidden := view.recent[:-_MOST_RECENT]:
        doubts = sum(1 for found in hidden if found.doubt)
        lines.append(f"{len(hidden)} more{f', {doubts} to check' if doubts else ''}")
    for found in view.recent[-_MOST_RECENT:]:
        lines += [_bold(line) for line in _wrap(f"{found.number}. {found.text}", width)]
        if found.doubt:
            lines += _wrap(f"[?] {found.doubt}", width)
    if not view.recent and not view.answer:
        lines += ["Nothing found yet."]
    if view.say_again:
        lines += ["", *(_loud(line) for line in _wrap(f"SAY AGAIN: {view.say_again}", width))]
    return lines


def _partial(view: View, width: int) -> str:
    """The words being spoken, their end if they do not fit; else the last ones."""
    if view.partial:
        return _tail(f"» {view.partial}", width)
    return f"{_DIM}{_tail(view.trace[-1], width)}{_PLAIN}" if view.trace else ""


def _plan(view: View, width: int) -> list[str]:
    """Return the sections in two columns, each with how far it is in a word."""
    cells = [_cell(part) for part in view.plan]
    half = (len(cells) + 1) // 2
    column = max(_SHORT, width // 2 - 1)
    pairs = zip(cells[:half], [*cells[half:], ""], strict=False)
    return [f"{_clip(left, column):<{column}} {_clip(right, width - column - 1)}".rstrip() for left, right in pairs]


def _cell(part: PlanLine) -> str:
    name = part.section.replace("_", " ")
    missing = f": {', '.join(part.missing)}" if part.coverage == "partial" and part.missing else ""
    return f"{_COVERAGE[part.coverage]:>8}  {name}{missing}"


def _status(view: View, width: int) -> list[str]:
    state = _STATES[view.state]
    level = f" · {_LEVELS[view.level]}" if view.state == "listening" else ""
    lag = f" · {view.lag_s:.0f} s late" if view.lag_s >= 2.0 else ""
    counted = f"{view.findings} findings, {view.doubts} to check"
    line = _spread(f"{state}{level}{lag}", f"{counted} · q ends", width)
    loud = view.state not in ("listening", "starting", "closed") or (view.state == "listening" and view.level != "good")
    notice = _wrap(view.notice, width)[:2] if view.notice else []
    return [*(_loud(part) for part in notice), _loud(line) if loud else line]


def _spread(left: str, right: str, width: int) -> str:
    """Return two texts at the edges; the left one gives way."""
    left = _clip(left, max(1, width - len(right) - 1))
    return f"{left}{right.rjust(width - len(left))}"


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(_safe(text), width) or [""]


def _clip(text: str, width: int) -> str:
    text = _safe(text)
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _tail(text: str, width: int) -> str:
    text = _safe(text)
    return text if len(text) <= width else f"…{text[1 - width :]}"


def _safe(text: str) -> str:
    """Return text without control characters: nothing that is shown may steer the terminal."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _bold(text: str) -> str:
    return f"{_BOLD}{text}{_PLAIN}"


def _loud(text: str) -> str:
    return f"{_REVERSE}{_BOLD}{text}{_PLAIN}"


class Lines:
    """Says what is new in plain lines, for where there is no terminal: a log, a pipe, a screen reader."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = stream or sys.stderr
        self._before = View()

    def __enter__(self) -> Lines:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def show(self, view: View) -> None:
        """Print what is new since the view before."""
        before, self._before = self._before, view
        if view.state != before.state:
            self._line(view, _STATES[view.state])
        if view.notice and view.notice != before.notice and not _late(view.notice, before.notice):
            self._line(view, view.notice)
        for found in view.recent if view.recent != before.recent else ():
            doubt = f" [?] {found.doubt}" if found.doubt else ""
            self._line(view, f"{found.number}. {found.text}{doubt}")
        if view.answer and view.answer != before.answer:
            self._line(view, view.answer)

    def _line(self, view: View, text: str) -> None:
        self._stream.write(f"{clock(view.seconds):>6}  {_safe(text)}\n")
        self._stream.flush()


def _late(notice: str, before: str | None) -> bool:
    """Whether two notices differ in their numbers only."""
    return before is not None and _without_digits(notice) == _without_digits(before)


def _without_digits(text: str) -> str:
    return "".join(letter for letter in text if not letter.isdigit())
