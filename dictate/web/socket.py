"""Sockets to open pages: what the program says to all of them, and what each of them says."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable, Mapping
from contextlib import suppress
from typing import Any, TypeAlias

from aiohttp import WSCloseCode, WSMsgType, web

from dictate.errors import DictateError
from dictate.web.limits import Allowance, Limits
from dictate.web.routes import Route

Message: TypeAlias = Mapping[str, Any]
HEARTBEAT_S = 5.0  # a page that does not answer for as long is gone (project's choice)
LAST_WORDS_S = 1.0
UNSENT = 256  # messages; a page that is further behind starts again with the whole state


class Peer:
    """One open page. `send` may be called from any thread."""

    def __init__(self, response: web.WebSocketResponse, loop: asyncio.AbstractEventLoop) -> None:
        self.response = response
        self.loop = loop
        self.state: dict[str, Any] = {}  # of whoever handles the messages
        self._unsent: dict[object, str] = {}
        self._news = asyncio.Event()

    def send(self, message: Message, *, replaces: str | None = None) -> None:
        """Send a message; one that `replaces` another of that name which is not sent yet takes its place."""
        text = json.dumps(message)
        try:
            self.loop.call_soon_threadsafe(self._put, replaces or object(), text)
        except RuntimeError:  # the server has stopped; there is nobody to tell
            return

    def _put(self, key: object, text: str) -> None:
        self._unsent.pop(key, None)  # the newer one goes to the end, so that order is kept
        self._unsent[key] = text
        self._news.set()

    async def write(self) -> None:
        """Write what is to be sent until the socket closes."""
        while not self.response.closed:
            await self._news.wait()
            self._news.clear()
            if len(self._unsent) > UNSENT:
                await self.response.close(code=WSCloseCode.TRY_AGAIN_LATER, message=b"too far behind")
                return
            while self._unsent:
                text = self._unsent.pop(next(iter(self._unsent)))
                try:
                    await self.response.send_str(text)
                except ConnectionError:  # closed meanwhile; the reading side sees it as well
                    return

    async def written(self) -> None:
        """Return when all is written that was to be sent, or cannot be within a second."""
        with suppress(TimeoutError):
            async with asyncio.timeout(LAST_WORDS_S):
                while self._unsent and not self.response.closed:
                    await asyncio.sleep(0.005)


LIMITS: web.AppKey[Limits] = web.AppKey("limits", Limits)
OPEN: web.AppKey[set[Peer]] = web.AppKey("open", set)


class Socket:
    """An address that pages open a socket to.

    Args:
        path: of the address.
        opened: called with each new page, before anything is read from it; send it the whole state here.
        text: called with each JSON object that a page sends.
        binary: called with each binary message.
        closed: called when a page is gone.
        pages: open at once on this socket; else as many as the server allows.

    A DictateError raised by `text` or `binary` is told to that page as {"type": "refused", "why": …}.
    """

    def __init__(
        self, path: str, *, opened: Callable[[Peer], Awaitable[None]] | None = None,
        text: Callable[[Peer, dict[str, Any]], Awaitable[None]] | None = None,
        binary: Callable[[Peer, bytes], Awaitable[None]] | None = None,
        closed: Callable[[Peer], Awaitable[None]] | None = None, pages: int | None = None,
    ) -> None:  # fmt: skip
        self.route = Route("GET", path, self._handle)
        self._opened, self._text, self._binary, self._closed, self._pages = opened, text, binary, closed, pages
        self._peers: set[Peer] = set()

    @property
    def peers(self) -> tuple[Peer, ...]:
        """The pages that are open now."""
        return tuple(self._peers)

    def broadcast(self, message: Message, *, replaces: str | None = None) -> None:
        """Send a message to every open page, from any thread."""
        for peer in self.peers:
            peer.send(message, replaces=replaces)

    async def _handle(self, request: web.Request) -> web.StreamResponse:
        limits, everyone = request.app[LIMITS], request.app[OPEN]
        if len(everyone) >= limits.sockets or (self._pages is not None and len(self._peers) >= self._pages):
            raise web.HTTPServiceUnavailable(reason="Too many pages are open; close one.")
        response = web.WebSocketResponse(
            max_msg_size=limits.message_bytes, heartbeat=HEARTBEAT_S, compress=False, timeout=2.0
        )
        peer = Peer(response, asyncio.get_running_loop())
        everyone.add(peer)  # counted before it is opened, lest many open at once
        self._peers.add(peer)  # and told from now on: what comes while it opens is kept for it
        writing: asyncio.Task[None] | None = None
        try:
            await response.prepare(request)
            writing = asyncio.create_task(peer.write())
            if self._opened:
                await self._opened(peer)
            await self._read(peer, limits)
        finally:
            self._peers.discard(peer)
            everyone.discard(peer)
            if writing:
                writing.cancel()
            if self._closed:
                await self._closed(peer)
        return response

    async def _read(self, peer: Peer, limits: Limits) -> None:
        allowance = Allowance(per_s=limits.messages_per_s, burst=limits.messages_burst)
        async for message in peer.response:
            while not allowance.take():  # slowed down, not dropped: it may be sound
                await asyncio.sleep(allowance.wait_s)
            try:
                if message.type is WSMsgType.BINARY and self._binary:
                    await self._binary(peer, message.data)
                elif message.type is WSMsgType.TEXT and self._text:
                    await self._text(peer, _object(message.data))
            except DictateError as error:
                peer.send({"type": "refused", "why": str(error)})


class BadMessage(DictateError):
    """A message of a page that is not what it should be."""


def _object(text: str) -> dict[str, Any]:
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict):
        raise BadMessage("the message is not a JSON object; reload the page")
    return value
