"""The order of the tests: files with slow ones come first, so that two processes finish at about the same time."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the files that hold slow tests before the others; the order inside a file stays."""
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)
