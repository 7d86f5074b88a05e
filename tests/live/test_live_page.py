"""The live page in a real browser: what stands on it, for whom, and what it says when it does not follow.

Checked against WCAG 2.2 by axe-core (contrast, names, roles, zoom) in light, dark and at 200 %.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any

import pytest

from dictate.live.server import LivePage, serve_live
from dictate.web.server import RunningServer, serve
from tests.live.scripted import VIEW, ScriptedSession
from tests.support.browser import open_page, violations

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

WIDE = {"viewport": {"width": 1280, "height": 800}}
TABLET = {"viewport": {"width": 768, "height": 1024}}
ZOOMED = {"viewport": {"width": 640, "height": 400}, "device_scale_factor": 2}  # 1280 × 800 at 200 %

LONG = "Anterior drawer test at 90 degrees: positive, laxity grade 2 of 3, soft end feel, right"
STATES: dict[str, dict[str, Any]] = {
    "listening": {},
    "nothing yet": {"region": None, "section": None, "side": None, "last": None, "findings": 0, "trace": []},
    "starting": {"state": "starting", "last": None, "side": None},
    "doubt": {"last": {"text": "Patellar reflex: 2+", "doubt": "no side was said", "number": 18}, "side": "right"},
    "say again": {"last": {"text": LONG, "doubt": "heard unclearly", "number": 21}, "say_again": "the grade"},
    "standing by": {"state": "standing_by", "side": "both"},
    "microphone lost": {"state": "microphone_lost", "notice": "The USB microphone is gone."},
    "disk full": {"state": "disk_full"},
    "behind": {"lag_s": 17.2, "level": "quiet"},
    "answer": {"answer": f"Left to do: {'patellar tendon, tibial tuberosity, ' * 5}and the rest."},
    "closed": {"state": "closed"},
}  # fmt: skip


MINUTES = count(1)  # of the exam: by them a test knows that a view has been shown


@dataclass
class Shown:
    """A page with the session that it shows."""

    session: ScriptedSession
    server: RunningServer
    page: Page

    def text(self, selector: str) -> str:
        return " ".join(self.page.inner_text(selector).split())

    def wait(self, selector: str, text: str) -> None:
        self.page.locator(selector, has_text=text).wait_for(timeout=15_000)

    def show(self, **view: Any) -> None:
        """Change what is shown and wait until it is."""
        minutes = next(MINUTES)
        self.session.show(seconds=minutes * 60, **view)
        self.page.wait_for_function(
            "text => document.getElementById('figures').textContent.endsWith(text)", arg=f"· {minutes}:00"
        )


@contextmanager
def shown(browser: Browser, session: ScriptedSession | None = None, **context: Any) -> Iterator[Shown]:
    session = session or ScriptedSession()
    with serve_live(session) as server, open_page(browser, server, **(WIDE | context)) as page:
        page.locator("#figures", has_text="findings").wait_for()
        page.wait_for_function("document.body.dataset.following === 'yes'")
        yield Shown(session, server, page)


See = Callable[..., Shown]


@pytest.fixture(scope="module")
def see(browser) -> Iterator[See]:
    """Show a view on a page that the tests of this file share: one for each size and colour scheme."""
    with ExitStack() as pages:
        known: dict[tuple[int, str], Shown] = {}

        def see(
            view: dict[str, Any] | None = None, *, size: dict[str, Any] = WIDE, scheme: str = "light", **changes: Any
        ) -> Shown:  # fmt: skip
            key = (size["viewport"]["width"], scheme)
            if key not in known:
                known[key] = pages.enter_context(shown(browser, color_scheme=scheme, bypass_csp=True, **size))
            live = known[key]
            live.session.now = VIEW
            live.show(**(view or {}), **changes)
            return live

        yield see


def test_it_stands_on_the_page_where_the_exam_is(see):
    live = see()
    assert live.text("h1") == "Knee: palpation"


def test_the_last_finding_stands_on_the_page(see):
    live = see()
    assert live.text("#last") == "Medial joint line: tenderness, left"


@pytest.mark.parametrize(("side", "seen"), [("left", ["LEFT"]), ("right", ["RIGHT"]), ("both", ["LEFT", "RIGHT"])])
def test_the_side_is_spelled_out(see, side, seen):
    live = see(side=side)
    assert [text.strip() for text in live.page.locator(".side:visible").all_inner_texts()] == seen


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("size", [WIDE, TABLET], ids=["wide", "tablet"])
def test_the_side_stands_at_its_edge_of_the_screen(see, side, size):
    live = see(side=side, size=size)
    box = live.page.locator(f"#side-{side}").bounding_box()
    width = size["viewport"]["width"]
    assert (box["x"] == 0) if side == "left" else (round(box["x"] + box["width"]) == width)


def test_no_side_is_said_as_well(see):
    live = see(side=None)
    assert live.text(".place") == "Knee: palpation Side: not said"


def test_a_doubt_is_a_word_and_a_shape(see):
    live = see(STATES["doubt"])
    assert live.text("#doubt") == "Not sure: no side was said"
    assert live.page.locator("#doubt svg").is_visible()


def test_a_doubtful_finding_is_not_called_understood(see):
    live = see(STATES["doubt"])
    assert not live.page.locator("#fine").is_visible()


def test_a_doubt_of_any_finding_of_the_sentence_is_told(see):
    doubtful = {"text": "Effusion: absent, right", "doubt": "no side was said", "number": 16}
    live = see(recent=[doubtful, VIEW["last"]])
    assert live.text("#doubt") == "Not sure: Effusion: absent, right: no side was said"
    assert not live.page.locator("#fine").is_visible()


def test_it_is_said_that_a_sentence_gave_more_findings_than_the_one_shown(see):
    live = see(recent=[{"text": "Effusion: absent, left", "doubt": None, "number": 16}, VIEW["last"]])
    assert live.text("#label") == "Finding 17, and 1 more before it"


def test_what_should_be_said_again_stands_on_the_page(see):
    live = see(say_again="the grade of the drawer test")
    assert live.text("#again") == "Say again: the grade of the drawer test"


def test_an_answer_takes_the_place_of_the_finding(see):
    live = see(answer="Left to do: reflexes.")
    assert (live.text("#last"), live.text("#label")) == ("Left to do: reflexes.", "Answer")


def test_the_plan_says_in_words_what_is_done(see):
    live = see()
    rows = [" ".join(row.split()) for row in live.page.locator("#plan li").all_inner_texts()[:4]]
    assert rows == ["history deferred", "inspection done", "palpation partial, left only", "active motion untouched"]


def test_each_coverage_has_a_shape_of_its_own(see):
    live = see()
    shapes = live.page.eval_on_selector_all("#plan use", "uses => uses.map(use => use.getAttribute('href'))")
    assert shapes[:4] == ["#shape-deferred", "#shape-done", "#shape-partial", "#shape-untouched"]


def test_the_section_being_examined_is_marked(see):
    live = see()
    assert live.text("#plan [aria-current=step]").startswith("palpation")


def test_what_is_missing_here_is_named(see):
    live = see()
    assert live.text("#missing") == "Still to do here: patellar tendon, tibial tuberosity"


def test_the_words_heard_are_a_quiet_trace(see):
    live = see()
    assert "Medial joint line is tender." in live.text("#trace") and live.text("#partial") == "lateral joint …"


@pytest.mark.parametrize(
    ("state", "words"),
    [("standing_by", "Standing by"), ("microphone_lost", "Microphone lost"), ("disk_full", "Disk full"),
     ("closed", "Examination closed"), ("starting", "Starting")],
)  # fmt: skip
def test_a_state_in_which_nothing_is_written_is_said_large(see, state, words):
    live = see()
    live.show(state=state)
    assert live.text("#alarm-what") == words
    assert live.page.locator("#alarm svg").is_visible()


def test_a_long_delay_is_said_large(see):
    live = see(lag_s=14.4)
    assert live.text("#alarm-what") == "Behind by 14 seconds"


def test_a_short_delay_stands_beside_the_state(see):
    live = see(lag_s=4.4)
    assert (live.text("#state"), live.text("#alarm-what")) == ("Listening, 4 s behind", "")


def test_a_delay_that_goes_up_and_down_does_not_come_and_go(see):
    live = see(lag_s=12)
    live.show(lag_s=8)
    assert live.text("#alarm-what") == "Behind by 8 seconds"


def test_a_state_that_the_page_does_not_know_is_not_taken_for_listening(see):
    live = see(state="something_new")
    assert live.text("#alarm-do") == "Reload this page."


@pytest.mark.parametrize("level", ["quiet", "clipping", "silent"])
def test_the_level_is_said_in_words(see, level):
    live = see(level=level)
    assert re.search("too quiet|too loud|No sound", live.text("#figures"))


# Reading from three metres. Common practice, no source: main lines at least 7 % of the screen's height.


@pytest.mark.parametrize("state", STATES)
def test_the_main_lines_are_large_enough_for_three_metres(see, state):
    live = see(STATES[state])
    sizes = live.page.eval_on_selector_all(
        "#last, h1, .side, #again, #alarm-what",
        "all => all.filter(e => e.offsetParent && e.innerText.trim())"
        ".map(e => parseFloat(getComputedStyle(e).fontSize))",
    )
    assert min(sizes) >= (0.06 if state in ("answer", "say again") else 0.07) * 800


@pytest.mark.parametrize("size", [WIDE, TABLET], ids=["wide", "tablet"])
@pytest.mark.parametrize("state", STATES)
def test_everything_fits_on_the_screen_without_touching_it(see, state, size):
    live = see(STATES[state], size=size)
    live.page.wait_for_timeout(100)
    assert live.page.evaluate(
        "[...document.querySelectorAll('#last, #again, #doubt, #alarm, h1, .side, #plan-title, #figures')]"
        ".filter(e => e.offsetParent && e.innerText.trim()).filter(e => { const b = e.getBoundingClientRect();"
        " const m = e.closest('.said')?.getBoundingClientRect() ?? {top: 0, bottom: innerHeight};"
        " return b.top < m.top - 1 || b.bottom > m.bottom + 1 || b.left < -1 || b.right > innerWidth + 1 })"
        ".map(e => e.id)"
    ) == []  # fmt: skip


# WCAG 2.2


@pytest.mark.parametrize("size", [WIDE, ZOOMED], ids=["100 %", "200 %"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing_serious(see, state, scheme, size):
    live = see(STATES[state], scheme=scheme, size=size)
    live.page.wait_for_timeout(300)  # until a new finding has appeared
    assert violations(live.page) == []


def test_zoomed_in_nothing_has_to_be_scrolled_sideways(browser):
    """WCAG 2.2, 1.4.10."""
    with shown(browser, viewport={"width": 320, "height": 256}) as live:
        assert live.page.evaluate("document.documentElement.scrollWidth") <= 320


def test_zooming_makes_the_finding_larger(see):
    """WCAG 2.2, 1.4.4: at 200 % the words are larger on the screen, not the same."""
    heights = []
    for size in (WIDE, ZOOMED):
        live = see(size=size)
        size_px = live.page.eval_on_selector("#missing", "e => parseFloat(getComputedStyle(e).fontSize)")
        heights.append(size_px * size.get("device_scale_factor", 1))
    assert heights[1] >= 1.6 * heights[0]


def test_with_reduced_motion_nothing_moves(browser):
    with shown(browser, reduced_motion="reduce") as live:
        live.show(last={"text": "Effusion: absent", "doubt": None, "number": 18})
        assert live.page.evaluate("document.getAnimations().length") == 0


def test_forced_colours_keep_the_side_and_the_alarm_apart(browser):
    """Windows high contrast takes backgrounds away; a border has to stay."""
    with shown(browser, ScriptedSession(state="disk_full"), forced_colors="active") as live:
        widths = live.page.eval_on_selector_all(
            "#side-left, #alarm", "all => all.map(e => parseFloat(getComputedStyle(e).borderTopWidth))"
        )
        assert min(widths) > 0


def test_a_new_finding_is_said_by_a_screen_reader(see):
    live = see()
    assert live.page.locator("[role=status] #last").count() == 1


def test_what_stops_the_record_interrupts_a_screen_reader(see):
    live = see()
    assert live.page.locator("[role=alert] #alarm-what").count() == 1


def test_what_did_not_change_is_not_touched(see):
    """Or a screen reader would say the same finding every second."""
    live = see()
    live.page.evaluate(
        "window.touched = 0; new MutationObserver(all => { window.touched += all.length }).observe("
        "document.getElementById('news'), {subtree: true, childList: true, characterData: true, attributes: true})"
    )
    live.show()
    assert live.page.evaluate("window.touched") == 0


def test_the_titles_first_words_are_the_state(see):
    live = see()
    assert live.page.title() == "Listening: Knee: palpation"


# Keys


def test_every_button_is_reached_by_the_tab_key(browser):
    with shown(browser) as live:
        reached = []
        for _ in range(3):
            live.page.keyboard.press("Tab")
            reached.append(live.page.evaluate("document.activeElement.id"))
        assert reached == ["sounds", "theme", "finish"]


def test_sounds_are_off_until_a_key_turns_them_on(browser):
    with shown(browser) as live:
        before = live.page.get_attribute("#sounds", "aria-pressed")
        live.page.keyboard.press("Alt+KeyS")
        assert (before, live.page.get_attribute("#sounds", "aria-pressed")) == ("false", "true")


def test_a_letter_alone_does_nothing(browser):
    """WCAG 2.2, 2.1.4."""
    with shown(browser) as live:
        for key in "scx":
            live.page.keyboard.press(key)
        assert live.page.get_attribute("#sounds", "aria-pressed") == "false"
        assert not live.page.locator("dialog").is_visible()


def test_colours_are_changed_by_a_key(browser):
    with shown(browser, color_scheme="light") as live:
        colour = "getComputedStyle(document.body).backgroundColor"
        light = live.page.evaluate(colour)
        live.page.keyboard.press("Alt+KeyC")
        live.page.keyboard.press("Alt+KeyC")
        assert live.page.evaluate(colour) != light


def test_finishing_asks_first(browser):
    with shown(browser) as live:
        live.page.keyboard.press("Alt+KeyX")
        live.page.keyboard.press("Enter")  # on what has the focus: going on
        assert not live.session.closed.is_set() and not live.page.locator("dialog").is_visible()


def test_the_exam_is_finished_by_keyboard(browser):
    with shown(browser) as live:
        live.page.keyboard.press("Alt+KeyX")
        live.page.keyboard.press("Tab")
        live.page.keyboard.press("Enter")
        live.wait("#alarm-what", "Examination closed")
        assert live.session.closed.is_set()


# Following


def test_a_reload_reads_the_whole_state_again(browser):
    with shown(browser) as live:
        live.show(last={"text": "Effusion: absent", "doubt": None, "number": 18})
        live.page.reload()
        live.wait("#last", "Effusion: absent")


def test_a_second_tab_follows_the_same_exam(browser):
    with shown(browser) as live:
        tab = live.page.context.new_page()
        tab.goto(live.server.address)
        live.show(last={"text": "Effusion: absent", "doubt": None, "number": 18})
        tab.locator("#last", has_text="Effusion: absent").wait_for()


def test_the_token_does_not_stay_in_the_address(browser):
    with shown(browser) as live:
        assert live.page.url == f"{live.server.address}/"


def test_text_of_an_exam_is_never_markup(see):
    live = see()
    live.show(trace=["<b>x</b><img src=x onerror=alert(1)>"], last={"text": "<i>y</i>", "doubt": None, "number": 1})
    assert live.text("#last") == "<i>y</i>" and live.page.locator("#trace img, #last i").count() == 0


def test_nothing_is_asked_of_any_other_machine(browser):
    session = ScriptedSession()
    with serve_live(session) as server:
        profile = browser.new_context()
        page = profile.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(server.url)
        page.locator("#figures", has_text="findings").wait_for()
        profile.close()
        assert [url for url in asked if not url.startswith(server.address)] == []


def test_the_browser_finds_nothing_to_complain_of(browser):
    """No blocked script or style, no missing file."""
    with serve_live(ScriptedSession()) as server:
        profile = browser.new_context()
        page = profile.new_page()
        said: list[str] = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(server.url)
        page.locator("#figures", has_text="findings").wait_for()
        profile.close()
        assert said == []


@contextmanager
def outage(page: LivePage) -> Iterator[None]:
    """Close every socket and take no new one until the end."""
    page._socket._pages = 0
    for peer in page._socket.peers:
        asyncio.run_coroutine_threadsafe(peer.response.close(), peer.loop)
    yield
    page._socket._pages = None


def test_a_page_that_lost_the_program_says_so_and_how_old_what_it_shows_is(browser):
    with shown(browser) as live:
        live.server.stop()
        live.wait("#alarm-what", "Not following")
        live.wait("#alarm-do", "seconds old")
        assert live.page.get_attribute("body", "data-following") == "no"


def test_a_page_whose_program_hangs_says_so(browser):
    """The socket stays open, but nothing comes any more."""
    with shown(browser) as live:
        live.server._loop.call_soon_threadsafe(time.sleep, 5)
        live.wait("#alarm-what", "Not following")


def test_a_page_follows_again_by_itself(browser):
    session = ScriptedSession()
    page = LivePage(session)
    with serve(page.routes) as server, open_page(browser, server, **WIDE) as tab:
        tab.locator("#figures", has_text="findings").wait_for()
        with outage(page):
            tab.locator("#alarm-what", has_text="Not following").wait_for()
            session.show(last={"text": "Effusion: absent", "doubt": None, "number": 18})
        tab.locator("#last", has_text="Effusion: absent").wait_for()
        tab.wait_for_function("document.getElementById('alarm-what').textContent === ''")


def test_after_a_new_start_of_the_program_the_page_asks_for_the_new_link(browser):
    with shown(browser) as live:
        live.server.stop()
        with serve_live(ScriptedSession(), port=live.server.port):
            live.wait("#alarm-do", "open its new link")


def test_a_closed_exam_stays_on_the_page_when_the_program_ends(browser):
    with shown(browser) as live:
        live.show(state="closed")
        live.server.stop()
        live.page.wait_for_timeout(3500)
        assert live.text("#alarm-what") == "Examination closed"
