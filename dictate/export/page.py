"""The page to print: one self-contained HTML file, one or two sheets of A4 or Letter, nothing in it that runs."""

from __future__ import annotations

import html
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from dictate.contract import Note, Section
from dictate.export.by_side import SideRow, rows_by_side
from dictate.export.handover import NOTHING_KNOWN, Handover, about_lines, moment_text, signing_lines
from dictate.export.page_style import STYLE
from dictate.export.picture import is_doubtful, layout_of
from dictate.export.picture_svg import left_out_names, legend_marks, legend_symbol, picture_svg
from dictate.export.plain import one_line
from dictate.export.text import caution_of
from dictate.note.text import MARK, coverage_lines, head_lines, section_order, section_title

_MOTION: tuple[Section, ...] = ("active_motion", "passive_motion")
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"  # nothing is loaded, nothing runs


def print_page(note: Note, handover: Handover = NOTHING_KNOWN) -> str:
    """Return the note as an HTML page: the knees as a picture (other regions without), and all findings by side."""
    title, *head = head_lines(note, signed=handover.signed)
    body = [
        _header(title, head, handover),
        f'<p class="caution">{_e(caution_of(handover))}</p>',
        _first(note),
        _findings(note),
        _end(note),
        _signature(handover),
    ]
    footer = _css_text(" · ".join([title, *(part for part in (handover.exam_id, handover.patient) if part)]))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        f"<title>{_e(title)}</title><style>{STYLE.replace('FOOTER', footer)}</style></head>\n<body>"
        + "\n".join(part for part in body if part)
        + "\n</body></html>\n"
    )


def _e(text: str) -> str:
    return html.escape(one_line(text))


def _css_text(text: str) -> str:
    """Return text as it may stand in a CSS string: everything but letters and digits by its number."""
    return "".join(letter if letter.isascii() and letter.isalnum() else f"\\{ord(letter):x} " for letter in text)


def _header(title: str, head: Sequence[str], handover: Handover) -> str:
    state = "Signed" if handover.signed else "Draft, not signed"
    lines = "".join(f"<li>{_e(line)}</li>" for line in [*about_lines(handover), *head])
    return f'<header><h1>{_e(title)} <span class="state">{state}</span></h1><ul class="about">{lines}</ul></header>'


# -- the picture and the motion beside it ----------------------------------------------------------------------------


def _first(note: Note) -> str:
    motion = [
        f"<h2>{_e(section_title(section))}</h2>{_table(rows)}" for section, rows in rows_by_side(note, _MOTION)
    ]  # fmt: skip
    picture = _picture(note)
    if not motion and not picture:
        return ""
    if not picture:
        return f'<section class="motion">{"".join(motion)}</section>'
    return f'<section class="first"><div>{picture}</div><div class="motion">{"".join(motion)}</div></section>'


def _picture(note: Note) -> str:
    if note.exam.region != "knee" or not note.findings:
        return ""
    marks = "".join(f"<li>{legend_symbol(mark)} {_e(mark.name)}</li>" for mark in legend_marks(note))
    drawn = layout_of(note).drawn
    if any(not one.there for one in drawn):
        marks += '<li><span class="ring"></span> examined, not there</li>'
    if any(map(is_doubtful, drawn)):
        marks += "<li><b>?</b> doubtful or equivocal</li>"
    names = left_out_names(note)
    left_out = f'<p class="small">Found, but not on the picture: {_e("; ".join(names))}.</p>' if names else ""
    return (
        f'<figure>{picture_svg(note)}<figcaption><ul class="legend">{marks}</ul>{left_out}'
        '<p class="small">Seen from the front: the patient\'s right is on the left of the page. Schematic. '
        "A place without a mark was not spoken of, or stands in the tables only.</p></figcaption></figure>"
    )


# -- all other findings ----------------------------------------------------------------------------------------------


def _findings(note: Note) -> str:
    if not note.findings:
        return "<p>No findings were recorded.</p>"
    sections = [section for section in section_order(note) if section not in _MOTION]
    tables = (
        f"<section><h2>{_e(section_title(section))}</h2>{_table(rows)}</section>"
        for section, rows in rows_by_side(note, sections)
    )
    return f'<div class="columns">{"".join(tables)}</div>'


def _table(rows: Iterable[SideRow]) -> str:
    head = '<thead><tr><th></th><th scope="col">right</th><th scope="col">left</th></tr></thead>'
    return f"<table>{head}{''.join(_bodies(list(rows)))}</table>"


def _bodies(rows: Sequence[SideRow]) -> Iterator[str]:
    """Yield a table body, which no page parts, for each row; rows that share their doubts share them in print, too."""
    for _, group in groupby(rows, key=lambda row: tuple(row.doubts)):
        alike = list(group)
        bodies = [[*_row(row)] for row in alike]
        bodies[-1] += _doubts(alike[-1])
        yield from (f"<tbody>{''.join(lines)}</tbody>" for lines in bodies)


def _row(row: SideRow) -> Iterator[str]:
    name = f'<th scope="row">{_e(row.name)}</th>'
    if row.right or row.left:
        cells = "".join(f"<td>{_cell(values)}</td>" for values in (row.right, row.left))
        yield f"<tr>{name}{cells}</tr>"
    if row.other:
        yield f'<tr>{name}<td colspan="2">{_cell(row.other)}</td></tr>'


def _doubts(row: SideRow) -> Iterator[str]:
    for doubt in row.doubts:
        yield f'<tr class="doubt"><td colspan="3"><b>{MARK}</b> {_e(doubt)}</td></tr>'


def _cell(values: Sequence[str]) -> str:
    return "; ".join(map(_e, values)).replace(MARK, f"<b>{MARK}</b>") if values else '<span class="none">–</span>'


# -- what is left to do, and who signs -------------------------------------------------------------------------------


def _end(note: Note) -> str:
    coverage = "".join(f"<li>{_e(line)}</li>" for line in coverage_lines(note))
    prompts = "".join(f"<li>{_e(f'{prompt.text} ({prompt.source})')}</li>" for prompt in note.prompts)
    parts = [
        f"<section><h2>Coverage of the exam plan</h2><ul>{coverage}</ul></section>" if coverage else "",
        f"<section><h2>To think of</h2><ul>{prompts}</ul></section>" if prompts else "",
    ]
    return f'<div class="end">{"".join(parts)}</div>' if any(parts) else ""


def _signature(handover: Handover) -> str:
    lines = "".join(f"<p>{_e(line)}</p>" for line in signing_lines(handover))
    blank = "" if handover.signed else (
        '<p class="blank">Checked and signed: <span></span> Name, role: <span></span> Date: <span></span></p>'
    )  # fmt: skip
    printed = handover.exported_at
    made = f'<p class="small">Written {moment_text(printed)}.</p>' if printed else ""
    return f'<footer class="signature">{lines}{blank}{made}</footer>'
