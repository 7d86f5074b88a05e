"""The browser's microphone, fed from a fixture, reaches the session: the same sound, once, whatever the line does.

Outside reference for changing the rate: soxr (the SoX resampler library).
"""

from __future__ import annotations

import asyncio
import base64
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
import soxr

from dictate.live.server import LivePage, serve_live
from dictate.web.server import serve
from tests.live.scripted import ScriptedSession
from tests.support.browser import chromium, open_page

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow

FIXTURE = Path(__file__).parents[2] / "audio_fixtures" / "acl_right_clinic.flac"
RATE_HZ = 16_000
ALLOWED = {"permissions": ["microphone"]}
SECONDS = 8


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first seconds of a spoken fixture, as a file that the browser takes for its microphone."""
    sound, rate_hz = soundfile.read(FIXTURE, dtype="int16", frames=SECONDS * RATE_HZ)
    path = tmp_path_factory.mktemp("microphone") / "spoken.wav"
    soundfile.write(path, sound, rate_hz, subtype="PCM_16")
    return path


@contextmanager
def heard(microphone: Path, session: ScriptedSession) -> Iterator[tuple[LivePage, Page]]:
    """Open the page in a browser of its own, whose microphone begins with the file."""
    page = LivePage(session, microphone="browser")
    with (
        serve(page.routes) as server,
        chromium(microphone=microphone) as browser,
        open_page(browser, server, **ALLOWED) as tab,
    ):
        yield page, tab


def wait_for(tab: Page, session: ScriptedSession, seconds: float) -> None:
    """Wait until so much sound has come."""
    for _ in range(300):
        if len(session.samples) >= seconds * RATE_HZ * 2:
            return
        tab.wait_for_timeout(100)
    raise AssertionError(f"only {len(session.samples) / 2 / RATE_HZ:.1f} s of sound came")


def likeness(session: ScriptedSession, microphone: Path) -> float:
    """Return how well what came correlates with what was spoken, from its second 1 to the last but one.

    The browser may lose a little at the very beginning, on a busy machine more than a second.
    """
    came = np.frombuffer(bytes(session.samples), "<i2").astype(float)
    spoken = soundfile.read(microphone, dtype="int16")[0].astype(float)
    size = 1 << 19
    shift = int(np.argmax(np.fft.irfft(np.fft.rfft(came, size) * np.fft.rfft(spoken, size).conj(), size)))
    shift = shift - size if shift > size // 2 else shift
    first = RATE_HZ + max(0, -shift)
    part = spoken[first : (SECONDS - 1) * RATE_HZ]
    assert len(part) > SECONDS / 2 * RATE_HZ
    same = came[first + shift : first + shift + len(part)]
    return float(np.corrcoef(part, same)[0, 1])


def spoken_and_heard(spoken: Path) -> float:
    """Return how well what came correlates with what was spoken, once through."""
    session = ScriptedSession()
    with heard(spoken, session) as (_, tab):
        wait_for(tab, session, SECONDS)
    return likeness(session, spoken)


def test_what_is_spoken_reaches_the_session_unchanged(spoken):
    # The browser of an overloaded machine drops sound before the page gets it: then it is spoken again.
    assert any(spoken_and_heard(spoken) > 0.99 for _ in range(3))


def test_over_a_line_that_breaks_no_sound_is_lost_and_none_comes_twice(spoken):
    """The line is down for two seconds in the middle; the sound is kept in the page and sent afterwards."""
    session = ScriptedSession()
    with heard(spoken, session) as (page, tab):
        wait_for(tab, session, 3)
        page._socket._pages = 0  # no socket is taken
        for peer in page._socket.peers:
            asyncio.run_coroutine_threadsafe(peer.response.close(), peer.loop)
        tab.wait_for_timeout(2000)
        page._socket._pages = None
        wait_for(tab, session, SECONDS)
    assert session.missed == [] and likeness(session, spoken) > 0.99


def test_while_the_line_is_down_the_page_says_how_much_it_keeps(spoken):
    session = ScriptedSession()
    with heard(spoken, session) as (page, tab):
        wait_for(tab, session, 1)
        page._socket._pages = 0
        for peer in page._socket.peers:
            asyncio.run_coroutine_threadsafe(peer.response.close(), peer.loop)
        tab.locator("#alarm-do", has_text="seconds of sound are kept here").wait_for(timeout=15_000)


@pytest.fixture(scope="module")
def beeping() -> Iterator[Browser]:
    """A browser whose microphone beeps."""
    with chromium() as running:
        yield running


# The device is pulled out: the track ends, and for a while the browser finds no microphone.
PULLED_OUT = """() => {
    window.real = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
    navigator.mediaDevices.getUserMedia = async (wish) => {
        if (window.gone) throw new DOMException("", "NotFoundError");
        const stream = await window.real(wish);
        window.track = stream.getAudioTracks()[0];
        return stream;
    };
}"""
PULL = "window.gone = true; window.track.stop(); window.track.dispatchEvent(new Event('ended'))"


@contextmanager
def pulled_out(browser: Browser, session: ScriptedSession) -> Iterator[Page]:
    with serve_live(session, microphone="browser") as server:
        profile = browser.new_context(**ALLOWED)
        profile.add_init_script(f"({PULLED_OUT})()")
        tab = profile.new_page()
        tab.goto(server.url)
        wait_for(tab, session, 0.5)
        tab.evaluate(PULL)
        yield tab
        profile.close()


def test_a_microphone_that_goes_away_is_said(beeping):
    with pulled_out(beeping, ScriptedSession()) as tab:
        tab.locator("#alarm-what", has_text="Microphone lost").wait_for(timeout=15_000)


def test_a_microphone_that_is_back_is_heard_and_the_gap_is_told(beeping):
    session = ScriptedSession()
    with pulled_out(beeping, session) as tab:
        tab.wait_for_timeout(3000)
        came = len(session.samples) / 2 / RATE_HZ
        tab.evaluate("window.gone = false")
        wait_for(tab, session, came + 1)
        assert len(session.missed) == 1 and session.missed[0] > 2


def test_only_one_page_gives_the_sound(beeping):
    session = ScriptedSession()
    with serve_live(session, microphone="browser") as server, open_page(beeping, server, **ALLOWED) as tab:
        wait_for(tab, session, 0.5)
        second = tab.context.new_page()
        second.goto(server.address)
        second.wait_for_timeout(1500)
        before = len(session.samples)
        second.wait_for_timeout(2000)
        assert (len(session.samples) - before) / 2 / RATE_HZ < 3  # two pages would have given 4 s


def test_when_the_page_with_the_microphone_closes_the_other_one_takes_over(beeping):
    session = ScriptedSession()
    with serve_live(session, microphone="browser") as server, open_page(beeping, server, **ALLOWED) as tab:
        wait_for(tab, session, 0.5)
        second = tab.context.new_page()
        second.goto(server.address)
        second.wait_for_timeout(1000)
        tab.close()
        came = len(session.samples) / 2 / RATE_HZ
        wait_for(second, session, came + 1)


def test_after_a_reload_the_sound_goes_on_and_the_pause_is_told(beeping):
    session = ScriptedSession()
    with serve_live(session, microphone="browser") as server, open_page(beeping, server, **ALLOWED) as tab:
        wait_for(tab, session, 0.5)
        tab.goto("about:blank")
        tab.wait_for_timeout(1200)
        tab.goto(server.address)
        came = len(session.samples) / 2 / RATE_HZ
        wait_for(tab, session, came + 1)
        assert len(session.missed) == 1 and session.missed[0] > 1


def test_when_the_program_records_itself_the_browser_is_not_asked_for_its_microphone(beeping):
    session = ScriptedSession()
    with serve_live(session, microphone="program") as server, open_page(beeping, server, **ALLOWED) as tab:
        tab.locator("#figures", has_text="findings").wait_for()
        tab.wait_for_timeout(1000)
        assert session.samples == b""


def test_a_microphone_that_is_not_allowed_is_said_with_what_to_do(beeping):
    with serve_live(ScriptedSession(), microphone="browser") as server:
        profile = beeping.new_context()
        profile.add_init_script(
            "navigator.mediaDevices.getUserMedia = async () => { throw new DOMException('', 'NotAllowedError') }"
        )
        tab = profile.new_page()
        tab.goto(server.url)
        tab.locator("#alarm-what", has_text="Microphone not allowed").wait_for(timeout=15_000)
        profile.close()


# The resampler, against soxr.


def resampled(tab: Page, sound: np.ndarray, rate_hz: int) -> np.ndarray:
    """Run the page's own resampler, in blocks of 128 samples as a browser gives them."""
    text = base64.b64encode(sound.astype("<f4").tobytes()).decode()
    back: Any = tab.evaluate(
        """async ([text, rate]) => {
            const { Resampler } = await import("/live/resampler.js");
            const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
            const input = new Float32Array(bytes.buffer);
            const resampler = new Resampler(rate);
            const output = [];
            for (let at = 0; at < input.length; at += 128) output.push(...resampler.push(input.subarray(at, at + 128)));
            return output;
        }""",
        [text, rate_hz],
    )
    return np.array(back)


@pytest.fixture(scope="module")
def tab(beeping: Browser) -> Iterator[Page]:
    with serve_live(ScriptedSession()) as server, open_page(beeping, server) as page:
        yield page


@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 44_100, 48_000, 96_000])
def test_speech_comes_out_as_soxr_makes_it(tab, rate_hz):
    """Speech below 6 kHz, where both pass everything: no delay, no change of level, little difference."""
    spoken, _ = soundfile.read(FIXTURE, dtype="float32", frames=2 * RATE_HZ, start=2 * RATE_HZ)
    low = soxr.resample(soxr.resample(spoken, RATE_HZ, 6_000), 6_000, rate_hz)
    ours = resampled(tab, low, rate_hz)
    theirs = soxr.resample(low, rate_hz, RATE_HZ)[: len(ours)]
    middle = slice(1000, len(theirs) - 1000)
    error = np.sqrt(np.mean((ours[middle] - theirs[middle]) ** 2) / np.mean(theirs[middle] ** 2))
    assert error < 0.01


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("tone_hz", [9_000, 12_000, 15_000, 20_000])
def test_what_is_too_high_does_not_come_back_as_something_lower(tab, rate_hz, tone_hz):
    """Nyquist: above 8 kHz nothing can be kept, and an alias would be noise in the middle of speech."""
    tone = np.sin(2 * np.pi * tone_hz * np.arange(rate_hz) / rate_hz)
    assert np.abs(resampled(tab, tone, rate_hz)[500:]).max() < 0.001  # 60 dB down


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000])
def test_as_many_samples_come_out_as_the_time_needs(tab, rate_hz):
    assert abs(len(resampled(tab, np.zeros(2 * rate_hz), rate_hz)) - 2 * RATE_HZ) < 0.02 * RATE_HZ
