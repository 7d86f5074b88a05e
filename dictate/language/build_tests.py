"""Drafts of special tests and of functional tasks."""

from __future__ import annotations

from dictate.contract import Measure, Status
from dictate.language.draft import Draft
from dictate.language.frame_shape import is_companion
from dictate.language.item import Item, label_of, term_of
from dictate.language.parts import Parts, meant_of
from dictate.language.quantity import Quantity, grade_of
from dictate.lexicon.model import Term

_TEST_STATUS: dict[str | None, Status] = {
    "positive": "positive",
    "negative": "negative",
    "normal": "negative",
    "absent": "negative",
    "present": "positive",
    "equivocal": "equivocal",
    "not_examined": "not_examined",
    "reduced": "reduced",
    "increased": "positive",
}
TWO_DIRECTIONS = "graded and denied in one breath: two directions of one test"
COUNTED = "so many of them were said to be so, not which ones"
_END_POINTS = {"A": "firm", "B": "soft"}


def tests(parts: Parts) -> list[Draft]:
    """Return one draft a test and position."""
    drafts = []
    for item in parts.of("test"):
        for term in _terms_named(item):
            for position in _positions_of(item, parts):
                draft = Draft(finding=term.label, kind="test", term=term, at_degrees=position)
                if term.angle_is_result:
                    draft.degrees, draft.at_degrees = position, None
                _result(draft, item, term, parts)
                drafts += _by_place(draft, term, parts)
    return [draft for draft in drafts if draft.has_value() and not _only_lasts(draft)]


def _only_lasts(draft: Draft) -> bool:
    """Whether nothing was said but how long a test is held ("Phalen, sixty seconds"), which is no result."""
    timed = draft.measure is not None and draft.measure.unit == "s"
    return timed and not (draft.status or draft.grade or draft.with_)


def _positions_of(item: Item, parts: Parts) -> tuple[float | None, ...]:
    """Return the positions of one test of a list: one said right behind the last test is of that one alone."""
    tests_named = parts.of("test")
    if "position" in item.extra:
        return (float(item.extra["position"]),)
    if not parts.positions:
        return (None,)
    placed = [i.start for i in parts.frame.items if i.role == "position"]
    if not placed:
        return parts.positions  # said with the test, in the sentence before
    first, last = placed[0], tests_named[-1]
    judged = [i.start for i in parts.frame.items if i.is_value()]
    alike = all(" stress " in f" {label_of(test)} " for test in tests_named)
    if alike or "every" in parts.kinds:
        return parts.positions  # "valgus and varus at thirty both stable"
    if len(tests_named) > 1 and item is not last and last.start < first and all(first < start for start in judged):
        return (None,)
    return parts.positions


def _terms_named(item: Item) -> list[Term]:
    term = term_of(item)
    return [term] if term else []


def _result(draft: Draft, item: Item, term: Term, parts: Parts) -> None:
    draft.status = _status(item, term, parts)
    draft.end_feel = parts.end_feel
    draft.severity = parts.severity if draft.status not in ("negative", "not_examined", "equivocal") else None
    draft.limited_by = list(parts.limiters)
    signs = [sign for sign in parts.of("sign") if is_companion(sign)]
    present = [label_of(sign) for sign in signs if not sign.negated and sign.shape != "absent"]
    if any(item.text.startswith(("reproduce", "bring")) for item in parts.statuses):
        present = [label for label in present if label != "pain"]  # its pain is what makes the test positive
    draft.with_ = list(dict.fromkeys([*parts.companions, *present]))
    if parts.has_strength_word() and not item.negated:
        weak = [i for i in parts.statuses if i.value == "reduced" and any(s.cue and s.cue.strength for s in i.senses)]
        if any(not i.negated for i in weak):
            draft.status = "positive"
            draft.with_ = list(dict.fromkeys(["weakness", *draft.with_]))
        elif weak and draft.with_:
            draft.status = None  # "it hurts, it's not weak": the pain decides
    for quantity in parts.quantities:
        if _counts_tests(quantity, parts):
            draft.doubts.append(("incomplete", COUNTED, None))
            if draft.status and quantity.value * 2 <= len(parts.of("test")):
                draft.status = "equivocal"  # most of them were not
            continue
        _quantity(draft, term, quantity)
    graded = draft.grade is not None and draft.grade.value.strip("+-") != "0"
    if graded and draft.status == "negative" and any(i.value == "absent" for i in parts.statuses):
        draft.status = None  # "grade one anteriorly, none posteriorly"
        draft.doubts.append(("incomplete", TWO_DIRECTIONS, None))
    if draft.status is None and _is_there(item, parts) and not signs and not draft.grade:
        draft.status = "positive"  # "there's a painful arc"
    if draft.status is None and (signs or draft.with_) and not draft.grade:
        denied = [label_of(sign) for sign in signs if sign.negated or sign.shape == "absent"]
        if denied and (term.positive_is or "").startswith(item.text):
            draft.status = "positive"  # "real apprehension, not pain": the test was named by what makes it positive
        elif denied and not draft.with_:
            draft.status = "negative"
        elif any(_is_the_result(term, label) for label in draft.with_):
            draft.status = "positive"
    if draft.grade and draft.grade.scale == "pain":
        draft.with_ = [label for label in draft.with_ if label != "pain"]
    if item.negated and draft.limited_by:
        draft.status = "not_examined"  # "no pivot shift because of guarding"
    if draft.status == "not_examined":
        draft.limited_by, draft.with_ = list(dict.fromkeys([*draft.limited_by, *draft.with_])), []
    # what the sign is the result of needs no mention beside it
    draft.with_ = [label for label in draft.with_ if label not in ("laxity", "instability")]


def _is_there(item: Item, parts: Parts) -> bool:
    """Whether the sign that a test is named by is there: "there's a painful arc", not "there's McMurray" to be done."""
    presence = [i for i in parts.frame.items if i.kind == "presence" and i.end <= item.start]
    return any(item.start > i.end or "sign" in item.text for i in presence)


def _counts_tests(quantity: Quantity, parts: Parts) -> bool:
    """Whether a number says how many of a list of tests came out so ("three out of four positive")."""
    tests_named = parts.of("test")
    return quantity.out_of is not None and quantity.out_of == len(tests_named) > 1 and not quantity.plus_minus


def _is_the_result(term: Term, label: str) -> bool:
    """Whether this sign is what makes the test positive."""
    return label in ("laxity", "instability") or label in (term.positive_is or "").lower()


def _status(item: Item, term: Term, parts: Parts) -> Status | None:
    if item.negated:
        return "negative"
    if "nothing" in parts.kinds:
        return "negative"  # "nothing on any of them"
    if item.hedged:
        return "equivocal"
    said, said_by = parts.status()
    graded = bool(parts.grade_quantity)
    for outcome in (*parts.outcomes, item):
        if outcome.mention.cue("end_feel") and (graded or (said is not None and said_by is not outcome)):
            continue  # a result or grade that was said beats what an end point suggests
        for sense in outcome.senses:
            if sense.shape in ("positive", "negative") and sense.term is not None:
                same = sense.term.label == term.label
                if same and not (outcome is item and sense.shape not in ("positive", "negative")):
                    value: Status = "positive" if sense.shape == "positive" else "negative"
                    return ("negative" if value == "positive" else "positive") if outcome.negated else value
    verdict: Status | None = next(
        (_TEST_STATUS[i.value] for i in parts.statuses if i.value in ("positive", "negative") and not i.negated), None
    )
    if verdict and said in ("reduced", "increased", "normal") and not parts.has_strength_word():
        said = verdict  # "Thomas test, he's short, positive"
    value_said = meant_of(term, parts) or said
    if value_said is None or said_by is None:
        return None
    if said_by.kind == "outcome" and not said_by.value:
        return None  # an outcome word of another test
    return _TEST_STATUS.get(value_said)


def _quantity(draft: Draft, term: Term, quantity: Quantity) -> None:
    if (quantity.unit in ("mm", "cm", "s", "1") and term.scale != "laxity") or quantity.unit in ("mm", "cm"):
        draft.measure = Measure(value=quantity.value, unit=quantity.unit, comparator=quantity.comparator)
    elif term.angle_is_result and not quantity.is_grade:
        draft.degrees = quantity.value
    elif quantity.out_of == 10:
        draft.grade = grade_of("pain", quantity)
    elif quantity.letter or quantity.graded or quantity.plus_minus or (quantity.value <= 4 and not quantity.unit):
        draft.grade = grade_of(term.scale or "laxity", quantity)
        if term.scale is None and quantity.out_of:
            draft.doubts.append(
                ("incomplete", f"{quantity.text()} out of {quantity.out_of:g}: the scale was not said", None)
            )
        if quantity.letter:
            draft.end_feel = _END_POINTS.get(quantity.letter, draft.end_feel)
    elif quantity.unit == "deg":
        draft.at_degrees = quantity.value


def _is_limb(item: Item) -> bool:
    """Whether it is a part of the body at large, held or moved in a test rather than tested ("the thumb tucked in")."""
    term = term_of(item)
    return term is not None and term.part in ("area", "skin", None)


def _by_place(draft: Draft, term: Term, parts: Parts) -> list[Draft]:
    """Name the structure that the test was of, where a compartment or a structure was said."""
    first = min(item.start for item in parts.of("test"))
    known = set(term.places.values())
    named = [
        label_of(i) for i in parts.of("structure") if label_of(i) in known or (i.start > first and not _is_limb(i))
    ]
    if any(item.text.startswith(("reproduce", "bring")) for item in parts.statuses):
        named = []
    named += [term.places[place] for place in parts.places if place in term.places]
    named = [name for name in named if name != term.label]
    if not named:
        return [draft]
    out = []
    for structure in dict.fromkeys(named):
        copy = Draft(**{key: getattr(draft, key) for key in draft.__dataclass_fields__})
        copy.with_, copy.limited_by, copy.doubts = list(draft.with_), list(draft.limited_by), list(draft.doubts)
        copy.structure = structure
        out.append(copy)
    return out


def tasks(parts: Parts) -> list[Draft]:
    """Return one draft a functional task."""
    drafts = []
    for item in parts.of("task"):
        term = term_of(item)
        if term is None:
            continue
        draft = Draft(finding=term.label, kind="task", term=term, limited_by=list(parts.limiters))
        status, said_by = parts.status()
        could_not = said_by is not None and said_by.text.startswith(("could not", "couldn't", "was not able"))
        if item.unable or item.negated or could_not:
            status = "reduced"
        draft.status = {"positive": "reduced", "negative": "normal", "absent": "reduced", "present": "normal"}.get(
            status or "", status
        )  # type: ignore[assignment]
        if item.shape in ("normal", "reduced"):
            draft.status = item.shape  # type: ignore[assignment]
        hurts = any(i.text.startswith(("reproduce", "bring")) for i in parts.statuses)
        if hurts:
            draft.status = None
        if draft.limited_by and draft.status is None:
            draft.status = "reduced"
        signs = [sign for sign in parts.of("sign") if not sign.negated and sign.shape != "absent"]
        if draft.status is None and not signs and any(sign.shape == "absent" for sign in parts.of("sign")):
            draft.status = "normal"  # "hop no bother"
        draft.with_ = list(dict.fromkeys([*parts.companions, *(label_of(sign) for sign in signs)]))
        if hurts and "pain" not in draft.with_:
            draft.with_ = ["pain", *draft.with_]
        if any(item.unable for item in (*parts.statuses, item)) and draft.with_ and not parts.companions:
            draft.limited_by, draft.with_ = [*draft.limited_by, *draft.with_], []
        draft.severity = parts.severity if draft.with_ else None
        for quantity in parts.quantities:
            if quantity.unit in ("cm", "mm", "s", "1"):
                draft.measure = Measure(value=quantity.value, unit=quantity.unit, comparator=quantity.comparator)
            elif quantity.unit is None and not quantity.is_grade and "1" in term.units:
                draft.measure = Measure(value=quantity.value, unit="1", comparator=quantity.comparator)
        drafts.append(draft)
        drafts.extend(
            Draft(
                finding="pain",
                kind="sign",
                term=term_of(sign),
                structure=term.label,
                status="absent",
                section="function",
            )
            for sign in parts.of("sign")
            if sign.negated and label_of(sign) == "pain"
        )
    return [draft for draft in drafts if draft.has_value()]
