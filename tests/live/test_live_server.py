"""The live page's server: the whole state to every page, no more often than needed, and sound to the session."""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Awaitable, Callable
from typing import Any

import aiohttp
import pytest

from dictate.live.server import AT_MOST_EVERY_S, serve_live
from tests.live.scripted import ScriptedSession
from tests.web.small import Client

Talk = Callable[[aiohttp.ClientWebSocketResponse], Awaitable[Any]]
HELLO = {"type": "hello", "microphone": True, "stream": "stream-1", "sample": 0}


def talk_to(session: ScriptedSession, talk: Talk, *, microphone: str = "browser") -> Any:
    """Open the page's socket and return what the conversation gives."""
    with serve_live(session, microphone=microphone) as server:
        client = Client(server)
        client.follow_link()

        async def run() -> Any:
            headers = {"Origin": server.address, "Cookie": client.cookie}
            async with (
                aiohttp.ClientSession() as http,
                http.ws_connect(f"{server.address}/live/socket", headers=headers) as socket,
            ):
                return await asyncio.wait_for(talk(socket), 20)

        return asyncio.run(run())


async def next_of(socket: aiohttp.ClientWebSocketResponse, kind: str) -> dict[str, Any]:
    """Return the next message of a kind."""
    while True:
        message = await socket.receive_json()
        if message["type"] == kind:
            return message


def test_a_page_gets_the_whole_state_when_it_opens():
    async def talk(socket):
        return await next_of(socket, "view")

    session = ScriptedSession()
    assert talk_to(session, talk, microphone="program") == session.now


def test_a_page_is_told_who_has_the_microphone():
    async def talk(socket):
        return (await next_of(socket, "welcome"))["microphone"]

    assert talk_to(ScriptedSession(), talk) == "browser"


def test_a_change_is_shown():
    session = ScriptedSession()

    async def talk(socket):
        await next_of(socket, "view")
        session.show(state="standing_by")
        return (await next_of(socket, "view"))["state"]

    assert talk_to(session, talk, microphone="program") == "standing_by"


def test_a_change_that_comes_while_the_first_page_opens_is_not_undone():
    class ChangesMeanwhile(ScriptedSession):
        def view(self):
            before = self.now
            self.show(state="standing_by")
            return before

    async def talk(socket):
        return (await next_of(socket, "view"))["state"]

    assert talk_to(ChangesMeanwhile(), talk, microphone="program") == "standing_by"


def test_of_many_changes_the_last_is_shown_and_few_are_sent():
    """A hundred changes within moments: at most 10 views a second go to a page."""
    session = ScriptedSession()

    async def talk(socket):
        await next_of(socket, "view")
        clock = asyncio.get_running_loop()
        began = clock.time()
        for number in range(100):
            session.show(seconds=number)
            await asyncio.sleep(0)
        views = 0
        while (await next_of(socket, "view"))["seconds"] != 99:
            views += 1
        return views, (clock.time() - began) / AT_MOST_EVERY_S

    views, slots = talk_to(session, talk, microphone="program")
    assert views <= slots + 2


def test_the_state_is_repeated_while_nothing_happens():
    """By this a page knows that it still follows."""

    async def talk(socket):
        return [await next_of(socket, "view") for _ in range(2)]

    first, second = talk_to(ScriptedSession(), talk, microphone="program")
    assert first == second


def test_sounds_are_passed_on():
    session = ScriptedSession()

    async def talk(socket):
        await next_of(socket, "view")
        session.play("unsure")
        return await next_of(socket, "sound")

    assert talk_to(session, talk) == {"type": "sound", "name": "unsure"}


def test_a_sounds_file_is_served():
    with serve_live(ScriptedSession(), sound=lambda name: f"RIFF {name}".encode()) as server:
        client = Client(server)
        client.follow_link()
        reply = client.ask("/live/sound/section.wav")
        assert (reply.text, reply.headers["content-type"]) == ("RIFF section", "audio/wav")


@pytest.mark.parametrize("name", ["other.wav", "..%2f..%2fserver.wav", ".wav"])
def test_no_other_sound_is_served(name):
    with serve_live(ScriptedSession(), sound=lambda name: b"RIFF") as server:
        client = Client(server)
        client.follow_link()
        assert client.ask(f"/live/sound/{name}").status == 404


def test_sound_of_the_page_reaches_the_session_and_is_acknowledged():
    session = ScriptedSession()

    async def talk(socket):
        await socket.send_json(HELLO)
        await next_of(socket, "arrived")
        await socket.send_bytes(struct.pack("<Q3h", 0, 1, 2, 3))
        return (await next_of(socket, "arrived"))["sample"]

    assert talk_to(session, talk) == 3
    assert bytes(session.samples) == struct.pack("<3h", 1, 2, 3)


def test_a_gap_in_the_sound_is_told_to_the_session():
    session = ScriptedSession()

    async def talk(socket):
        await socket.send_json(HELLO)
        await next_of(socket, "arrived")
        await socket.send_bytes(struct.pack("<Q1h", 32_000, 1))
        return (await next_of(socket, "arrived"))["sample"]

    talk_to(session, talk)
    assert session.missed == [2.0]


def test_a_second_page_does_not_take_the_microphone_over():
    async def talk(socket):
        await socket.send_json(HELLO)
        await next_of(socket, "arrived")
        await other.send_json(HELLO | {"stream": "stream-2"})
        return (await next_of(other, "taken"))["why"]

    session = ScriptedSession()
    with serve_live(session, microphone="browser") as server:
        client = Client(server)
        client.follow_link()

        async def run() -> Any:
            nonlocal other
            headers = {"Origin": server.address, "Cookie": client.cookie}
            async with (
                aiohttp.ClientSession() as http,
                http.ws_connect(f"{server.address}/live/socket", headers=headers) as first,
                http.ws_connect(f"{server.address}/live/socket", headers=headers) as other,
            ):
                return await asyncio.wait_for(talk(first), 20)

        other: Any = None
        assert "another page" in asyncio.run(run())


def test_when_the_program_records_itself_the_page_is_not_asked_for_sound():
    async def talk(socket):
        await socket.send_json(HELLO)
        await socket.send_bytes(struct.pack("<Q1h", 0, 1))
        return (await next_of(socket, "refused"))["type"]

    assert talk_to(ScriptedSession(), talk, microphone="program") == "refused"


def test_without_sound_from_any_page_the_microphone_is_said_to_be_lost():
    async def talk(socket):
        while (view := await next_of(socket, "view"))["state"] == "listening":
            pass
        return view["state"]

    assert talk_to(ScriptedSession(), talk) == "microphone_lost"


def test_a_page_finishes_the_exam():
    session = ScriptedSession()

    async def talk(socket):
        await socket.send_json({"type": "close"})
        while (view := await next_of(socket, "view"))["state"] != "closed":
            pass
        return view["state"]

    assert talk_to(session, talk) == "closed" and session.closed.is_set()


@pytest.mark.parametrize(
    "message", [{}, {"type": "other"}, {"type": "hello", "sample": -1}, {"type": "hello", "stream": "x"}]
)
def test_a_message_of_another_kind_is_refused(message):
    async def talk(socket):
        await socket.send_json(message)
        return (await next_of(socket, "refused"))["why"]

    assert "reload the page" in talk_to(ScriptedSession(), talk)


def test_the_last_view_is_shown_although_the_program_ends_at_once():
    session = ScriptedSession()
    with serve_live(session) as server:
        client = Client(server)
        client.follow_link()

        async def run() -> Any:
            headers = {"Origin": server.address, "Cookie": client.cookie}
            async with (
                aiohttp.ClientSession() as http,
                http.ws_connect(f"{server.address}/live/socket", headers=headers) as socket,
            ):
                await next_of(socket, "view")
                session.show(state="listening", seconds=1)
                session.show(state="closed")
                stopping = asyncio.create_task(asyncio.to_thread(server.stop))
                states = [
                    message.json()["state"] async for message in socket if message.type is aiohttp.WSMsgType.TEXT
                ]
                await stopping
                return states[-1]

        assert asyncio.run(run()) == "closed"
