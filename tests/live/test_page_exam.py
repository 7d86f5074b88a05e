"""A whole live exam over the page's socket: sound in, views out, closed from the page."""

from __future__ import annotations

import asyncio
import struct
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from dictate.contract import Note
from dictate.journal.sound import to_pcm
from dictate.live.browser_source import BrowserSource
from dictate.live.server import serve_live
from tests.live.exams import content, session, typed
from tests.live.fake_recogniser import spoken

LINES = [0, 1, 2, 3]


async def page(url: str, address: str, pcm: bytes) -> list[dict[str, Any]]:
    """Be a page that speaks and then closes the exam; return the views that it was shown."""
    views: list[dict[str, Any]] = []
    async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as client:
        await client.get(url)
        async with client.ws_connect(f"{address}/live/socket", headers={"Origin": address}) as socket:
            await socket.send_json({"type": "hello", "microphone": True, "stream": "a-page-of-a-test", "sample": 0})
            for first in range(0, len(pcm), 3200):
                await socket.send_bytes(struct.pack("<Q", first // 2) + pcm[first : first + 3200])
            async for message in socket:
                told = message.json()
                if told["type"] != "view":
                    continue
                views.append(told)
                if told["state"] == "closed":
                    break
                if len(told["trace"]) == len(LINES) and len(views) > 1:
                    await socket.send_json({"type": "close"})
    return views


@pytest.fixture(scope="module")
def exam(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[dict[str, Any]], Note]:
    data: Path = tmp_path_factory.mktemp("page")
    running = session(BrowserSource(), data)
    running.start()
    with serve_live(running, microphone="browser") as server:
        views = asyncio.run(asyncio.wait_for(page(server.url, server.address, to_pcm(spoken(LINES))), 60))
    return views, running.close().note


def test_the_page_is_shown_what_was_found(exam: tuple[list[dict[str, Any]], Note]) -> None:
    assert exam[0][-1]["last"]["text"] == "Medial joint line tenderness: present, right"


def test_the_page_ends_the_exam(exam: tuple[list[dict[str, Any]], Note]) -> None:
    assert exam[0][-1]["state"] == "closed"


def test_the_note_is_that_of_the_words(exam: tuple[list[dict[str, Any]], Note]) -> None:
    assert content(exam[1]) == typed(LINES)
