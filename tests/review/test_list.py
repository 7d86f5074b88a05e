"""The list of exams in a real Chromium, by keyboard alone: searched, walked through and opened.

Checked against: WCAG 2.2 (2.1.1 Keyboard, 2.5.5 Target Size, 1.4.10 Reflow, 4.1.3 Status Messages) and axe-core. Set
DICTATE_SHOTS to a folder to get a picture of every screen.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import get_args

import pytest

from dictate.archive.purge import remove_exam
from dictate.contract import Region, Side
from dictate.journal.exam import exams_folder
from dictate.review.exams import State
from tests.archive.made import keep
from tests.review.exams import doubtful_exam
from tests.review.test_page import LOOKS, NASTY, TABLET, WIDE, shoot, status
from tests.support.browser import open_page, violations

KNEE, ANKLE, HIP = "2026-01-05T090000-aaaa", "2026-02-10T090000-bbbb", "2026-03-20T090000-cccc"
WEEK = [f"2026-01-{day:02}T090000-aaaa" for day in range(7, 0, -1)]  # the newest first


def keep_dated(data, said, exam, **about):
    """Keep an exam that began when its id says."""
    began = datetime.strptime(exam[:17], "%Y-%m-%dT%H%M%S").replace(tzinfo=UTC)
    keep(data, said, exam=exam, at=began, **about)


@pytest.fixture
def three(data):
    """A knee, an ankle that was signed, and a hip of another patient."""
    keep_dated(data, ("Left knee.", "Medial joint line tender.", "No effusion."), KNEE, patient="K-017")
    keep_dated(data, ("Right ankle.", "Swelling over the lateral malleolus."), ANKLE, patient="K-018", signed=True)
    keep_dated(data, ("Left hip.", "Flexion ninety degrees."), HIP, patient="K-017")


@pytest.fixture
def week(data, monkeypatch):
    """Seven exams, shown three at a time."""
    monkeypatch.setattr("dictate.cli.review_exams.AT_ONCE", 3)
    for exam in WEEK:
        keep_dated(data, ("Left knee.", "No effusion."), exam, source="text")


@contextmanager
def listing(browser, server, **context) -> Iterator:
    with open_page(browser, server, **{"viewport": WIDE, **context}) as page:
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        status(page, "exam")
        yield page
        assert not faults


@pytest.fixture
def page(browser, server, three):
    with listing(browser, server) as page:
        yield page


def shown(page):
    return page.locator("#exams tbody a").all_inner_texts()


def at(page):
    return page.evaluate("document.activeElement.textContent")


def find(page, label, value):
    """Type something in a field of the search, or choose it by typing, and press Enter there.

    In a list of choices Enter opens the list; from there the way is by Tab to the button.
    """
    field = page.get_by_label(label, exact=True)
    field.focus()
    page.keyboard.type(value)
    if field.get_attribute("name") in ("text", "patient"):
        page.keyboard.press("Enter")
    else:
        page.get_by_role("button", name="Search").press("Enter")


# -- opened and walked through ---------------------------------------------------------------------------------------


def test_the_list_leads_to_an_exam_by_enter(browser, server, data):
    doubtful_exam(data)
    with listing(browser, server) as page:
        page.wait_for_function("() => document.activeElement.tagName === 'A'")
        page.keyboard.press("Enter")
        page.wait_for_selector("#card .deeds")


def test_the_newest_exam_is_first_and_has_the_focus(page):
    shoot(page, "list")
    assert shown(page) == [HIP, ANKLE, KNEE] and at(page) == HIP


def test_arrows_go_up_and_down_the_list_and_stop_at_its_ends(page):
    seen = []
    for key in ("ArrowDown", "ArrowDown", "ArrowDown", "ArrowUp", "Home", "ArrowUp", "End"):
        page.keyboard.press(key)
        seen.append(at(page))
    assert seen == [ANKLE, KNEE, KNEE, ANKLE, HIP, HIP, KNEE]


def test_every_field_is_reached_by_tab_before_the_first_exam(page):
    page.locator("#find input").first.focus()
    names = []
    for _ in range(12):
        names.append(page.evaluate("document.activeElement.name || document.activeElement.textContent"))
        page.keyboard.press("Tab")
        while page.evaluate("document.activeElement.name") == names[-1] != "":  # a date has three parts and a button
            page.keyboard.press("Tab")
        if at(page) == HIP:
            break
    assert names == ["text", "side", "region", "since", "until", "patient", "state", "Search", "Show all"]


def test_older_ones_are_shown_when_asked_for_and_the_focus_goes_to_the_first_of_them(browser, server, week):
    with listing(browser, server) as page:
        assert page.text_content("#status") == "3 of 7 exams."
        page.keyboard.press("End")
        assert at(page) == "Show older ones: 4 more"
        shoot(page, "list_part")
        page.keyboard.press("Enter")
        status(page, "^6 of 7 exams")
        assert at(page) == WEEK[3] and shown(page) == WEEK[:6]
        page.keyboard.press("End")
        page.keyboard.press("Enter")
        status(page, "^7 exams")
        assert shown(page) == WEEK and page.locator("#more button").count() == 0


def test_an_exam_that_came_meanwhile_leaves_none_out_and_shows_none_twice(browser, server, data, week):
    with listing(browser, server) as page:
        keep_dated(data, ("Left knee.",), "2026-02-01T090000-bbbb", source="text")
        page.get_by_role("button", name=re.compile("^Show older")).press("Enter")
        status(page, "^6 of 7 exams")
        assert shown(page) == WEEK[:6]


def test_the_list_is_made_anew_where_its_last_exam_was_removed_meanwhile(browser, server, data, week):
    with listing(browser, server) as page:
        remove_exam(data, WEEK[2], why="test")
        page.get_by_role("button", name=re.compile("^Show older")).press("Enter")
        status(page, "^3 of 6 exams")
        assert shown(page) == [*WEEK[:2], WEEK[3]]


# -- searched --------------------------------------------------------------------------------------------------------


def test_a_search_for_words_shows_the_findings_that_it_found(page):
    find(page, "Words of a finding", "joint tend")
    status(page, "^1 exam")
    shoot(page, "list_found")
    assert shown(page) == [KNEE] and at(page) == KNEE
    assert page.locator(".found li").all_inner_texts() == ["medial joint line tenderness: present (left)"]


def test_what_was_denied_is_found_and_shown_as_denied(page):
    find(page, "Words of a finding", "effusion")
    status(page, "^1 exam")
    assert page.locator(".found li").all_inner_texts() == ["effusion: absent (left)"]


@pytest.mark.parametrize(
    ("label", "typed", "wanted"),
    [
        ("Region", "hip", [HIP]), ("Side of it", "right", [ANKLE]), ("Patient", "K-017", [HIP, KNEE]),
        ("State", "signed", [ANKLE]), ("State", "waits", [HIP, KNEE]), ("From", "03012026", [HIP]),
        ("To", "01312026", [KNEE]),
    ],
)  # fmt: skip
def test_a_search_by_one_field(page, label, typed, wanted):
    find(page, label, typed)
    status(page, f"^{len(wanted)} exam")
    assert shown(page) == wanted


def test_a_search_that_finds_nothing_says_so_and_the_words_stay(page):
    find(page, "Words of a finding", "zebra")
    status(page, "^No exam is like that")
    shoot(page, "list_nothing")
    assert shown(page) == [] and page.evaluate("document.activeElement.value") == "zebra"


def test_all_are_shown_again_by_one_button(page):
    find(page, "Patient", "K-018")
    status(page, "^1 exam")
    page.get_by_role("button", name="Show all").press("Enter")
    status(page, "^3 exams")
    assert shown(page) == [HIP, ANKLE, KNEE]


def test_older_ones_are_of_the_search_that_is_shown_not_of_what_was_typed_since(browser, server, week):
    with listing(browser, server) as page:
        page.get_by_label("Words of a finding").fill("zebra")
        page.get_by_role("button", name=re.compile("^Show older")).press("Enter")
        status(page, "^6 of 7 exams")


def test_a_late_answer_is_not_shown_under_a_later_search(page):
    page.route("**/exams", lambda route: (page.wait_for_timeout(300), route.continue_()), times=1)
    find(page, "Patient", "K-018")
    find(page, "Patient", "")
    page.get_by_role("button", name="Show all").press("Enter")
    status(page, "^3 exams")
    page.wait_for_timeout(600)
    assert shown(page) == [HIP, ANKLE, KNEE]


def test_the_way_back_from_an_exam_leads_to_the_same_search(page):
    find(page, "Patient", "K-018")
    status(page, "^1 exam")
    page.keyboard.press("Enter")
    page.wait_for_selector("#card")
    page.get_by_role("link", name="All exams").press("Enter")
    status(page, "^1 exam")
    assert shown(page) == [ANKLE] and "K-018" not in page.url


def test_too_many_words_get_one_plain_line(page):
    find(page, "Words of a finding", "a " * 40)
    assert "32 words at most" in status(page, "words")


@pytest.mark.parametrize("text", ["'; DROP TABLE exam; --", '" OR 1=1', "words : tender", NASTY])
def test_what_is_searched_for_is_only_text(page, text):
    find(page, "Words of a finding", text)
    status(page, "^No exam is like that")
    assert page.locator("img, main script").count() == 0
    page.get_by_role("button", name="Show all").press("Enter")
    status(page, "^3 exams")


def test_the_fields_offer_every_region_side_and_state(page):
    def offered(name):
        return tuple(page.eval_on_selector_all(f"[name={name}] option", "all => all.map(one => one.value)"))

    assert offered("region") == ("", *get_args(Region))
    assert offered("side") == ("", *get_args(Side))
    assert set(offered("state")) == {"", *get_args(State)}


# -- what is told ----------------------------------------------------------------------------------------------------


def test_a_damaged_exam_is_listed_with_what_is_wrong(browser, server, data, three):
    path = exams_folder(data) / KNEE / "journal.jsonl"
    path.write_bytes(path.read_bytes().replace(b"ender", b"ENDER"))
    with listing(browser, server) as page:
        shoot(page, "list_damaged")
        assert "line 3 of its journal does not fit" in page.locator("tr", has_text=KNEE).inner_text()


def test_script_in_a_pseudonym_stays_text(browser, server, data):
    from dictate.journal.events import About

    doubtful_exam(data)[1].append(About(patient=NASTY, by=NASTY))
    with listing(browser, server) as page:
        assert NASTY in page.inner_text("#exams") and page.locator("img, main script").count() == 0


def test_a_mishearing_is_learned_by_keys(browser, server, desk, data):
    from tests.review.test_learn import MISHEARD, corrected

    corrected(data, desk, MISHEARD, times=2)
    with listing(browser, server, bypass_csp=True) as page:
        page.wait_for_selector(".offer")
        shoot(page, "learn")
        assert violations(page) == []
        page.get_by_role("button", name="Learn it: latchmen is lachman test").focus()
        page.keyboard.press("Enter")
        page.wait_for_function(
            "() => document.querySelector('#learned').textContent.startsWith('Learned.')", timeout=60_000
        )
    learned = (data / "lexicon" / "learned.toml").read_text()
    assert "latchmen" in learned and "R. Tester: " in learned


# -- everybody -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("looks", LOOKS)
def test_axe_finds_nothing_serious(browser, server, three, looks):
    with listing(browser, server, bypass_csp=True, **LOOKS[looks]) as page:
        find(page, "Words of a finding", "tender")
        status(page, "^1 exam")
        shoot(page, f"list_{looks}")
        assert violations(page) == []


@pytest.mark.parametrize("size", [{"width": 640, "height": 450}, {"width": 320, "height": 512}], ids=["200%", "400%"])
def test_nothing_scrolls_sideways_when_enlarged(browser, server, three, size):
    with listing(browser, server, viewport=size) as page:
        shoot(page, f"list_enlarged_{size['width']}")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_every_target_is_large_enough_for_a_finger(browser, server, week):
    with listing(browser, server, viewport=TABLET, has_touch=True) as page:
        small = page.evaluate(
            """[...document.querySelectorAll('button, a:not(.skip), input, select')]
               .map((n) => [n.textContent || n.name, n.getBoundingClientRect()])
               .filter(([, b]) => b.width && (b.height < 44 || b.width < 44)).map(([name]) => name)"""
        )
        assert small == []


def test_it_works_by_touch(browser, server, week):
    with listing(browser, server, viewport=TABLET, has_touch=True) as page:
        page.get_by_role("button", name=re.compile("^Show older")).tap()
        status(page, "^6 of 7 exams")
