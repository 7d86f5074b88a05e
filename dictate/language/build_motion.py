"""Drafts of motion (degrees, normal, reduced), of strength (grades, strong, weak), and of pain that comes with them."""

from __future__ import annotations

from dataclasses import replace

from dictate.contract import Status
from dictate.language.draft import Draft, Relative
from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, is_muscle, label_of, says_nothing, term_of
from dictate.language.parts import Parts
from dictate.language.quantity import Quantity, grade_of

_STRENGTH = "strength"
_PROVOKES = ("reproduc", "bring", "light")  # what is said of a movement or test that causes the pain complained of
_SENSES = ("light touch", "pin prick", "sensation", "vibration sense", "proprioception")
_RANGE = "range of motion"
_AMBIGUOUS_MINUS = "minus may mean short of neutral or beyond it"


def is_strength(parts: Parts, section: str | None) -> bool:
    """Whether the frame is about strength rather than motion."""
    host = parts.of("movement", "structure", "level") or _named(parts, _STRENGTH)
    if not host or parts.end_feel:
        return False
    if _named(parts, _STRENGTH) or parts.has_strength_word():
        return True
    if not parts.quantities and any(s.cue and s.cue.amount for item in parts.statuses for s in item.senses):
        return False  # "full" is said of motion
    if any(quantity.comparator for quantity in parts.quantities):
        return False  # "at least five" is no grade
    grade = parts.grade_quantity
    if grade and (grade.out_of == 5 or grade.plus_minus or (grade.graded and parts.of("movement"))):
        return not _signs_of_its_own(parts) or grade.out_of == 5
    if any(quantity.sign for quantity in parts.quantities) and parts.of("movement"):
        return False  # "extension plus three": degrees beyond neutral
    resisted = parts.modality == "resisted_motion" or (parts.modality is None and section == "resisted_motion")
    plain = next((q for q in parts.quantities if not q.unit and q.value <= 5), None)
    status, _ = parts.status()
    muscle = any(is_muscle(item) for item in parts.of("structure"))
    if status and any(_is_only_loaded(item) for item in parts.of("structure")) and not _signs_of_its_own(parts):
        return True  # "grip not tested"
    sensed = any(label_of(item) in _SENSES for item in parts.of("attribute"))
    if resisted and (plain or status) and (muscle or parts.of("movement")) and not sensed:
        return True
    if resisted and plain and parts.of("level") and not sensed:
        return True
    if (parts.strength_topic or section == "neurological") and plain and plain.value and not parts.of("sign"):
        return bool(muscle or parts.of("movement", "level"))
    if muscle and plain and not parts.of("sign"):
        return True
    if parts.inherited and parts.strength_topic and status in ("normal", "reduced") and not parts.of("sign"):
        return True  # "grip four on the right, good on the left"
    return bool(plain and section not in _MOTION and parts.modality is None and _small_for(parts, plain))


_MOTION = ("active_motion", "passive_motion")
# A whole number up to 5 said of a movement that is normally this large is a strength grade (degrees; project's choice).
_LARGE_DEG = 40


def _small_for(parts: Parts, quantity: Quantity) -> bool:
    """Whether a bare 0 to 5 can only be a grade of what it is said of ("flexion and abduction five")."""
    movements = parts.of("movement")
    if (
        not movements
        or quantity.value == 0
        or quantity.to_value is not None
        or quantity.sign
        or "lack" in parts.kinds
        or parts.of("sign")
    ):
        return False
    typical = [t.typical_deg.value for item in movements if (t := term_of(item)) and t.typical_deg and not t.signed]
    large = [value for value in typical if isinstance(value, int | float) and value >= _LARGE_DEG]
    return bool(large) or "every" in parts.kinds or "rest" in parts.kinds


def _named(parts: Parts, label: str) -> bool:
    return any(label_of(item) == label for item in parts.of("attribute"))


def _is_only_loaded(item: Item) -> bool:
    """Whether it is a muscle action that is loaded and never felt: grip, pinch."""
    term = term_of(item)
    return bool(term and term.part == "muscle" and "palpation" not in term.sections and term.sections)


def _signs_of_its_own(parts: Parts) -> bool:
    """Whether the frame has a sign that does not merely come along with a movement."""
    return any(not is_companion(sign) for sign in parts.of("sign"))


def strengths(parts: Parts) -> list[Draft]:
    """Return one draft of strength a muscle, movement or myotome."""
    hosts = [item for item in parts.of("structure") if is_muscle(item)] or list(parts.of("movement"))
    if not hosts and (_named(parts, _STRENGTH) or parts.has_strength_word()):
        hosts = list(parts.of("structure"))
    levels = [level for item in parts.of("level") for level in item.mention.levels]
    drafts: list[Draft] = []
    if hosts:
        for item in hosts:
            drafts.append(_strength(parts, label_of(item), item))
            drafts[-1].levels = tuple(levels)
    elif levels:
        drafts = [_strength(parts, f"{level} myotome", None) for level in levels]
    else:
        drafts = [_strength(parts, None, None)]
    for draft, item in zip(drafts, hosts, strict=False):
        draft.structure_term = term_of(item)
    drafts = [_only_painful(draft) for draft in drafts]
    return [draft for draft in drafts if draft.has_value()] + _pain_denied(parts, hosts, "resisted_motion")


def _only_painful(draft: Draft) -> Draft:
    """Return "resisted extension reproduces her pain" as pain: nothing was said of how strong it is."""
    if draft.with_ != ["pain"] or draft.grade or draft.status or draft.structure is None:
        return draft
    return replace(draft, finding="pain", kind="sign", term=None, status="present", section="resisted_motion", with_=[])


def _strength(parts: Parts, structure: str | None, item: Item | None) -> Draft:
    sense = next((s for i in parts.of("attribute") for s in i.senses if s.term and s.term.label == _STRENGTH), None)
    draft = Draft(finding=_STRENGTH, kind="attribute", term=sense.term if sense else None, structure=structure)
    status, said_by = parts.status()
    if said_by is not None and status in ("negative", "absent") and said_by.kind == "none":
        status = None
    draft.status = {"positive": "reduced", "negative": "normal", "present": "normal"}.get(status or "", status)  # type: ignore[assignment]
    quantity = parts.grade_quantity or next((q for q in parts.quantities if not q.unit), None)
    if quantity:
        draft.grade = grade_of("MRC", quantity)
        if not said_by or not any(s.cue and s.cue.strength for s in said_by.senses):
            draft.status = draft.status if draft.status in ("reduced", "not_examined") else None
    draft.with_ = _companions(parts)
    if status == "positive" and said_by is not None and said_by.text.startswith(_PROVOKES):
        draft.status = None  # "resisted extension reproduces it": it hurts, which says nothing of how strong it is
        draft.with_ = list(dict.fromkeys([*draft.with_, "pain"]))
    draft.limited_by = list(parts.limiters)
    if len(parts.positions) == 1:
        draft.at_degrees = parts.positions[0]
    draft.severity = parts.severity if draft.status == "reduced" else None
    if item is not None and item.negated:
        draft.status = "reduced"
    return draft


def _companions(parts: Parts) -> list[str]:
    present = [label_of(s) for s in parts.of("sign") if is_companion(s) and not s.negated and s.shape != "absent"]
    return list(dict.fromkeys([*parts.companions, *present]))


def is_range(parts: Parts) -> bool:
    """Whether the frame speaks of range without naming a movement: "zero to one thirty", "lacks ten", "full range"."""
    if parts.of("structure", "level") or any(not is_companion(sign) for sign in parts.of("sign")):
        return False
    if any(label_of(item) == _RANGE for item in parts.of("attribute")):
        return True
    ranged = any(q.to_value is not None and not q.out_of and q.unit in (None, "deg") for q in parts.quantities)
    shifted = bool({"lack", "over"} & parts.kinds)
    return not parts.targets and (ranged or shifted) and bool(parts.quantities or "over" in parts.kinds)


def motions(parts: Parts) -> list[Draft]:
    """Return the drafts of a frame about motion."""
    movements = parts.of("movement")
    signs = [sign for sign in parts.of("sign") if is_companion(sign)]
    if movements and signs and not _valued(parts):
        return _pain_of_motion(parts, movements, signs)
    if movements and parts.companions == ("pain",) and not _valued(parts) and not parts.positions:
        section = parts.modality or "active_motion"
        return [
            Draft(
                finding="pain",
                kind="sign",
                structure=label_of(i),
                structure_term=term_of(i),
                status="present",
                section=section,
            )
            for i in movements
        ]
    if _is_reference(parts):
        return []
    drafts: list[Draft] = []
    ranged = next((q for q in parts.quantities if q.to_value is not None and q.unit in (None, "deg")), None)
    if ranged and (not movements or any(_signed(item) or label_of(item) == "flexion" for item in movements)):
        drafts = _range(parts, ranged, movements)
    elif ranged:
        drafts = [_motion(parts, item, ranged, use_to=True) for item in movements]
    elif not movements and {"lack", "over"} & parts.kinds:
        # Of two numbers the smaller is the lack, wherever it stands: no joint bends less than where it stops
        # straightening.
        ends = sorted(parts.quantities[:2], key=lambda quantity: quantity.value)
        drafts = [_shifted(parts, quantity) for quantity in ends[:1] or (None,)]
        drafts += [Draft(finding="flexion", kind="movement", degrees=q.value) for q in ends[1:]]
    elif movements:
        drafts = _each(parts, movements)
    else:
        drafts = [_whole_range(parts)]
    only = _limited_only(parts) if ranged else None
    for draft in drafts:
        draft.with_ = _companions(parts)
        draft.limited_by = list(parts.limiters) if only in (None, draft.finding) else []
        if draft.limited_by and draft.degrees is None and draft.status is None:
            draft.status = "reduced"
        elif draft.limited_by and draft.degrees is not None and draft.status == "reduced":
            draft.status = None  # "limited to ninety by pain": the number says how far
    if parts.inherited:
        drafts = [_of_the_opposite(draft) for draft in drafts]
    if drafts and parts.end_feel:
        drafts[-1].end_feel = parts.end_feel
    return [draft for draft in drafts if draft.has_value()] + _pain_denied(parts, list(movements), None)


def _limited_only(parts: Parts) -> str | None:
    """Return the movement of a range that its limit was said of: "zero to one hundred, limited by pain on flexion"."""
    limiters = [item.end for item in parts.frame.items if item.role == "limiter"]
    after = [item for item in parts.of("movement") if limiters and item.start >= limiters[-1]]
    return label_of(after[0]) if len(after) == 1 else None


# No joint extends so far beyond neutral (degrees; project's choice): the number is one of flexion.
_NO_EXTENSION_DEG = 45


def _of_the_opposite(draft: Draft) -> Draft:
    """Return "passively I get one hundred" after extension as flexion, doubted: nobody named the movement."""
    signed = draft.term is not None and draft.term.signed
    if draft.finding != "extension" or not signed or draft.degrees is None or abs(draft.degrees) < _NO_EXTENSION_DEG:
        return draft
    doubts = [doubt for doubt in draft.doubts if doubt[0] != "readings_disagree"]
    detail = "no movement was named; too much for extension, so taken for flexion"
    return replace(
        draft, finding="flexion", term=None, degrees=abs(draft.degrees), doubts=[*doubts, ("incomplete", detail, None)]
    )


def _is_reference(parts: Parts) -> bool:
    """Whether the frame teaches what is normal ("normal flexion is about one thirty-five")."""
    first = next((item for item in parts.frame.items if item.is_target() or item.is_value()), None)
    return bool(parts.quantities and first and first.kind == "status" and first.value == "normal" and not first.negated)


def _valued(parts: Parts) -> bool:
    return bool(
        parts.quantities or parts.statuses or parts.limiters or {"lack", "over"} & parts.kinds or parts.end_feel
    ) or any(item.shape in ("normal", "reduced", "increased") for item in parts.targets)


def _pain_of_motion(parts: Parts, movements: tuple[Item, ...], signs: list[Item]) -> list[Draft]:
    drafts = []
    for sign in signs:
        for item in movements:
            absent = sign.negated or sign.shape == "absent"
            if sign.shape == "absent":
                continue  # "painless" said of a movement adds nothing
            place = item if label_of(sign) == "pain" else next(iter(parts.of("structure")), None)
            draft = Draft(finding=label_of(sign), kind="sign", term=term_of(sign))
            draft.status = "equivocal" if sign.hedged else "absent" if absent else "present"
            if place is not None:
                draft.structure, draft.structure_term = label_of(place), term_of(place)
            draft.severity = None if absent else sign.severity
            draft.adjective = sign.shape != "name"
            draft.section = parts.modality or "active_motion"
            drafts.append(draft)
    return drafts


def _pain_denied(parts: Parts, hosts: list[Item], section: str | None) -> list[Draft]:
    """Return "no pain" said beside a measured movement or strength as a finding of its own."""
    drafts = []
    places: list[Item | None] = [*hosts] or [None]
    for sign in parts.of("sign"):
        if sign.negated and label_of(sign) == "pain" and _valued(parts):
            for item in places:
                draft = Draft(finding="pain", kind="sign", term=term_of(sign), status="absent")
                draft.structure, draft.structure_term = (label_of(item), term_of(item)) if item else (None, None)
                draft.section = section or parts.modality or "active_motion"  # type: ignore[assignment]
                drafts.append(draft)
    return drafts


def _signed(item: Item) -> bool:
    term = term_of(item)
    return bool(term and term.signed)


def _range(parts: Parts, quantity: Quantity, movements: tuple[Item, ...]) -> list[Draft]:
    """Return extension and flexion of "zero to one thirty-five", "minus five to one twenty", "5-0-140"."""
    flexion = next((item for item in movements if label_of(item) == "flexion"), None)
    extension = next((item for item in movements if _signed(item)), None)
    low = Draft(finding="extension", kind="movement", term=term_of(extension) if extension else None)
    high = Draft(finding="flexion", kind="movement", term=term_of(flexion) if flexion else None)
    first, last = quantity.value, quantity.to_value or 0.0
    if quantity.third_value is not None:
        low.degrees = first if first > 0 else -last if last > 0 else 0.0
        high.degrees = quantity.third_value
    else:
        low.degrees, high.degrees = _start_of_range(parts, quantity, low), last
        if first > last:  # "one thirty to zero"
            low.degrees, high.degrees = last, first
    return [low, high]


def _start_of_range(parts: Parts, quantity: Quantity, draft: Draft) -> float:
    if "over" in parts.kinds or quantity.sign > 0:
        return quantity.value
    if quantity.sign < 0:
        draft.doubts.append(("readings_disagree", _AMBIGUOUS_MINUS, f"extension +{quantity.value:g}"))
        return -quantity.value
    return 0.0 - quantity.value if quantity.value else 0.0


def _shifted(parts: Parts, quantity: Quantity | None) -> Draft:
    """Return extension short of neutral ("lacks ten") or beyond it ("five of hyperextension")."""
    draft = Draft(finding="extension", kind="movement")
    if quantity is None:
        draft.status = "increased" if "over" in parts.kinds else "reduced"
    else:
        draft.degrees = quantity.value if "over" in parts.kinds else 0.0 - quantity.value
    return draft


def _each(parts: Parts, movements: tuple[Item, ...]) -> list[Draft]:
    """Return one draft a movement; a list of numbers goes to the list of movements in its order."""
    plain = [q for q in parts.quantities if q.unit in (None, "deg")]
    if len(plain) == len(movements) and len(plain) > 1:
        return [_motion(parts, item, quantity) for item, quantity in zip(movements, plain, strict=True)]
    return [_motion(parts, item, plain[0] if plain else None) for item in movements]


def _motion(parts: Parts, item: Item, quantity: Quantity | None, *, use_to: bool = False) -> Draft:
    draft = Draft(finding=label_of(item), kind="movement", term=term_of(item))
    finger = next((i for i in parts.of("structure") if label_of(i).endswith(" finger")), None)
    if finger is not None and "phalangeal" in draft.finding:
        draft.structure, draft.structure_term = label_of(finger), term_of(finger)
    if quantity is not None:
        value = quantity.to_value if use_to and quantity.to_value is not None else quantity.value
        draft.degrees = _with_sign(parts, item, quantity, value, draft)
        if quantity.out_of == 10:
            draft.degrees = None
        compared = any(item.role == "compared" for item in parts.frame.items)
        if "compare" in parts.kinds and (parts.side or compared):
            _compare(parts, quantity, draft)
    draft.status = _motion_status(parts, item, has_degrees=draft.degrees is not None)
    draft.severity = parts.severity if draft.status == "reduced" else None
    if draft.degrees is None and draft.status is None:
        if item.shape == "over" or "over" in parts.kinds:
            draft.status = "increased"
        elif "lack" in parts.kinds:
            draft.status = "reduced"
    draft.at_degrees = parts.positions[0] if parts.positions and not _of_the_knee(parts, draft) else None
    reached = _reached(parts, item, draft.term.reaches) if draft.term and draft.degrees is None else ""
    if reached:
        draft.structure, draft.reach = reached, True
    return draft


def _of_the_knee(parts: Parts, draft: Draft) -> bool:
    """Whether "with the knee straight" says how another joint was held: no angle of the joint that moves."""
    knee = any(item.role == "position" and "knee" in item.text for item in parts.frame.items)
    return knee and draft.term is not None and bool(draft.term.regions) and "knee" not in draft.term.regions


def _reached(parts: Parts, item: Item, places: tuple[str, ...]) -> str:
    """Return where a movement that is told by what the hand reaches ends: a spinal level or one of `places`, or ""."""
    if not places:
        return ""
    levels = [level for level_item in parts.of("level") for level in level_item.mention.levels]
    named = (label_of(i) for i in parts.of("structure") if i.start >= item.end and label_of(i) in places)
    return levels[0] if levels else next(named, "")


def _compare(parts: Parts, quantity: Quantity, draft: Draft) -> None:
    item = next(item for item in parts.frame.items if item.kind == "compare")
    than = "than" in item.text or "compared" in item.text or item.text.endswith((" the", "on"))
    other = next((i.value for i in parts.frame.items if i.kind == "side" and i.role == "compared"), "")
    side, than = (other, True) if other in ("left", "right") else (parts.side, than)
    draft.relative = Relative(amount=quantity.value, less=item.value == "less", side=side, of_the_other=than)
    draft.degrees = None
    draft.side_said = False


def _with_sign(parts: Parts, item: Item, quantity: Quantity, value: float, draft: Draft) -> float:
    if item.shape == "over":
        return value
    if item.shape == "lack" or (
        "lack" in parts.kinds and (label_of(item).endswith("extension") or _below_neutral(parts))
    ):
        return 0.0 - value
    if _signed(item):
        if "over" in parts.kinds or quantity.sign > 0:
            return value
        if quantity.sign < 0:
            draft.doubts.append(("readings_disagree", _AMBIGUOUS_MINUS, f"extension +{value:g}"))
            return 0.0 - value
        if value > 0:
            draft.doubts.append(
                ("readings_disagree", "not said whether short of neutral or beyond it", f"extension -{value:g}")
            )
    if "lack" in parts.kinds and not _signed(item):  # "flexion ten short"
        draft.doubts.append(("incomplete", "how much is lacking was said, not how far it goes", None))
    return 0.0 - value if quantity.sign < 0 and value else value


def _below_neutral(parts: Parts) -> bool:
    """Whether the number is counted from neutral ("five degrees short of neutral")."""
    lacks = [item for item in parts.frame.items if item.kind == "lack"]
    return any(
        "neutral" in " ".join(s.cue.forms) and item.end - item.start > 2 for item in lacks for s in item.senses if s.cue
    )


def _motion_status(parts: Parts, item: Item, *, has_degrees: bool) -> Status | None:
    if item.shape in ("normal", "reduced", "increased"):
        return item.shape  # type: ignore[return-value]
    if has_degrees and parts.statuses and all(says_nothing(i) for i in parts.statuses):
        return None  # "plus five, all fine"
    if item.unable:
        return "reduced"
    status, said_by = parts.status()
    mapped = {"positive": None, "negative": None, "absent": "reduced", "present": None}.get(status or "", status)
    if has_degrees and status == "absent":
        return None  # "internal rotation, there's none, zero"
    if item.hedged and mapped is None and not has_degrees:
        return "equivocal"
    if item.negated and said_by is None and not has_degrees:
        return "reduced"
    return mapped  # type: ignore[return-value]


def _whole_range(parts: Parts) -> Draft:
    """Return `range of motion` as a whole; the fold expands it where the region's plan says what it stands for."""
    item = next((i for i in parts.of("attribute") if label_of(i) == _RANGE), None)
    draft = Draft(finding=_RANGE, kind="attribute", term=term_of(item) if item else None)
    status, _ = parts.status()
    draft.status = {"positive": None, "negative": "normal", "present": None}.get(status or "", status)
    if item is not None and item.shape == "normal":
        draft.status = "normal"
    draft.severity = parts.severity if draft.status == "reduced" else None
    return draft
