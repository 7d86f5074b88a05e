"""Coverage: missing sound, what was said while standing by, sections nobody spoke of, introduction, an end feel due."""

from __future__ import annotations

from collections.abc import Iterator

from dictate.contract import Prompt
from dictate.note.asked import Asked, listed, section_name
from dictate.note.describe import clock


def coverage_prompts(asked: Asked) -> list[Prompt]:
    """Return the prompts about what is missing. Sections that were deferred aloud are not asked for again."""
    return [*_unheard(asked), *_stood_by(asked), *_skipped(asked), *_introduction(asked), *_end_feel(asked)]


def _unheard(asked: Asked) -> Iterator[Prompt]:
    if asked.unheard:
        places = [(clock(from_s), clock(to_s)) for from_s, to_s in asked.unheard]
        told = [begin if begin == end else f"{begin} to {end}" for begin, end in places]
        yield asked.texts.make("sound_missing", places=listed(told))


def _stood_by(asked: Asked) -> Iterator[Prompt]:
    if asked.passed_over:
        yield asked.texts.make("stood_by", count=asked.passed_over)


def _skipped(asked: Asked) -> Iterator[Prompt]:
    skipped = [part.section for part in asked.sections if part.coverage == "skipped" and part.section != "introduction"]
    if skipped:
        yield asked.texts.make("skipped_sections", sections=listed(map(section_name, skipped)))


def _introduction(asked: Asked) -> Iterator[Prompt]:
    part = next((part for part in asked.sections if part.section == "introduction"), None)
    if part is not None and part.missing and part.coverage in ("partial", "skipped"):
        yield asked.texts.make("introduction_incomplete", parts=listed(part.missing))


def _end_feel(asked: Asked) -> Iterator[Prompt]:
    passive = [
        (index, finding) for index, finding in asked.examined()
        if finding.section == "passive_motion" and finding.region == asked.exam.region and finding.degrees is not None
    ]  # fmt: skip
    if passive and not any(finding.end_feel for _, finding in passive):
        yield asked.texts.make("end_feel_due", findings=[index for index, _ in passive])
