"""The small server, a stranger, and somebody who followed its link."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from dictate.web.server import RunningServer
from tests.support.browser import browser  # noqa: F401  (a fixture)
from tests.web.small import Client, small_server


@pytest.fixture
def server() -> Iterator[RunningServer]:
    with small_server() as running:
        yield running


@pytest.fixture
def stranger(server: RunningServer) -> Client:
    return Client(server)


@pytest.fixture
def client(server: RunningServer) -> Client:
    client = Client(server)
    client.follow_link()
    return client
