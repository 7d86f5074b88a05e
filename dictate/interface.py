"""The Python interface: a recording or a transcript in, the note out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from dictate.contract import Note, Region
from dictate.errors import LexiconError
from dictate.favour import favoured_terms
from dictate.language.reader import Reader
from dictate.lexicon.load import load_lexicon
from dictate.lexicon.reference_model import reference_of
from dictate.note.assemble import InjuredSide, Sex, assemble
from dictate.note.fold import Heard, conclude, fold, hear, start
from dictate.note.prompt_texts import prompt_texts
from dictate.recognise.events import Utterance

if TYPE_CHECKING:
    from dictate.audio.frame import Frame
    from dictate.recognise.protocol import Recogniser

Progress = Callable[[float, float], None]  # seconds heard so far, seconds in all


def interpret(
    text: str | Iterable[str], *, region: Region | None = None, injured_side: InjuredSide | None = None,
    age: float | None = None, sex: Sex | None = None, lexicon_dir: str | Path | None = None,
) -> Note:  # fmt: skip
    """Return the note of a transcript.

    Args:
        text: the transcript, one utterance a line; or the lines.
        region: the region examined; else taken from what is said, else the knee.
        injured_side: else taken from what is said.
        age: of the patient in years; some decision rules need it.
        sex: of the patient.
        lexicon_dir: a folder of lexicon files laid over the built-in ones.

    Raises:
        dictate.errors.LexiconError: a lexicon file cannot be used.

    >>> interpret("Right knee, flexion one twenty.").findings[0].degrees
    120.0
    """
    lines = text.splitlines() if isinstance(text, str) else text
    reader = reader_of(lexicon_dir)
    said = [Utterance.of_text(line) for line in lines]
    heard = fold(said, reader, heard=start(reader, region=region, injured_side=injured_side, said=said))
    return assemble(
        heard.state, lexicon=reader.lexicon, source="text", region=region, injured_side=injured_side, age=age, sex=sex,
        introduced_late=heard.introduced_late, passed_over=len(heard.passed_over),
    )  # fmt: skip


def transcribe(
    audio_path: str | Path, *, engine: str | None = None, model_dir: str | Path | None = None,
    region: Region | None = None, injured_side: InjuredSide | None = None, age: float | None = None,
    sex: Sex | None = None, lexicon_dir: str | Path | None = None, progress: Progress | None = None,
) -> Note:  # fmt: skip
    """Return the note of a recording, heard in bounded memory whatever its length.

    Args:
        audio_path: WAV, FLAC, OGG, Opus or MP3; any rate and number of channels.
        engine: "whisper" or "vosk"; else the best that is installed.
        model_dir: folder with the engine's weights; else the embedded ones, or those in the user's data folder.
        region, injured_side, age, sex, lexicon_dir: as for `interpret`.
        progress: called with the seconds heard so far and the length in seconds.

    Raises:
        dictate.errors.UnusableInput: the recording cannot be read.
        dictate.errors.RecogniserError: weights or library of the recogniser are missing or unfit.
        dictate.errors.LexiconError: a lexicon file cannot be used.
    """
    from dictate.audio import duration_s, frames_of_file  # sound is imported only where there is sound
    from dictate.recognise.engines import open_recogniser

    seconds = duration_s(audio_path)
    frames = frames_of_file(audio_path)
    reader = reader_of(lexicon_dir)
    recogniser = open_recogniser(engine=engine, model_dir=model_dir)
    if progress:
        frames = watched(frames, progress, seconds)
    heard = start(reader, region=region, injured_side=injured_side)
    said: list[Utterance] = []
    for now in hear_frames(frames, recogniser, reader, heard=heard, said=said):
        heard = now
    heard = conclude(heard, said, reader, region=region, injured_side=injured_side)
    return assemble(
        heard.state, lexicon=reader.lexicon, source="file", seconds=round(seconds, 3), region=region,
        injured_side=injured_side, age=age, sex=sex,
        introduced_late=heard.introduced_late, passed_over=len(heard.passed_over),
    )  # fmt: skip


def hear_frames(
    frames: Iterable[Frame], recogniser: Recogniser, reader: Reader, *, heard: Heard,
    said: list[Utterance] | None = None,
) -> Iterator[Heard]:  # fmt: skip
    """Yield what was heard after each utterance, telling the recogniser which terms to favour as the exam goes on.

    The utterances themselves are added to `said`, for a reading of the whole once it is known.
    """
    from dictate.recognise.protocol import recognise

    stands = None
    recogniser.favour(favoured_terms(heard.state.context, reader.lexicon))
    for event in recognise(frames, recogniser):
        if not isinstance(event, Utterance):
            continue
        heard = hear(heard, event, reader)
        if said is not None:
            said.append(event)
        context = heard.state.context
        if stands != (context.region, context.section):
            stands = (context.region, context.section)
            recogniser.favour(favoured_terms(context, reader.lexicon))
        yield heard


def watched(frames: Iterable[Frame], progress: Progress, seconds: float) -> Iterator[Frame]:
    """Yield frames, telling of each how far that is."""
    for frame in frames:
        yield frame
        progress(frame.end_s, seconds)


@lru_cache(maxsize=4)
def reader_of(lexicon_dir: str | Path | None = None) -> Reader:
    """Return the reader of a lexicon, made once. Raises LexiconError if a file of it cannot be used."""
    try:
        lexicon = load_lexicon(Path(lexicon_dir) if lexicon_dir else None)
        reference_of(lexicon.reference)  # checked now, lest a broken rule only show in an exam that it applies to
        prompt_texts(lexicon)
        return Reader(lexicon)
    except (KeyError, TypeError, AttributeError, ValueError) as error:  # a file whose shape nothing checked before
        where = lexicon_dir or "the built-in lexicon"
        raise LexiconError(
            f"{where}: a file lacks something or has it in the wrong shape ({error}); "
            f"run `dictate lexicon check {lexicon_dir or ''}".rstrip()
            + "` to find it"
        ) from error
