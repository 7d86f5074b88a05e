"""The browser that the tests of the live page share."""

from __future__ import annotations

from tests.support.browser import browser  # noqa: F401  (a fixture)
