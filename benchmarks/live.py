"""A live exam in real time: how late words and findings come, how far recognition lags, and whether memory grows.

    python -m benchmarks.live                          # three fixtures, one after the other, as if spoken now
    python -m benchmarks.live FILE [FILE ...]
    python -m benchmarks.live --idle [FILE ...]        # what an idle machine with two cores would do (see below)
    python -m benchmarks.live --long MINUTES           # fixtures joined, fed as fast as they are heard: memory, lag
    python -m benchmarks.live --cost                   # one step of the fold, and one view, as findings add up

Late is: partial words, from when their utterance began or from the partial before, once by the clock and once in
seconds of speech (by the voice detector; the pause at a comma is none); an utterance, from the moment at which its
pause had lasted long enough to end it (`endpoint_s`). That moment comes 0.6 s after the last word.

`--idle` is for machines that are busy with other work: nothing is timed but the processor time of the recogniser's
calls, and half of it is taken for what two idle cores need. Journal, fold and view are not in it; see `--cost`.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from benchmarks.pipeline import FIXTURES, USUAL, joined
from dictate.audio import frames_of_file
from dictate.audio.endpoint import EndpointOptions
from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.audio.source import FileSource
from dictate.audio.voice import WINDOW_SAMPLES, VoiceDetector
from dictate.favour import favoured_terms
from dictate.interface import reader_of
from dictate.journal.events import Opened
from dictate.live.picture import draft_note, picture, touched
from dictate.live.session import Session
from dictate.live.view import View
from dictate.live.worker import PARTIALS_EVERY_S
from dictate.note.fold import hear, start
from dictate.recognise.events import Utterance
from dictate.recognise.whisper import WhisperRecogniser

_SAMPLE_EVERY_S = 0.1


class _Watched:
    """A session that notes when it was told what."""

    def __init__(self, path: Path, *, speed: float | None, data: Path) -> None:
        self.source = FileSource(path, speed=speed)
        self.session = Session(self.source, data=data)
        self.told: list[tuple[float, Utterance]] = []
        self.partials: list[float] = []
        self.lags: list[float] = []
        self.began = 0.0

    def start(self) -> None:
        """Start the exam, with its ear put to the watch."""
        self.session.start()
        words = self.session.words
        heard, heard_partial = words.heard, words.heard_partial

        def watched(utterance: Utterance) -> Sequence[str]:
            terms = heard(utterance)
            self.told.append((time.monotonic() - self.began, utterance))
            return terms

        def watched_partial(text: str) -> None:
            heard_partial(text)
            if text:
                self.partials.append(time.monotonic() - self.began)

        words.heard, words.heard_partial = watched, watched_partial  # type: ignore[method-assign]
        while self.source._began is None:
            time.sleep(0.001)
        self.began = self.source._began


def real_time(path: Path) -> None:
    """Hear one recording as if it were spoken now, and print how late its words came."""
    with tempfile.TemporaryDirectory() as folder:
        watch = _Watched(path, speed=1.0, data=Path(folder))
        watch.start()
        session = watch.session
        while not session.wait(_SAMPLE_EVERY_S):
            watch.lags.append(session.view().lag_s)
        seconds = session.view().seconds
        session.close()
    report(path, seconds, watch.told, watch.partials, watch.lags)


def idle(path: Path) -> None:
    """Hear one recording on a clock that only the recogniser's own processor time moves on."""
    clock = _Clock()
    recogniser = WhisperRecogniser(
        partials_every_s=PARTIALS_EVERY_S, lag_s=lambda: clock.now_s - clock.sound_s, clock=processor_s
    )
    reader = reader_of()
    heard = start(reader)
    recogniser.favour(favoured_terms(heard.state.context, reader.lexicon))
    told: list[tuple[float, Utterance]] = []
    partials, lags = [], []
    for frame in frames_of_file(path):
        clock.sound_s = frame.end_s
        clock.now_s = max(clock.now_s, frame.end_s)
        lags.append(clock.now_s - frame.end_s)
        began = processor_s()
        for event in recogniser.accept(frame):
            at_s = clock.now_s + processor_s() - began
            if isinstance(event, Utterance):
                told.append((at_s, event))
                heard = hear(heard, event, reader)
                recogniser.favour(favoured_terms(heard.state.context, reader.lexicon))
            else:
                partials.append(at_s)
        clock.now_s += processor_s() - began
    report(path, clock.sound_s, told, partials, lags)


class _Clock:
    now_s = sound_s = 0.0


def processor_s() -> float:
    """Return the processor time of this process, as two cores would share it."""
    return time.process_time() / 2


def report(
    path: Path, seconds: float, told: Sequence[tuple[float, Utterance]], partials: Sequence[float], lags: list[float]
) -> None:
    late = [at_s - (utterance.endpoint_s or 0.0) for at_s, utterance in told]
    print(f"{path.stem}: {seconds:.0f} s, {len(late)} utterances")
    gaps = partial_gaps(told, partials)
    voiced = voiced_s(path)
    rows = (
        ("utterance after its pause", late),
        ("partial after", [after - before for before, after in gaps]),
        ("partial after, of speech", [voiced(after) - voiced(before) for before, after in gaps]),
        ("lag", lags),
    )
    for name, values in rows:
        middle, most = np.percentile(values, [50, 95])
        print(f"  {name:<26} p50 {middle:.2f} s, p95 {most:.2f} s, max {max(values):.2f} s", flush=True)


def partial_gaps(
    told: Sequence[tuple[float, Utterance]], partials: Sequence[float]
) -> list[tuple[float, float]]:  # fmt: skip
    """Return the stretches without new words in utterances: to each partial, from the one before or the start."""
    gaps: list[tuple[float, float]] = []
    for _, utterance in told:
        begin_s, end_s = utterance.words[0].start_s, utterance.words[-1].end_s
        shown = [at_s for at_s in partials if begin_s <= at_s < end_s]
        gaps += pairwise([begin_s, *shown, end_s])
    return gaps or [(0.0, 0.0)]


def voiced_s(path: Path) -> Callable[[float], float]:
    """Return what tells how many seconds of speech a recording holds up to a moment, by the voice detector."""
    detector, least = VoiceDetector(), EndpointOptions().stop_probability
    sound = np.concatenate([frame.samples for frame in frames_of_file(path)])
    windows = sound[: len(sound) // WINDOW_SAMPLES * WINDOW_SAMPLES].reshape(-1, WINDOW_SAMPLES)
    window_s = WINDOW_SAMPLES / SAMPLE_RATE_HZ
    so_far = np.concatenate([[0.0], np.cumsum(detector.probabilities(windows) >= least) * window_s])
    ends = np.arange(len(so_far)) * window_s
    return lambda at_s: float(np.interp(at_s, ends, so_far))


def long(minutes: float) -> None:
    """Hear fixtures joined to a long recording, as fast as they are recognised, and print what memory does."""
    with tempfile.TemporaryDirectory() as folder:
        path = joined(minutes, Path(folder))
        watch = _Watched(path, speed=None, data=Path(folder) / "data")
        watch.start()
        session = watch.session
        begun = time.monotonic()
        reported = 0
        print("heard min | ours MB | recogniser's MB | findings | s per minute of sound")
        while not session.wait_closed(1.0):
            view = session.view()
            heard_s = view.seconds - view.lag_s
            if heard_s >= reported + 300 or (session.wait(0.0) and view.lag_s == 0.0):
                reported = int(heard_s)
                cost = (time.monotonic() - begun) / (heard_s / 60)
                ours, theirs = resident_mb("self"), resident_mb(session.recogniser_process)
                print(
                    f"{heard_s / 60:9.1f} | {ours:7.0f} | {theirs:15.0f} | {view.findings:8} | {cost:.1f}", flush=True
                )
            if session.wait(0.0) and view.lag_s == 0.0:
                break
        session.close()


def resident_mb(process: object) -> float:
    """Return the memory that a process holds now."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * 4096 / 2**20


def cost() -> None:
    """Print what one step of the fold and one view cost as findings add up."""
    reader = reader_of()
    lines = [line for path in sorted(FIXTURES.glob("*.txt")) for line in path.read_text().splitlines() if line.strip()]
    opened = Opened(exam="", program="", lexicon="", source="live")
    heard, view, steps, next_report = start(reader), View(), [], 100
    while len(heard.state.entries) < 1000:
        for line in lines:
            begin = time.perf_counter()
            before, heard = heard, hear(heard, Utterance.of_text(line), reader)
            did = touched(before, heard)
            favoured_terms(heard.state.context, reader.lexicon)
            steps.append(time.perf_counter() - begin)
            if len(heard.state.entries) >= next_report:
                begin = time.perf_counter()
                note = draft_note(heard, opened, reader.lexicon)
                picture(view, heard, note, fresh=did.entries, trace=())
                shown = time.perf_counter() - begin
                step_ms, view_ms = np.median(steps[-50:]) * 1000, shown * 1000
                print(f"{len(heard.state.entries):5} findings: a step {step_ms:.1f} ms, a view {view_ms:.0f} ms")
                next_report += 100


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("files", nargs="*", type=Path)
    arguments.add_argument("--long", type=float, metavar="MINUTES")
    arguments.add_argument("--idle", action="store_true")
    arguments.add_argument("--cost", action="store_true")
    options = arguments.parse_args()
    if options.cost:
        cost()
    elif options.long:
        long(options.long)
    else:
        for path in options.files or [FIXTURES / f"{name}.flac" for name in USUAL]:
            (idle if options.idle else real_time)(path)


if __name__ == "__main__":
    main()
