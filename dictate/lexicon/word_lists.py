"""The closed format of the word lists of lexicon/common: words that name nothing, and by which the reading turns."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import Field

from dictate.lexicon.model import _Closed

_WORD = r"[^\sA-Z]+"
Words = Annotated[frozenset[Annotated[str, Field(pattern=rf"^{_WORD}$")]], Field(min_length=1)]
Phrases = Annotated[frozenset[Annotated[str, Field(pattern=rf"^{_WORD}( {_WORD})*$")]], Field(min_length=1)]
TwoWords = Annotated[frozenset[Annotated[str, Field(pattern=rf"^{_WORD} {_WORD}$")]], Field(min_length=1)]
Alternatives = Annotated[frozenset[Annotated[str, Field(pattern=rf"^{_WORD} or {_WORD}$")]], Field(min_length=1)]


class WordLists(_Closed):
    """The lists of one file, all lower case; none may be missing or empty."""

    file: ClassVar[str]  # its name, without .toml


class CorrectionWords(WordLists):
    """`corrections.toml`, which says what each list is."""

    file = "corrections"

    apologies: Words
    before_value: Words
    number_parts: Words
    orders: Words
    opening_orders: Words
    before_order: Words
    with_order: Words
    pointers: Words
    owners: Words
    before_pointed_side: Words
    before_answered_side: Words
    after_answered_side: Words
    announcements: TwoWords
    before_announcement: Words
    pointing_back: Words
    changing: Words
    before_you_are: Words
    wondering: Words


class ThisPatientWords(WordLists):
    """`this_patient.toml`, which says what each list is."""

    file = "this_patient"

    this_patient: Words
    points_at_them: Words
    beside_pointing: Words
    before_verdict: Words
    turns_to_them: Words
    in_them: TwoWords
    gets_there: Words


class SmallWords(WordLists):
    """`small_words.toml`, which says what each list is."""

    file = "small_words"

    never_last: Words
    owners: Words
    alternatives: Alternatives
    before_resisted: Words
    resisted_values: Words
    behind_value: Words
    before_value: Words
    praise: Words
    still_there: Words
    only: Words
    goes_into: Words
    of_place: Words
    both_of_those: Phrases
    held: Words
    gets_to: Words
