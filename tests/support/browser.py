"""A real Chromium for the tests of the pages, with a microphone that is fed from a file.

Put `from tests.support.browser import browser  # noqa: F401` into the folder's conftest.py; a test takes `browser` and
calls `open_page(browser, server)`. For sound of its own it uses `chromium(microphone=…)`.

Skipped with the reason where Chromium or Playwright is not installed. While a browser runs, `asyncio.run` cannot be
used in the same thread (Playwright's own loop is running there): keep such tests in another file.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Playwright

    from dictate.web.server import RunningServer

CHROMIUM = os.environ.get("DICTATE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
AXE = Path(__file__).parents[1] / "browser" / "node_modules" / "axe-core" / "axe.min.js"
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
)  # fmt: skip


@contextmanager
def chromium(*, microphone: Path | None = None) -> Iterator[Browser]:
    """Run a browser; `microphone` is a WAV file that is heard once."""
    if not CHROMIUM:
        pytest.skip("Chromium is not installed (Debian: apt-get install chromium)")
    heard = (f"--use-file-for-fake-audio-capture={microphone}%noloop",) if microphone else ()
    with _driver() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, *heard])
        try:
            yield running
        finally:
            running.close()


_drivers: list[Any] = []  # at most one, and how often it is used: Playwright cannot be started within itself
_uses = 0


@contextmanager
def _driver() -> Iterator[Playwright]:
    global _uses
    api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (pip install playwright)")
    if not _uses:
        _drivers.append(api.sync_playwright().start())
    _uses += 1
    try:
        yield _drivers[0]
    finally:
        _uses -= 1
        if not _uses:
            _drivers.pop().stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A browser for the tests of one file; its microphone gives the browser's own beeps."""
    with chromium() as running:
        yield running


@contextmanager
def open_page(browser: Browser, server: RunningServer | str, **context: Any) -> Iterator[Page]:
    """Open the link of a server in a fresh profile.

    Args:
        browser: as the fixture gives it.
        server: or its link.
        context: what Playwright's `new_context` takes: `viewport`, `color_scheme`, `reduced_motion`, `forced_colors`,
            `bypass_csp` (needed by `violations`), `permissions=["microphone"]` …
    """
    profile = browser.new_context(**context)
    try:
        page = profile.new_page()
        page.goto(server if isinstance(server, str) else server.url)
        yield page
    finally:
        profile.close()


def violations(page: Page) -> list[str]:
    """Return what axe-core finds serious or critical on the page, opened with `bypass_csp=True`, one line each."""
    if not AXE.exists():
        pytest.skip("axe-core is not installed (cd tests/browser && npm ci)")
    page.add_script_tag(path=AXE)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [
        f"{one['id']}: {one['help']}: {node['html'][:160]} {node['failureSummary']}"
        for one in found
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]
