"""A small server with something of every kind, and a client that sends exactly what it is told."""

from __future__ import annotations

import http.client
import json
from dataclasses import dataclass
from typing import Any

from aiohttp import web
from pydantic import BaseModel

from dictate.errors import UnusableInput
from dictate.web.answers import json_answer, read_json
from dictate.web.limits import Limits
from dictate.web.routes import Route
from dictate.web.server import RunningServer, serve
from dictate.web.socket import Peer, Socket

QUICK = Limits(wrong_token_delay_s=0.01, body_bytes=2000, message_bytes=1000, sockets=2)


class Wish(BaseModel):
    text: str


async def hello(request: web.Request) -> web.StreamResponse:
    return json_answer({"number": request.match_info.get("number")})


async def wish(request: web.Request) -> web.StreamResponse:
    return json_answer(await read_json(request, Wish))


async def swallow(request: web.Request) -> web.StreamResponse:
    return json_answer(len(await request.read()))


async def faulty(request: web.Request) -> web.StreamResponse:
    raise RuntimeError("a secret of the inside")


async def unusable(request: web.Request) -> web.StreamResponse:
    raise UnusableInput("the finding is gone; reload the page")


async def repeat(peer: Peer, message: object) -> None:
    if message == {"unusable": True}:
        raise UnusableInput("no such thing")
    peer.send({"length": len(message)})  # type: ignore[arg-type]


def small_server(limits: Limits = QUICK, **options: Any) -> RunningServer:
    """Start the server."""
    routes = [
        Route("GET", "/", hello), Route("GET", "/number/{number}", hello), Route("POST", "/wish", wish),
        Route("POST", "/swallow", swallow), Route("GET", "/faulty", faulty), Route("GET", "/unusable", unusable),
        Socket("/socket", text=repeat, binary=repeat).route,
    ]  # fmt: skip
    return serve(routes, limits=limits, **options)


@dataclass(frozen=True)
class Reply:
    """What came back."""

    status: int
    text: str
    headers: dict[str, str]


@dataclass
class Client:
    """Somebody who sends requests; `cookie` is set by `follow_link`."""

    server: RunningServer
    cookie: str | None = None

    def ask(
        self, path: str = "/", *, method: str = "GET", body: bytes | str | None = None, host: str | None = None,
        **headers: str,
    ) -> Reply:  # fmt: skip
        """Send one request. The path is sent as it is; header names are given with underscores."""
        connection = http.client.HTTPConnection("127.0.0.1", self.server.port, timeout=10)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        named.setdefault("Host", host or f"127.0.0.1:{self.server.port}")
        if self.cookie:
            named.setdefault("Cookie", self.cookie)
        if isinstance(body, str):
            body = body.encode()
        if body is not None:
            named.setdefault("Content-Length", str(len(body)))
        for name, value in named.items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        reply = Reply(answer.status, answer.read().decode(), {k.lower(): v for k, v in answer.getheaders()})
        connection.close()
        return reply

    def follow_link(self) -> Reply:
        """Exchange the link for the cookie."""
        reply = self.ask(f"/?token={self.server.token}")
        self.cookie = reply.headers["set-cookie"].split(";")[0]
        return reply

    def post(self, path: str, value: object, **headers: str) -> Reply:
        """Send JSON as the page itself would."""
        headers.setdefault("Origin", self.server.address)
        headers.setdefault("Content_Type", "application/json")
        body = value if isinstance(value, bytes) else json.dumps(value).encode()
        return self.ask(path, method="POST", body=body, **headers)
