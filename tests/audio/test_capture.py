"""Blocks of a device's callback become frames on one clock, and every loss of sound is a gap of the right length."""

from __future__ import annotations

import numpy as np
import pytest

from dictate.audio.capture import Capture
from dictate.audio.frame import SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from tests.audio.sounds import tone, white

BLOCK_S = 0.1
START_S = 5_000.0  # of the computer's clock: no capture starts at its zero


class Device:
    """A made-up device that pushes a sound block by block, at the times that a clock says."""

    def __init__(self, *, rate_hz: int = SAMPLE_RATE_HZ, channels: int = 1, most_waiting_s: float = 60.0) -> None:
        self.capture = Capture(rate_hz=rate_hz, channels=channels, most_waiting_s=most_waiting_s)
        self.size = round(BLOCK_S * rate_hz)
        self.channels = channels
        self.now_s = START_S
        self.slept_s = 0.0

    def push(self, count: int, sound: np.ndarray | None = None, *, late_s: float = 0.0, overflow: bool = False) -> None:
        """Push blocks, each one block's length later than the one before."""
        for number in range(count):
            self.now_s += BLOCK_S
            block = np.zeros((self.size, self.channels), dtype=np.float32)
            if sound is not None:
                piece = sound[number * self.size : (number + 1) * self.size]
                block = piece if piece.ndim == 2 else piece[:, None]
            came_s = self.now_s + late_s
            self.capture.push(block, overflow=overflow, came_s=came_s, awake_at_s=came_s - self.slept_s)

    def events(self) -> list[Frame | Gap]:
        return self.capture.finish()


def gaps(events: list[Frame | Gap]) -> list[Gap]:
    return [event for event in events if isinstance(event, Gap)]


def sound_of(events: list[Frame | Gap]) -> np.ndarray:
    return np.concatenate([event.samples for event in events if isinstance(event, Frame)])


def assert_one_clock(events: list[Frame | Gap]) -> None:
    """Every event begins where the one before it ended."""
    at_s = 0.0
    for event in events:
        begins, at_s_next = (event.from_s, event.to_s) if isinstance(event, Gap) else (event.start_s, event.end_s)
        assert begins == pytest.approx(at_s, abs=0.002)
        at_s = at_s_next


def test_sound_at_16_khz_comes_through_unchanged() -> None:
    device, sound = Device(), tone(1.0)
    device.push(10, sound)
    assert np.array_equal(sound_of(device.events()), sound)


def test_a_block_may_be_used_again_by_the_device() -> None:
    device, block = Device(), np.full((1600, 1), 0.5, dtype=np.float32)
    device.capture.push(block, overflow=False, came_s=START_S, awake_at_s=START_S)
    block[:] = 0.0
    assert (sound_of(device.events()) == 0.5).all()


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000])
def test_another_rate_is_resampled_without_moving_the_sound(rate_hz: int) -> None:
    device = Device(rate_hz=rate_hz)
    device.push(20, tone(2.0, rate_hz=rate_hz))
    got, wanted = sound_of(device.events()), tone(2.0)
    assert len(got) == pytest.approx(len(wanted), abs=2)
    middle = slice(8_000, 24_000)
    assert np.abs(got[middle] - wanted[middle]).max() < 0.01


def test_a_dead_channel_takes_nothing_off_the_level() -> None:
    device, sound = Device(channels=2), tone(1.0)
    device.push(10, np.stack([np.zeros_like(sound), sound], axis=1))
    assert np.abs(sound_of(device.events())).max() == pytest.approx(0.3, abs=0.01)


def test_two_channels_of_opposite_sign_do_not_cancel() -> None:
    device, sound = Device(channels=2), white(1.0)
    device.push(10, np.stack([sound, -sound], axis=1))
    assert sound_of(device.events()).std() == pytest.approx(sound.std(), rel=0.05)


def test_a_microphone_that_comes_on_later_is_mixed_in_without_a_click() -> None:
    device, sound = Device(channels=2), tone(4.0, hz=100.0)
    late = sound.copy()
    late[: 2 * SAMPLE_RATE_HZ] = 0
    device.push(40, np.stack([sound, late], axis=1))
    steps = np.abs(np.diff(sound_of(device.events())))
    assert steps.max() < 1.1 * np.abs(np.diff(sound)).max()


def test_blocks_on_time_have_no_gap() -> None:
    device = Device()
    device.push(100)
    assert gaps(device.events()) == []


def test_blocks_that_come_late_and_catch_up_have_no_gap() -> None:
    device = Device()
    device.push(10)
    for number in range(4):  # the system was busy for 0.8 s, then brings everything at once
        device.push(1, late_s=0.8 - number * 0.2)
    device.push(50)
    assert gaps(device.events()) == []


def test_a_slow_drift_of_the_devices_clock_is_no_gap() -> None:
    device = Device()
    for number in range(20_000):  # 2000 s at 300 parts in a million: 0.6 s in all
        device.push(1, late_s=number * BLOCK_S * 300e-6)
        while device.capture.waiting_s > 1:
            assert gaps(device.capture.take(0)) == []
    assert gaps(device.events()) == []


def test_sound_that_never_came_is_a_gap_of_its_length() -> None:
    device = Device()
    device.push(10)
    device.now_s += 2.0
    device.push(20)
    (gap,) = gaps(events := device.events())
    assert (gap.from_s, gap.to_s) == (pytest.approx(1.0), pytest.approx(3.0, abs=0.01))
    assert_one_clock(events)


def test_all_sound_around_a_gap_is_kept() -> None:
    device, sound = Device(), white(3.0)
    device.push(10, sound[:16_000])
    device.now_s += 2.0
    device.push(20, sound[16_000:])
    assert np.array_equal(sound_of(device.events()), sound)


def test_a_sleep_of_the_computer_is_a_gap_that_says_so() -> None:
    device = Device()
    device.push(10)
    device.now_s += 3_600.0
    device.slept_s += 3_600.0
    device.push(20)
    (gap,) = gaps(events := device.events())
    assert (gap.from_s, gap.to_s, gap.why) == (1.0, pytest.approx(3_601.0, abs=0.01), "the computer was asleep")
    assert_one_clock(events)


def test_an_overflow_that_the_device_reports_is_a_gap() -> None:
    device = Device()
    device.push(10)
    device.now_s += 0.25
    device.push(1, overflow=True)
    device.push(10)
    (gap,) = gaps(events := device.events())
    assert (gap.from_s, gap.to_s) == (1.0, pytest.approx(1.25, abs=0.01))
    assert_one_clock(events)


def test_an_overflow_too_short_to_measure_is_still_reported() -> None:
    device = Device()
    device.push(10)
    device.push(1, overflow=True)
    (gap,) = gaps(device.events())
    assert gap.from_s == 1.0


def test_a_reader_that_lags_too_far_loses_sound_and_is_told_how_much() -> None:
    device = Device(most_waiting_s=2.0)
    device.push(30)  # 2 s are kept, 1 s is refused
    events = [event for _ in range(20) for event in device.capture.take(0)]
    device.push(10)
    events += device.events()
    (gap,) = gaps(events)
    assert (gap.from_s, gap.to_s) == (pytest.approx(2.0), pytest.approx(3.0))
    assert_one_clock(events)


def test_what_was_pushed_and_not_taken_is_waiting() -> None:
    device = Device()
    device.push(7)
    device.capture.take(0)
    assert device.capture.waiting_s == pytest.approx(0.6)


def test_no_block_gives_nothing() -> None:
    assert Device().capture.take(0.01) == []
