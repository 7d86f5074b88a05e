"""How long sound is kept: a small file in the data folder."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from dictate.archive.disk import told, write_whole
from dictate.archive.errors import ArchiveError

SETTINGS_NAME = "settings.toml"
MOST_DAYS = 36_500


class Retention(BaseModel):
    """How long sound stays. Whichever is set and comes first counts; neither keeps it. Notes are always kept."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    sound_days: Annotated[int, Field(ge=0, le=MOST_DAYS)] | None = None  # since the exam ended
    sound_until_signed: bool = False

    @property
    def keeps_all(self) -> bool:
        """Whether no sound is ever removed."""
        return self.sound_days is None and not self.sound_until_signed


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    retention: Retention = Retention()


def read_retention(data: Path) -> Retention:
    """Return how long sound is kept. Raises ArchiveError if that cannot be told: nothing is removed by guess."""
    path = data / SETTINGS_NAME
    try:
        return _Settings.model_validate(tomllib.loads(path.read_text(encoding="utf-8"))).retention
    except FileNotFoundError:
        return Retention()
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise ArchiveError(f"{path}: {where}: {first['msg']}; set it with `dictate archive retention`") from error
    except (OSError, ValueError) as error:
        raise ArchiveError(f"{path} cannot be read ({error}); set it with `dictate archive retention`") from error


def write_retention(data: Path, retention: Retention) -> None:
    """Set how long sound is kept. Raises ArchiveError if the file cannot be written."""
    lines = ["# How long sound is kept; `dictate archive retention` sets it.", "[retention]"]
    if retention.sound_days is not None:
        lines.append(f"sound_days = {retention.sound_days}")
    if retention.sound_until_signed:
        lines.append("sound_until_signed = true")
    path = data / SETTINGS_NAME
    with told(f"{path} cannot be written"):
        write_whole(path, ("\n".join(lines) + "\n").encode())
