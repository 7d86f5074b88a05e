"""Structural signs that a clause speaks in general, or to a person about what to do, rather than of this patient now.

Cue words (`lexicon/common/talk.toml`) name kinds of talk; these rules look at how a clause is built: who its subject
is, whether a thing is introduced by "a", whether it is defined rather than judged. Each family of rules is a file.
"""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.clauses import clauses
from dictate.language.generic_definitions import anything_of_a_kind, definition, equation, presumption, reference
from dictate.language.generic_durations import lasting
from dictate.language.generic_orders import asked, order, placing, prohibition
from dictate.language.generic_questions import asks_for_signs, wondering
from dictate.language.generic_things import any_joint, any_of_it, any_tissue, contrast, indefinite
from dictate.language.generic_you import because, second_person
from dictate.language.mentions import Mention
from dictate.language.tokens import Token
from dictate.lexicon.general_model import GeneralWords


def general_spans(
    tokens: Sequence[Token], content: Sequence[Mention], words: GeneralWords
) -> list[tuple[int, int, str]]:
    """Return (start, end, kind) of stretches that are built like teaching or instruction."""
    spans: list[tuple[int, int, str]] = presumption(tokens)
    by_start = {mention.start: mention for mention in content}
    for start, end in clauses(tokens):
        spans += second_person(tokens, start, end, by_start, words)
        spans += because(tokens, start, end, spans)
        spans += asks_for_signs(tokens, start, end, by_start, words)
        spans += prohibition(tokens, start, end)
        spans += order(tokens, start, end, by_start, words)
        spans += placing(tokens, start, end, content, words)
        spans += asked(tokens, start, end, content)
        spans += indefinite(tokens, start, end, content)
        spans += any_tissue(tokens, start, end, content, words)
        spans += any_joint(tokens, start, end, content)
        spans += anything_of_a_kind(tokens, start, end, words)
        spans += any_of_it(tokens, start, end, content)
        spans += equation(tokens, start, end, content, words)
        spans += contrast(tokens, start, end, by_start)
        spans += wondering(tokens, start, end)
        spans += lasting(tokens, start, end, words)
        spans += reference(tokens, start, end, content)
        spans += definition(tokens, start, end, content)
    return spans
