"""A finding typed as one would say it: read from where the exam stood, and shown before it counts."""

from __future__ import annotations

from dataclasses import replace

from pydantic import BaseModel, ConfigDict, Field

from dictate.contract import Finding
from dictate.errors import DictateError
from dictate.language.reader import Reader
from dictate.language.state import State
from dictate.recognise.events import Utterance
from dictate.review.reading import Said, utterance_number


class Typed(BaseModel):
    """Words typed on the page. `key` names the finding that they replace, `utterance` the one that they follow."""

    model_config = ConfigDict(extra="forbid")

    text: str = Field(max_length=2000)
    key: str | None = Field(default=None, max_length=40)
    utterance: int | None = Field(default=None, ge=0)


class ReadsBack(DictateError):
    """Typed words that would change what was said earlier."""


def read_typed(typed: Typed, said: Said, reader: Reader, *, now: Finding | None = None) -> list[Finding]:
    """Return the findings that typed words make.

    Args:
        typed: the words.
        said: the exam's words, which give section, region and side where the typed ones do not.
        reader: reads them.
        now: the finding that they are to replace; its section, region and side are where the exam stands then.

    Raises:
        ReadsBack: the words correct an earlier finding instead of making one.
    """
    utterance = Utterance.of_text(typed.text)
    if not utterance.words:
        return []
    state = _before(typed, said)
    if now is not None:
        side = now.side if now.side in ("left", "right") else ""
        context = replace(
            state.context, region=now.region, region_said=True, section=now.section, side=side, last_side=side
        )
        state = State(context=context, utterances=state.utterances)
    after = reader.step(state, utterance)
    fresh = [entry.finding for entry in after.entries if entry.utterance == state.utterances]
    earlier = [entry.finding for entry in after.entries if entry.utterance != state.utterances]
    if earlier != [entry.finding for entry in state.entries]:
        raise ReadsBack("these words would correct a finding that was said earlier; change that one instead")
    return fresh


def _before(typed: Typed, said: Said) -> State:
    number = utterance_number(typed.key) if typed.key else typed.utterance
    if number is None or number + 1 >= len(said.steps):
        return said.heard.state
    return said.steps[number + 1].state
