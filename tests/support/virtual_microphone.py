"""A microphone that does not exist: a sound server of the test's own, whose only source plays what the test gives it.

PortAudio hears it through ALSA's default device, as it hears a real one on a desktop with a sound server. Everything
lives in a folder of the test's own, so that nobody's sound server is touched. PortAudio lists devices once a process,
so what hears runs in a process of its own (`run`).
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from ctypes.util import find_library
from pathlib import Path

import pytest

PACKAGES = "apt-get install libportaudio2 pulseaudio pulseaudio-utils libasound2-plugins"
_ROOT = Path(__file__).parents[2]
_START_WITHIN_S = 10.0
_SERVER = """load-module module-native-protocol-unix
load-module module-null-sink sink_name=room rate=48000 channels={channels}
"""
_ASOUND = "pcm.!default { type pulse }\nctl.!default { type pulse }\n"


class VirtualMicrophone:
    """A running sound server with one microphone, `bench`, in a room that sound can be played into."""

    def __init__(self, folder: Path, *, channels: int = 2) -> None:
        self.folder = folder
        (folder / "pulse").mkdir(mode=0o700)
        (folder / "default.pa").write_text(_SERVER.format(channels=channels))
        (folder / ".asoundrc").write_text(_ASOUND)
        self.environment = {
            **{key: value for key, value in os.environ.items() if not key.startswith(("PULSE_", "ALSA_"))},
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "XDG_CONFIG_HOME": str(folder / "config"),
            "PULSE_RUNTIME_PATH": str(folder / "pulse"),
            "PYTHONPATH": str(_ROOT),
        }
        self._server = subprocess.Popen(
            ["pulseaudio", "-n", "-F", str(folder / "default.pa"), "--daemonize=no", "--exit-idle-time=-1",
             "--log-target=file:" + str(folder / "pulse.log")],
            env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._players: list[subprocess.Popen[bytes]] = []
        self._source = ""
        self._await_server()
        self.plug()

    def _await_server(self) -> None:
        until = time.monotonic() + _START_WITHIN_S
        while subprocess.run(["pactl", "info"], env=self.environment, capture_output=True, check=False).returncode:
            if self._server.poll() is not None or time.monotonic() > until:
                self.stop()
                pytest.skip(f"pulseaudio does not start here; try: {PACKAGES}")
            time.sleep(0.1)

    def plug(self) -> None:
        """Plug the microphone in and make it the default one."""
        self._source = self._pactl(
            "load-module", "module-remap-source", "source_name=bench", "master=room.monitor"
        )  # fmt: skip
        self._pactl("set-default-source", "bench")

    def unplug(self) -> None:
        """Take the microphone away, for real: the sound server ends every stream from it.

        The room goes with it: its monitor would be a source that the server falls back to.
        """
        self._pactl("unload-module", self._source)
        self._pactl("unload-module", "module-null-sink")

    def furnish(self) -> None:
        """Put the room back, empty."""
        self._pactl("load-module", "module-null-sink", "sink_name=room", "rate=48000")

    def play(self, recording: Path) -> None:
        """Play a recording into the room, from now on."""
        self._players.append(
            subprocess.Popen(["paplay", "--device=room", str(recording)], env=self.environment)
        )  # fmt: skip

    def start(self, *arguments: str) -> subprocess.Popen[str]:
        """Start `python ARGUMENTS`, which hears this microphone as the system's default."""
        return subprocess.Popen(
            [sys.executable, *arguments], env=self.environment, cwd=_ROOT, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip

    def stop(self) -> None:
        """End the sound server and what plays on it."""
        for process in [*self._players, self._server]:
            if process.poll() is None:
                process.terminate()
            process.wait(10)

    def _pactl(self, *arguments: str) -> str:
        done = subprocess.run(
            ["pactl", *arguments], env=self.environment, capture_output=True, text=True, check=True
        )  # fmt: skip
        return done.stdout.strip()


def missing() -> str:
    """Return why there can be no virtual microphone here, "" if there can."""
    lacks = [tool for tool in ("pulseaudio", "pactl", "paplay") if shutil.which(tool) is None]
    if find_library("portaudio") is None:
        lacks.append("libportaudio2")
    plugin = any(Path(root).glob("**/libasound_module_pcm_pulse.so") for root in ("/usr/lib", "/usr/lib64"))
    if not plugin:
        lacks.append("libasound2-plugins")
    return f"needs {', '.join(lacks)}; try: {PACKAGES}" if lacks else ""


@contextmanager
def virtual_microphone(*, channels: int = 2) -> Iterator[VirtualMicrophone]:
    """Run a virtual microphone; skip the test that asks, with the reason, where the packages are missing."""
    if reason := missing():
        pytest.skip(reason)
    folder = Path(tempfile.mkdtemp(prefix="mic-"))  # short: a socket's path may have 107 letters
    microphone = None
    try:
        microphone = VirtualMicrophone(folder, channels=channels)
        yield microphone
    finally:
        if microphone is not None:
            microphone.stop()
        shutil.rmtree(folder, ignore_errors=True)
