"""Answers in JSON, and bodies of requests read by a model."""

from __future__ import annotations

import json
from typing import Any, TypeVar

from aiohttp import web
from pydantic import BaseModel, ValidationError

from dictate.errors import DictateError

Shape = TypeVar("Shape", bound=BaseModel)


class Refused(DictateError):
    """A request that cannot be done; the page shows the line."""


def json_answer(value: object, *, status: int = 200) -> web.Response:
    """Return JSON; a pydantic model is written by its aliases."""
    text = value.model_dump_json(by_alias=True) if isinstance(value, BaseModel) else json.dumps(value)
    return web.Response(text=text, status=status, content_type="application/json")


def plain(status: int, text: str, **headers: str) -> web.Response:
    """Return one line of plain text."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return web.Response(status=status, text=text.rstrip() + "\n", content_type="text/plain", headers=named)


async def read_json(request: web.Request, shape: type[Shape]) -> Shape:
    """Return the body as a model.

    Raises:
        Refused: the body is not JSON (said so by its content type) or does not fit the model.
    """
    if request.content_type != "application/json":  # what a form of another page could send is never taken
        raise Refused("the request has to be JSON (content type application/json)")
    try:
        return shape.model_validate_json(await request.read())
    except ValidationError as error:
        first: Any = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the request"
        raise Refused(f"{where}: {first['msg']}") from error
