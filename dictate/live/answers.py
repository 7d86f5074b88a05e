"""What the program answers when it is asked: "what's left?", "read back", "say again", and what "disregard" took back.

Answers are short and made to be heard as well as read: `dictate.live.speech` speaks the same text.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.contract import Finding, Note, SectionCoverage
from dictate.language.control import Control
from dictate.note.describe import finding_name, side_text, value_words
from dictate.note.fold import Heard

MOST_ITEMS = 4  # of one section that are named; more are counted. A listener keeps no more in mind
MOST_SECTIONS = 3  # that are told in full
MOST_FINDINGS = 12  # of one read-back

_NOTHING = "Nothing is noted yet."


def answer(control: Control, *, note: Note, heard: Heard, before: Heard, last_answer: str | None = None) -> str | None:
    """Return what the program says to a control word, None where the view already shows all of it.

    Args:
        control: what was said.
        note: as it stands after it.
        heard: the fold after it.
        before: the fold before it.
        last_answer: the answer given last, for "say again"; None once something else was said.
    """
    if control.kind == "whats_left":
        return whats_left(note)
    if control.kind == "read_back":
        return read_back(note, control.argument, last=_last_place(heard))
    if control.kind == "say_again":
        return last_answer or read_back(note, "last", last=_last_place(heard))
    if control.kind == "disregard" and not before.standing_by:
        return taken_back(before, heard, region=note.exam.region)
    if control.kind == "correction" and control.argument and not before.standing_by:
        return None if _values(before) != _values(heard) else f"Nothing was corrected by: {control.argument}"
    if control.kind == "stand_by":
        return "Standing by. Say: ready to continue."
    return "Listening." if control.kind == "resume" and before.standing_by else None


def whats_left(note: Note) -> str:
    """Return what the plan still asks for: sections that nothing was said of, then what others lack."""
    untouched = [part for part in note.sections if part.coverage == "skipped"]
    partial = [part for part in note.sections if part.coverage == "partial" and part.missing]
    if not untouched and not partial:
        return "Nothing is left of the plan."
    told = [_whole(untouched)] if untouched else []
    told += [_lacking(part) for part in partial[:MOST_SECTIONS]]
    more = partial[MOST_SECTIONS:]
    if more:
        told.append(f"Also incomplete: {_list([_name(part) for part in more])}.")
    return " ".join(told)


def read_back(note: Note, argument: str = "", *, last: int | None = None) -> str:
    """Return what is noted: the last finding ("" or "last"), all of them ("all"), or those of a section."""
    region = note.exam.region
    if argument in ("", "last"):
        if not note.findings:
            return _NOTHING
        place = last if last is not None and last < len(note.findings) else len(note.findings) - 1
        return spoken_line(note.findings[place], region)
    findings = [finding for finding in note.findings if argument in ("all", finding.section)]
    if not findings:
        return _NOTHING if argument == "all" else f"Nothing is noted under {argument.replace('_', ' ')}."
    lines = [spoken_line(finding, region) for finding in findings[-MOST_FINDINGS:]]
    left_out = len(findings) - len(lines)
    return " ".join([f"The last {len(lines)} of {len(findings)}.", *lines] if left_out else lines)


def taken_back(before: Heard, after: Heard, *, region: str) -> str:
    """Return what "disregard" took back, and what then stands last: nobody should have to guess it."""
    gone = _gone(before, after)
    if gone:
        return f"Taken back: {' '.join(spoken_line(finding, region) for finding in gone)}"
    if after.state.entries != before.state.entries:
        return f"As it was before: {spoken_line(_changed(before, after), region)}"
    entries = after.state.entries
    last = f" Last noted: {spoken_line(entries[-1].finding, region)}" if entries else ""
    return f"No finding was taken back.{last}"


def spoken_line(finding: Finding, region: str) -> str:
    """Return a finding as a sentence that names side and doubt: "Left flexion, 105°, to be checked (side assumed)."."""
    plain = finding.model_copy(update={"replaced": []})
    side = side_text(plain)
    name = finding_name(plain, region)
    head = f"{side} {name}" if finding.side else name
    parts = [head, value_words(plain), "" if finding.side else side]
    if finding.doubts:
        reasons = dict.fromkeys(doubt.reason.replace("_", " ") for doubt in finding.doubts)
        parts.append(f"to be checked ({', '.join(reasons)})")
    text = ", ".join(part for part in parts if part)
    return f"{text[:1].upper()}{text[1:]}."


def _last_place(heard: Heard) -> int | None:
    """Return the place of the finding that was said last: a correction may have changed an earlier one."""
    entries = heard.state.entries
    return max(range(len(entries)), key=lambda place: (entries[place].utterance, place)) if entries else None


def _values(heard: Heard) -> list[Finding]:
    return [entry.finding.model_copy(update={"doubts": []}) for entry in heard.state.entries]


def _gone(before: Heard, after: Heard) -> list[Finding]:
    kept = len(after.state.entries)
    return [entry.finding for entry in before.state.entries[kept:]]


def _changed(before: Heard, after: Heard) -> Finding:
    pairs = zip(before.state.entries, after.state.entries, strict=False)
    return next((new.finding for old, new in pairs if old != new), after.state.entries[-1].finding)


def _name(part: SectionCoverage) -> str:
    return part.section.replace("_", " ")


def _whole(parts: Sequence[SectionCoverage]) -> str:
    return f"Still to do: {_list([_name(part) for part in parts])}."


def _lacking(part: SectionCoverage) -> str:
    missing = part.missing[:MOST_ITEMS]
    more = len(part.missing) - len(missing)
    items = [*missing, f"{more} more"] if more else list(missing)
    text = f"{_name(part)}: {_list(items)}."
    return f"{text[:1].upper()}{text[1:]}"


def _list(names: Sequence[str]) -> str:
    """Return names as a list in speech: "inspection, palpation and function"."""
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]])) if names else ""
