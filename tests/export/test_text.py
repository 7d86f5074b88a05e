"""The note as text and Markdown."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings

from dictate.contract import Note
from dictate.export.handover import Handover
from dictate.export.text import SIGNED_CAUTION, escaped, markdown, plain_text
from dictate.note.text import CAUTION, text_of
from tests.export.notes import (
    AMENDED,
    DRAFT,
    NAMES,
    NASTY_HANDOVER,
    SIGNED,
    finding,
    fixture_note,
    nasty_note,
    note_with,
    notes,
)


@pytest.mark.parametrize("name", NAMES)
def test_with_nothing_known_the_text_is_that_of_the_command(name: str) -> None:
    assert plain_text(fixture_note(name)) == text_of(fixture_note(name))


def test_a_signed_text_says_who_signed_and_is_no_draft() -> None:
    text = plain_text(fixture_note("mcl_football_slips"), SIGNED)
    assert "Signed by A. Example, physiotherapist, 2026-11-25 09:15 UTC" in text
    assert SIGNED_CAUTION in text
    assert CAUTION not in text


@pytest.mark.parametrize("write", [plain_text, markdown])
def test_a_draft_says_that_it_is_one(write: object) -> None:
    assert callable(write)
    assert CAUTION in write(fixture_note("mcl_football_slips"), DRAFT).replace("\\", "")


@pytest.mark.parametrize("write", [plain_text, markdown])
def test_an_addendum_is_in_the_text(write: object) -> None:
    assert callable(write)
    assert "Left flexion measured again: 130" in write(note_with(finding()), AMENDED)


@pytest.mark.parametrize("name", NAMES)
def test_markdown_has_every_line_of_the_text(name: str) -> None:
    def words(text: str) -> list[str]:
        return re.findall(r"[\w°+−]+", text)

    note = fixture_note(name)
    assert words(markdown(note).replace("\\", "")) == words(text_of(note))


@pytest.mark.parametrize("name", NAMES)
def test_no_side_is_abbreviated(name: str) -> None:
    assert not re.search(r"\b[LR]\b(?!\d)", markdown(fixture_note(name)).replace("LR+", ""))


def test_markup_in_what_was_said_is_shown_as_it_is() -> None:
    assert escaped("*bold* <b> [a](b) `c` # d") == "\\*bold\\* \\<b\\> \\[a\\](b) \\`c\\` \\# d"


@pytest.mark.parametrize(("said", "shown"), [("- x", "\\- x"), ("1. x", "1\\. x"), ("+ x", "\\+ x")])
def test_what_would_begin_a_list_is_escaped(said: str, shown: str) -> None:
    assert escaped(said) == shown


def test_no_text_of_the_note_breaks_a_line() -> None:
    lines = markdown(nasty_note(), NASTY_HANDOVER).splitlines()
    assert all(re.match(r"$|#{1,2} |\s*- |\*", line) for line in lines)


@pytest.mark.parametrize("write", [plain_text, markdown])
def test_doubts_left_are_not_to_be_checked_before_a_signing_that_was(write: object) -> None:
    assert callable(write)
    note = fixture_note("mcl_football_slips")
    text = write(note, SIGNED)
    doubtful = sum(1 for finding in note.findings if finding.doubts)
    assert 0 < doubtful < len(note.findings)
    assert f"Signed with doubts left: {doubtful} of {len(note.findings)}" in text
    assert "before signing" not in text


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(note=notes)
def test_no_text_of_any_note_steers_a_terminal(note: Note) -> None:
    for text in (plain_text(note, NASTY_HANDOVER), markdown(note, NASTY_HANDOVER)):
        assert all(letter.isprintable() or letter == "\n" for letter in text)


def test_nothing_known_is_no_about_line() -> None:
    assert "Patient" not in plain_text(note_with(finding()), Handover())
