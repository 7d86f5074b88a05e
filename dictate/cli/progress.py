"""A progress bar on standard error, only where a person is watching."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import Any


class Bar:
    """Shows how much of a recording has been heard. Nothing at all unless standard error is a terminal."""

    def __init__(self) -> None:
        self._bar: Any = None

    def __enter__(self) -> Bar:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bar is not None:
            self._bar.close()

    def advance(self, heard_s: float, total_s: float) -> None:
        """Show that `heard_s` of `total_s` seconds have been heard."""
        if not sys.stderr.isatty():
            return
        if self._bar is None:
            from tqdm import tqdm

            self._bar = tqdm(total=round(total_s, 1), unit="s", desc="hearing", leave=False, file=sys.stderr)
        self._bar.update(min(heard_s, self._bar.total) - self._bar.n)
