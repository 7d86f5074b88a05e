"""The live page: what it shows comes from a session, and its microphone may be the session's."""

from __future__ import annotations

import asyncio
import dataclasses
from collections.abc import Callable, Mapping
from typing import Any, Literal, Protocol

from aiohttp import web
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from dictate.errors import DictateError
from dictate.live.intake import Intake, MicrophoneTaken
from dictate.web.answers import plain
from dictate.web.limits import Limits
from dictate.web.routes import Route, resources
from dictate.web.server import RunningServer, serve
from dictate.web.socket import Peer, Socket

AT_MOST_EVERY_S = 0.1  # a state is shown no more often than that
AT_LEAST_EVERY_S = 1.0  # by which a page knows that it still follows; it says so when nothing came for three of them
NO_SOUND_AFTER_S = 2.0  # of no sound from the page that has the microphone
SOUNDS = ("understood", "unsure", "section")

FILES = {
    "/": "live.html", "/live/live.css": "live.css", "/live/icon.svg": "icon.svg",
    "/live/live.js": "live.js", "/live/show.js": "show.js", "/live/socket.js": "socket.js",
    "/live/sound.js": "sound.js", "/live/microphone.js": "microphone.js", "/live/resampler.js": "resampler.js",
}  # fmt: skip


class Session(Protocol):
    """What the page needs of a live exam. All of it may be called from the server's threads."""

    def view(self) -> Any:
        """Return the state now: a mapping or a frozen dataclass with the fields of a view."""

    def subscribe(self, callback: Callable[[Any], None]) -> Any:
        """Call back with every new view, and with {"type": "sound", "name": …} for the page's sounds."""

    def accept_sound(self, samples: bytes) -> None:
        """Take 16-bit little-endian mono samples at 16 kHz, in order."""

    def missed_sound(self, seconds: float) -> None:
        """Note that so much sound is missing here."""

    def close(self) -> None:
        """Finish the exam."""


class _Hello(BaseModel):
    """What a page says first; `stream` and `sample` if it gives sound."""

    model_config = ConfigDict(extra="ignore")

    type: Literal["hello"]
    microphone: bool = False
    stream: str | None = Field(default=None, min_length=8, max_length=64)
    sample: int = Field(default=0, ge=0, lt=1 << 53)


class _Close(BaseModel):
    type: Literal["close"]


_FROM_PAGE: TypeAdapter[_Hello | _Close] = TypeAdapter(_Hello | _Close)


class LivePage:
    """The routes of the live page of one session.

    Args:
        session: what is shown.
        microphone: "browser" if the sound comes from the page, "program" if the program records it itself.
        sound: gives the WAV of a sound by its name; else `dictate.live.earcons.earcon_wav`.
    """

    def __init__(
        self, session: Session, *, microphone: Literal["browser", "program"] = "program",
        sound: Callable[[str], bytes] | None = None,
    ) -> None:  # fmt: skip
        self._session = session
        self._microphone = microphone
        self._sound = sound
        self._latest: dict[str, Any] | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._is_due = False  # a view is to be shown as soon as it may
        self._sent_at = -1e9
        self._intake = Intake(session.accept_sound, session.missed_sound)
        self._waiting_since: float | None = None  # for the page's first sound
        self._socket = Socket(
            "/live/socket", opened=self._opened, text=self._text, binary=self._binary, closed=self._left
        )
        session.subscribe(self.tell)

    @property
    def routes(self) -> list[Route]:
        """What to serve."""
        wav = Route("GET", "/live/sound/{name}.wav", self._wav)
        return [*resources("dictate.live.page", FILES), self._socket.route, wav]

    async def last_words(self) -> None:
        """Show the last view now, as the server is about to end."""
        if self._latest is not None:
            self._socket.broadcast(self._as_seen(self._latest), replaces="view")
        await asyncio.sleep(0)  # what was broadcast is handed to the pages

    def tell(self, news: Any) -> None:
        """Show a new view, or play a sound on the pages that have sounds on. From any thread."""
        message = _mapping(news)
        if message.get("type") == "sound":
            self._socket.broadcast(message)
            return
        self._latest = message
        loop = self._loop
        if loop is None:  # nobody looks yet
            return
        try:
            loop.call_soon_threadsafe(self._show_soon)
        except RuntimeError:  # the server has stopped; the exam goes on without it
            self._loop = None

    def _show_soon(self) -> None:
        if not self._is_due:
            self._is_due = True
            self._next(max(0.0, self._sent_at + AT_MOST_EVERY_S - asyncio.get_running_loop().time()))

    def _next(self, wait_s: float) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = asyncio.get_running_loop().call_later(wait_s, self._show)

    def _show(self) -> None:
        self._is_due = False
        self._sent_at = asyncio.get_running_loop().time()
        if self._latest is not None:
            self._socket.broadcast(self._as_seen(self._latest), replaces="view")
        if self._socket.peers:
            self._next(AT_LEAST_EVERY_S)

    def _as_seen(self, view: dict[str, Any]) -> dict[str, Any]:
        """Say that nothing is heard when no page sends sound that should, whatever the session knows of it."""
        if self._microphone == "program" or view.get("state") not in ("listening", "standing_by"):
            return view
        quiet_s = self._intake.quiet_for_s
        if quiet_s is None:
            quiet_s = asyncio.get_running_loop().time() - (self._waiting_since or 0.0)
        if quiet_s < NO_SOUND_AFTER_S:
            return view
        return view | {"state": "microphone_lost", "notice": "No open page sends sound."}

    async def _opened(self, peer: Peer) -> None:
        self._loop = asyncio.get_running_loop()
        self._waiting_since = self._waiting_since or self._loop.time()
        peer.send({"type": "welcome", "microphone": self._microphone})
        if self._latest is None:
            first = _mapping(await asyncio.to_thread(self._session.view))
            self._latest = self._latest or first  # a newer one may have come meanwhile
        peer.send(self._as_seen(self._latest), replaces="view")
        if not self._is_due:
            self._next(AT_LEAST_EVERY_S)

    async def _text(self, peer: Peer, message: dict[str, Any]) -> None:
        try:
            said = _FROM_PAGE.validate_python(message)
        except ValidationError as error:
            raise BadRequest("the page and the program are of different versions; reload the page") from error
        if isinstance(said, _Close):
            await asyncio.to_thread(self._session.close)
        elif said.microphone and said.stream and self._microphone == "browser":
            try:
                wanted = await asyncio.to_thread(self._intake.begin, peer, said.stream, sample=said.sample)
            except MicrophoneTaken as taken:
                peer.send({"type": "taken", "why": str(taken)})
                return
            peer.send({"type": "arrived", "sample": wanted}, replaces="arrived")

    async def _binary(self, peer: Peer, message: bytes) -> None:
        wanted = await asyncio.to_thread(self._intake.message, peer, message)
        peer.send({"type": "arrived", "sample": wanted}, replaces="arrived")

    async def _left(self, peer: Peer) -> None:
        self._intake.leave(peer)

    async def _wav(self, request: web.Request) -> web.StreamResponse:
        name = request.match_info["name"]
        if name not in SOUNDS:
            return plain(404, "There is no such sound.")
        body = await asyncio.to_thread(self._sound or _earcon, name)
        return web.Response(body=body, content_type="audio/wav")


class BadRequest(DictateError):
    """A message of a page that does not fit."""


def serve_live(
    session: Session, *, microphone: Literal["browser", "program"] = "program", port: int = 0,
    token: str | None = None, limits: Limits | None = None, sound: Callable[[str], bytes] | None = None,
) -> RunningServer:  # fmt: skip
    """Show a session on a page and return the running server; its `url` is the link to open.

    Raises:
        dictate.web.server.WebError: the server cannot be started.
    """
    page = LivePage(session, microphone=microphone, sound=sound)
    return serve(page.routes, port=port, token=token, limits=limits, closing=page.last_words)


def _earcon(name: str) -> bytes:
    from dictate.live.earcons import earcon_wav  # synthesised with numpy, when first asked for

    return earcon_wav(name)


def _mapping(view: Any) -> dict[str, Any]:
    if dataclasses.is_dataclass(view) and not isinstance(view, type):
        return {"type": "view"} | dataclasses.asdict(view)
    if isinstance(view, BaseModel):
        return {"type": "view"} | view.model_dump(mode="json")
    if isinstance(view, Mapping):
        return {"type": "view"} | dict(view)
    raise TypeError(f"{type(view).__name__} is no view")
