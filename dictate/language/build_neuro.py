"""Drafts of reflexes, sensation by dermatome or area, and pulses."""

from __future__ import annotations

from dictate.contract import Grade, Status
from dictate.language.draft import Draft
from dictate.language.item import label_of, term_of
from dictate.language.parts import Parts
from dictate.language.quantity import grade_of

_SENSES = ("pin prick", "light touch", "vibration sense", "proprioception", "sensation")
_AMOUNT: dict[str, Status | None] = {"positive": "present", "negative": "absent"}


def reflexes(parts: Parts) -> list[Draft]:
    """Return one draft a reflex."""
    levels = tuple(level for item in parts.of("level") for level in item.mention.levels)
    drafts = []
    for item in parts.of("reflex"):
        draft = Draft(finding="reflex", kind="reflex", term=term_of(item), structure=label_of(item), levels=levels)
        _amount(draft, parts, "reflex")
        if item.negated:
            draft.status = "absent"
        if draft.status == "absent" and draft.grade is None:
            draft.grade = Grade(scale="reflex", value="0")
        drafts.append(draft)
    return [draft for draft in drafts if draft.has_value()]


def _amount(draft: Draft, parts: Parts, scale: str) -> None:
    status, _ = parts.status()
    draft.status = _AMOUNT.get(status or "", status)
    quantity = parts.grade_quantity or next((q for q in parts.quantities if not q.unit and q.value <= 5), None)
    if quantity:
        draft.grade = grade_of(scale, quantity)
        if draft.status == "present":
            draft.status = None
    draft.severity = parts.severity if draft.status in ("reduced", "increased") else None


def pulses(parts: Parts) -> list[Draft]:
    """Return one draft a pulse."""
    drafts = []
    for item in parts.of("pulse"):
        draft = Draft(finding="pulse", kind="pulse", term=term_of(item), structure=label_of(item))
        _amount(draft, parts, "pulse")
        if item.negated:
            draft.status = "absent"
            if any(not other.negated for other in parts.of("pulse")):
                draft.grade = None  # "I can't feel the dorsalis pedis, posterior tibial's two plus"
        elif draft.status is None and draft.grade is None and "presence" in parts.kinds:
            draft.status = "present"
        drafts.append(draft)
    return [draft for draft in drafts if draft.has_value()]


def is_sensation(parts: Parts) -> bool:
    """Whether the frame is about feeling: a sense named, or dermatome levels while the nerves are examined."""
    if any(label_of(item) in _SENSES for item in parts.of("attribute")):
        return True
    if any(label_of(item) in ("numbness", "paraesthesia") for item in parts.of("sign")) and parts.of("level"):
        return True
    if any("spinous process" in label_of(item) for item in parts.of("structure")):
        return False  # "the spinous processes of L1 to L3 are fine": felt, not sensed
    return bool(parts.of("level") and (parts.statuses or "none" in parts.kinds)) and not parts.of("sign")


def sensations(parts: Parts) -> list[Draft]:
    """Return one draft a dermatome or area, or one for sensation as a whole."""
    named = [label_of(item) for item in parts.of("attribute") if label_of(item) in _SENSES]
    finding = next((sense for sense in _SENSES if sense in named), "sensation")
    term = next((term_of(i) for i in parts.of("attribute") if label_of(i) == finding), None)
    levels = [level for item in parts.of("level") for level in item.mention.levels]
    areas = [label_of(item) for item in parts.of("structure")]
    places: list[str | None] = [f"{level} dermatome" for level in levels] if levels else list(areas) or [None]
    status, _ = parts.status()
    numb = any(label_of(item) in ("numbness", "paraesthesia") and not item.negated for item in parts.of("sign"))
    status = {"negative": "normal", "present": "normal", "positive": None}.get(status or "", status)
    if status is None and any(item.shape == "normal" for item in parts.of("attribute")):
        status = "normal"  # "no sensory loss"
    if status is None and numb:
        status = "reduced"
    if any(item.negated for item in parts.targets) and status is None:
        status = "absent"
    quantity = next((q for q in parts.quantities if not q.unit and q.value <= 2), None)
    terms = {label_of(item): term_of(item) for item in parts.of("structure")}
    drafts = []
    for place in places:
        draft = Draft(
            finding=finding, kind="attribute", term=term, structure=place, status=status, section="neurological"
        )
        draft.structure_term = terms.get(place or "")
        draft.severity = parts.severity if status in ("reduced", "increased") else None
        draft.levels = tuple(levels) if not levels or areas else ()
        if quantity and status is None:
            draft.grade = grade_of("sensation", quantity)
        if parts.inherited and levels and not named and status == "absent":
            draft.doubts.append(("incomplete", "what is absent there was not said; taken for sensation", None))
        drafts.append(draft)
    return [draft for draft in drafts if draft.has_value()]
