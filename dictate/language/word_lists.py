"""The word lists of a lexicon in the spelling that tokens have."""

from __future__ import annotations

from typing import TypeVar

from dictate.language.tokens import Tokeniser
from dictate.lexicon.load import Lexicon
from dictate.lexicon.reference_model import checked_file
from dictate.lexicon.word_lists import WordLists

_Lists = TypeVar("_Lists", bound=WordLists)


def word_lists(model: type[_Lists], lexicon: Lexicon, tokeniser: Tokeniser) -> _Lists:
    """Return the lists of one file, each entry as written and as tokens have it: without plural s and possessive 's.

    Raises:
        LexiconError: the file or a list of it is missing, or holds what the format does not know.
    """
    lists = checked_file(model, lexicon.reference, model.file)
    matched = {
        name: entries | {" ".join(tokeniser.norms(entry)) for entry in entries}
        for name, entries in lists
        if isinstance(entries, frozenset)
    }
    return lists.model_copy(update=matched)
