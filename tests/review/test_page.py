"""The review page in a real Chromium, by keyboard alone.

Checked against: WCAG 2.2 (2.1.1 Keyboard, 2.1.4 Character Key Shortcuts, 2.5.8 Target Size, 1.4.4 Resize Text, 1.4.10
Reflow, 4.1.3 Status Messages) and axe-core. Set DICTATE_SHOTS to a folder to get a picture of every screen.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from dictate.journal.events import Closed, Gap, HeardUtterance
from tests.review.exams import doubtful_exam
from tests.support.browser import open_page, violations
from tests.support.exams import kept_exam, timed

SHOTS = os.environ.get("DICTATE_SHOTS")
WIDE = {"width": 1280, "height": 900}
TABLET = {"width": 820, "height": 1180}


def shoot(page, name):
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(SHOTS) / f"{name}.png"))


@contextmanager
def reviewing(browser, server, exam, **context) -> Iterator:
    folder = exam[0]
    link = server.url.replace("/?", f"/review/{folder.exam}?")
    with open_page(browser, link, **{"viewport": WIDE, **context}) as page:
        faults: list[str] = []
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.wait_for_selector("#card .deeds")
        yield page
        assert not faults


@pytest.fixture
def page(browser, server, exam):
    with reviewing(browser, server, exam) as page:
        yield page


SHOWN = "#card[aria-busy=false] #card-title"  # until then the finding before stands there, and no key decides


def status(page, pattern):
    page.wait_for_function("p => new RegExp(p).test(document.querySelector('#status').textContent)", arg=pattern)
    return page.text_content("#status")


def title(page):
    return " ".join(page.text_content("#card-title").split())


def edits(exam):
    return [event for event in exam[1].refresh() if event.kind == "edited"]


# -- the queue --------------------------------------------------------------------------------------------------------


def test_the_worst_doubt_is_shown_first_with_reason_and_words(page):
    shoot(page, "first")
    assert title(page) == "flexion 115°, soft end feel right"
    assert "Heard unclearly" in page.text_content(".doubts")
    assert page.text_content(".unclear") == "fifteen"


def test_accepting_by_one_key_brings_the_next_by_itself(page, exam):
    page.keyboard.press("a")
    assert "6 to check" in status(page, "^Accepted")
    assert title(page) == "flexion 215° right"
    assert [edit.action for edit in edits(exam)] == ["accept"]


def test_enter_accepts_too(page, exam):
    page.keyboard.press("Enter")
    status(page, "^Accepted")
    assert len(edits(exam)) == 1


def test_a_number_key_takes_an_alternative(page, exam):
    page.keyboard.press("1")
    status(page, "^Changed: Flexion: 150°")
    assert edits(exam)[-1].after.degrees == 150


def test_removing_and_not_examined_by_one_key_each(page, exam):
    page.keyboard.press("x")
    status(page, "^Removed")
    page.keyboard.press("n")
    status(page, "^Not examined")
    assert [edit.action for edit in edits(exam)] == ["remove", "not_examined"]


def test_all_doubts_are_done_by_keys_alone(page, exam):
    for left in range(6, 0, -1):
        page.keyboard.press("a")
        status(page, rf"{left} to check")
    page.keyboard.press("a")
    status(page, "Nothing left to check")
    shoot(page, "nothing_left")
    assert "Nothing is left to check" in page.text_content("#card")
    assert len(edits(exam)) == 7


TEN = (
    "Lachman negative", "anterior drawer negative", "posterior drawer negative", "pivot shift negative",
    "McMurray negative", "medial joint line tender", "lateral joint line tender", "patellar tendon tender",
    "pes anserinus tender", "active flexion one hundred and thirty degrees",
)  # fmt: skip


def test_ten_doubts_take_ten_keys(browser, server, data):
    """The reviewer's minute is theirs: no dialog, no mouse, no key that only goes on to the next finding."""
    exam = kept_exam(data, [timed(f"Right {said}.", start_s=4.0 * n, confidence=0.3) for n, said in enumerate(TEN)])
    with reviewing(browser, server, exam) as page:
        assert page.text_content("#card .place").startswith("To check: 1 of 10")
        for left in range(9, 0, -1):
            page.keyboard.press("a" if left % 2 else "x")
            status(page, rf"{left} to check")
        page.keyboard.press("a")
        status(page, "Nothing left to check")
    assert len(edits(exam)) == 10


def test_a_key_held_down_decides_once(page, exam):
    page.keyboard.down("a")
    for _ in range(5):
        page.keyboard.down("a")
    page.keyboard.up("a")
    status(page, "^Accepted")
    page.wait_for_timeout(300)
    assert len(edits(exam)) == 1


def test_undo_and_undo_of_undo(page, exam):
    page.keyboard.press("a")
    status(page, "^Accepted")
    page.keyboard.press("u")
    status(page, "^Taken back")
    assert title(page) == "flexion 115°, soft end feel right"
    page.keyboard.press("y")
    status(page, "^Done again")
    assert [edit.action for edit in edits(exam)] == ["accept", "undo", "undo"]


def test_later_and_back_walk_through_the_queue(page):
    page.keyboard.press("j")
    page.wait_for_function("() => document.querySelector('#card-title').textContent.includes('215')")
    page.keyboard.press("k")
    page.wait_for_function("() => document.querySelector('#card-title').textContent.includes('115')")


def test_the_sound_of_the_words_is_played_by_one_key(page):
    with page.expect_request(re.compile(r"/sound\?from=8\.5&to=12\.4")):
        page.keyboard.press("s")
    assert status(page, "^Playing") == "Playing."


def test_a_finding_of_the_note_is_shown_by_arrow_and_enter(page):
    page.focus("#rows button")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('#card-title').textContent.includes('medial joint line')")
    shoot(page, "from_note")


# -- changing ---------------------------------------------------------------------------------------------------------


def test_a_change_in_words_shows_what_it_records_before_enter(page, exam):
    page.keyboard.press("w")
    page.keyboard.type("flexion one oh five")
    page.wait_for_selector("#typed-reads strong:text-is('Flexion: 105°, right')")  # fewer words were read on the way
    shoot(page, "in_words")
    assert edits(exam) == []
    page.keyboard.press("Enter")
    status(page, "^Changed: Flexion: 105°")
    assert edits(exam)[-1].after.section == "passive_motion"


def test_enter_right_after_typing_takes_what_was_typed(page, exam):
    page.keyboard.press("w")
    page.keyboard.type("flexion one oh five")
    page.keyboard.press("Enter")
    status(page, "^Changed")
    assert edits(exam)[-1].after.degrees == 105


def test_one_of_several_findings_is_taken_by_one_press(page, exam):
    page.keyboard.press("w")
    page.keyboard.type("flexion one oh five, extension lacks five")
    page.wait_for_selector("#typed-reads button")
    page.locator("#typed-reads button").last.focus()
    page.keyboard.press("Enter")
    status(page, "^Changed: Extension")
    assert [edit.after.finding for edit in edits(exam)] == ["extension"]


def test_escape_leaves_the_words_and_nothing_is_changed(page, exam):
    page.keyboard.press("w")
    page.keyboard.type("flexion one oh five")
    page.keyboard.press("Escape")
    page.wait_for_selector("#typed-text", state="detached")
    assert edits(exam) == [] and page.evaluate("document.activeElement.id") == "card"


def test_typed_letters_are_no_commands(page, exam):
    page.keyboard.press("w")
    page.keyboard.type("axnu 123")
    page.wait_for_timeout(300)
    assert edits(exam) == []


def test_a_finding_is_added_by_typing_it(page, exam):
    page.keyboard.press("i")
    page.keyboard.type("left pivot shift negative")
    page.wait_for_selector("#typed-reads strong")
    page.keyboard.press("Enter")
    status(page, "^Added: Pivot shift: negative, left")
    assert edits(exam)[-1].after.said == "left pivot shift negative"


def test_a_change_field_by_field(page, exam):
    page.keyboard.press("c")
    page.wait_for_selector("#form[open]")
    shoot(page, "form")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("l")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Change it").focus()
    page.keyboard.press("Enter")
    status(page, "^Changed: Flexion: 115°, soft end feel, left")


def test_a_wrong_label_in_the_form_is_refused_and_nothing_typed_is_lost(page, exam):
    page.keyboard.press("c")
    page.wait_for_selector("#form[open]")
    page.keyboard.type("flexoin")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('#form .alert').textContent.includes('did you mean')")
    shoot(page, "form_refused")
    assert page.input_value("#form input >> nth=0").endswith("flexoin")
    assert edits(exam) == []


def test_a_stale_decision_is_refused_and_what_was_typed_stays(browser, server, exam):
    with reviewing(browser, server, exam) as one, reviewing(browser, server, exam) as other:
        one.keyboard.press("w")
        one.keyboard.type("flexion one oh five")
        one.wait_for_selector("#typed-reads strong")
        other.keyboard.press("x")
        status(other, "^Removed")
        one.keyboard.press("Enter")
        one.wait_for_function(
            "() => document.querySelector('.typed .alert')?.textContent.includes('changed elsewhere')"
        )
        shoot(one, "stale")
        assert one.input_value("#typed-text") == "flexion one oh five"
    assert [edit.action for edit in edits(exam)] == ["remove"]


def test_a_stale_key_reloads_the_finding(browser, server, exam):
    with reviewing(browser, server, exam) as one, reviewing(browser, server, exam) as other:
        other.keyboard.press("x")
        status(other, "^Removed")
        one.keyboard.press("a")
        one.wait_for_selector("#alert:not([hidden])")
        one.wait_for_function("() => document.querySelector('#card').textContent.includes('Put back')")
    assert [edit.action for edit in edits(exam)] == ["remove"]


# -- what was not heard ----------------------------------------------------------------------------------------------


@pytest.fixture
def broken_off(data):
    """An exam whose microphone was away for twelve seconds."""
    folder, journal = doubtful_exam(data, closed=False)
    journal.append(Gap(from_s=61.0, to_s=73.0, why="the microphone was not heard"))
    journal.append(Closed(seconds=90.0, sounds=folder.sound_digests(journal.events)))
    return folder, journal


def test_missing_sound_is_told_above_the_note(browser, server, broken_off):
    with reviewing(browser, server, broken_off, bypass_csp=True) as page:
        page.locator("#banners summary").press("Enter")
        shoot(page, "gap")
        assert "1:01, 12 s: the microphone was not heard" in page.inner_text("#banners")
        assert violations(page) == []


def test_missing_sound_stands_at_its_place_among_what_was_said(browser, server, broken_off):
    with reviewing(browser, server, broken_off) as page:
        page.keyboard.press("t")
        assert page.locator("#said li").last.inner_text().startswith("Sound is missing. 1:01, 12 s")


def test_missing_sound_is_told_before_signing(browser, server, broken_off):
    with reviewing(browser, server, broken_off) as page:
        page.keyboard.press("f")
        page.wait_for_selector("#sign[open]")
        assert "1:01, 12 s: the microphone was not heard" in page.inner_text("#sign")


# -- signing ----------------------------------------------------------------------------------------------------------


def sign(page, *, role="physiotherapist"):
    page.keyboard.press("f")
    page.wait_for_selector("#sign[open]")
    for box in page.query_selector_all("#sign input[type=checkbox]"):
        box.focus()
        page.keyboard.press("Space")
    page.get_by_label("Your role").focus()
    page.keyboard.press("Control+a")
    page.keyboard.type(role)


def test_signing_asks_for_each_open_doubt(page, exam):
    page.keyboard.press("f")
    page.wait_for_selector("#sign[open]")
    shoot(page, "sign")
    assert page.locator("#sign .open-doubts li").count() == 7
    page.get_by_label("Your role").focus()
    page.keyboard.type("physiotherapist")
    page.keyboard.press("Enter")
    page.wait_for_function(
        "() => document.querySelector('#sign .alert:not([hidden])')?.textContent.includes('knowingly')"
    )
    assert not [event for event in exam[1].refresh() if event.kind == "signed"]


def test_signing_freezes_and_an_addendum_has_its_own_signature(page, exam):
    sign(page)
    page.keyboard.press("Enter")
    status(page, "^Signed by R. Tester")
    shoot(page, "signed")
    page.keyboard.press("j")
    page.wait_for_selector(SHOWN)
    page.keyboard.press("x")
    page.wait_for_selector("#alert:not([hidden])")
    assert "begin an addendum" in page.text_content("#alert")
    page.get_by_role("button", name="Begin an addendum").focus()
    page.keyboard.press("Enter")
    status(page, "^An addendum has begun")
    page.wait_for_selector(SHOWN)
    page.keyboard.press("x")
    status(page, "^Removed")
    sign(page)
    page.get_by_label("Why the signed note is changed").focus()
    page.keyboard.type("said of another patient")
    page.keyboard.press("Enter")
    status(page, "^Addendum signed")
    shoot(page, "addendum")
    signed = [event for event in exam[1].refresh() if event.kind == "signed"]
    assert [one.addendum for one in signed] == [None, "said of another patient"]


def test_what_was_changed_since_is_shown_with_who_and_when(page, exam):
    sign(page)
    page.keyboard.press("Enter")
    status(page, "^Signed by R. Tester")
    page.get_by_role("button", name="Begin an addendum").press("Enter")
    status(page, "^An addendum has begun")
    page.keyboard.press("j")
    page.wait_for_selector(SHOWN)
    page.keyboard.press("n")
    status(page, "^Not examined")
    shoot(page, "changed_since")
    at = edits(exam)[-1].at.astimezone()
    told = page.inner_text("#since li")
    assert told.startswith(f"{at.day} {at:%b %Y, %H:%M}, R. Tester: marked as not examined: ") and " → " in told
    assert "1 change since, not signed yet" in page.inner_text("#banners")


def test_a_note_that_was_changed_meanwhile_is_shown_again_before_it_is_signed(browser, server, exam):
    with reviewing(browser, server, exam) as one, reviewing(browser, server, exam) as other:
        one.keyboard.press("f")
        one.wait_for_selector("#sign[open]")
        other.keyboard.press("x")
        status(other, "^Removed")
        for box in one.query_selector_all("#sign input[type=checkbox]"):
            box.check()
        one.get_by_label("Your role").fill("physiotherapist")
        one.get_by_role("button", name="Sign", exact=True).click()
        one.wait_for_selector("#sign:not([open])", state="attached")
        one.wait_for_function("() => document.querySelector('#alert').textContent.includes('changed elsewhere')")
        assert "6 to check" in one.text_content("#about")
    assert [event.kind for event in exam[1].refresh() if event.kind == "signed"] == []


def test_a_signed_note_is_not_called_a_draft(page):
    assert "Draft from speech" in page.text_content("#rest")
    sign(page)
    page.keyboard.press("Enter")
    status(page, "^Signed by")
    assert "Draft from speech" not in page.text_content("#rest")


def test_what_signing_means_is_said(page):
    page.keyboard.press("f")
    page.wait_for_selector("#sign[open]")
    assert "nothing in it is a diagnosis" in page.text_content("#sign")


# -- what is not as it was written ------------------------------------------------------------------------------------


def test_a_swapped_sound_file_is_shown(browser, server, exam):
    sound = exam[0].path / "sound-001.wav"
    sound.write_bytes(sound.read_bytes()[:-2000] + bytes(2000))
    with reviewing(browser, server, exam) as page:
        page.wait_for_selector("#banners .alert")
        shoot(page, "swapped")
        assert "is not the sound that was recorded" in page.text_content("#banners")


def test_a_changed_journal_is_shown(browser, server, exam):
    path = exam[1].path
    path.write_bytes(path.read_bytes().replace(b"patellar", b"achilles"))
    with reviewing(browser, server, exam) as page:
        page.wait_for_selector("#banners .alert")
        shoot(page, "tampered")
        assert "Line 8 of the journal" in page.text_content("#banners")


NASTY = "<img src=x onerror=alert(1)><script>alert(2)</script>"


def test_script_in_what_was_said_stays_text(browser, server, exam, data):
    exam[1].append(HeardUtterance(utterance=timed(f"Right Lachman {NASTY} negative.", start_s=60)))
    with reviewing(browser, server, exam) as page:
        page.keyboard.press("t")
        page.wait_for_selector("#said li")
        shoot(page, "all_said")
        assert NASTY.split()[0] in page.text_content("#said")
        assert page.locator("img, #said script").count() == 0


def test_script_in_what_is_typed_stays_text(page):
    page.keyboard.press("i")
    page.keyboard.type(f"left pivot shift negative {NASTY}")
    page.wait_for_selector("#typed-reads strong, #typed-reads p")
    page.keyboard.press("Enter")
    page.wait_for_timeout(300)
    assert page.locator("img, main script").count() == 0


def test_script_in_a_pseudonym_or_a_name_stays_text(browser, server, data):
    from dictate.journal.events import About, Edited

    exam = doubtful_exam(data)
    exam[1].append(About(patient=NASTY, by=NASTY))
    exam[1].append(Edited(action="remove", item="u0.0", by=NASTY, comment=NASTY))
    with reviewing(browser, server, exam) as page:
        assert NASTY in page.text_content("#about")
        assert page.locator("img, main script, header script").count() == 0


# -- everybody --------------------------------------------------------------------------------------------------------


LOOKS = {
    "light": {},
    "dark": {"color_scheme": "dark"},
    "tablet": {"viewport": TABLET},
    "forced": {"forced_colors": "active"},
    "phone": {"viewport": {"width": 360, "height": 740}},
}


@pytest.mark.parametrize("looks", LOOKS)
def test_axe_finds_nothing_serious(browser, server, exam, looks):
    with reviewing(browser, server, exam, bypass_csp=True, **LOOKS[looks]) as page:
        shoot(page, f"looks_{looks}")
        assert violations(page) == []


@pytest.mark.parametrize("key", ["w", "i", "c", "f", "t", "?"])
def test_axe_finds_nothing_serious_after_a_key(browser, server, exam, key):
    with reviewing(browser, server, exam, bypass_csp=True) as page:
        page.keyboard.press(key)
        page.wait_for_selector("dialog[open], #typed-text, #said li")
        shoot(page, f"axe_{'help' if key == '?' else key}")
        assert violations(page) == []


def test_axe_finds_nothing_serious_in_a_signed_exam(browser, server, exam):
    with reviewing(browser, server, exam, bypass_csp=True) as page:
        sign(page)
        page.keyboard.press("Enter")
        status(page, "^Signed")
        assert violations(page) == []


def test_every_target_is_large_enough_for_a_finger(browser, server, exam):
    """44 px, the enhanced size of WCAG 2.2, 2.5.5."""
    with reviewing(browser, server, exam, viewport=TABLET, has_touch=True) as page:
        small = page.evaluate(
            """[...document.querySelectorAll('button, a:not(.skip), input, summary')]
               .map((n) => [n.textContent || n.id, n.getBoundingClientRect()])
               .filter(([, b]) => b.width && (b.height < 44 || b.width < 44)).map(([name]) => name)"""
        )
        assert small == []


def test_it_works_by_touch(browser, server, exam):
    with reviewing(browser, server, exam, viewport=TABLET, has_touch=True) as page:
        page.get_by_role("button", name="Accept").tap()
        assert "6 to check" in status(page, "^Accepted")


@pytest.mark.parametrize("size", [{"width": 640, "height": 450}, {"width": 320, "height": 512}], ids=["200%", "400%"])
def test_nothing_scrolls_sideways_when_enlarged(browser, server, exam, size):
    """A 1280 px wide window at 200 % and 400 % (WCAG 1.4.4, 1.4.10)."""
    with reviewing(browser, server, exam, viewport=size) as page:
        shoot(page, f"enlarged_{size['width']}")
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_single_keys_can_be_switched_off(page, exam):
    page.keyboard.press("?")
    page.wait_for_selector("#help[open]")
    shoot(page, "help")
    page.get_by_label("Single keys work").uncheck()
    page.keyboard.press("Escape")
    page.keyboard.press("a")
    page.wait_for_timeout(300)
    assert edits(exam) == []


def test_after_a_decision_the_focus_is_on_the_next_card(page):
    page.get_by_role("button", name="Accept").focus()
    page.keyboard.press("Enter")
    status(page, "^Accepted")
    page.wait_for_function("() => document.activeElement.id === 'card'")


def test_a_link_at_the_start_leads_to_the_finding(page):
    first = page.locator("a, button, input").first
    first.focus()
    page.keyboard.press("Enter")
    assert first.text_content() == "To the finding" and page.evaluate("document.activeElement.id") == "card"


def test_an_exam_that_was_cut_off_can_be_ended(browser, server, data):
    exam = doubtful_exam(data, closed=False)
    with reviewing(browser, server, exam) as page:
        page.get_by_role("button", name="It is over").focus()
        page.keyboard.press("Enter")
        status(page, "^The end of the exam was recorded")
    assert exam[1].refresh()[-1].kind == "closed"


def test_an_exam_without_findings_can_be_shown(browser, server, data):
    exam = kept_exam(data, ["Good morning."])
    with reviewing(browser, server, exam) as page:
        assert "No findings were recorded" in page.text_content("#rows")
