"""The note as plain text and as Markdown, with whose exam it is and who signed it."""

from __future__ import annotations

import re

from dictate.contract import Note
from dictate.export.handover import NOTHING_KNOWN, Handover, about_lines, signing_lines
from dictate.export.plain import one_line, printable
from dictate.note.text import CAUTION, MARK, coverage_lines, head_lines, parts_of, text_of

SIGNED_CAUTION = "Written from speech by a program, checked and signed by the person named. Not a diagnosis."
# What Markdown would take for markup, wherever it stands (CommonMark 0.31, 2.4 Backslash escapes). The last lot only
# means something at the start of a line.
_MARKUP = re.compile(r"([\\`*_\[\]<>|~&$#])")
_LEADING = re.compile(r"^(\s*)([-+=]|\d+[.)])")


def plain_text(note: Note, handover: Handover = NOTHING_KNOWN) -> str:
    """Return the note as plain text: the text of `dictate text`, with what is known of exam and signing."""
    signing, about = [*map(one_line, signing_lines(handover))], [*map(one_line, about_lines(handover))]
    closing = [*signing, "", caution_of(handover)] if signing else [caution_of(handover)]
    text = text_of(note, about=about, closing=closing, signed=handover.signed)
    return "\n".join(map(printable, text.split("\n")))


def markdown(note: Note, handover: Handover = NOTHING_KNOWN) -> str:
    """Return the note as Markdown (CommonMark): a heading a section, a list item a line, doubts below their line."""
    title, *head = head_lines(note, signed=handover.signed)
    lines = [f"# {escaped(title)}", "", *(f"- {escaped(line)}" for line in [*about_lines(handover), *head])]
    for part in parts_of(note):
        lines += ["", f"## {escaped(part.title)}", ""]
        for line in part.lines:
            lines.append(f"- {escaped(line.text)}")
            lines += [f"  - **{escaped(MARK)}** {escaped(doubt)}" for doubt in line.doubts]
    if not note.findings:
        lines += ["", "No findings were recorded."]
    coverage = coverage_lines(note)
    if coverage:
        lines += ["", "## Coverage of the exam plan", "", *(f"- {escaped(line)}" for line in coverage)]
    if note.prompts:
        prompts = (f"- {escaped(prompt.text)} ({escaped(prompt.source)})" for prompt in note.prompts)
        lines += ["", "## To think of", "", *prompts]
    signing = signing_lines(handover)
    if signing:
        lines += ["", "## Signature", "", *(f"- {escaped(line)}" for line in signing)]
    return "\n".join([*lines, "", f"*{escaped(caution_of(handover))}*", ""])


def caution_of(handover: Handover) -> str:
    """Return the caution that the note carries: a draft's, or a signed note's."""
    return SIGNED_CAUTION if handover.signed else CAUTION


def escaped(text: str) -> str:
    """Return text that Markdown shows as it is, on one line.

    >>> escaped("grade 2* [?]")
    'grade 2\\\\* \\\\[?\\\\]'
    """
    line = _MARKUP.sub(r"\\\1", one_line(text))
    return _LEADING.sub(lambda match: f"{match[1]}{_guarded(match[2])}", line)


def _guarded(start: str) -> str:
    return f"{start[:-1]}\\{start[-1]}"
