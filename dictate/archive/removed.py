"""The record of exams that were removed: one line each, chained as a journal's lines are, and only ever appended to.

It is written before anything of the exam is, so that a removal that was cut short is completed at the next start.
"""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from dictate.archive.disk import told, write_all
from dictate.archive.errors import ArchiveError
from dictate.journal.events import now
from dictate.journal.exam import sync_folder
from dictate.journal.journal import START, chained

REMOVED_NAME = "removed.jsonl"
_EXAM = r"^\d{4}-\d{2}-\d{2}T\d{6}-[a-z2-7]{4}$"


class Record(BaseModel):
    """That an exam was removed, or brought back from a backup after that."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: Literal["removed", "restored"]
    exam: str = Field(pattern=_EXAM)
    at: AwareDatetime = Field(default_factory=now)
    why: str = Field(default="", max_length=400)


@dataclass(frozen=True, slots=True)
class Removals:
    """What the record holds; `broken_line` counts from 1 and is None when all of it is as it was written."""

    records: tuple[Record, ...]
    chain: str = START
    size: int = 0
    broken_line: int | None = None


def read_removals(data: Path) -> Removals:
    """Read the record as far as it is sound; a torn last line does not count. Raises ArchiveError."""
    path = data / REMOVED_NAME
    with told(f"{path} cannot be read"):
        try:
            handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC)
        except FileNotFoundError:
            return Removals(())
        with os.fdopen(handle, "rb") as file:
            content = file.read()
    return _parsed(content)


def removed_exams(data: Path) -> dict[str, datetime]:
    """Return the exams that are removed, with the time of it. A damaged line removes nothing."""
    removed: dict[str, datetime] = {}
    for record in read_removals(data).records:
        if record.kind == "removed":
            removed[record.exam] = record.at
        else:
            removed.pop(record.exam, None)
    return removed


def record_removals(data: Path, records: Sequence[Record]) -> None:
    """Append to the record. On return it is on disk. Raises ArchiveError if it cannot be written, or is damaged."""
    path = data / REMOVED_NAME
    with told(f"{path} cannot be written"):
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            size = os.fstat(handle).st_size
            kept = _parsed(os.pread(handle, size, 0))
            if kept.broken_line is not None:
                raise ArchiveError(
                    f"{path}, line {kept.broken_line} is not what was written; restore it from a backup, or move it "
                    "away to begin another one: nothing was removed"
                )
            if kept.size < size:
                os.ftruncate(handle, kept.size)  # the torn end of a line that never counted
            chain = kept.chain
            for record in records:
                body = record.model_dump_json().encode()
                chain = chained(chain, body)
                write_all(handle, body[:-1] + f',"chain":"{chain}"}}\n'.encode())
            os.fsync(handle)
        finally:
            os.close(handle)
        sync_folder(data)


def _parsed(content: bytes) -> Removals:
    records: list[Record] = []
    chain, size = START, 0
    for line in content.split(b"\n")[:-1]:
        try:
            fields = json.loads(line)
            own = str(fields.pop("chain"))
            record = Record.model_validate(fields)
        except (ValueError, LookupError, AttributeError, TypeError, ValidationError):
            return Removals(tuple(records), chain, size, len(records) + 1)
        after = chained(chain, record.model_dump_json().encode())
        if own != after:
            return Removals(tuple(records), chain, size, len(records) + 1)
        records.append(record)
        chain, size = after, size + len(line) + 1
    return Removals(tuple(records), chain, size)
