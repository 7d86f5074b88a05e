"""A spoken musculoskeletal examination becomes a structured note: offline, with every doubt shown.

`interpret` reads a transcript, `transcribe` a recording; both return a `Note`, which holds `Finding`s with their
`Doubt`s, a `SectionCoverage` for each section of the exam plan, and `Prompt`s. Whatever cannot be used raises a
`DictateError`.

>>> import dictate
>>> note = dictate.interpret("Right knee, lacks ten, flexes to one twenty.")
>>> [(finding.side, finding.finding, finding.degrees) for finding in note.findings]
[('right', 'extension', -10.0), ('right', 'flexion', 120.0)]
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.contract import Doubt, Exam, Finding, Grade, Measure, Note, Prompt, Replaced, SectionCoverage
    from dictate.errors import DictateError
    from dictate.interface import interpret, transcribe
    from dictate.note.text import text_of

__version__ = "0.1.0"
__all__ = [
    "DictateError", "Doubt", "Exam", "Finding", "Grade", "Measure", "Note", "Prompt", "Replaced", "SectionCoverage",
    "interpret", "text_of", "transcribe",
]  # fmt: skip

_HOME = {
    "DictateError": "dictate.errors",
    "interpret": "dictate.interface",
    "transcribe": "dictate.interface",
    "text_of": "dictate.note.text",
}


def __getattr__(name: str) -> Any:
    """Import what is asked for when it is asked for, so that importing `dictate` costs next to nothing."""
    if name not in __all__:
        raise AttributeError(f"module 'dictate' has no attribute {name!r}")
    return getattr(import_module(_HOME.get(name, "dictate.contract")), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
