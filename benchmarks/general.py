"""A general reader of examination talk, built from kept libraries alone: what one has without a parser of one's own.

spaCy's PhraseMatcher finds the lexicon's forms, negspacy tells which are denied, word2number reads numbers. The
signs, tests and movements of a sentence take the structure, side and number that stand nearest to them.
"""

from __future__ import annotations

import re
from contextlib import suppress
from typing import Any

import spacy
from negspacy.negation import Negex  # noqa: F401 - registers the pipe "negex"
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Span
from spacy.util import filter_spans
from word2number import w2n  # type: ignore[import-untyped]

from dictate.contract import Finding, Grade, Side
from dictate.lexicon.load import Lexicon
from dictate.lexicon.model import Term

_NUMBER_WORDS = frozenset(w2n.american_number_system)
_GRADED = {"reflex": "reflex", "pulse": "pulse"}


class GeneralReader:
    """Reads a transcript into findings."""

    def __init__(self, lexicon: Lexicon) -> None:
        self._nlp = spacy.blank("en")
        self._nlp.add_pipe("sentencizer")
        self._terms: dict[str, list[Term]] = {}
        self._matcher = PhraseMatcher(self._nlp.vocab, attr="LOWER")
        for term in lexicon.terms:
            for form in (*term.forms, *term.adjectives, *term.verbs, *term.verbs_to):
                self._terms.setdefault(form.lower(), []).append(term)
        self._matcher.add("TERM", [self._nlp.make_doc(form) for form in self._terms])
        self._negation: Any = self._nlp.create_pipe("negex", config={"chunk_prefix": ["non"]})

    def read(self, text: str, *, region: str) -> list[Finding]:
        """Return the findings of a transcript of one region's examination."""
        found: list[Finding] = []
        side: Side | None = None
        for line in text.splitlines():
            doc = self._nlp(line)
            doc.ents = filter_spans([Span(doc, start, end, "TERM") for _, start, end in self._matcher(doc)])
            doc = self._negation(doc)
            for sentence in doc.sents:
                side = _side(sentence) or side
                found += self._sentence(doc, sentence, region, side)
        return found

    def _sentence(self, doc: Doc, sentence: Span, region: str, side: Side | None) -> list[Finding]:
        named = [(entity, self._term(entity, region)) for entity in sentence.ents]
        structures = [(entity, term) for entity, term in named if term.kind == "structure"]
        numbers = _numbers(sentence)
        found = []
        for entity, term in named:
            near = min(structures, key=lambda other: abs(other[0].start - entity.start), default=None)
            number = min(numbers, key=lambda other: abs(other[0] - entity.end), default=None)
            place = near[1].label if near else None
            section, home = (term.sections or ("palpation",))[0], (term.regions or (region,))[0]
            shared: dict[str, Any] = {"section": section, "region": home, "side": side}
            words = {token.lower_ for token in sentence}
            if term.kind == "sign":
                sign = "absent" if entity._.negex else "present"
                found.append(Finding(**shared, structure=place, finding=term.label, status=sign))
            elif term.kind == "test" and (entity._.negex or words & {"negative", "positive", "stable", "normal"}):
                result = "positive" if "positive" in words else "negative"
                found.append(Finding(**shared, finding=term.label, status=result))
            elif term.kind == "movement" and number:
                found.append(Finding(**shared, finding=term.label, degrees=number[1]))
            elif term.kind in _GRADED and number:
                grade = Grade(scale=_GRADED[term.kind], value=f"{number[1]:g}{'+' if 'plus' in words else ''}")
                found.append(Finding(**shared, structure=term.label, finding=term.kind, grade=grade))
            elif term.kind == "structure" and term.part == "muscle" and number and number[1] <= 5:
                grade = Grade(scale="MRC", value=f"{number[1]:g}{'+' if 'plus' in words else ''}")
                found.append(Finding(**shared, structure=term.label, finding="strength", grade=grade))
        return found

    def _term(self, entity: Span, region: str) -> Term:
        terms = self._terms[entity.text.lower()]
        return next((term for term in terms if region in term.regions), terms[0])


def _side(sentence: Span) -> Side | None:
    said = [token.lower_ for token in sentence if token.lower_ in ("left", "right", "both", "bilaterally")]
    sides: dict[str, Side] = {"left": "left", "right": "right", "both": "both", "bilaterally": "both"}
    return sides[said[-1]] if said else None


def _numbers(sentence: Span) -> list[tuple[int, float]]:
    """Return (place, value) of each number, written or in words, as word2number reads it."""
    found: list[tuple[int, float]] = []
    run: list[str] = []
    start = 0
    for token in [*sentence, None]:
        word = token.lower_ if token is not None else ""
        if token is not None and re.fullmatch(r"\d+(\.\d+)?", word):
            found.append((token.i, float(word)))
        elif token is not None and word in _NUMBER_WORDS:
            start = start if run else token.i
            run.append(word)
            continue
        if run:
            with suppress(ValueError):  # "point" or "and" alone
                found.append((start, float(w2n.word_to_num(" ".join(run)))))
            run = []
    return found
