"""What is said by repeating only the verb: "the lunate isn't tender, the scaphoid is", "the groove markedly so"."""

from __future__ import annotations

from collections.abc import Sequence

from dictate.language.item import Item
from dictate.language.mentions import Mention
from dictate.language.tokens import Token

_COPULAS = frozenset({"is", "are", "was", "were"})
_LIKEWISE = (("as", "well"), ("so",), ("too",), ("also",))
_MUCH = frozenset({"much", "more", "even", "equally", "just"})
_GOES_ON = frozenset({"and", "but"})
_HOSTS = frozenset({"structure", "place", "side", "pronoun"})


def affirm(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """Return the items with one more for each verb that stands for the whole of what was said before of another."""
    out: list[Item] = []
    skipped = 0
    for index, item in enumerate(items):
        if item.start < skipped:
            continue
        out.append(item)
        end, severity = _predicate(items, index, tokens)
        if end:
            mention = Mention(item.end, end)
            said = " ".join(token.text for token in tokens[item.end : end])
            out.append(Item("some", mention, severity=severity.value if severity else None, text=said))  # type: ignore[arg-type]
            skipped = end
    return out


def _sign_before(items: Sequence[Item], index: int) -> bool:
    """Whether a sign was said of another place before, of which an amount alone can then say how much there is."""
    return any(item.kind == "sign" and item.shape != "name" for item in items[:index])


def _predicate(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> tuple[int, Item | None]:
    """Return where "is", "is too", "is moderately so" or "very much so" after a place ends, and its amount.

    Zero where more is said than the verb.
    """
    item = items[index]
    if item.kind not in _HOSTS or item.role or not any(i.kind == "structure" for i in items[: index + 1]):
        return 0, None
    place = item.end
    if place >= len(tokens):
        return 0, None
    verb = tokens[place].norm in _COPULAS and not tokens[place - 1].break_after
    spoken = verb or (item.kind == "pronoun" and tokens[place - 1].norm in _COPULAS)  # "in front of it is …"
    place += verb
    severity = next((i for i in items[index + 1 : index + 2] if i.kind == "severity" and i.start == place), None)
    place = severity.end if severity is not None else place
    while place < len(tokens) and tokens[place].norm in _MUCH and place > item.end:
        place += 1
    likewise = next(
        (words for words in _LIKEWISE if tuple(t.norm for t in tokens[place : place + len(words)]) == words), ()
    )
    place += len(likewise)
    so = severity is not None and likewise == ("so",)
    if not verb and severity is not None and severity.start == item.end and _sign_before(items, index):
        # "inferior pole tender, fat pad slightly, …": nothing but the amount
        paused = place == len(tokens) or bool(tokens[place - 1].break_after)
        if paused and item.kind == "structure" and not tokens[item.end - 1].break_after:
            return place, severity
    if verb and severity is not None and tokens[item.end].break_after:  # "the fossa is, moderately, …"
        return (place, severity) if place == len(tokens) or tokens[place - 1].break_after else (0, None)
    if any(token.break_after for token in tokens[item.end : place - 1]) or not (so or (spoken and severity is None)):
        return 0, None
    ended = place >= len(tokens) or bool(tokens[place - 1].break_after) or tokens[place].norm in _GOES_ON
    return (place, severity) if ended else (0, None)
