"""Run the command in this process, and see what a caller sees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from dictate.cli.main import main


@dataclass(frozen=True)
class Outcome:
    """What a command left behind."""

    status: int
    out: str
    err: str

    def is_one_plain_error(self) -> bool:
        """Whether it is one line on standard error, exit status 2, and nothing on standard output."""
        lines = self.err.splitlines()
        return self.status == 2 and self.out == "" and len(lines) == 1 and lines[0].startswith("dictate: ")


Run = Callable[..., Outcome]


@pytest.fixture
def dictate(capsys: pytest.CaptureFixture[str]) -> Run:
    def run(*arguments: object) -> Outcome:
        try:
            status = main([str(argument) for argument in arguments])
        except SystemExit as leaving:  # --help
            status = int(leaving.code or 0)
        captured = capsys.readouterr()
        return Outcome(status, captured.out, captured.err)

    return run
