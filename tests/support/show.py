"""Figures that tests print whether they pass or not."""

from __future__ import annotations

import sys

import pytest


def show(capsys: pytest.CaptureFixture[str], *lines: str) -> None:
    """Print lines past pytest's capture."""
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(lines) + "\n")
