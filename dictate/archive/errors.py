"""What can go wrong in keeping exams."""

from __future__ import annotations

from dictate.errors import DictateError


class ArchiveError(DictateError):
    """A data folder that cannot be kept as asked; what is in it stays as it is."""
