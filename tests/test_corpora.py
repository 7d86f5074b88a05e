"""Every phrase of every corpus gives the findings written beside it: side, place, values, doubts and what was replaced.

A region's strict field accuracy has a floor, and the phrases below it are named, whether or not the floor holds.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

import pytest

from dictate.contract import Finding
from dictate.lexicon.load import REFERENCE_FILES, builtin_folder, checked_tables, data_files, load_lexicon, read_toml
from dictate.lexicon.model import Term
from tests.support.cases import Case, corpora
from tests.support.floors import floors
from tests.support.reading import findings_in_context, reader
from tests.support.scoring import Score, strict_key
from tests.support.show import show

CASES = corpora()
FILES = sorted({case.file for case in CASES})
REGIONS = sorted({file.split("/")[0] for file in FILES})
TERMS = [
    (path.relative_to(builtin_folder()).as_posix().removesuffix(".toml"), term)
    for path in data_files(builtin_folder())
    if path.stem not in ("region", *REFERENCE_FILES)
    for term in checked_tables(read_toml(path), path).get("term", [])
    if isinstance(term, Term)
]
_SHAPES = ("forms", "adjectives", "verbs", "verbs_to", "lack_forms", "over_forms", "absent_forms", "normal_forms")
# Wordings that do mean two things, which the parser tells apart by what stands around them. Nothing else may be added
# without its reason.
TWO_MEANINGS = {
    "sore": "pain of a movement, tenderness of a place",
    "comfortable": "neither of the two, as \"sore\" says either",
    "no bother": "the same",
    "no bother at all": "the same",
    "tibialis anterior": "the muscle when it is loaded, its tendon when it is pressed",
    "tib ant": "the same",
    "tib anterior": "the same",
    "tibialis posterior": "the muscle when it is loaded, its tendon when it is pressed",
    "tib post": "the same",
    "tib posterior": "the same",
    "peroneal": "the muscles when they are loaded, their tendons when they are pressed",
    "peronei": "the same",
    "drawer tests": "the plural names both of them, the singular mostly the anterior one",
    "rotations": "the plural names both of them, the singular does not say which",
}


def differences(case: Case, got: list[Finding]) -> Iterator[str]:
    """Yield what is not as written, one plain line each."""
    want = list(case.findings)
    if [strict_key(f) for f in want] != [strict_key(f) for f in got]:
        missing = Counter(map(strict_key, want)) - Counter(map(strict_key, got))
        extra = Counter(map(strict_key, got)) - Counter(map(strict_key, want))
        if not missing and not extra:
            yield "the order is another"
        yield from (f"missed {_readable(found)}" for found in missing.elements())
        yield from (f"not written {_readable(found)}" for found in extra.elements())
        return
    for finding, reasons, found in zip(want, case.doubts, got, strict=True):
        raised = {doubt.reason for doubt in found.doubts}
        if reasons is not None and set(reasons) != raised:
            yield f"{found.finding}: doubts {sorted(raised)} instead of {sorted(reasons)}"
        replaced = [(note.field, note.value) for note in found.replaced]
        if finding.replaced and replaced != [(note.field, note.value) for note in finding.replaced]:
            yield f"{found.finding}: replaced {replaced}"


def _readable(found: tuple[object, ...]) -> str:
    return " ".join(str(part) for part in found if part not in (None, ()))


@pytest.mark.parametrize("region", REGIONS)
def test_phrases_of_a_region(region: str, capsys: pytest.CaptureFixture[str]) -> None:
    score = Score(keyed=strict_key)
    kinds: dict[str, Score] = defaultdict(lambda: Score(keyed=strict_key))
    failing, phrases = [], 0
    for case in CASES:
        if case.file.split("/")[0] != region:
            continue
        phrases += 1
        got = findings_in_context(case)
        for one in (score, kinds[case.file.split("/", 1)[1]]):
            one.add(case.findings, got, name=case.said)
        failing += [f"  {case.file}: “{case.said}”: {difference}" for difference in differences(case, got)]
    files = "  ".join(f"{name} {one.accuracy:.3f}" for name, one in kinds.items())
    head = (
        f"{region}: strict field accuracy {score.accuracy:.3f}, precision {score.precision:.3f}, recall "
        f"{score.recall:.3f}, {phrases} phrases\n  {files}"
    )
    show(capsys, head, *failing)
    accuracy = round(score.accuracy, 4)
    assert phrases >= 80
    assert accuracy >= floors()["corpora"]["accuracy"], f"{len(failing)} differences, printed above"


@pytest.mark.parametrize("file", FILES)
def test_every_term_has_an_example(file: str) -> None:
    """The corpus beside a file holds a finding of each of its terms, or says the group of terms that one stands for."""
    mine = [case for case in CASES if case.file == file]
    labels = _labels(mine)
    said = {_normal(case.said) for case in mine}
    without = [
        term.label
        for home, term in TERMS
        if home == file
        and term.label not in labels
        and not (term.stands_for and any(f" {_normal(form)} " in f" {text} " for text in said for form in term.forms))
    ]
    assert without == [], f"{file}.corpus.toml has no phrase for {', '.join(without)}"


def test_every_file_of_a_region_has_a_corpus() -> None:
    homes = {home for home, _ in TERMS if not home.startswith("common/")}
    assert sorted(homes - set(FILES)) == []


def test_no_form_belongs_to_two_terms_of_one_kind(capsys: pytest.CaptureFixture[str]) -> None:
    """A wording of two terms of one kind in one region is ambiguous: reported, and refused unless a reason is given."""
    lexicon = load_lexicon()
    claims: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for term in lexicon.terms:
        for region in term.regions or lexicon.regions:
            for shape in _SHAPES:
                for form in getattr(term, shape):
                    claims[region, term.kind, _normal(form)].add(term.label)
    ambiguous = {claim: sorted(labels) for claim, labels in sorted(claims.items()) if len(labels) > 1}
    lines = [f"  {region} {kind} “{form}”: {', '.join(labels)}" for (region, kind, form), labels in ambiguous.items()]
    show(capsys, "forms of two terms of one kind:", *lines)
    normal = {_normal(form) for form in TWO_MEANINGS}
    refused = [line for (_, _, form), line in zip(ambiguous, lines, strict=True) if form not in normal]
    assert refused == [], "\n".join(refused)
    assert normal <= {form for _, _, form in ambiguous}, "TWO_MEANINGS names a wording that has one meaning"


def _labels(cases: list[Case]) -> set[str | None]:
    found: set[str | None] = set()
    for case in cases:
        for finding in case.findings:
            found |= {finding.finding, finding.structure, finding.end_feel, *finding.limited_by, *finding.with_}
    return found


def _normal(phrase: str) -> str:
    return " ".join(reader().tokeniser.norms(phrase))
