"""A session for tests: shows what it is told, and keeps what it is given."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from typing import Any

SECTIONS = (
    ("history", "deferred"), ("inspection", "done"), ("palpation", "partial"), ("active_motion", "untouched"),
    ("passive_motion", "untouched"), ("resisted_motion", "untouched"), ("neurological", "untouched"),
    ("vascular", "untouched"), ("adjacent_joints", "untouched"), ("special_tests", "untouched"),
    ("function", "untouched"), ("measurement", "untouched"),
)  # fmt: skip
PLAN = [
    {
        "section": section, "coverage": coverage, "reason": None,
        "missing": ["patellar tendon", "tibial tuberosity"] if coverage == "partial" else [],
        "sides": {"done": ["left", "right"], "partial": ["left"]}.get(coverage, []),
    }
    for section, coverage in SECTIONS
]  # fmt: skip
VIEW: dict[str, Any] = {
    "type": "view", "state": "listening", "region": "knee", "section": "palpation", "side": "left",
    "injured_side": "left", "last": {"text": "Medial joint line: tenderness, left", "doubt": None, "number": 17},
    "say_again": None, "plan": PLAN,
    "trace": ["Moving on to palpation, left knee.", "Patella and its poles are fine.", "Medial joint line is tender."],
    "partial": "lateral joint", "seconds": 83.2, "lag_s": 0.3, "level": "good", "findings": 17, "doubts": 2,
    "notice": None, "answer": None,
}  # fmt: skip


class ScriptedSession:
    """What the page needs of a session (`dictate.live.server.Session`)."""

    def __init__(self, **view: Any) -> None:
        self.now: dict[str, Any] = VIEW | view
        self.samples = bytearray()
        self.missed: list[float] = []
        self.closed = threading.Event()
        self._tell: list[Callable[[Mapping[str, Any]], None]] = []

    def view(self) -> dict[str, Any]:
        return self.now

    def subscribe(self, callback: Callable[[Mapping[str, Any]], None]) -> None:
        self._tell.append(callback)

    def accept_sound(self, samples: bytes) -> None:
        self.samples += samples

    def missed_sound(self, seconds: float) -> None:
        self.missed.append(seconds)

    def close(self) -> None:
        self.closed.set()
        self.show(state="closed")

    def show(self, **view: Any) -> None:
        """Change what is shown."""
        self.now = self.now | view
        for tell in self._tell:
            tell(self.now)

    def play(self, name: str) -> None:
        """Ask the page for a sound."""
        for tell in self._tell:
            tell({"type": "sound", "name": name})
