"""What a person should think of: safety first, then rules, plausibility, sides, order, coverage. Never a diagnosis."""

from __future__ import annotations

from dictate.contract import Prompt
from dictate.lexicon.reference_model import reference_of
from dictate.note.asked import Asked
from dictate.note.prompt_comparison import comparison_prompts
from dictate.note.prompt_coverage import coverage_prompts
from dictate.note.prompt_order import order_prompts
from dictate.note.prompt_plausibility import plausibility_prompts
from dictate.note.prompt_unread import unread_prompts
from dictate.note.rules import prompts_from_rules


def prompts(asked: Asked) -> list[Prompt]:
    """Return all prompts of an exam, the most urgent kinds first; without a finding only those of coverage."""
    if not asked.findings:
        return [*unread_prompts(asked), *coverage_prompts(asked)]
    return [
        *prompts_from_rules(
            asked.findings, region=asked.exam.region, reference=reference_of(asked.lexicon.reference), age=asked.age
        ),
        *unread_prompts(asked),
        *plausibility_prompts(asked),
        *comparison_prompts(asked),
        *order_prompts(asked),
        *coverage_prompts(asked),
    ]
