"""Reading aloud: clinical text in words, one text at a time, and the program never hears itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from pathlib import Path

import pytest

from dictate.live.speech import AFTER_S, Speaker, SpeechError, SpokenByUs, VoiceOptions, spoken

WITHIN_S = 10.0


@pytest.mark.parametrize(
    ("text", "aloud"),
    [
        ("Right flexion, 105°.", "Right flexion, 105 degrees."),
        ("Extension, \N{MINUS SIGN}5°.", "Extension, minus 5 degrees."),
        ("Extension, +10°.", "Extension, plus 10 degrees."),
        ("Extension, 1°.", "Extension, 1 degree."),
        ("Strength, MRC 4-/5.", "Strength, 4 minus out of 5."),
        ("Strength, MRC 4+/5.", "Strength, 4 plus out of 5."),
        ("Strength, MRC 5/5.", "Strength, 5 out of 5."),
        ("Reflex, 2+.", "Reflex, 2 plus."),
        ("Pain, 6/10.", "Pain, 6 out of 10."),
        ("Lachman test, laxity grade 2.", "Lachman test, laxity grade 2."),
        ("Girth, 41.5 cm.", "Girth, 41.5 centimetres."),
        ("Refill, < 2 s.", "Refill, less than 2 seconds."),
        ("L4 dermatome light touch, reduced.", "L 4 dermatome light touch, reduced."),
        ("Valgus stress test, negative at 30°.", "Valgus stress test, negative at 30 degrees."),
        ("Left-sided, non-tender.", "Left-sided, non-tender."),
        ("Lachman test, left: positive.", "Lachman test, left: positive."),
    ],
)
def test_clinical_text_in_words(text: str, aloud: str) -> None:
    assert spoken(text) == aloud


class Clock:
    """A clock that the test moves."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A synthesiser that writes down what it was given and then takes as long as `length` says."""
    script = tmp_path / "say-it"
    script.write_text(
        '#!/bin/sh\ncat > "$0.text"\nprintf "%s\\n" "$@" > "$0.options"\nexec sleep "$(cat "$0.length")"\n'
    )
    script.chmod(0o755)
    (tmp_path / "say-it.length").write_text("0")
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    return script


def given(command: Path, what: str) -> str:
    """Return what the synthesiser was given, once it has it."""
    path, until = command.with_name(f"{command.name}.{what}"), time.monotonic() + WITHIN_S
    while not (path.exists() and path.read_text()) and time.monotonic() < until:
        time.sleep(0.01)
    return path.read_text()


def long(command: Path) -> None:
    command.with_name(f"{command.name}.length").write_text("600")


def test_the_text_is_given_on_standard_input(command: Path) -> None:
    speaker = Speaker(synthesiser=command.name)
    speaker.speak("Right flexion, 105°.")
    assert speaker.wait(WITHIN_S)
    assert given(command, "text") == "Right flexion, 105 degrees."


def test_text_is_never_read_by_a_shell(command: Path, tmp_path: Path) -> None:
    speaker = Speaker(synthesiser=command.name)
    speaker.speak(f"; touch {tmp_path}/broken $(touch {tmp_path}/broken)")
    assert speaker.wait(WITHIN_S)
    given(command, "options")
    assert not (tmp_path / "broken").exists()


def test_voice_and_volume_are_options_of_the_synthesiser(command: Path) -> None:
    speaker = Speaker(synthesiser=command.name, options=VoiceOptions(voice="en-us", words_a_minute=140, volume=60))
    speaker.speak("Hello.")
    assert given(command, "options").split() == ["-v", "en-us", "-s", "140", "-a", "60", "--stdin"]


def test_a_voice_that_looks_like_an_option_is_refused(command: Path) -> None:
    with pytest.raises(SpeechError, match="no name of a voice"):
        Speaker(synthesiser=command.name, options=VoiceOptions(voice="-w/tmp/x"))


def test_is_speaking_while_the_synthesiser_runs(command: Path) -> None:
    long(command)
    speaker = Speaker(synthesiser=command.name)
    speaker.speak("Hello.")
    assert speaker.speaking
    speaker.stop()


def test_is_still_speaking_for_the_echo(command: Path) -> None:
    clock = Clock()
    speaker = Speaker(synthesiser=command.name, clock=clock)
    speaker.speak("Hello.")
    speaker.wait(WITHIN_S)
    clock.now_s += AFTER_S / 2
    assert speaker.speaking


def test_is_not_speaking_after_the_echo(command: Path) -> None:
    clock = Clock()
    speaker = Speaker(synthesiser=command.name, clock=clock)
    speaker.speak("Hello.")
    speaker.wait(WITHIN_S)
    clock.now_s += AFTER_S
    assert not speaker.speaking


def test_stop_breaks_off(command: Path) -> None:
    long(command)
    speaker = Speaker(synthesiser=command.name)
    speaker.speak("Hello.")
    speaker.stop()
    assert speaker.wait(0)


def test_a_new_text_breaks_off_the_one_before(command: Path) -> None:
    long(command)
    speaker = Speaker(synthesiser=command.name)
    speaker.speak("One.")
    given(command, "text")
    command.with_name("say-it.length").write_text("0")
    speaker.speak("Two.")
    assert speaker.wait(WITHIN_S)
    assert given(command, "text") == "Two."


def test_what_was_spoken_is_known_by_its_times(command: Path) -> None:
    clock = Clock()
    long(command)
    speaker = Speaker(synthesiser=command.name, clock=clock)
    speaker.speak("Hello.")
    clock.now_s += 2.0
    speaker.stop()
    assert speaker.spoken_by_us() == (SpokenByUs(100.0, 102.0 + AFTER_S),)


@pytest.mark.parametrize(
    ("from_s", "to_s", "ours"),
    [(90.0, 99.9, False), (99.0, 100.5, True), (100.5, 101.0, True), (102.1, 103.0, True), (102.5, 104.0, False)],
)
def test_an_utterance_that_overlaps_our_speech_is_ours(command: Path, from_s: float, to_s: float, ours: bool) -> None:
    clock = Clock()
    long(command)
    speaker = Speaker(synthesiser=command.name, clock=clock)
    speaker.speak("Hello.")
    clock.now_s += 2.0
    speaker.stop()
    assert speaker.is_ours(from_s, to_s) is ours


def test_speech_that_goes_on_is_ours(command: Path) -> None:
    clock = Clock()
    long(command)
    speaker = Speaker(synthesiser=command.name, clock=clock)
    speaker.speak("Hello.")
    clock.now_s += 5.0
    assert speaker.is_ours(104.0, 104.5)
    speaker.stop()


def test_nothing_to_say_is_not_spoken(command: Path) -> None:
    speaker = Speaker(synthesiser=command.name)
    speaker.speak("  ")
    assert not speaker.speaking


def test_without_a_synthesiser_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    with pytest.raises(SpeechError, match="apt-get install espeak-ng"):
        Speaker()


def test_a_synthesiser_takes_these_options(tmp_path: Path) -> None:
    """espeak-ng itself makes sound of the text with these options; into a file, for a build machine has no speaker."""
    found = shutil.which("espeak-ng")
    if found is None:
        pytest.skip("needs espeak-ng: apt-get install espeak-ng")
    wav = tmp_path / "said.wav"
    command = [found, *VoiceOptions().arguments(), "-w", str(wav)]
    subprocess.run(command, input=spoken("Right flexion, 105°.").encode(), check=True, timeout=60)
    assert wav.stat().st_size > 20_000  # a second of 22 kHz and more
