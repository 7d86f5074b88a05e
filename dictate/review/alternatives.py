"""What else a finding may have been, each as a whole finding that can be taken with one key."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import get_args

from rapidfuzz import fuzz, process

from dictate.contract import DoubtReason, Finding, Grade, Region, Side, Status
from dictate.journal.edits import same_meaning
from dictate.language.reader import Reader
from dictate.language.state import Entry
from dictate.lexicon.model import Term
from dictate.note.describe import side_text
from dictate.note.readings import MOST_READINGS
from dictate.recognise.events import Utterance
from dictate.review.describe import differences
from dictate.review.labels import Labels
from dictate.review.reading import Said, utterance_number

MOST = 9  # one for each digit key
_MOST_NAMES = 3
_ALIKE = 72  # rapidfuzz ratio, 0 to 100: wordings less like what was heard are not worth a key
_SHORTEST_LETTERS = 5
_MOST_WORDS = 4  # of a wording
_CONTRARY: dict[Status, tuple[Status, ...]] = {
    "present": ("absent",), "absent": ("present",), "positive": ("negative",), "negative": ("positive",),
    "normal": ("reduced", "increased"), "reduced": ("normal",), "increased": ("normal",),
}  # fmt: skip
_TWINS = (
    ("medial", "lateral"), ("anterior", "posterior"), ("superior", "inferior"), ("proximal", "distal"),
    ("internal", "external"), ("upper", "lower"), ("prepatellar", "infrapatellar"),
)  # fmt: skip
_TEENS = {13: 30, 14: 40, 15: 50, 16: 60, 17: 70, 18: 80, 19: 90}  # what sounds alike; the other way round as well
_NAMES: frozenset[DoubtReason] = frozenset({"sounds_like", "wrong_region", "heard_unclearly"})
_SIDES: frozenset[DoubtReason] = frozenset({"side_assumed", "side_conflict"})


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another finding that may have been meant, and what speaks for it."""

    finding: Finding
    why: str


@dataclass(frozen=True)
class Chooser:
    """Works out alternatives with the lexicon of one reader."""

    reader: Reader
    labels: Labels

    def alternatives(self, key: str, finding: Finding, said: Said, *, region: str) -> list[Alternative]:
        """Return what else a finding may have been, the likeliest first: at most nine, each another meaning.

        Args:
            key: of the finding.
            finding: as it stands now.
            said: the exam's words.
            region: the region examined.
        """
        reasons = {doubt.reason for doubt in finding.doubts}
        entry = said.entries.get(key)
        sources = [self._readings(key, finding, said), self._suggested(finding, region), _slips(finding)]
        rest = [self._numbers(finding, entry), self._names(finding, entry, region), _polarity(finding)]
        if reasons & _NAMES and not reasons & _SIDES:
            rest.insert(0, rest.pop(1))
        sides = _sides(finding) if finding.side or reasons & _SIDES or side_text(finding) else iter(())
        sources += [sides, *rest] if reasons & _SIDES else [*rest, sides]
        found: list[Alternative] = []
        for source in sources:
            for other in source:
                if not same_meaning(other.finding, finding) and not any(
                    same_meaning(other.finding, known.finding) for known in found
                ):
                    found.append(other)
        return found[:MOST]

    def _readings(self, key: str, finding: Finding, said: Said) -> Iterator[Alternative]:
        """Other readings of the same sound, read from where the exam stood."""
        number = utterance_number(key)
        if number is None or number >= len(said.utterances):
            return
        before = said.steps[number].state
        own = [entry.finding for entry in said.entries.values() if entry.utterance == number]
        for hypothesis in said.utterances[number].alternatives[:MOST_READINGS]:
            after = self.reader.step(before, Utterance.of_text(hypothesis.text))
            for entry in after.entries:
                other = entry.finding
                if entry.utterance != before.utterances or any(same_meaning(other, known) for known in own):
                    continue
                if 0 < len(differences(finding, other)) <= 2:
                    yield Alternative(_in_place_of(finding, other), f"another reading of the sound: “{other.said}”")

    def _suggested(self, finding: Finding, region: str) -> Iterator[Alternative]:
        """What the doubts themselves suggest."""
        for doubt in finding.doubts:
            for part in (doubt.suggestion or "").split(", "):
                other = self._with(finding, part.strip(), doubt.reason, region)
                if other is not None:
                    yield Alternative(other, "suggested by the doubt")

    def _with(self, finding: Finding, value: str, reason: DoubtReason, region: str) -> Finding | None:
        if value in get_args(Side):
            return finding.model_copy(update={"side": value})
        if value.replace(" ", "_") in get_args(Status):
            return finding.model_copy(update={"status": value.replace(" ", "_")})
        if finding.degrees is not None and value.lstrip("-").replace(".", "", 1).isdigit():
            return finding.model_copy(update={"degrees": float(value)})
        if reason == "level_mismatch" and finding.structure and finding.structure[:1] in "CTLS":
            level, _, rest = finding.structure.partition(" ")
            if level[1:].isdigit() and value[:1] in "CTLS":
                return finding.model_copy(update={"structure": f"{value} {rest}".strip()})
        if value in self.labels.structures and finding.structure is not None:
            return finding.model_copy(update={"structure": value, "region": self._region_of(value, finding, region)})
        if value in self.labels.findings:
            return finding.model_copy(update={"finding": value, "region": self._region_of(value, finding, region)})
        return None

    def _region_of(self, label: str, finding: Finding, examined: str) -> Region | str:
        regions = {region for term in self.reader.lexicon.terms if term.label == label for region in term.regions}
        if not regions or finding.region in regions:
            return finding.region
        return examined if examined in regions else min(regions)

    def _numbers(self, finding: Finding, entry: Entry | None) -> Iterator[Alternative]:
        """Numbers that sound alike, and the neighbours of a grade on its scale."""
        term = entry.term if entry else None
        for field in ("degrees", "at_degrees"):
            value = getattr(finding, field)
            if value is None:
                continue
            for other, why in _sounding_like(value, signed=bool(term and term.signed) and field == "degrees"):
                if _possible(other, term):
                    yield Alternative(finding.model_copy(update={field: other}), why)
        grade = finding.grade
        values = self.labels.scales.get(grade.scale, ()) if grade else ()
        if grade and grade.value in values:
            place = values.index(grade.value)
            near = [*values[max(0, place - 2) : place][::-1], *values[place + 1 : place + 3]]
            for value in sorted(near, key=lambda one: values[place][:1] != one[:1])[:3]:
                near_grade = Grade(scale=grade.scale, value=value)
                yield Alternative(finding.model_copy(update={"grade": near_grade}), "next on the scale")

    def _names(self, finding: Finding, entry: Entry | None, region: str) -> Iterator[Alternative]:
        """The twin of a structure, and labels like the words that were heard."""
        field = "structure" if finding.structure else "finding"
        label = finding.structure or finding.finding
        pool = self.labels.structures if finding.structure else self.labels.findings
        for one, other in _TWINS:
            for here, there in ((one, other), (other, one)):
                twin = label.replace(here, there)
                if here in label.split() and twin in pool:
                    yield Alternative(finding.model_copy(update={field: twin}), "easily confused with it")
        if not {doubt.reason for doubt in finding.doubts} & _NAMES:
            return
        for near in _like(finding.said, self._may_stand_for(label, region)):
            regional = self._region_of(near, finding, region)
            update = {field: near, "region": regional}
            yield Alternative(finding.model_copy(update=update), "sounds like what was heard")

    def _may_stand_for(self, label: str, region: str) -> list[Term]:
        terms = self.reader.lexicon.terms
        kinds = {term.kind for term in terms if term.label == label}
        others = (term for term in terms if term.label != label and term.kind in kinds)
        return [term for term in others if not term.regions or region in term.regions]


def _like(said: str, terms: Sequence[Term]) -> list[str]:
    """Return the labels whose wordings are most like some stretch of what was said, other than what it says itself."""
    wordings = {(term.label, form): form for term in terms for form in term.forms if len(form) >= _SHORTEST_LETTERS}
    words = [word.strip(" ,.;:?!").lower() for word in said.split()]
    stretches = {
        " ".join(words[first:end])
        for first in range(len(words))
        for end in range(first + 1, min(len(words), first + _MOST_WORDS) + 1)
    }
    best: dict[str, float] = {}
    for stretch in stretches:
        if len(stretch) < _SHORTEST_LETTERS:
            continue
        for _, score, (label, _) in process.extract(stretch, wordings, scorer=fuzz.ratio, limit=6, score_cutoff=_ALIKE):
            best[label] = max(best.get(label, 0.0), score)
    return sorted(best, key=lambda label: -best[label])[:_MOST_NAMES]


def _in_place_of(finding: Finding, other: Finding) -> Finding:
    """Return another reading with where this finding came from."""
    kept = {name: getattr(finding, name) for name in ("said", "time", "doubts", "confidence", "replaced")}
    return other.model_copy(update=kept)


def _slips(finding: Finding) -> Iterator[Alternative]:
    """What was said first, before the speaker corrected it."""
    for slip in finding.replaced:
        value: object = slip.value
        if slip.field == "grade" and finding.grade is not None and isinstance(value, str):
            value = Grade(scale=finding.grade.scale, value=value.rpartition(" ")[2])
        if slip.field not in Finding.model_fields or value is None:
            continue
        try:
            other = Finding.model_validate({**finding.model_dump(), slip.field: value})
        except ValueError:  # a value that only makes sense in words
            continue
        yield Alternative(other, f"said first: “{slip.said}”")


def _sides(finding: Finding) -> Iterator[Alternative]:
    others: dict[str | None, tuple[str, ...]] = {
        "left": ("right", "both"), "right": ("left", "both"), "both": ("left", "right"),
        None: ("left", "right", "both"),
    }  # fmt: skip
    for side in others.get(finding.side, ()):
        why = "the other side" if finding.side in ("left", "right") and side != "both" else f"{side} side"
        yield Alternative(finding.model_copy(update={"side": side}), why if side != "both" else "both sides")


def _polarity(finding: Finding) -> Iterator[Alternative]:
    for status in _CONTRARY.get(finding.status, ()) if finding.status else ():
        yield Alternative(finding.model_copy(update={"status": status}), "the contrary")


def _sounding_like(value: float, *, signed: bool) -> Iterator[tuple[float, str]]:
    """Yield numbers that are easily misheard for one: fifteen and fifty, one twenty and twenty, a lost minus."""
    if signed and value:
        yield -value, "the other sign"
    if value != int(value) or value < 0:
        return
    rest = int(value) % 100
    pairs = {**_TEENS, **{ty: teen for teen, ty in _TEENS.items()}}
    if rest in pairs:
        yield value - rest + pairs[rest], "sounds alike"
    if value >= 110:
        yield value - 100, "sounds alike"
    elif 10 <= value <= 80:
        yield value + 100, "sounds alike"


def _possible(value: float, term: Term | None) -> bool:
    limits = term.plausible_deg.value if term and term.plausible_deg else (-30.0, 180.0)
    low, high = limits if isinstance(limits, tuple) else (0.0, limits)
    return low <= value <= high
