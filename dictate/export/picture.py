"""The picture of the knees: what was found, marked where it was found, on the side where it was found.

Places and marks are data (`data/knee_picture.toml`). Whatever abnormal finding has no place is named below the
picture: a picture that leaves something out in silence would say that it is not there.
"""

from __future__ import annotations

import html
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Finding, Note, OneSide
from dictate.export.plain import one_line
from dictate.note.describe import finding_name, side_text

_DATA = Path(__file__).parent / "data" / "knee_picture.toml"
_DRAWN_SECTIONS = frozenset({"inspection", "palpation", "special_tests"})
_THERE = frozenset({"present", "positive", "increased", "equivocal"})
_NOT_THERE = frozenset({"absent", "negative"})

WIDTH, HEIGHT = 480, 372  # of the whole picture
_CENTRE: Mapping[OneSide, int] = {"right": 120, "left": 360}  # seen from the front: the right knee is on the left
_TOP, _BOX_TOP, _BOX_HEIGHT = 24, 318, 30
_RADIUS = 8.5  # of a mark; marks do not overlap
_SMALL = 2.6  # radius of "examined, not there"
_BETWEEN = 2 * _RADIUS + 1.5


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
    x = _CENTRE[side] + (place.x if side == "right" else -place.x)
    return x, (_BOX_TOP + _BOX_HEIGHT / 2) if place.behind else _TOP + place.y


def _free_spot(x: float, y: float, drawn: Sequence[Drawn], *, there: bool) -> tuple[float, float]:
    """Return the nearest spot that no other mark takes: on the place, else beside it, ring by ring."""
    for away, across in _rings():
        spot_x, spot_y = x + away, y + across
        need = [_BETWEEN if there and other.there else _RADIUS + _SMALL if other.there else 2 * _SMALL + 1
                for other in drawn]  # fmt: skip
        if y < _BOX_TOP <= spot_y + _RADIUS + 2 or (y > _BOX_TOP and abs(across) > _BOX_HEIGHT / 2 - _RADIUS):
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


# -- drawing ---------------------------------------------------------------------------------------------------------

_FILLS = {"dark": ("#222", "#fff"), "grey": ("#bbb", "#000"), "light": ("#fff", "#000")}
# One right knee from the front, medial to the right, around x = 0: outline of the leg, then bones. Drawn by us.
_LEG = (
    "M-66 0 C-64 50 -60 80 -57 108 C-60 130 -62 150 -58 172 C-62 200 -66 230 -56 288",
    "M62 0 C60 50 54 80 56 108 C62 130 62 150 56 172 C56 200 62 235 46 288",
)
_BONES = (
    "M-16 0 C-15 50 -20 78 -44 104 C-54 118 -54 146 -46 158 C-34 166 -16 164 -4 152 C8 164 30 166 44 158 "
    "C54 146 54 118 44 104 C22 78 17 50 16 0",
    "M-46 172 C-30 168 28 168 46 172 C48 184 40 194 30 204 C22 216 18 250 16 288 M-46 172 C-46 182 -36 194 -24 206 "
    "C-18 220 -16 250 -14 288",
    "M-50 186 C-58 188 -58 200 -52 206 C-48 220 -46 250 -44 288 M-50 186 C-42 188 -42 198 -44 204 C-40 220 -38 250 "
    "-36 288",
    "M-7 201 C-4 196 4 196 7 201 C6 208 -6 208 -7 201",
    "M0 104 C18 104 24 116 21 128 C17 142 8 148 0 150 C-8 148 -17 142 -21 128 C-24 116 -18 104 0 104 Z",
)


def picture_svg(note: Note) -> str:
    """Return the picture of both knees as an SVG element, complete with its legend's names as a title a mark."""
    layout = layout_of(note)
    injured = {"left": ("left",), "right": ("right",), "both": ("left", "right")}.get(note.exam.injured_side or "", ())
    parts = [
        f'<svg class="knees" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        'aria-label="Both knees from the front, with the places of what was found">'
    ]
    parts += [_knee("right", injured="right" in injured), _knee("left", injured="left" in injured)]
    parts += map(_leader, layout.drawn)
    parts += map(_drawn, layout.drawn)
    parts.append("</svg>")
    return "".join(parts)


def legend_marks(note: Note) -> list[Mark]:
    """Return the marks that the picture of a note has, in the order of the data."""
    used = {drawn.mark.letter for drawn in layout_of(note).drawn if drawn.there}
    return [mark for mark in knee_picture().mark if mark.letter in used]


def legend_symbol(mark: Mark) -> str:
    """Return a mark alone, for the legend."""
    size = _RADIUS + 1.5
    return (
        f'<svg class="symbol" xmlns="http://www.w3.org/2000/svg" viewBox="{-size} {-size} {2 * size} {2 * size}">'
        f"{_symbol(mark, 0, 0)}</svg>"
    )


def left_out_names(note: Note) -> list[str]:
    """Return what was found that the picture has no place for."""
    return [f"{finding_name(finding, note.exam.region)}, {side_text(finding)}".rstrip(", ")
            for finding in layout_of(note).left_out]  # fmt: skip


def _knee(side: OneSide, *, injured: bool) -> str:
    centre, mirror = _CENTRE[side], 1 if side == "right" else -1
    lines = "".join(f'<path d="{path}" fill="none" stroke="#555" stroke-width="1.3"/>' for path in _LEG)
    bones = "".join(f'<path d="{path}" fill="none" stroke="#aaa" stroke-width="0.9"/>' for path in _BONES)
    name = f"{side.upper()} knee{' (injured)' if injured else ''}"
    box = (
        f'<rect x="{centre - 74}" y="{_BOX_TOP}" width="148" height="{_BOX_HEIGHT}" rx="5" fill="none" '
        'stroke="#999" stroke-dasharray="3 2"/>'
        f'<text x="{centre}" y="{_BOX_TOP + _BOX_HEIGHT + 12}" class="small" text-anchor="middle">'
        "behind the knee</text>"
    )
    return (
        f'<text x="{centre}" y="14" class="name" text-anchor="middle">{name}</text>'
        f'<g transform="translate({centre} {_TOP}) scale({mirror} 1)">{bones}{lines}</g>{box}'
        f'<text x="{centre - mirror * 98}" y="{_TOP + 172}" class="small" text-anchor="middle">lateral</text>'
        f'<text x="{centre + mirror * 92}" y="{_TOP + 172}" class="small" text-anchor="middle">medial</text>'
    )


def _leader(drawn: Drawn) -> str:
    """Return a thin line from a mark to its place, where it had to give way."""
    away = (drawn.x - drawn.at_x) ** 2 + (drawn.y - drawn.at_y) ** 2
    if not drawn.there or away < _RADIUS**2:
        return ""
    return (
        f'<line x1="{drawn.x:g}" y1="{drawn.y:g}" x2="{drawn.at_x:g}" y2="{drawn.at_y:g}" stroke="#000" '
        'stroke-width="0.7"/>'
    )


def _drawn(drawn: Drawn) -> str:
    name = html.escape(one_line(f"{drawn.side}: {finding_name(drawn.finding, 'knee')}"))
    if not drawn.there:
        doubt = (
            f'<text x="{drawn.x + _SMALL:g}" y="{drawn.y - 1:g}" class="small">?</text>' if is_doubtful(drawn) else ""
        )
        return (
            f'<circle cx="{drawn.x:g}" cy="{drawn.y:g}" r="{_SMALL}" fill="#fff" stroke="#000" stroke-width="0.8">'
            f"<title>{name}: not there</title></circle>{doubt}"
        )
    doubt = (
        f'<circle cx="{drawn.x:g}" cy="{drawn.y:g}" r="{_RADIUS + 2.6}" fill="none" stroke="#000" '
        'stroke-dasharray="2 2"/>'
        f'<text x="{drawn.x + _RADIUS + 1:g}" y="{drawn.y - _RADIUS + 2:g}" class="name">?</text>'
        if is_doubtful(drawn)
        else ""
    )
    return f"<g><title>{name}</title>{_symbol(drawn.mark, drawn.x, drawn.y)}{doubt}</g>"


def _symbol(mark: Mark, x: float, y: float) -> str:
    fill, ink = _FILLS[mark.fill]
    r = _RADIUS
    style = f'fill="{fill}" stroke="#000" stroke-width="1"'
    match mark.shape:
        case "circle":
            shape = f'<circle cx="{x:g}" cy="{y:g}" r="{r - 0.5}" {style}/>'
        case "square":
            shape = f'<rect x="{x - r + 1:g}" y="{y - r + 1:g}" width="{2 * r - 2}" height="{2 * r - 2}" {style}/>'
        case "diamond":
            shape = _polygon(((x, y - r - 1), (x + r + 1, y), (x, y + r + 1), (x - r - 1, y)), style)
        case "triangle":
            shape = _polygon(((x, y - r - 2), (x + r + 1, y + r - 2), (x - r - 1, y + r - 2)), style)
        case "triangle_down":
            shape = _polygon(((x, y + r + 2), (x + r + 1, y - r + 2), (x - r - 1, y - r + 2)), style)
    down = {"triangle": 4.5, "triangle_down": 2.0}.get(mark.shape, 3.4)
    letter = html.escape(mark.letter)
    return (
        f'{shape}<text x="{x:g}" y="{y + down:g}" class="letter" text-anchor="middle" fill="{ink}">{letter}</text>'
    )


def _polygon(corners: Sequence[tuple[float, float]], style: str) -> str:
    points = " ".join(f"{x:g},{y:g}" for x, y in corners)
    return f'<polygon points="{points}" {style}/>'
