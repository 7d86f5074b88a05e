"""Run a server on this machine's loopback address, in a thread of its own."""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import secrets
import socket as sockets
import threading
from collections import Counter
from collections.abc import Awaitable, Callable, Sequence
from types import TracebackType

from aiohttp import WSCloseCode, web

from dictate.errors import DictateError
from dictate.web.guard import Guard
from dictate.web.limits import Limits
from dictate.web.routes import Route
from dictate.web.socket import LIMITS, OPEN, Peer

log = logging.getLogger("dictate.web")

SHORTEST_TOKEN = 22  # characters of URL-safe base64: 128 bits (OWASP, Session Management Cheat Sheet: at least 64 bits)
CLOSING_S = 3.0


class WebError(DictateError):
    """A server that cannot be started."""


class RunningServer:
    """A server that answers until `stop()`; also a context manager."""

    def __init__(self, *, host: str, port: int, token: str, guard: Guard) -> None:
        self.port = port
        self.token = token
        self.address = f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
        self._guard = guard
        self._loop = asyncio.new_event_loop()
        self._over: asyncio.Event | None = None
        self._thread: threading.Thread | None = None
        self._fault: Exception | None = None

    @property
    def url(self) -> str:
        """The link to open; it carries the token, so it is shown to nobody but the person at this machine."""
        return f"{self.address}/?token={self.token}"

    def link_for_once(self, path: str = "/") -> str:
        """Return a link that opens the page one time, for a program that is started with it: others see its options."""
        token = secrets.token_urlsafe(32)
        self._loop.call_soon_threadsafe(self._guard.accept_once, token)
        return f"{self.address}{path}?token={token}"

    @property
    def refused(self) -> Counter[str]:
        """How many requests were refused, by kind."""
        return Counter(self._guard.refused)

    def start(self, app: web.Application, listening: sockets.socket) -> None:
        """Answer from now on."""
        begun = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(app, listening, begun), name="dictate-web", daemon=True)
        self._thread.start()
        begun.wait()
        if self._fault:
            self.stop()
            raise self._fault

    def stop(self) -> None:
        """Close every page's socket, answer what is being answered, and end. Calling it again does nothing."""
        if self._thread is None:
            return
        over = self._over
        if over is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(over.set)
        self._thread.join()
        self._thread = None

    def __enter__(self) -> RunningServer:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def _run(self, app: web.Application, listening: sockets.socket, begun: threading.Event) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_until_complete(self._serve(app, listening, begun))
        except Exception as fault:  # handed to the thread that waits in `start`
            log.exception("the server ended")
            self._fault = fault
        finally:
            begun.set()  # whatever went wrong, nobody waits for ever
            listening.close()
            self._loop.run_until_complete(self._loop.shutdown_default_executor())
            self._loop.close()

    async def _serve(self, app: web.Application, listening: sockets.socket, begun: threading.Event) -> None:
        self._over = asyncio.Event()
        runner = web.AppRunner(app, handle_signals=False, access_log=None, shutdown_timeout=CLOSING_S)
        await runner.setup()
        await web.SockSite(runner, listening).start()
        begun.set()
        await self._over.wait()
        await runner.cleanup()


def serve(
    routes: Sequence[Route], *, port: int = 0, token: str | None = None, host: str = "127.0.0.1",
    limits: Limits | None = None, closing: Callable[[], Awaitable[None]] | None = None,
) -> RunningServer:  # fmt: skip
    """Start a server and return it, running.

    Args:
        routes: what it answers to.
        port: else a free one.
        token: else a random one.
        host: a loopback address.
        limits: on sizes and rates.
        closing: awaited before the sockets are closed: the last chance to tell the pages something.

    Raises:
        WebError: the address is not loopback, the token is short, or the port is taken.
    """
    _must_be_loopback(host)
    if token is not None and len(token) < SHORTEST_TOKEN:
        raise WebError(f"the token is shorter than {SHORTEST_TOKEN} characters; leave it out for a random one")
    token = token or secrets.token_urlsafe(32)
    limits = limits or Limits()
    guard = Guard(token=token, limits=limits)
    app = web.Application(middlewares=[guard.middleware], client_max_size=limits.body_bytes)  # type: ignore[list-item]
    app[LIMITS] = limits
    app[OPEN] = set()
    app.on_response_prepare.append(guard.headers)
    if closing is not None:
        app.on_shutdown.append(_after(closing))
    app.on_shutdown.append(_close_pages)
    for route in routes:
        app.router.add_route(route.method, route.path, route.handler)
    listening = _listen(host, port)
    guard.stands_at(listening.getsockname()[1])
    server = RunningServer(host=host, port=listening.getsockname()[1], token=token, guard=guard)
    server.start(app, listening)
    return server


def _must_be_loopback(host: str) -> None:
    try:
        is_loopback = ipaddress.ip_address(host).is_loopback
    except ValueError:
        is_loopback = False
    if not is_loopback:
        raise WebError(f"{host}: pages are shown on this machine only; use 127.0.0.1")


def _listen(host: str, port: int) -> sockets.socket:
    try:
        return sockets.create_server(
            (host, port), family=sockets.AF_INET6 if ":" in host else sockets.AF_INET, backlog=64
        )
    except (OSError, OverflowError) as error:
        raise WebError(f"port {port} cannot be used ({error}); choose another, or none for a free one") from error


def _after(closing: Callable[[], Awaitable[None]]) -> Callable[[web.Application], Awaitable[None]]:
    async def run(app: web.Application) -> None:
        await closing()

    return run


async def _close_pages(app: web.Application) -> None:
    async def close(page: Peer) -> None:
        await page.written()
        await page.response.close(code=WSCloseCode.GOING_AWAY, message=b"the program has ended")

    pages: set[Peer] = app[OPEN]
    await asyncio.gather(*(close(page) for page in tuple(pages)), return_exceptions=True)
