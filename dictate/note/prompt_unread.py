"""What was heard and not understood: a value that no finding took is asked about, in the words it was said in."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.contract import Finding, Prompt
from dictate.language.state import Entry, Unread
from dictate.note.asked import Asked


def unread_prompts(asked: Asked) -> list[Prompt]:
    """Return one prompt for each statement with a value of which no finding came."""
    return [asked.texts.make("not_understood", findings=list(near), said=said) for said, near in asked.unread]


def with_neighbours(
    unread: Sequence[Unread], entries: Sequence[Entry], findings: Sequence[Finding]
) -> list[tuple[str, tuple[int, ...]]]:  # fmt: skip
    """Return the words of each with the place in `findings` of what was found last before them in the same utterance.

    People may have added and taken away findings since they were read, so that places are looked up by their words.
    """
    out = []
    for words in unread:
        said = [e.finding.said for e in entries if e.utterance == words.utterance and e.words[0] <= words.words[0]]
        near = [place for place, finding in enumerate(findings) if said and finding.said == said[-1]]
        out.append((words.said, tuple(near[-1:])))
    return out
