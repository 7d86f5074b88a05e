"""What a server answers to: routes, and files of a package under fixed paths."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from importlib import resources as package_files
from pathlib import PurePosixPath
from typing import TypeAlias

from aiohttp import web

Handler: TypeAlias = Callable[[web.Request], Awaitable[web.StreamResponse]]

CONTENT_TYPES = {
    ".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png",
    ".woff2": "font/woff2", ".json": "application/json",
}  # fmt: skip


@dataclass(frozen=True)
class Route:
    """A method and a path (aiohttp's pattern, as "/finding/{number}") with what answers it."""

    method: str
    path: str
    handler: Handler


def resources(package: str, files: Mapping[str, str]) -> list[Route]:
    """Return routes for files of a package. They are read now: no path of a request ever reaches the file system.

    Args:
        package: as for an import, "dictate.live.page".
        files: path of the address to name of the file.

    Raises:
        FileNotFoundError: the package has no such file.
        KeyError: a file of a kind that is not served.
    """
    folder = package_files.files(package)
    return [
        Route("GET", path, _fixed(folder.joinpath(name).read_bytes(), CONTENT_TYPES[PurePosixPath(name).suffix]))
        for path, name in files.items()
    ]


def _fixed(body: bytes, content_type: str) -> Handler:
    charset = "utf-8" if content_type.startswith("text/") else None

    async def answer(request: web.Request) -> web.StreamResponse:
        return web.Response(body=body, content_type=content_type, charset=charset)

    return answer
