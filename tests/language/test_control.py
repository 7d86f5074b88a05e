"""Procedure words: a command where they stand alone in an utterance or open it, and words like any others elsewhere.

The first five and their meanings: ICAO Doc 9432, Manual of Radiotelephony, 2.6 (ICAO Annex 10, Volume II, 5.2.1.5).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import get_args

import pytest

from dictate.errors import LexiconError
from dictate.language.control import Control, Controls
from dictate.lexicon.control_model import ControlKind, control_file
from tests.support.cases import fixtures, heldout
from tests.support.reading import reader

DEVELOPMENT_SETS = ("knee", "regions", "practice", "nonfinding")


def control_of(text: str) -> Control | None:
    return reader().controls.control_of(text.split())


def kind_of(text: str) -> str | None:
    control = control_of(text)
    return control.kind if control else None


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("correction one hundred and five", "correction"),
        ("disregard", "disregard"),
        ("say again", "say_again"),
        ("read back", "read_back"),
        ("stand by", "stand_by"),
    ],
)
def test_the_words_of_radiotelephony(text: str, kind: str) -> None:
    assert kind_of(text) == kind


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Stand by.", "stand_by"),
        ("Standby.", "stand_by"),
        ("STAND BY!", "stand_by"),
        ("Stand by, please.", "stand_by"),
        ("Okay, stand by.", "stand_by"),
        ("Stand by one moment.", "stand_by"),
        ("Stand by, I'll fetch the goniometer.", "stand_by"),
        ("Resume.", "resume"),
        ("Résumé.", "resume"),
        ("Okay, ready to continue.", "resume"),
        ("Resume the examination.", "resume"),
        ("Say again.", "say_again"),
        ("Say again, please.", "say_again"),
        ("Read back.", "read_back"),
        ("Readback.", "read_back"),
        ("Red back.", "read_back"),
        ("Read that back, please.", "read_back"),
        ("Disregard.", "disregard"),
        ("Disregard that.", "disregard"),
        ("Sorry, disregard that last one.", "disregard"),
        ("disregard, ach", "disregard"),
        ("Correction, left.", "correction"),
        ("No, correction, left.", "correction"),
        ("correction left", "correction"),
        ("What's left?", "whats_left"),
        ("What’s left?", "whats_left"),
        ("Right, what's left to do?", "whats_left"),
        ("What have I missed?", "whats_left"),
    ],
)
def test_as_a_recogniser_spells_it(text: str, kind: str) -> None:
    assert kind_of(text) == kind


@pytest.mark.parametrize(
    "text",
    [
        "Stand by the wall for me.",
        "stand by the couch and bend forwards",
        "I'll stand by.",
        "Could you stand by?",
        "She can stand by herself.",
        "Correction of the varus is full.",
        "The correction holds.",
        "correction of posture reduces the pain",
        "I say again, flexion one oh five.",
        "Can you say again where it hurts?",
        "Read back the letters to me.",
        "The pain reads back to the hip.",
        "Disregard the old scar.",
        "We can disregard that pulse.",
        "What's left of the effusion is small.",
        "What's left is the ankle.",
        "So that's what's left.",
        "Resume running in six weeks.",
        "You can resume.",
        "Direction of the patella is lateral and it tracks well.",
        "Flexion one fifteen. Stand by.",
        "",
        "...",
        "okay",
    ],
)
def test_no_command(text: str) -> None:
    assert control_of(text) is None


def test_a_correction_keeps_the_words_of_the_correct_version() -> None:
    control = control_of("Okay, correction, one hundred and five.")
    assert control == Control("correction", "one hundred and five.", opening=2)


@pytest.mark.parametrize(
    ("text", "argument"),
    [
        ("Read back.", ""),
        ("Read back palpation.", "palpation"),
        ("read back the palpation please", "palpation"),
        ("Read back active range of motion.", "active_motion"),
        ("Read back special tests.", "special_tests"),
        ("Read back the last finding.", "last"),
        ("Read back everything.", "all"),
        ("Bred back active motion.", "active_motion"),
    ],
)
def test_what_is_to_be_read_back(text: str, argument: str) -> None:
    control = control_of(text)
    assert control is not None
    assert control.argument == argument


def test_a_word_that_only_sounds_like_a_command_is_marked() -> None:
    control = control_of("direction left.")
    assert control == Control("correction", "left.", opening=1, misheard=True)


def test_every_kind_of_control_can_be_said() -> None:
    said = {entry.kind for entry in control_file(reader().lexicon.reference).control}
    assert said == set(get_args(ControlKind))


def test_every_form_in_the_lexicon_is_a_command_by_itself() -> None:
    entries = control_file(reader().lexicon.reference).control
    wrong = [
        form for entry in entries for form in (*entry.forms, *entry.heard_as) if kind_of(form) != entry.kind
    ]  # fmt: skip
    assert wrong == []


def test_a_lexicon_without_control_words_is_refused_in_one_line() -> None:
    lexicon = replace(reader().lexicon, reference={})
    with pytest.raises(LexiconError, match=r"control\.toml is missing"):
        Controls(lexicon)


def utterances() -> Iterator[str]:
    """Yield what the scripts and development sets say: line by line, by sentence, and cut at every comma."""
    texts = [case.said for name in DEVELOPMENT_SETS for case in heldout(name)] + [case.said for case in fixtures()]
    for text in texts:
        for pattern in (r"\n", r"(?<=[.?!])\s+|\n", r"(?<=[.?!,;:])\s+|\n"):
            yield from re.split(pattern, text)


@pytest.mark.parametrize("kind", ["say_again", "read_back", "stand_by", "resume", "whats_left"])
def test_no_command_is_heard_in_narrations_that_hold_none(kind: str) -> None:
    assert [text for text in utterances() if kind_of(text) == kind] == []


@pytest.mark.parametrize(("kind", "word"), [("correction", "correction"), ("disregard", "disregard that")])
def test_what_takes_something_back_is_heard_only_where_it_is_said(kind: str, word: str) -> None:
    heard = [text for text in utterances() if kind_of(text) == kind]
    assert heard  # the narrations have some
    assert [text for text in heard if not text.lower().startswith(word)] == []
