"""Sound that a page sends, as a source."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest

from dictate.audio.frame import FRAME_SAMPLES, Frame
from dictate.audio.source import Gap
from dictate.errors import MicrophoneLost
from dictate.journal.sound import from_pcm, to_pcm
from dictate.live import browser_source
from dictate.live.browser_source import BrowserSource

SOUND = (np.random.default_rng(3).standard_normal(16_000 * 2) * 0.1).astype(np.float32)
PCM = to_pcm(SOUND)


def test_pieces_of_any_size_come_out_as_the_same_sound() -> None:
    source = BrowserSource()
    for first in range(0, len(PCM), 998):
        source.accept(PCM[first : first + 998])
    source.close()
    frames = [event for event in source if isinstance(event, Frame)]
    assert np.array_equal(np.concatenate([frame.samples for frame in frames]), from_pcm(PCM))


def test_frames_are_a_tenth_of_a_second_on_one_clock() -> None:
    source = BrowserSource()
    source.accept(PCM)
    source.close()
    frames = [event for event in source if isinstance(event, Frame)]
    assert all(len(frame.samples) == FRAME_SAMPLES for frame in frames)
    assert [frame.start_s for frame in frames] == pytest.approx([number / 10 for number in range(20)])


def test_missing_sound_is_a_gap_and_the_clock_moves_on() -> None:
    source = BrowserSource()
    source.accept(PCM[:3200])
    source.missed(5.0)
    source.accept(PCM[:3200])
    source.close()
    first, gap, second = list(source)
    assert isinstance(gap, Gap) and (gap.from_s, gap.to_s) == (0.1, 5.1)
    assert isinstance(first, Frame) and isinstance(second, Frame) and second.start_s == pytest.approx(5.1)


def test_a_page_that_gave_sound_and_gives_none_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(browser_source, "LOST_AFTER_S", 0.1)
    source = BrowserSource()
    source.accept(PCM[:3200])
    with pytest.raises(MicrophoneLost, match="no open page"):
        list(source)


def test_before_the_first_sound_nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(browser_source, "LOST_AFTER_S", 0.01)
    source = BrowserSource()
    threading.Timer(1.5, source.close).start()
    assert list(source) == []


def test_a_page_waits_while_too_much_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(browser_source, "MOST_WAITING_S", 1.0)
    source = BrowserSource()
    source.accept(PCM)
    done = threading.Event()
    threading.Thread(target=lambda: (source.accept(PCM), done.set()), daemon=True).start()
    time.sleep(0.2)
    assert not done.is_set() and source.waiting_s == 2.0
    taken = iter(source)
    next(taken)
    assert done.wait(10.0)
