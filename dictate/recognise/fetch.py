"""Fetch a Vosk model, only when told to: the one place of this room that may use the network."""

from __future__ import annotations

import hashlib
import json
import logging
import re
import shutil
import stat
import tempfile
import zipfile
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import urlopen

from dictate.errors import RecogniserError
from dictate.recognise.vosk import is_vosk_model

_log = logging.getLogger(__name__)

OFFICIAL_URL = "https://alphacephei.com/vosk/models"
DEFAULT_MODEL = "vosk-model-small-en-us-0.15"  # about 40 MB, Apache-2.0
_NAME = re.compile(r"vosk-model-[A-Za-z0-9.-]+")
_LARGEST_BYTES = 8 * 2**30  # unpacked; the largest English model is about 3 GB
_TIMEOUT_S = 30
_COPY_BYTES = 1 << 20


def fetch_vosk_model(name: str = DEFAULT_MODEL, into: str | Path | None = None, *, url: str = OFFICIAL_URL) -> Path:
    """Download the model `name` from Vosk's own site, check it, and put it at `into`/`name`; return that folder.

    It is checked against the length and MD5 sum of the site's list (that finds a broken download; HTTPS vouches for the
    sender), and unpacked aside: the folder appears whole or not at all. A model that is there already is left alone.

    Raises:
        RecogniserError: no network, no such model, or a download that is not what the list promised.
    """
    from dictate.recognise.engines import models_folder

    if not _NAME.fullmatch(name) or ".." in name:
        raise RecogniserError(f"{name!r} is not the name of a Vosk model; one is {DEFAULT_MODEL}")
    root = Path(into) if into is not None else models_folder()
    target = root / name
    if is_vosk_model(target):
        return target
    if target.exists():
        raise RecogniserError(f"{target} is there but is no whole model; remove it and fetch again")
    try:
        root.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=root, prefix=".fetch-") as aside:
            archive = Path(aside) / "model.zip"
            entry = _entry(name, url)
            _download(f"{url}/{name}.zip", archive)
            _check(archive, entry, name)
            unpack(archive, Path(aside) / "unpacked", name)
            (Path(aside) / "unpacked" / name).rename(target)
    except (URLError, TimeoutError, ConnectionError) as error:
        raise RecogniserError(
            f"cannot reach {url} ({_reason(error)}); fetch {name}.zip on another machine and unpack it into {root}"
        ) from error
    except OSError as error:
        raise RecogniserError(f"cannot write to {root} ({error.strerror or error}); give another folder") from error
    return target


def unpack(archive: Path, into: Path, name: str) -> None:
    """Unpack a model's zip. Raises RecogniserError if anything in it would land outside `into`/`name`."""
    try:
        with zipfile.ZipFile(archive) as zipped:
            members = zipped.infolist()
            if sum(member.file_size for member in members) > _LARGEST_BYTES:
                raise RecogniserError(f"{name}.zip unpacks to more than a model can hold; it was not unpacked")
            for member in members:
                parts = Path(member.filename.replace("\\", "/")).parts
                if not parts or parts[0] != name or ".." in parts or stat.S_ISLNK(member.external_attr >> 16):
                    raise RecogniserError(f"{name}.zip holds {member.filename!r}, which is out of place; not unpacked")
            zipped.extractall(into)  # checks each member's CRC
    except (zipfile.BadZipFile, NotImplementedError) as error:
        raise RecogniserError(f"{name}.zip is damaged; fetch it again") from error
    if not is_vosk_model(into / name):
        raise RecogniserError(f"{name}.zip holds no Vosk model; choose another name")


def _entry(name: str, url: str) -> dict[str, object]:
    with _open(f"{url}/model-list.json") as response:
        try:
            models = json.load(response)
            return next(dict(model) for model in models if model["name"] == name)
        except (ValueError, KeyError, TypeError) as error:
            raise RecogniserError(f"the list of models at {url} cannot be read; try again later") from error
        except StopIteration:
            raise RecogniserError(f"{url} has no model {name!r}; one is {DEFAULT_MODEL}") from None


def _open(url: str) -> Any:
    parts = urlsplit(url)
    if parts.scheme != "https" and (parts.scheme, parts.hostname) != ("http", "127.0.0.1"):  # a mirror on this machine
        raise RecogniserError(f"{url} is no HTTPS address; models are fetched by HTTPS only")
    return urlopen(url, timeout=_TIMEOUT_S)  # noqa: S310 (the scheme was checked)


def _download(url: str, path: Path) -> None:
    with _open(url) as response, path.open("wb") as file:
        shutil.copyfileobj(response, file, _COPY_BYTES)


def _check(archive: Path, entry: dict[str, object], name: str) -> None:
    size, md5 = entry.get("size"), entry.get("md5")
    if isinstance(size, int) and size != archive.stat().st_size:
        there = archive.stat().st_size
        raise RecogniserError(f"{name}.zip arrived incomplete ({there} of {size} bytes); fetch it again")
    if not md5:
        _log.warning("the list gives no check sum for %s; only the archive's own sums are checked", name)
        return
    with archive.open("rb") as file:
        if hashlib.file_digest(file, lambda: hashlib.md5(usedforsecurity=False)).hexdigest() != str(md5).lower():
            raise RecogniserError(f"{name}.zip is not what the list promised (MD5 differs); fetch it again")


def _reason(error: Exception) -> str:
    return str(getattr(error, "reason", None) or error or "timed out")
