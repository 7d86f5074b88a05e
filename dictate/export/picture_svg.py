"""The picture of the knees as SVG: the legs, the marks that `picture.py` placed, and the legend."""

from __future__ import annotations

import html
from collections.abc import Sequence

from dictate.contract import Note, OneSide
from dictate.export.picture import (
    BOX_HEIGHT,
    BOX_TOP,
    CENTRE,
    HEIGHT,
    RADIUS,
    SMALL,
    TOP,
    WIDTH,
    Drawn,
    Mark,
    is_doubtful,
    knee_picture,
    layout_of,
)
from dictate.export.plain import one_line
from dictate.note.describe import finding_name, side_text

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
    size = RADIUS + 1.5
    return (
        f'<svg class="symbol" xmlns="http://www.w3.org/2000/svg" viewBox="{-size} {-size} {2 * size} {2 * size}">'
        f"{_symbol(mark, 0, 0)}</svg>"
    )


def left_out_names(note: Note) -> list[str]:
    """Return what was found that the picture has no place for."""
    return [f"{finding_name(finding, note.exam.region)}, {side_text(finding)}".rstrip(", ")
            for finding in layout_of(note).left_out]  # fmt: skip


def _knee(side: OneSide, *, injured: bool) -> str:
    centre, mirror = CENTRE[side], 1 if side == "right" else -1
    lines = "".join(f'<path d="{path}" fill="none" stroke="#555" stroke-width="1.3"/>' for path in _LEG)
    bones = "".join(f'<path d="{path}" fill="none" stroke="#aaa" stroke-width="0.9"/>' for path in _BONES)
    name = f"{side.upper()} knee{' (injured)' if injured else ''}"
    box = (
        f'<rect x="{centre - 74}" y="{BOX_TOP}" width="148" height="{BOX_HEIGHT}" rx="5" fill="none" '
        'stroke="#999" stroke-dasharray="3 2"/>'
        f'<text x="{centre}" y="{BOX_TOP + BOX_HEIGHT + 12}" class="small" text-anchor="middle">'
        "behind the knee</text>"
    )
    return (
        f'<text x="{centre}" y="14" class="name" text-anchor="middle">{name}</text>'
        f'<g transform="translate({centre} {TOP}) scale({mirror} 1)">{bones}{lines}</g>{box}'
        f'<text x="{centre - mirror * 98}" y="{TOP + 172}" class="small" text-anchor="middle">lateral</text>'
        f'<text x="{centre + mirror * 92}" y="{TOP + 172}" class="small" text-anchor="middle">medial</text>'
    )


def _leader(drawn: Drawn) -> str:
    """Return a thin line from a mark to its place, where it had to give way."""
    away = (drawn.x - drawn.at_x) ** 2 + (drawn.y - drawn.at_y) ** 2
    if not drawn.there or away < RADIUS**2:
        return ""
    return (
        f'<line x1="{drawn.x:g}" y1="{drawn.y:g}" x2="{drawn.at_x:g}" y2="{drawn.at_y:g}" stroke="#000" '
        'stroke-width="0.7"/>'
    )


def _drawn(drawn: Drawn) -> str:
    name = html.escape(one_line(f"{drawn.side}: {finding_name(drawn.finding, 'knee')}"))
    if not drawn.there:
        doubt = (
            f'<text x="{drawn.x + SMALL:g}" y="{drawn.y - 1:g}" class="small">?</text>' if is_doubtful(drawn) else ""
        )
        return (
            f'<circle cx="{drawn.x:g}" cy="{drawn.y:g}" r="{SMALL}" fill="#fff" stroke="#000" stroke-width="0.8">'
            f"<title>{name}: not there</title></circle>{doubt}"
        )
    doubt = (
        f'<circle cx="{drawn.x:g}" cy="{drawn.y:g}" r="{RADIUS + 2.6}" fill="none" stroke="#000" '
        'stroke-dasharray="2 2"/>'
        f'<text x="{drawn.x + RADIUS + 1:g}" y="{drawn.y - RADIUS + 2:g}" class="name">?</text>'
        if is_doubtful(drawn)
        else ""
    )
    return f"<g><title>{name}</title>{_symbol(drawn.mark, drawn.x, drawn.y)}{doubt}</g>"


def _symbol(mark: Mark, x: float, y: float) -> str:
    fill, ink = _FILLS[mark.fill]
    r = RADIUS
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
    return f'{shape}<text x="{x:g}" y="{y + down:g}" class="letter" text-anchor="middle" fill="{ink}">{letter}</text>'


def _polygon(corners: Sequence[tuple[float, float]], style: str) -> str:
    points = " ".join(f"{x:g},{y:g}" for x, y in corners)
    return f'<polygon points="{points}" {style}/>'
