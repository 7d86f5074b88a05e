"""Order: uninjured side first, look before touching, active before passive before resisted, introduce first."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from dictate.contract import OPPOSITE, Prompt, Section
from dictate.note.asked import Asked, listed, section_name

_MOTIONS: tuple[Section, ...] = ("active_motion", "passive_motion", "resisted_motion")
_TOUCHING: tuple[Section, ...] = ("palpation", "passive_motion", "resisted_motion", "special_tests")
# Sections whose order of sides matters. What is seen at a glance or tested over the whole limb has no such order.
_SIDED: tuple[Section, ...] = ("palpation", *_MOTIONS, "special_tests", "function")


def order_prompts(asked: Asked) -> list[Prompt]:
    """Return the prompts about what came too early or too late."""
    return [*_uninjured_first(asked), *_look_first(asked), *_active_first(asked), *_introduce_first(asked)]


def _uninjured_first(asked: Asked) -> Iterator[Prompt]:
    injured = asked.exam.injured_side
    if injured not in OPPOSITE:
        return
    sections, indexes = [], []
    for section in _SIDED:
        here = [(i, f.side) for i, f in asked.examined() if f.section == section and f.region == asked.exam.region]
        first = next((i for i, side in here if side == injured), None)
        other = next((i for i, side in here if side == OPPOSITE[injured]), None)
        if first is not None and other is not None and first < other:
            sections.append(section_name(section))
            indexes += [first, other]
    if sections:
        yield asked.texts.make("uninjured_first", findings=indexes, side=injured, sections=listed(sections))


def _look_first(asked: Asked) -> Iterator[Prompt]:
    """Inspection that was never done is for coverage to say; here it came, but after hands were on the patient."""
    looked = [index for index, finding in asked.examined() if finding.section == "inspection"]
    if not looked:
        return
    early = [(i, f.section) for i, f in asked.examined() if f.section in _TOUCHING and i < looked[0]]
    if early:
        sections = listed(section_name(section) for _, section in early)
        yield asked.texts.make("look_before_touch", findings=[early[0][0], looked[0]], sections=sections)


def _active_first(asked: Asked) -> Iterator[Prompt]:
    first: dict[Section, int] = {}
    for index, finding in asked.examined():
        if finding.section in _MOTIONS and finding.region == asked.exam.region:
            first.setdefault(finding.section, index)
    order = [section for section in _MOTIONS if section in first]
    for early, late in pairwise(order):
        if first[late] < first[early]:
            yield asked.texts.make(
                "active_before_passive", findings=[first[late], first[early]], early=section_name(early),
                late=section_name(late),
            )  # fmt: skip


def _introduce_first(asked: Asked) -> Iterator[Prompt]:
    if asked.introduced_late:
        yield asked.texts.make("introduce_before_touch", parts=listed(sorted(asked.introduced_late)))
