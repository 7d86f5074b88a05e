"""The picture of the knees: which mark goes where, on the side where it was found. `picture_svg.py` draws it.

Places and marks are data (`data/knee_picture.toml`). Whatever abnormal finding has no place is named below the
picture: a picture that leaves something out in silence would say that it is not there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Finding, Note, OneSide

_DATA = Path(__file__).parent / "data" / "knee_picture.toml"
_DRAWN_SECTIONS = frozenset({"inspection", "palpation", "special_tests"})
_THERE = frozenset({"present", "positive", "increased", "equivocal"})
_NOT_THERE = frozenset({"absent", "negative"})

WIDTH, HEIGHT = 480, 372  # of the whole picture
CENTRE: Mapping[OneSide, int] = {"right": 120, "left": 360}  # seen from the front: the right knee is on the left
TOP, BOX_TOP, BOX_HEIGHT = 24, 318, 30
RADIUS = 8.5  # of a mark; marks do not overlap
SMALL = 2.6  # radius of "examined, not there"
_BETWEEN = 2 * RADIUS + 1.5


class _Closed(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Mark(_Closed):
    """What one kind of finding looks like; letter and shape tell it apart in black and white."""

    letter: Annotated[str, Field(min_length=1, max_length=1)]
    name: str
    shape: Literal["circle", "square", "diamond", "triangle", "triangle_down"]
    fill: Literal["dark", "grey", "light"]
    findings: tuple[str, ...]


class Place(_Closed):
    """A place on a knee: x from its middle, medial positive; y from its top. Behind it, only x counts."""

    x: Annotated[float, Field(ge=-95, le=95)]
    y: Annotated[float, Field(ge=0, le=285)]
    behind: bool = False


class KneePicture(_Closed):
    """Marks and places, as the data file has them."""

    mark: tuple[Mark, ...]
    places: dict[str, Place]
    finding_places: dict[str, Place]

    def mark_of(self, finding: str) -> Mark | None:
        """Return the mark of a finding; None for one that the picture does not show."""
        return next((mark for mark in self.mark if finding in mark.findings), None)

    def place_of(self, finding: Finding) -> Place | None:
        """Return where a finding is drawn: at its structure, or where such a finding lies."""
        if finding.structure:
            return self.places.get(finding.structure)
        return self.finding_places.get(finding.finding)


@lru_cache(maxsize=1)
def knee_picture() -> KneePicture:
    """Return the marks and places of the knee."""
    return KneePicture.model_validate(tomllib.loads(_DATA.read_text(encoding="utf-8")))


@dataclass(frozen=True, slots=True)
class Drawn:
    """One mark on the picture: at x and y of the whole picture, for the place at `at_x` and `at_y`."""

    finding: Finding
    mark: Mark
    side: OneSide
    there: bool
    x: float
    y: float
    at_x: float
    at_y: float


@dataclass(frozen=True, slots=True)
class Layout:
    """What is on the picture, and what was found that is not."""

    drawn: tuple[Drawn, ...]
    left_out: tuple[Finding, ...]


def is_there(finding: Finding) -> bool | None:
    """Whether a finding says that something is there; None where it says neither."""
    if finding.status in _THERE or (finding.status is None and finding.severity):
        return True
    if finding.status in _NOT_THERE:
        return False
    if finding.status is None and finding.grade:
        return not finding.grade.value.startswith("0")
    return None


def layout_of(note: Note) -> Layout:
    """Return where each finding of the knees is drawn; marks give way to each other, what is not there to them."""
    picture = knee_picture()
    drawn: list[Drawn] = []
    left_out: list[Finding] = []
    seen: set[tuple[object, ...]] = set()
    shown = [finding for finding in note.findings if finding.section in _DRAWN_SECTIONS]
    for finding in sorted(shown, key=lambda finding: is_there(finding) is not True):
        there = is_there(finding)
        if there is None:
            continue
        mark, place, sides = picture.mark_of(finding.finding), picture.place_of(finding), _sides(finding)
        if mark is None or place is None or not sides or finding.region != "knee":
            if there:
                left_out.append(finding)
            continue
        for side in sides:
            at_x, at_y = _on_page(place, side)
            key = (side, there, mark.letter, at_x, at_y, bool(finding.doubts) or finding.status == "equivocal")
            if key not in seen:
                seen.add(key)
                x, y = _free_spot(at_x, at_y, drawn, there=there)
                drawn.append(Drawn(finding, mark, side, there, x, y, at_x, at_y))
    return Layout(tuple(drawn), tuple(left_out))


def is_doubtful(drawn: Drawn) -> bool:
    """Whether a mark stands for something that a person should look at."""
    return bool(drawn.finding.doubts) or drawn.finding.status == "equivocal"


def _sides(finding: Finding) -> tuple[OneSide, ...]:
    match finding.side:
        case "left":
            return ("left",)
        case "right":
            return ("right",)
        case "both":
            return ("right", "left")
    return ()


def _on_page(place: Place, side: OneSide) -> tuple[float, float]:
    """Return a place of one knee on the page: medial is towards the middle of the picture, on both sides."""
    x = CENTRE[side] + (place.x if side == "right" else -place.x)
    return x, (BOX_TOP + BOX_HEIGHT / 2) if place.behind else TOP + place.y


def _free_spot(x: float, y: float, drawn: Sequence[Drawn], *, there: bool) -> tuple[float, float]:
    """Return the nearest spot that no other mark takes: on the place, else beside it, ring by ring."""
    for away, across in _rings():
        spot_x, spot_y = x + away, y + across
        need = [_BETWEEN if there and other.there else RADIUS + SMALL if other.there else 2 * SMALL + 1
                for other in drawn]  # fmt: skip
        if y < BOX_TOP <= spot_y + RADIUS + 2 or (y > BOX_TOP and abs(across) > BOX_HEIGHT / 2 - RADIUS):
            continue  # what is in front stays in front, what is behind stays in its box
        if all((spot_x - other.x) ** 2 + (spot_y - other.y) ** 2 >= gap**2
               for other, gap in zip(drawn, need, strict=True)):  # fmt: skip
            return spot_x, spot_y
    return x, y


def _rings() -> Iterator[tuple[float, float]]:
    yield 0.0, 0.0
    steps = [
        (column * 4.5, row * 4.5) for column in range(-24, 25) for row in range(-24, 25) if (column, row) != (0, 0)
    ]  # fmt: skip
    yield from sorted(steps, key=lambda step: (step[0] ** 2 + step[1] ** 2, abs(step[1]), step))
