"""`dictate models`: it lists what there is, and fetches only when told to."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.recognise import fetch
from tests.cli.conftest import Run


def test_the_embedded_weights_are_listed(dictate: Run) -> None:
    outcome = dictate("models")
    assert outcome.status == 0
    assert "whisper" in outcome.out
    assert "more are looked for in" in outcome.out


def test_fetch_fetches_what_was_named(dictate: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: list[str] = []

    def fetched(name: str) -> Path:
        asked.append(name)
        return tmp_path / name

    monkeypatch.setattr(fetch, "fetch_vosk_model", fetched)
    outcome = dictate("models", "fetch", "vosk-model-small-en-us-0.15")
    assert outcome.status == 0
    assert asked == ["vosk-model-small-en-us-0.15"]


def test_listing_fetches_nothing(dictate: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise AssertionError("listing must not use the network")

    monkeypatch.setattr(fetch, "urlopen", fail)
    assert dictate("models").status == 0


def test_a_name_that_is_none_is_refused(dictate: Run) -> None:
    assert dictate("models", "fetch", "../../etc").is_one_plain_error()
