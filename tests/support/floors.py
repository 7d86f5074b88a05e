"""The figures that the sets must reach, from `tests/heldout/floors.toml`."""

from __future__ import annotations

import tomllib
from functools import cache

from tests.support.cases import HELDOUT


@cache
def floors() -> dict[str, dict[str, float]]:
    """Return the floors by set."""
    return tomllib.loads((HELDOUT / "floors.toml").read_text(encoding="utf-8"))
