"""Sound from a microphone of this computer, through PortAudio."""

from __future__ import annotations

import logging
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from dictate.audio.capture import Capture, awake_s, now_s
from dictate.audio.frame import FRAME_SAMPLES, SAMPLE_RATE_HZ, Frame
from dictate.audio.source import Gap
from dictate.errors import MicrophoneError, MicrophoneLost

_log = logging.getLogger(__name__)

LOST_AFTER_S = 1.0  # without a block: it comes ten times a second, so the device is gone or stuck
_FIRST_WITHIN_S = 5.0  # a sound server may have to wake the device
_LOOK_EVERY_S = 0.25
_heard: set[int] = set()  # microphones of this process that are open
_MOST_CHANNELS = 2  # devices of a sound server claim 32
_WAY_OUT = {
    "linux": "install it with: apt-get install libportaudio2 (or your system's PortAudio package)",
    "darwin": "install it with: brew install portaudio",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """A microphone or other input that can be opened."""

    number: int
    name: str
    channels: int
    rate_hz: int
    default: bool = False


def devices() -> list[Device]:
    """Return the inputs of this computer, as they are now. Raises MicrophoneError if PortAudio is missing."""
    sounddevice = _library()
    _look_again(sounddevice)
    return _inputs(sounddevice)


def choose(wanted: int | str | None, found: list[Device]) -> Device:
    """Return the input that is wanted: by number, or by its name or a part of it; None for the system's default.

    Raises:
        MicrophoneError: there is none of that number or name, or more than one.
    """
    if not found:
        raise MicrophoneError("no microphone was found; plug one in, or allow this program to use it")
    if wanted is None:
        return next((device for device in found if device.default), found[0])
    if isinstance(wanted, str) and wanted.strip().isdigit():
        wanted = int(wanted)
    names = "; ".join(f"{device.number} {device.name}" for device in found)
    if isinstance(wanted, int):
        fits = [device for device in found if device.number == wanted]
    else:
        low = wanted.strip().lower()
        fits = [device for device in found if device.name.lower() == low]
        fits = fits or [device for device in found if low in device.name.lower()]
    if not fits:
        raise MicrophoneError(f"there is no microphone {wanted!r}; there are: {names}")
    if len(fits) > 1:
        raise MicrophoneError(f"{wanted!r} fits more than one microphone; give the number of one of: {names}")
    return fits[0]


class Microphone:
    """A microphone as a `Source`. See `dictate.audio.source` for what iterating it means."""

    def __init__(self, *, device: int | str | None = None) -> None:
        """Choose a microphone; it is opened when iteration starts.

        Args:
            device: its number, or its name or a part of it; None for the system's default.
        """
        self._wanted = device
        self._lock = threading.Lock()
        self._stream: Any = None
        self._capture: Capture | None = None
        self._closed = threading.Event()
        self._ended = threading.Event()  # PortAudio says that the stream is over
        self._lost = False
        self._origin_s: float | None = None  # of the whole source, on the clock that counts sleep
        self._at_s = 0.0  # where the sound given so far ends
        self.name = ""  # of the device that was opened last

    def __iter__(self) -> Iterator[Frame | Gap]:
        """Open the device and yield its sound. After MicrophoneLost, iterating again goes on after a gap."""
        if self._closed.is_set():
            return
        capture = self._open()
        try:
            yield from self._events(capture)
        finally:
            self._stop()

    @property
    def lost(self) -> bool:
        """Whether the device is away at the moment."""
        return self._lost

    @property
    def waiting_s(self) -> float:
        """Seconds of sound that came and were not taken yet."""
        return self._capture.waiting_s if self._capture else 0.0

    def close(self) -> None:
        """Stop hearing. What was captured is still yielded; then iteration ends."""
        self._closed.set()
        self._stop()

    def _events(self, capture: Capture) -> Iterator[Frame | Gap]:
        opened_s = since_s = awake_s()
        offset_s: float | None = None
        while True:
            looked_s = awake_s()
            events = capture.take(_LOOK_EVERY_S)
            if awake_s() - looked_s > LOST_AFTER_S:  # the program was held up, and the device's thread with it
                since_s = awake_s()
            over = self._closed.is_set()
            lost = "" if events or over else self._why_lost(capture, opened_s, since_s)
            if over or lost:
                events = [*events, *capture.finish()]
            if offset_s is None and capture.origin_s is not None:
                offset_s, gap = self._placed(capture.origin_s)
                self._lost = False
                if gap:
                    yield gap
            for event in events:
                moved = _moved(event, offset_s or 0.0)
                self._at_s = moved.to_s if isinstance(moved, Gap) else moved.end_s
                yield moved
            if over:
                return
            if lost:
                self._lost = True
                raise MicrophoneLost(lost)

    def _placed(self, origin_s: float) -> tuple[float, Gap | None]:
        """Return how far the capture's clock is behind the source's, and the gap since the device was lost."""
        if self._origin_s is None:
            self._origin_s = origin_s
            return 0.0, None
        start_s = max(self._at_s, origin_s - self._origin_s)
        gap = Gap(round(self._at_s, 3), round(start_s, 3), "the microphone was not heard")
        return start_s, gap

    def _why_lost(self, capture: Capture, opened_s: float, since_s: float) -> str:
        name = f'the microphone "{self.name}"'
        if self._ended.is_set() or (self._stream is not None and not self._stream.active):
            return f"{name} went away; plug it in again or choose another microphone"
        last_s = capture.last_push_s
        if last_s is None and awake_s() - opened_s > _FIRST_WITHIN_S:
            return f"{name} gives no sound; see whether it is switched on, or choose another microphone"
        if last_s is not None and awake_s() - max(last_s, since_s) > LOST_AFTER_S:
            return f"{name} stopped giving sound; plug it in again or choose another microphone"
        return ""

    def _open(self) -> Capture:
        sounddevice = _library()
        again = self._origin_s is not None
        try:
            _look_again(sounddevice)
            device = choose(self._wanted, _inputs(sounddevice))
            return self._started(sounddevice, device)
        except MicrophoneError as error:
            self._lost = True
            if again:
                raise MicrophoneLost(str(error)) from error
            raise
        except sounddevice.PortAudioError as error:
            self._lost = True
            kind = MicrophoneLost if again else MicrophoneError
            raise kind(
                f'the microphone "{self.name}" cannot be opened; plug it in, close other programs that use it, '
                f"or choose another one ({_first_line(error)})"
            ) from error

    def _started(self, sounddevice: Any, device: Device) -> Capture:
        self.name = device.name
        channels = min(device.channels, _MOST_CHANNELS)
        rate_hz = SAMPLE_RATE_HZ
        settings = {"device": device.number, "channels": channels, "dtype": "float32"}
        try:
            sounddevice.check_input_settings(samplerate=rate_hz, **settings)
        except sounddevice.PortAudioError:
            rate_hz = device.rate_hz
        capture = Capture(rate_hz=rate_hz, channels=channels)
        self._ended.clear()

        def heard(samples: Any, _count: int, _time: Any, status: Any) -> None:
            capture.push(samples, overflow=bool(status.input_overflow), came_s=now_s(), awake_at_s=awake_s())

        stream = sounddevice.InputStream(
            samplerate=rate_hz, blocksize=round(FRAME_SAMPLES * rate_hz / SAMPLE_RATE_HZ), callback=heard,
            finished_callback=self._ended.set, **settings,
        )  # fmt: skip
        stream.start()
        _log.info("hearing %s at %d Hz, %d channels", device.name, rate_hz, channels)
        with self._lock:
            self._stream, self._capture = stream, capture
            _heard.add(id(self))
        return capture

    def _stop(self) -> None:
        with self._lock:
            stream, self._stream = self._stream, None
            _heard.discard(id(self))
        if stream is None:
            return
        try:
            stream.abort()
            stream.close()
        except Exception as error:  # noqa: BLE001  a device that is gone may refuse even that; nothing is left to do
            _log.info("closing %s: %s", self.name, error)


def _moved(event: Frame | Gap, by_s: float) -> Frame | Gap:
    if isinstance(event, Gap):
        return Gap(round(event.from_s + by_s, 3), round(event.to_s + by_s, 3), event.why)
    return Frame(event.samples, event.start_s + by_s)


def _library() -> Any:
    try:
        import sounddevice  # only where there is a microphone: it loads PortAudio
    except ImportError as error:
        raise MicrophoneError("the package sounddevice is missing; install it with: pip install sounddevice") from error
    except OSError as error:  # sounddevice is there, PortAudio is not
        way_out = _WAY_OUT.get(sys.platform, "install PortAudio for your system")
        raise MicrophoneError(f"PortAudio, which microphones are heard through, is missing; {way_out}") from error
    return sounddevice


def _look_again(sounddevice: Any) -> None:
    """PortAudio lists devices once, when it starts; one plugged in since is only seen after starting it again.

    That ends every open stream, so it is not done while a microphone is heard.
    """
    if _heard:
        return
    sounddevice._terminate()
    sounddevice._initialize()


def _inputs(sounddevice: Any) -> list[Device]:
    try:
        default = sounddevice.query_devices(kind="input")["index"]
    except (sounddevice.PortAudioError, ValueError):
        default = None
    return [
        Device(
            number=entry["index"],
            name=entry["name"],
            channels=entry["max_input_channels"],
            rate_hz=round(entry["default_samplerate"]),
            default=entry["index"] == default,
        )
        for entry in sounddevice.query_devices()
        if entry["max_input_channels"] > 0
    ]


def _first_line(error: BaseException) -> str:
    return f"PortAudio: {str(error).strip().partition(chr(10))[0].partition(' [PaErrorCode')[0]}"
