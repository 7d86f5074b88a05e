"""The progress bar is for people: nothing of it where standard error is no terminal."""

from __future__ import annotations

import io
import sys

import pytest

from dictate.cli.progress import Bar


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_nothing_is_drawn_without_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", stream := io.StringIO())
    with Bar() as bar:
        bar.advance(1.0, 2.0)
    assert stream.getvalue() == ""


def test_a_terminal_sees_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stderr", stream := Terminal())
    with Bar() as bar:
        bar.advance(0.0, 10.0)
        bar.advance(12.0, 10.0)  # the last frame may end a little after the length that the file tells
    assert "hearing" in stream.getvalue()
