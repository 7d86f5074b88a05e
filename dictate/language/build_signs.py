"""Drafts of signs at their places, of attributes, of bare structures and of measures."""

from __future__ import annotations

from dataclasses import replace

from dictate.contract import Measure, Status
from dictate.language.draft import Draft
from dictate.language.item import Item, label_of, says_nothing, term_of
from dictate.language.parts import Parts, meant_of
from dictate.language.quantity import grade_of
from dictate.lexicon.model import Term

_GIRTH = "girth"
_SLOWEST_REFILL_S = 10  # common practice, no source: a refill said without its unit is shorter
_GIRTH_PLACES = ("thigh", "calf", "knee", "quadriceps", "leg", "arm", "forearm", "ankle")
_MOTION = ("active_motion", "passive_motion")  # there, what is fine about a place that is no muscle was felt
_ASKED_BY_SECTION = {"palpation": "tenderness", "inspection": "swelling"}


def signs(parts: Parts, section: str | None) -> list[Draft]:
    """Return one draft a sign and place."""
    drafts = []
    places: list[Item | None] = list(parts.of("structure")) or [None]
    levels = _levels_said(parts)
    facet = _facet(parts)
    idle = parts.inherited and bool(parts.quantities) and all(says_nothing(said) for said in parts.statuses)
    for item in _distinct(parts.of("sign")):
        if _unsupported(item, parts) or (idle and parts.statuses):
            continue
        if facet is not None:
            drafts.append(replace(_at_level(item, "", parts, denied=levels[-1][1]), structure=facet))
            continue
        if levels:
            drafts += [_at_level(item, level, parts, denied=denied) for level, denied in levels]
            continue
        for place in places:
            draft = Draft(finding=label_of(item), kind="sign", term=term_of(item))
            if place is not None and not _implied(label_of(place), draft.finding):
                draft.structure, draft.structure_term = label_of(place), term_of(place)
                if parts.places and place not in parts.frame.items:
                    draft.structure = _moved(label_of(place), parts.places[0])
            if section == "palpation" and draft.finding == "pain" and place is not None:
                draft.finding, draft.term = "tenderness", None  # what hurts when it is felt is tender
            draft.status = _sign_status(item, parts)
            if place is not None and place.negated and place.start > item.start and draft.status == "present":
                draft.status = "absent"  # "tender over the medial joint line, not over the lateral one"
            draft.adjective = item.shape != "name"
            severity = item.severity or (None if _any_severity(parts) else parts.severity)
            draft.severity = severity if draft.status in ("present", "equivocal") else None
            _sign_grade(draft, item, parts)
            draft.with_ = list(parts.companions)
            drafts.append(draft)
    return drafts


_STEM = 6  # letters that a bone and its adjective share: "scapula", "scapular"


def _implied(place: str, finding: str) -> bool:
    """Whether the name of what was found says where already: "the scapula wings", "the kneecap tracks"."""
    return len(place) > _STEM and any(word.startswith(place[:_STEM]) for word in finding.split())


_PROCESSES = "spinous process"


def _levels_said(parts: Parts) -> list[tuple[str, bool]]:
    """Return the spinal levels of a frame, each with whether it was denied ("tender at L4, not at L3")."""
    levels = [(level, place.negated) for place in parts.of("level") for level in place.mention.levels]
    return [*((level, False) for level in _levels_named(parts)), *levels] if levels else levels


def _facet(parts: Parts) -> str | None:
    """Return the facet joint between two levels that a frame names ("the facet joint at C5/6 is tender")."""
    over, levels = parts.of("structure"), [level for place in parts.of("level") for level in place.mention.levels]
    if len(over) != 1 or label_of(over[0]) != _FACETS or len(levels) != _LEVELS_OF_A_FACET:
        return None
    upper, lower = levels
    return f"{upper}/{lower[1:] if upper[0] == lower[0] else lower} {_FACET}"


_LEVELS_OF_A_FACET = 2
_FACETS, _FACET = "facet joints", "facet joint"


def _levels_named(parts: Parts) -> list[str]:
    """Return the levels inside the names of structures ("the spinous processes of T5 and T6" names T5's).

    One that was named before does not count: "C6 spinous process tender, C5 not".
    """
    labels = [label_of(place).partition(" ") for place in parts.of("structure") if place in parts.frame.items]
    return [level for level, _, rest in labels if rest == _PROCESSES]


def _at_level(item: Item, level: str, parts: Parts, *, denied: bool) -> Draft:
    """Return a sign at one spinal level ("spinous processes tender at L4", "tender at L4")."""
    draft = Draft(finding=label_of(item), kind="sign", term=term_of(item), status=_sign_status(item, parts))
    if denied and draft.status == "present":
        draft.status = "absent"
    over = parts.of("structure")
    processes = bool(over) and _PROCESSES in label_of(over[0])
    facets = bool(over) and label_of(over[0]) == _FACETS
    draft.structure = f"{level} {_PROCESSES}" if processes else f"{level} {_FACET}" if facets else level
    draft.structure_term = term_of(over[0]) if over else None
    severity = item.severity or parts.severity
    draft.severity = severity if draft.status in ("present", "equivocal") else None
    return draft


_PLACE_WORDS = frozenset({"medial", "lateral", "anterior", "posterior", "superior", "inferior", "proximal", "distal"})


def _moved(label: str, place: str) -> str:
    """Return the same structure on another aspect ("tender at the medial joint line, not laterally")."""
    first, _, rest = label.partition(" ")
    return f"{place} {rest}" if first in _PLACE_WORDS and rest else label


def _unsupported(item: Item, parts: Parts) -> bool:
    """Whether a word that may mean nothing stands all alone."""
    term = term_of(item)
    if term is None or not term.needs_support:
        return False
    bare = len([i for i in parts.frame.items if i.kind not in ("and", "place", "region")]) == 1
    return bare and not (item.negated or item.severity or item.hedged)


def _any_severity(parts: Parts) -> bool:
    """Whether some sign of the frame has an amount of its own, which is then not that of the others."""
    return any(item.severity for item in parts.of("sign"))


def _distinct(items: tuple[Item, ...]) -> list[Item]:
    """Return the signs, the same one said twice counted once."""
    seen: dict[str, Item] = {}
    for item in items:
        seen.setdefault(label_of(item), item)
    return list(seen.values())


def _sign_status(item: Item, parts: Parts) -> Status:
    denied = [place for place in parts.of("structure") if place.negated and place.start < item.start]
    if denied and not item.negated and item.shape != "absent":
        return "absent"  # "neither of the facets is tender"
    if item.shape == "absent":
        return "present" if item.negated else "absent"
    if item.hedged or (parts.hedged and not item.negated):
        return "equivocal"
    status, _ = parts.status()
    if status == "not_examined":
        return "not_examined"
    if status == "equivocal":
        return "equivocal"
    if item.negated or status in ("absent", "negative"):
        return "absent"
    if status == "normal" and (item.shape == "name" or item not in parts.frame.items):
        return "absent"
    if "nothing" in parts.kinds:
        return "absent"
    return "present"


def _sign_grade(draft: Draft, item: Item, parts: Parts) -> None:
    term = term_of(item)
    scale = term.scale if term else None
    for quantity in parts.quantities:
        if quantity.out_of == 10:
            draft.grade = grade_of("pain", quantity)
        elif quantity.unit in ("cm", "mm", "1"):
            draft.measure = Measure(value=quantity.value, unit=quantity.unit, comparator=quantity.comparator)
        elif (
            scale
            and not quantity.unit
            and quantity.value <= 10
            and quantity.to_value is None
            and (quantity.is_grade or not parts.inherited)
        ):
            draft.grade = grade_of(scale, quantity)


def attributes(parts: Parts) -> list[Draft]:
    """Return one draft an attribute: gait, alignment, skin, neurovascular status."""
    drafts = []
    places: list[Item | None] = list(parts.of("structure")) or [None]
    for item in parts.of("attribute"):
        for place in places:
            draft = Draft(finding=label_of(item), kind="attribute", term=term_of(item))
            if place is not None and not _implied(label_of(place), draft.finding):
                draft.structure, draft.structure_term = label_of(place), term_of(place)
            status, _ = parts.status()
            if item.shape in ("normal", "reduced", "increased", "absent"):
                status = item.shape  # type: ignore[assignment]
            if item.hedged and status is None:
                status = "equivocal"
            draft.status = {"negative": "normal", "positive": None}.get(status or "", status)
            draft.severity = parts.severity if draft.status in ("reduced", "increased") else None
            quantity = next((q for q in parts.quantities if not q.unit and q.value <= 5), None)
            if quantity and draft.term and draft.term.scale:
                draft.grade = grade_of(draft.term.scale, quantity)
                draft.status = None if draft.status == "normal" else draft.status
            length = next((q for q in parts.quantities if q.unit in ("cm", "mm")), None)
            if length and length.unit:
                draft.measure = Measure(value=length.value, unit=length.unit, comparator=length.comparator)
            draft.with_ = list(parts.companions)
            draft.limited_by = list(parts.limiters)
            drafts.append(draft)
    return [draft for draft in drafts if draft.has_value()]


def structures(parts: Parts, section: str | None) -> list[Draft]:
    """Return drafts of structures of which only a status was said: recorded as said, under the section's name."""
    status, said_by = parts.status()
    if said_by is not None and ((said_by.kind == "outcome" and not said_by.value) or "solid" in said_by.text):
        return []  # a result of some test, which says nothing of a place
    if status is None and "some" in parts.kinds and parts.asked is not None:
        return _affirmed_places(parts, parts.asked)
    if status in ("present", "absent") and parts.asked is not None and not parts.inherited:
        return _so_in_places(parts, parts.asked, status)
    if status is None and "nothing" not in parts.kinds:
        return _denied_places(parts)
    drafts = []
    levels = _levels_said(parts)
    for item in parts.of("structure"):
        asked_for = parts.asked is not None and label_of(parts.asked) == "tenderness"
        felt = section in (None, "palpation", *_MOTION) or asked_for
        fine = felt and status == "normal" and item.kind == "structure"
        if "nothing" in parts.kinds or (said_by is not None and said_by.kind == "none") or fine:
            asked = (
                label_of(parts.asked)
                if parts.asked and not fine
                else _ASKED_BY_SECTION.get(section or "", "tenderness")
            )
            asked = "tenderness" if fine else asked
            draft = Draft(
                finding=asked,
                kind="sign",
                status="absent",
                term=term_of(parts.asked) if parts.asked and not fine else None,
                section="palpation" if fine and section in _MOTION else None,
            )
        elif status not in ("normal", "negative", "not_examined"):
            continue  # nothing says what was present or reduced there
        else:
            name = (section or "palpation").replace("_", " ")
            draft = Draft(finding=name, kind="section")
            draft.status = "normal" if status == "negative" else status
        draft.structure, draft.structure_term = label_of(item), term_of(item)
        if levels and _PROCESSES in label_of(item):
            drafts += [replace(draft, structure=f"{level} {_PROCESSES}") for level, _ in levels]
            continue
        drafts.append(draft)
    return drafts


def _affirmed_places(parts: Parts, asked: Item) -> list[Draft]:
    """Return the sign last spoken of as present at a place of which only the verb is said ("… the snuffbox is")."""
    likewise = any(
        item.kind == "some" and len(item.text.split()) > 1 and not item.severity for item in parts.frame.items
    )
    same = likewise and asked.shape == "absent"  # "… is non-tender, the lunate is too"
    return [
        Draft(
            finding=label_of(asked),
            kind="sign",
            term=term_of(asked),
            status="absent" if same else "present",
            severity=parts.severity,
            structure=label_of(item),
            structure_term=term_of(item),
        )
        for item in parts.of("structure")
    ]


def _so_in_places(parts: Parts, asked: Item, status: Status) -> list[Draft]:
    """Return the sign last spoken of as it is elsewhere ("triggering present in the ring finger, absent in the …")."""
    drafts = []
    for item in parts.of("structure"):
        draft = Draft(finding=label_of(asked), kind="sign", term=term_of(asked), status=status)
        draft.structure, draft.structure_term = label_of(item), term_of(item)
        draft.severity = parts.severity if status == "present" else None
        drafts.append(draft)
    return drafts


def _denied_places(parts: Parts) -> list[Draft]:
    """Return the sign last spoken of as absent at a place that is denied ("… but not the lateral facet")."""
    if parts.asked is None:
        return []
    drafts = []
    contrasted = "but" in parts.kinds and (parts.asked.negated or parts.asked.shape == "absent")
    for item in parts.of("structure"):
        if item.negated or contrasted:
            status: Status = "absent" if item.negated else "present"
            draft = Draft(finding=label_of(parts.asked), kind="sign", term=term_of(parts.asked), status=status)
            draft.structure, draft.structure_term = label_of(item), term_of(item)
            drafts.append(draft)
    return drafts


def is_girth(parts: Parts, section: str | None) -> bool:
    """Whether a length was said of a limb segment ("thigh forty-six")."""
    places = [label_of(item) for item in parts.of("structure")]
    if not any(place in _GIRTH_PLACES for place in places) or parts.of("sign", "movement"):
        return False
    lengths = [q for q in parts.quantities if q.unit in ("cm", "mm")]
    bare = [q for q in parts.quantities if q.unit is None and not q.is_grade and q.value >= 10]
    return bool(lengths or (bare and (section == "measurement" or parts.positions)))


def measures(parts: Parts) -> list[Draft]:
    """Return drafts of measured things: capillary refill in seconds, girth in centimetres."""
    status, said_by = parts.status()
    if parts.quantities and status == "normal" and said_by is not None and said_by is parts.frame.items[0]:
        return []  # "normal refill is under two seconds" teaches
    drafts = []
    items: tuple[Item | None, ...] = parts.of("measure") or (None,)
    for item in items:
        term = term_of(item) if item else None
        draft = Draft(finding=label_of(item) if item else _GIRTH, kind="measure", term=term)
        if item is None:
            draft.section = "measurement"
        places = sorted(parts.of("structure"), key=lambda place: label_of(place) not in _GIRTH_PLACES)
        if places and draft.finding != "capillary refill":
            draft.structure, draft.structure_term = label_of(places[0]), term_of(places[0])
        units = term.units if term and term.units else ("cm",)
        for quantity in parts.quantities:
            if quantity.unit == "deg":
                draft.degrees = quantity.value
                continue
            timed = quantity.unit is not None or (quantity.value <= _SLOWEST_REFILL_S and not quantity.is_grade)
            if draft.finding == "capillary refill" and not timed:
                continue  # a number of something else, as of the pulse felt before
            unit = quantity.unit or units[0]
            draft.measure = Measure(value=quantity.value, unit=unit, comparator=quantity.comparator)
        if draft.measure is None and draft.degrees is None:
            draft.status = _measure_status(parts, status, term)
            if item is not None and item.shape in ("normal", "reduced", "increased"):
                draft.status = item.shape  # type: ignore[assignment]
        drafts.append(draft)
    return [draft for draft in drafts if draft.has_value()]


def _measure_status(parts: Parts, status: Status | None, term: Term | None) -> Status | None:
    """A quick refill is normal and a slow one increased, though "brisk" raises a reflex and "sluggish" lowers one."""
    meant = meant_of(term, parts)
    if meant is not None:
        return meant
    return {"negative": "normal", "present": "normal", "positive": None}.get(status or "", status)
