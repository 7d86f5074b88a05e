"""The page to print: self-contained, nothing that runs, one or two sheets, and the marks where they belong."""

from __future__ import annotations

import re
import shutil
import subprocess
from functools import cache
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from dictate.contract import Note, OneSide
from dictate.export.page import print_page
from dictate.export.picture import Drawn, is_there, knee_picture, layout_of
from dictate.export.picture_svg import left_out_names
from dictate.export.plain import one_line
from dictate.lexicon.load import load_lexicon
from tests.export.notes import (
    DRAFT,
    NAMES,
    NASTY,
    NASTY_HANDOVER,
    SIGNED,
    finding,
    fixture_note,
    nasty_note,
    note_with,
    notes,
)

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_VOID = {"meta"}  # SVG closes its own


class Reading(HTMLParser):
    """The page as a browser's parser has it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.text: list[str] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@cache
def page_of(name: str) -> str:
    """Return the page of a fixture's draft; of a signed note; or of one with nasty text."""
    match name:
        case "signed":
            return print_page(fixture_note("mcl_football_slips"), SIGNED)
        case "nasty":
            return print_page(nasty_note(), NASTY_HANDOVER)
    return print_page(fixture_note(name), DRAFT)


@pytest.fixture(params=[*NAMES, "signed", "nasty"])
def page(request: pytest.FixtureRequest) -> str:
    return page_of(request.param)


def test_every_element_is_closed(page: str) -> None:
    assert Reading(page).open == []


def test_nothing_runs_and_nothing_is_loaded(page: str) -> None:
    reading = Reading(page)
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base"} & set(reading.tags)
    names = {name for name, _ in reading.attributes}
    assert not [name for name in names if name.startswith("on") or name in ("href", "src", "xlink:href")]
    assert "url(" not in page and "@import" not in page


def test_what_was_said_is_shown_and_not_run() -> None:
    text = "".join(Reading(page_of("nasty")).text)
    assert one_line(NASTY) in text


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(note=notes)
def test_any_note_makes_a_page_that_closes_what_it_opens(note: Note) -> None:
    page = print_page(note, NASTY_HANDOVER)
    assert Reading(page).open == []
    assert all(letter.isprintable() or letter == "\n" for letter in page)


@pytest.mark.parametrize("name", NAMES)
def test_every_finding_is_on_the_page(name: str) -> None:
    text = "".join(Reading(page_of(name)).text).lower()
    assert [one for one in fixture_note(name).findings if (one.structure or one.finding).lower() not in text] == []


@pytest.mark.parametrize("name", NAMES)
def test_every_doubt_is_on_the_page(name: str) -> None:
    text = " ".join("".join(Reading(page_of(name)).text).split())
    details = [" ".join(doubt.detail.split()) for one in fixture_note(name).findings for doubt in one.doubts]
    assert [detail for detail in details if detail not in text] == []


def test_an_unsigned_page_has_a_line_to_sign_on() -> None:
    assert "Checked and signed:" in page_of("mcl_football_slips")
    assert "Draft, not signed" in page_of("mcl_football_slips")


def test_a_signed_page_says_by_whom() -> None:
    assert "Signed by A. Example, physiotherapist" in page_of("signed")
    assert "Checked and signed:" not in page_of("signed")


def test_another_region_has_no_picture_of_knees() -> None:
    assert "<svg" not in page_of("shoulder_right_cuff")


@pytest.mark.slow
@pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", ["meniscus_left_notes", "peroneal_nerve_left", "mcl_football_slips", "signed"])
def test_one_or_two_sheets(name: str, paper: str, tmp_path: Path) -> None:
    """The three fixtures with most findings and doubts, and a signed one; all fixtures were measured by hand."""
    page, sheet = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(page_of(name).replace("@page {", f"@page {{ size: {paper};", 1), encoding="utf-8")
    subprocess.run(
        [
            str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
            f"--user-data-dir={tmp_path / 'profile'}", "--no-pdf-header-footer", f"--print-to-pdf={sheet}",
            page.as_uri(),
        ],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", sheet.read_bytes())) <= 2


# -- the picture -----------------------------------------------------------------------------------------------------


def marks(*said: tuple[str, str, str | None], status: str = "present") -> tuple[Drawn, ...]:
    return layout_of(
        note_with(*(finding(name, side=side, structure=structure, status=status) for name, side, structure in said))
    ).drawn


@pytest.mark.parametrize(("side", "medial_is_right_of_lateral"), [("right", True), ("left", False)])
def test_medial_is_towards_the_other_knee(side: str, medial_is_right_of_lateral: bool) -> None:
    """Seen from the front, the patient's right knee is on the left of the page, and medial is towards the midline."""
    medial, lateral = marks(("tenderness", side, "medial joint line"), ("tenderness", side, "lateral joint line"))
    assert (medial.x > lateral.x) is medial_is_right_of_lateral


def test_the_right_knee_is_on_the_left_of_the_page() -> None:
    right, left = marks(("effusion", "right", None), ("effusion", "left", None))
    assert right.x < left.x


def test_both_sides_are_drawn_on_both_knees() -> None:
    sides: list[OneSide] = [one.side for one in marks(("effusion", "both", None))]
    assert sorted(sides) == ["left", "right"]


def test_what_is_absent_is_never_drawn_as_there() -> None:
    (drawn,) = marks(("tenderness", "left", "patella"), status="absent")
    assert not drawn.there


@pytest.mark.parametrize("status", ["not_examined", "normal", None])
def test_what_is_neither_there_nor_absent_is_not_drawn(status: str | None) -> None:
    note = note_with(finding("effusion", side="left", status=status))
    assert layout_of(note).drawn == ()


def test_a_grade_of_nought_is_not_there() -> None:
    assert is_there(finding("effusion", grade={"scale": "effusion", "value": "0"})) is False


@pytest.mark.parametrize(
    "fields",
    [{"side": "left", "structure": "a place unknown"}, {"side": None, "structure": "patella"},
     {"side": "left", "structure": "supraspinatus", "region": "shoulder"}],
)  # fmt: skip
def test_what_has_no_place_on_the_picture_is_named_below(fields: dict[str, str]) -> None:
    note = note_with(finding(status="present", **fields))
    assert layout_of(note).drawn == ()
    assert len(left_out_names(note)) == 1


@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_there_is_drawn_or_named(name: str) -> None:
    layout, picture = layout_of(fixture_note(name)), knee_picture()
    named = {id(one) for one in layout.left_out}
    drawn = {(one.side, one.mark, picture.place_of(one.finding)) for one in layout.drawn if one.there}
    for one in fixture_note(name).findings:
        if one.section in ("inspection", "palpation", "special_tests") and is_there(one) and id(one) not in named:
            sides = ("left", "right") if one.side == "both" else (one.side,)
            assert {(side, picture.mark_of(one.finding), picture.place_of(one)) for side in sides} <= drawn


@pytest.mark.parametrize("name", NAMES)
def test_marks_do_not_cover_each_other(name: str) -> None:
    there = [one for one in layout_of(fixture_note(name)).drawn if one.there]
    assert all((a.x - b.x) ** 2 + (a.y - b.y) ** 2 >= 17**2 for a, b in combinations(there, 2))


def test_many_marks_at_one_place_are_kept_apart() -> None:
    names = ["tenderness", "swelling", "bruising", "warmth", "redness", "scar", "crepitus"]
    there = marks(*((name, "left", "patella") for name in names))
    assert len(there) == len(names)
    assert all((a.x - b.x) ** 2 + (a.y - b.y) ** 2 >= 17**2 for a, b in combinations(there, 2))


def test_marks_can_be_told_apart_without_colour() -> None:
    letters = [mark.letter for mark in knee_picture().mark]
    assert len(set(letters)) == len(letters)


LABELS = {term.label for term in load_lexicon().terms}


def test_every_place_is_a_term_of_the_lexicon() -> None:
    assert {*knee_picture().places, *knee_picture().finding_places} - LABELS == set()


def test_every_marked_finding_is_a_term_of_the_lexicon() -> None:
    assert {name for mark in knee_picture().mark for name in mark.findings} - LABELS == set()


def test_medial_places_are_medial_and_lateral_ones_lateral() -> None:
    sided = re.compile("(antero|postero)?(medial|lateral)")
    sides = {label: place.x for label, place in knee_picture().places.items() if sided.match(label)}
    assert [label for label, x in sides.items() if ("medial" in label.split()[0]) != (x > 0)] == []


def test_every_finding_with_a_place_has_a_mark() -> None:
    assert [name for name in knee_picture().finding_places if knee_picture().mark_of(name) is None] == []
