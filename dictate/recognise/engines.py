"""Which recogniser to use, and which models are installed."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict

import platformdirs

from dictate.errors import RecogniserError
from dictate.recognise.protocol import Recogniser
from dictate.recognise.vosk import VoskRecogniser, is_vosk_model
from dictate.recognise.weights import embedded_model_dir, is_whisper_model
from dictate.recognise.whisper import WhisperRecogniser

ENGINES = ("vosk", "whisper")
MODEL_VARIABLE = "DICTATE_MODEL"  # environment variable: the folder of a model, for either engine


@dataclass(frozen=True, slots=True, kw_only=True)
class InstalledModel:
    """A model that `open_recogniser` can use."""

    engine: str  # one of ENGINES
    name: str
    folder: Path
    embedded: bool = False  # came with the program


def models_folder() -> Path:
    """Return the folder in which models are looked for, and into which they are fetched."""
    return Path(platformdirs.user_data_dir("dictate", appauthor=False)) / "models"


def installed_models() -> list[InstalledModel]:
    """Return the usable models, in the order in which `open_recogniser` prefers them."""
    models = []
    named = os.environ.get(MODEL_VARIABLE)
    if named and (engine := _engine_of(Path(named))):
        models.append(InstalledModel(engine=engine, name=Path(named).name, folder=Path(named)))
    models += [InstalledModel(engine="vosk", name=folder.name, folder=folder) for folder in _english_vosk_folders()]
    with suppress(RecogniserError):  # the list is of what there is; opening it says what is wrong
        models.append(
            InstalledModel(engine="whisper", name="tiny.en (embedded)", folder=embedded_model_dir(), embedded=True)
        )
    return models


def open_recogniser(
    engine: str | None = None, model_dir: str | Path | None = None, *, partials_every_s: float | None = None,
    lag_s: Callable[[], float] = lambda: 0.0,
) -> Recogniser:  # fmt: skip
    """Return a recogniser: Vosk if an English model is given or found, else whisper with the embedded weights.

    Args:
        engine: "vosk" or "whisper"; None to go by the model.
        model_dir: the folder of a model; None to look at the environment variable DICTATE_MODEL, then in the user's
            data folder. What is named is used or refused, never passed over.
        partials_every_s, lag_s: as for `WhisperRecogniser`; Vosk gives partials in any case.

    Raises:
        RecogniserError: unknown engine, no such model, or a model or library that cannot be used.
    """
    if engine is not None and engine not in ENGINES:
        raise RecogniserError(f"there is no engine {engine!r}; choose one of {', '.join(ENGINES)}")
    live = _Live(partials_every_s=partials_every_s, lag_s=lag_s) if partials_every_s is not None else {}
    named = model_dir or os.environ.get(MODEL_VARIABLE)
    if named:
        folder = Path(named)
        found = _engine_of(folder)
        if found is None:
            raise RecogniserError(f"{folder} holds neither a Vosk nor a converted whisper model; give another folder")
        if engine is None or engine == found:
            return VoskRecogniser(folder) if found == "vosk" else WhisperRecogniser(folder, **live)
        if model_dir:
            raise RecogniserError(f"{folder} holds a model for {found}, not {engine}; name another engine or folder")
    vosk_folders = _english_vosk_folders()
    if engine == "vosk" and not vosk_folders:
        raise RecogniserError(f"no English Vosk model is installed; fetch one into {models_folder()}, or use whisper")
    if engine != "whisper" and vosk_folders:
        return VoskRecogniser(vosk_folders[0])
    return WhisperRecogniser(**live)


class _Live(TypedDict, total=False):
    partials_every_s: float | None
    lag_s: Callable[[], float]


def _engine_of(folder: Path) -> str | None:
    if is_vosk_model(folder):
        return "vosk"
    return "whisper" if is_whisper_model(folder) else None


def _english_vosk_folders() -> list[Path]:
    """Return the English models in the user's data folder, the largest first: larger ones hear better."""
    root = models_folder()
    folders = [path for path in root.glob("vosk-model-*") if "en" in path.name.split("-") and is_vosk_model(path)]
    return sorted(folders, key=lambda path: (-(path / "am/final.mdl").stat().st_size, path.name))
