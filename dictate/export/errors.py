"""What can go wrong in handing a note on."""

from __future__ import annotations

from dictate.errors import DictateError


class ExportError(DictateError):
    """A format that cannot be written here, or what was given beside the note cannot be used."""


class ImportRefused(DictateError):
    """A file that does not hold a note, or holds one that was changed since it was written."""
