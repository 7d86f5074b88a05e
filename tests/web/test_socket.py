"""Sockets: who may open one, what is too large or too much, and that every page is told (RFC 6455, section 10.2)."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import aiohttp
import pytest

from dictate.web.server import RunningServer, serve
from dictate.web.socket import UNSENT, Peer, Socket
from tests.web.small import Client

Talk = Callable[[aiohttp.ClientWebSocketResponse], Awaitable[Any]]


async def _open(server: RunningServer, talk: Talk | None = None, **headers: str) -> Any:
    name = {"Origin": server.address} | {key.replace("_", "-"): value for key, value in headers.items()}
    async with aiohttp.ClientSession() as session:
        try:
            async with session.ws_connect(f"{server.address}/socket", headers=name) as socket:
                return await asyncio.wait_for(talk(socket), 20) if talk else 101
        except aiohttp.WSServerHandshakeError as error:
            return error.status


def test_the_page_may_open_a_socket(server, client):
    assert asyncio.run(_open(server, Cookie=client.cookie)) == 101


def test_a_socket_without_a_cookie_is_refused(server):
    assert asyncio.run(_open(server)) == 403


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://localhost:1"])
def test_a_socket_of_another_origin_is_refused(server, client, origin):
    assert asyncio.run(_open(server, Cookie=client.cookie, Origin=origin)) == 403


def test_a_socket_without_an_origin_is_refused(server, client):
    reply = client.ask(
        "/socket", Upgrade="websocket", Connection="Upgrade", Sec_WebSocket_Version="13", Sec_WebSocket_Key="x" * 24
    )
    assert reply.status == 403


def test_a_socket_by_another_host_is_misdirected(server, client):
    assert asyncio.run(_open(server, Cookie=client.cookie, Host="elsewhere.example")) == 421


@pytest.mark.parametrize("message", [b"x" * 1001, "x" * 1001])
def test_a_message_that_is_too_large_closes_the_socket(server, client, message):
    async def talk(socket: aiohttp.ClientWebSocketResponse) -> int:
        await (socket.send_bytes(message) if isinstance(message, bytes) else socket.send_str(message))
        return (await socket.receive()).data

    assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == aiohttp.WSCloseCode.MESSAGE_TOO_BIG


@pytest.mark.parametrize("text", ["", "[]", "1", "{", "[" * 900])
def test_a_message_that_is_no_object_is_told_so(server, client, text):
    async def talk(socket: aiohttp.ClientWebSocketResponse) -> str:
        await socket.send_str(text)
        return (await socket.receive_json())["type"]

    assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == "refused"


def test_a_socket_goes_on_after_something_unusable(server, client):
    async def talk(socket: aiohttp.ClientWebSocketResponse) -> list[Any]:
        await socket.send_json({"unusable": True})
        await socket.send_bytes(b"abc")
        return [await socket.receive_json(), await socket.receive_json()]

    assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == [
        {"type": "refused", "why": "no such thing"}, {"length": 3}
    ]  # fmt: skip


def test_one_socket_too_many_is_refused(server, client):
    async def third(second: aiohttp.ClientWebSocketResponse) -> Any:
        return await _open(server, Cookie=client.cookie)

    async def second(first: aiohttp.ClientWebSocketResponse) -> Any:
        return await _open(server, third, Cookie=client.cookie)

    assert asyncio.run(_open(server, second, Cookie=client.cookie)) == 503


def test_a_closed_socket_makes_room(server, client):
    async def one_after_another() -> list[Any]:
        return [await _open(server, Cookie=client.cookie) for _ in range(4)]

    assert asyncio.run(one_after_another()) == [101] * 4


def test_every_open_page_is_told():
    socket = Socket("/socket")

    async def both(server: RunningServer, cookie: str) -> list[Any]:
        async def second(other: aiohttp.ClientWebSocketResponse) -> Any:
            socket.broadcast({"number": 1})
            return await other.receive_json()

        async def first(one: aiohttp.ClientWebSocketResponse) -> list[Any]:
            return [await _open(server, second, Cookie=cookie), await one.receive_json()]

        return await _open(server, first, Cookie=cookie)

    with serve([socket.route]) as server:
        client = Client(server)
        client.follow_link()
        assert asyncio.run(both(server, client.cookie)) == [{"number": 1}] * 2


def test_of_messages_that_replace_each_other_the_newest_is_sent():
    """While a page does not take anything, what was true before is not kept for it."""

    async def opened(peer: Peer) -> None:
        for number in range(5):
            peer.send({"number": number}, replaces="state")
        peer.send({"number": "other"})

    async def talk(page: aiohttp.ClientWebSocketResponse) -> list[Any]:
        return [(await page.receive_json())["number"] for _ in range(2)]

    with serve([Socket("/socket", opened=opened).route]) as server:
        client = Client(server)
        client.follow_link()
        assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == [4, "other"]


def test_a_page_that_is_too_far_behind_has_to_start_again():
    async def opened(peer: Peer) -> None:
        for number in range(UNSENT + 1):
            peer.send({"number": number})

    async def talk(page: aiohttp.ClientWebSocketResponse) -> Any:
        return (await page.receive()).data

    with serve([Socket("/socket", opened=opened).route]) as server:
        client = Client(server)
        client.follow_link()
        assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == aiohttp.WSCloseCode.TRY_AGAIN_LATER


def test_stopping_tells_open_pages(server, client):
    async def talk(page: aiohttp.ClientWebSocketResponse) -> Any:
        stopping = asyncio.create_task(asyncio.to_thread(server.stop))
        closed = (await page.receive()).data
        await page.close()
        await stopping
        return closed

    assert asyncio.run(_open(server, talk, Cookie=client.cookie)) == aiohttp.WSCloseCode.GOING_AWAY
