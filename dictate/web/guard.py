"""Who may ask, checked before anything is answered.

In this order; each is refused with one plain line:

1. *Host* is this machine's own name with our port (421), or a name that someone made point here could read the page
   from a browser: DNS rebinding. RFC 9110, section 15.5.20.
2. *Token*: the link that the command printed is exchanged for a cookie and leaves the address bar; everything else
   needs the cookie (403). Compared in constant time. A wrong token is answered late and counted. Strangers and the page
   have separate allowances (429, RFC 6585), and the right link is looked at before either, so that nobody can lock out
   the person who examines.
3. *Origin* and *Sec-Fetch-Site*: a request that a page of another origin caused is refused (403); that is also any
   other program's page on this machine, to which the cookie would be sent, as cookies know no ports (RFC 6265, section
   8.5). W3C Fetch Metadata Request Headers; RFC 6455, section 10.2, for sockets.
4. *Size* of the body (413).

Every answer gets the headers of `HEADERS`. Sources: W3C Content Security Policy Level 3, Trusted Types, Permissions
Policy; WHATWG HTML for the Cross-Origin policies.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
from collections import Counter
from math import ceil
from urllib.parse import parse_qsl, urlencode

from aiohttp import web

from dictate.errors import DictateError
from dictate.web.answers import plain
from dictate.web.limits import Allowance, Limits
from dictate.web.routes import Handler

log = logging.getLogger("dictate.web")

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Embedder-Policy": "require-corp",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "microphone=(self), camera=(), geolocation=(), display-capture=(), usb=(), payment=()",
    "Cache-Control": "no-store",
    "Server": "dictate",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self' ws://{host}; img-src 'self'; "
    "media-src 'self'; font-src 'self'; worker-src 'self'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'self'; require-trusted-types-for 'script'; trusted-types 'none'"
)
ASK_AGAIN = "This page is opened by the link that the command printed. Open that link again."


class Guard:
    """The checks of one server; `middleware` goes around every route and `headers` onto every answer."""

    def __init__(self, *, token: str, limits: Limits) -> None:
        self.refused: Counter[str] = Counter()  # by kind: host, token, wrong_token, rate, origin, size
        self._token = token
        self._cookie = secrets.token_urlsafe(32)  # another secret: the link in a shell's history is not the cookie
        self._once: set[str] = set()
        self._limits = limits
        self._port = 0
        self._page = Allowance(per_s=limits.requests_per_s, burst=limits.requests_burst)
        self._strangers = Allowance(per_s=limits.stranger_requests_per_s, burst=limits.stranger_requests_burst)
        self._waiting = 0

    def accept_once(self, token: str) -> None:
        """Let one request in by another token. For a link that others may come to see, as in a list of processes."""
        self._once.add(token)

    def stands_at(self, port: int) -> None:
        """Tell the port, once it is known."""
        self._port = port

    @property
    def cookie_name(self) -> str:
        """Two servers on one machine are told apart by their port."""
        return f"dictate-{self._port}"

    @property
    def middleware(self) -> Handler:
        """The checks as a middleware of aiohttp."""

        @web.middleware
        async def check(request: web.Request, handler: Handler) -> web.StreamResponse:
            return await self._checked(request, handler)

        return check  # type: ignore[return-value]

    async def headers(self, request: web.Request, response: web.StreamResponse) -> None:
        """Put the headers that every answer has."""
        response.headers.update(HEADERS)
        host = request.host if self._is_ours(request.host) else f"127.0.0.1:{self._port}"
        response.headers["Content-Security-Policy"] = POLICY.format(host=host)

    async def _checked(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if not self._is_ours(request.host):
            return self._refuse("host", 421, "This server answers to 127.0.0.1 and localhost only.")
        link = request.query.get("token")
        if link is not None and (_same(link, self._token) or self._used(link)):
            return self._exchange(request)
        known = _same(request.cookies.get(self.cookie_name, ""), self._cookie)
        allowance = self._page if known else self._strangers
        if not allowance.take():
            return self._refuse(
                "rate", 429, "Too many requests; wait a moment.", retry_after=str(max(1, ceil(allowance.wait_s)))
            )
        if not known or link is not None:
            return await self._stranger(wrong=link is not None or self.cookie_name in request.cookies)
        if not self._is_own_origin(request):
            return self._refuse("origin", 403, "This came from another page and was not done.")
        if (request.content_length or 0) > self._limits.body_bytes:
            return self._refuse("size", 413, f"The request is larger than {self._limits.body_bytes} bytes.")
        return await self._answered(request, handler)

    def _used(self, link: str) -> bool:
        token = next((token for token in tuple(self._once) if _same(link, token)), None)
        self._once.discard(token or "")
        return token is not None

    def _is_ours(self, host: str) -> bool:
        return host.lower() in {f"{name}:{self._port}" for name in ("127.0.0.1", "localhost", "[::1]")}

    def _is_own_origin(self, request: web.Request) -> bool:
        origin = request.headers.get("Origin")
        if origin is not None and origin.lower() != f"http://{request.host.lower()}":
            return False
        asks_for_socket = request.headers.get("Upgrade", "").lower() == "websocket"
        if origin is None and (asks_for_socket or request.method not in ("GET", "HEAD")):
            return False
        opened = request.method == "GET" and request.headers.get("Sec-Fetch-Mode") == "navigate"
        framed = request.headers.get("Sec-Fetch-Dest", "document") != "document"
        site = request.headers.get("Sec-Fetch-Site", "same-origin")
        return site in ("same-origin", "none") or (opened and not framed)

    def _exchange(self, request: web.Request) -> web.StreamResponse:
        known_path = request.match_info.http_exception is None and request.method == "GET"
        rest = urlencode([(name, value) for name, value in parse_qsl(request.query_string) if name != "token"])
        where = request.rel_url.raw_path if known_path else "/"  # a path that we answer: never a redirect to elsewhere
        answer = plain(303, "The page is at its own address.", location=where + (f"?{rest}" if rest else ""))
        answer.set_cookie(self.cookie_name, self._cookie, path="/", httponly=True, samesite="Strict")
        return answer

    async def _stranger(self, *, wrong: bool) -> web.StreamResponse:
        if not wrong:
            return self._refuse("token", 403, ASK_AGAIN)
        if self._waiting >= self._limits.wrong_tokens_waiting:
            return self._refuse("rate", 429, "Too many wrong links; wait a moment.", retry_after="5")
        self._waiting += 1
        try:
            await asyncio.sleep(self._limits.wrong_token_delay_s)
        finally:
            self._waiting -= 1
        log.warning("refused a wrong token (%d so far)", self.refused["wrong_token"] + 1)
        return self._refuse("wrong_token", 403, ASK_AGAIN)

    async def _answered(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        try:
            return await handler(request)
        except web.HTTPException as error:
            if error.status == 413:
                return self._refuse("size", 413, f"The request is larger than {self._limits.body_bytes} bytes.")
            return plain(error.status, error.reason, **{n: v for n, v in error.headers.items() if n == "Allow"})
        except DictateError as error:
            return plain(400, str(error))
        except Exception:  # the edge of the program: a fault in one answer must not end the exam nor show its inside
            log.exception("%s %s", request.method, request.path)
            return plain(500, "This could not be done because of a fault in the program; nothing recorded is lost.")

    def _refuse(self, kind: str, status: int, text: str, **headers: str) -> web.Response:
        self.refused[kind] += 1
        return plain(status, text, **headers)


def _same(given: str, right: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), right.encode())
