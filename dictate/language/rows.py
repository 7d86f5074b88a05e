"""What the trained models see of a line: for each word, what it names and which talk it opens."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pycrfsuite

from dictate.errors import LexiconError
from dictate.language.mentions import Mention

OUTSIDE = "-"


def opened(model: Path) -> pycrfsuite.Tagger:
    """Return a trained model, ready to be asked. Raises LexiconError where the file is missing or is none."""
    tagger = pycrfsuite.Tagger()
    try:
        tagger.open(str(model))
    except (OSError, ValueError) as error:
        raise LexiconError(f"{model}: cannot be read ({error}); restore the file by installing again") from error
    return tagger


def named_row(content: Sequence[Mention], length: int) -> list[str]:
    """Return, for each word, what kind of thing it names: "B…" where that begins, "I…" where it goes on."""
    row = [OUTSIDE] * length
    for mention in content:
        for place in range(mention.start, mention.end):
            row[place] = ("B" if place == mention.start else "I") + _kind(mention)
    return row


def spoken_row(talk: Sequence[Mention], length: int) -> list[str]:
    """Return, for each word, which kind of talk it opens or belongs to."""
    row = [OUTSIDE] * length
    for mention in talk:
        cue = mention.senses[0].cue
        for place in range(mention.start, mention.end) if cue else ():
            row[place] = f"{'B' if place == mention.start else 'I'}{cue.type}:{cue.value or ''}" if cue else OUTSIDE
    return row


def _kind(mention: Mention) -> str:
    """Return what kind of thing a mention names, as coarse as tells where statements end."""
    if mention.quantity is not None:
        return f"number:{mention.quantity.unit or ''}{'grade' if mention.quantity.is_grade else ''}"
    if mention.levels:
        return "level"
    sense = mention.senses[0]
    if sense.term:
        return f"{sense.term.kind}:{sense.shape}"
    if sense.cue:
        told = sense.cue.type in ("side", "status")
        return f"{sense.cue.type}:{sense.cue.value if told else ''}"
    return sense.shape
