"""Reading aloud with a synthesiser of this computer, so that the program never takes its own voice for a finding.

What it says is sent to the synthesiser as text on its standard input, never through a shell.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from dictate.errors import DictateError

AFTER_S = 0.3  # a room and a sound card go on sounding for as long after the last word
_KEPT = 200  # of what was spoken, the newest: a recogniser is never that far behind
_STOP_WITHIN_S = 2.0
SYNTHESISERS = ("espeak-ng", "espeak")


class SpeechError(DictateError):
    """Nothing can be read aloud here."""


@dataclass(frozen=True, slots=True)
class SpokenByUs:
    """When the program itself was speaking, the echo after it included, in seconds on the clock it was given."""

    from_s: float
    to_s: float

    def overlaps(self, from_s: float, to_s: float) -> bool:
        """Whether anything between two times was said by the program."""
        return from_s < self.to_s and self.from_s < to_s


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceOptions:
    """How the program sounds."""

    voice: str = "en-gb"  # of espeak-ng: `espeak-ng --voices=en` lists them
    words_a_minute: int = 165  # plain speech; numbers are lost when it is faster (project's choice)
    volume: int = 100  # percent of the synthesiser's usual

    def arguments(self) -> list[str]:
        """Return the synthesiser's options."""
        if not re.fullmatch(r"[A-Za-z][\w+-]*", self.voice):
            raise SpeechError(f"{self.voice!r} is no name of a voice; `espeak-ng --voices=en` lists them")
        return ["-v", self.voice, "-s", str(self.words_a_minute), "-a", str(max(0, min(200, self.volume))), "--stdin"]


class Speaker:
    """Speaks one text at a time, the newest; tells when it was speaking."""

    def __init__(
        self, *, options: VoiceOptions | None = None, clock: Callable[[], float] = time.monotonic,
        synthesiser: str | None = None,
    ) -> None:  # fmt: skip
        """Find the synthesiser.

        Args:
            options: voice, speed, volume.
            clock: in seconds; give the exam's, so that what was spoken can be told from what was heard.
            synthesiser: its command, which takes espeak-ng's options; else the first that is installed.

        Raises:
            SpeechError: there is none.
        """
        names = (synthesiser,) if synthesiser else SYNTHESISERS
        found = next((path for name in names if (path := shutil.which(name))), None)
        if found is None:
            raise SpeechError("nothing can be read aloud: install espeak-ng (apt-get install espeak-ng)")
        self._command = [found, *(options or VoiceOptions()).arguments()]
        self._clock = clock
        self._lock = threading.Lock()
        self._process: subprocess.Popen[bytes] | None = None
        self._began_s: float | None = None
        self._done: list[SpokenByUs] = []

    def speak(self, text: str) -> None:
        """Begin to speak, and return at once; what was being said is broken off. Raises SpeechError if it cannot."""
        self.stop()
        words = spoken(text).strip()
        if not words:
            return
        try:
            process = subprocess.Popen(  # noqa: S603  a command that was found, options that were checked
                self._command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        except OSError as error:
            raise SpeechError(
                f"{self._command[0]} does not start ({error.strerror}); install espeak-ng again"
            ) from error
        with self._lock:
            self._process, self._began_s = process, self._clock()
        threading.Thread(target=self._see_out, args=(process, words), name="dictate-speech", daemon=True).start()

    def stop(self) -> None:
        """Break off at once. Nothing happens when nothing is being said."""
        with self._lock:
            process = self._process
        if process is None:
            return
        process.terminate()
        try:
            process.wait(_STOP_WITHIN_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        self._over(process)

    @property
    def speaking(self) -> bool:
        """Whether the program speaks, or its voice may still be in the room."""
        with self._lock:
            if self._process is not None:
                return True
            return bool(self._done) and self._clock() < self._done[-1].to_s

    def spoken_by_us(self) -> tuple[SpokenByUs, ...]:
        """Return when the program was speaking, oldest first, speech that goes on included."""
        with self._lock:
            now = () if self._began_s is None else (SpokenByUs(self._began_s, self._clock() + AFTER_S),)
            return (*self._done, *now)

    def is_ours(self, from_s: float, to_s: float) -> bool:
        """Whether something heard between two times may be the program's own voice."""
        return any(one.overlaps(from_s, to_s) for one in self.spoken_by_us())

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until nothing is being said; return whether that came in time."""
        with self._lock:
            process = self._process
        if process is None:
            return True
        try:
            process.wait(timeout_s)
        except subprocess.TimeoutExpired:
            return False
        self._over(process)
        return True

    def _see_out(self, process: subprocess.Popen[bytes], words: str) -> None:
        try:
            process.communicate(words.encode("utf-8"))
        except (OSError, ValueError):  # broken off
            process.wait()
        self._over(process)

    def _over(self, process: subprocess.Popen[bytes]) -> None:
        with self._lock:
            if self._process is not process or self._began_s is None:
                return
            self._done = [*self._done[-_KEPT:], SpokenByUs(self._began_s, self._clock() + AFTER_S)]
            self._process = self._began_s = None


# -- clinical text as words ------------------------------------------------------------------------------------------

_MINUS = "\N{MINUS SIGN}"
_NUMBER = r"\d+(?:\.\d+)?"
_SPOKEN: tuple[tuple[str, str], ...] = (
    (r"\bMRC (\d)-/5", r"\1 minus out of 5"),
    (r"\bMRC (\d)\+/5", r"\1 plus out of 5"),
    (r"\bMRC (\d)/5", r"\1 out of 5"),
    (r"\bgrade (\d)-", r"grade \1 minus"),
    (rf"({_NUMBER})/(\d+)\b", r"\1 out of \2"),
    (r"\b(\d)\+(?!\d)", r"\1 plus"),
    (r"\b(\d)-(?![\d\w])", r"\1 minus"),
    (rf"[{_MINUS}-](?={_NUMBER}°)", "minus "),
    (rf"\+(?={_NUMBER}°)", "plus "),
    (r"(?<![\w.])1°", "1 degree"),
    (r"°", " degrees"),
    (rf"[{_MINUS}]", "minus "),
    (r"(?<![\w.])1 cm\b", "1 centimetre"),
    (rf"({_NUMBER}) cm\b", r"\1 centimetres"),
    (r"(?<![\w.])1 mm\b", "1 millimetre"),
    (rf"({_NUMBER}) mm\b", r"\1 millimetres"),
    (rf"({_NUMBER}) s\b", r"\1 seconds"),
    (r"<\s*", "less than "),
    (r">\s*", "more than "),
    (r"\b([CTLS])(\d{1,2})\b", r"\1 \2"),
)
_SPOKEN_PATTERNS = tuple((re.compile(pattern), said) for pattern, said in _SPOKEN)


def spoken(text: str) -> str:
    """Return clinical text as it is said aloud: degrees, minus, grades, units and levels in words.

    >>> spoken("Right extension, \N{MINUS SIGN}5°, MRC 4-/5.")
    'Right extension, minus 5 degrees, 4 minus out of 5.'
    """
    for pattern, said in _SPOKEN_PATTERNS:
        text = pattern.sub(said, text)
    return text
