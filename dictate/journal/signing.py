"""Signing: a digest over the note and the journal up to it, and telling whether anything was changed since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dictate.journal.events import Closed, Edited, Event, Purged, Signed
from dictate.journal.journal import START, journal_content, parse_journal
from dictate.journal.sound import digest_of_sound


@dataclass(frozen=True, slots=True)
class Check:
    """What became of an exam since it was signed. `faults` is empty when all is as it was written."""

    signatures: tuple[Signed, ...]
    edits_since: tuple[Edited, ...]  # changes that no addendum has signed yet
    faults: tuple[str, ...]
    events: tuple[Event, ...] = ()  # as far as they can be trusted

    @property
    def sound(self) -> bool:
        """Whether everything is as it was written."""
        return not self.faults


def digest_of(signed: Signed, chain: str) -> str:
    """Return the digest that a signature freezes: of the note, of who signed it and when, and of all events before.

    Args:
        signed: the signature; what its `digest` and `n` say does not count.
        chain: of the journal before it.
    """
    return digest_of_line(signed.model_dump_json(by_alias=True).encode(), chain)


def digest_of_line(line: bytes, chain: str) -> str:
    """Return the digest of a signature as it stands in the journal: fields that a later program adds do not change it.

    Args:
        line: JSON of the event; what its `digest`, `n` and `chain` say does not count, nor the order of its fields.
        chain: of the journal before it.
    """
    content = {name: value for name, value in json.loads(line).items() if name not in ("digest", "n", "chain")}
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(f"{chain}\n{canonical}".encode("utf-8", "surrogatepass")).hexdigest()


def with_digest(signed: Signed, chain: str) -> Signed:
    """Return a signature with its digest in it."""
    return signed.model_copy(update={"digest": digest_of(signed, chain)})


def check(journal_path: Path) -> Check:
    """Compare an exam with its own signatures and digests. Raises JournalError if it cannot be read at all.

    Whoever may write the folder could write it anew as a whole; so a handed-on note carries its digest.
    """
    found = check_journal(journal_content(journal_path))
    return replace(found, faults=(*found.faults, *_sound_faults(journal_path.parent, found.events)))


def check_journal(content: bytes) -> Check:
    """Compare the content of a journal with its own signatures, without the exam's sound."""
    reading = parse_journal(content)
    lines = content[: reading.size].split(b"\n")[:-1]
    chains = [START, *(line[-66:-2].decode() for line in lines)]
    faults = []
    if reading.broken_line is not None:
        faults.append(f"line {reading.broken_line} of the journal {reading.why}")
    signatures = [event for event in reading.events if isinstance(event, Signed)]
    faults += [
        f"the note signed by {signed.name} at {signed.at:%Y-%m-%d %H:%M} UTC is not what was signed"
        for signed in signatures
        if digest_of_line(lines[signed.n], chains[signed.n]) != signed.digest
    ]
    last = signatures[-1].n if signatures else len(reading.events)
    since = tuple(event for event in reading.events[last + 1 :] if isinstance(event, Edited))
    return Check(tuple(signatures), since, tuple(faults), reading.events)


def _sound_faults(folder: Path, events: Sequence[Event]) -> list[str]:
    digests: dict[str, str] = {}
    purged: set[str] = set()
    for event in events:
        if isinstance(event, Closed):
            digests = event.sounds
        elif isinstance(event, Purged):
            purged.update(event.files)
    faults = []
    for file, digest in digests.items():
        now = digest_of_sound(folder / file)
        if not now and file not in purged:
            faults.append(f"{file} is gone, and no purge of it was recorded")
        elif now and now != digest:
            faults.append(f"{file} is not the sound that was recorded")
    return faults
