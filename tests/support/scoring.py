"""Compare findings with the ones that a careful scribe wrote: strict fields, side errors, silent errors."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from dictate.contract import Finding

# What makes a field right: side, structure, finding and every value said. Section and region are counted apart.
_VALUES = (
    "side", "structure", "finding", "status", "degrees", "grade", "measure", "at_degrees", "severity", "end_feel",
)  # fmt: skip
_SCORED = {*_VALUES, "limited_by", "with_"}


def key(finding: Finding) -> tuple[object, ...]:
    """Return what must agree, as one comparable value."""
    data = finding.model_dump(by_alias=True)
    values: list[object] = [_plain(data[name]) for name in _VALUES]
    values[_VALUES.index("finding")] = _bare_name(data["finding"])
    return (*values, tuple(sorted(data["limited_by"])), tuple(sorted(data["with"])))


def _bare_name(label: str) -> str:
    """Return a label without "test" or "sign" at its end: the trade says them or not."""
    return label.removesuffix(" test").removesuffix(" sign")


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return tuple(sorted((name, str(item)) for name, item in value.items()))
    return value


def strict_key(finding: Finding) -> tuple[object, ...]:
    """Return what must agree when section and region count too."""
    return (*key(finding), finding.section, finding.region)


def settled(
    expected: Sequence[Finding], got: Sequence[Finding], open_fields: Sequence[Sequence[str]]
) -> list[Finding]:  # fmt: skip
    """Return the expected findings with their open fields as the note has them, where the rest of a finding agrees.

    What the scribe's rules leave open is neither right nor wrong: it is taken from the finding that fits otherwise.
    """
    scored = [{"with_" if name == "with" else name for name in fields} & _SCORED for fields in open_fields]
    settled_keys = Counter(key(f) for f, names in zip(expected, scored, strict=False) if not names)
    free = list(_those(got, Counter(map(key, got)) - settled_keys))
    result = []
    for finding, names in zip(expected, scored or [set[str]()] * len(expected), strict=True):
        for other in free if names else ():
            adopted = finding.model_copy(update={name: getattr(other, name) for name in names})
            if key(adopted) == key(other):
                free.remove(other)
                finding = adopted
                break
        result.append(finding)
    return result


def sideless(finding: Finding) -> tuple[object, ...]:
    """Return the same without the side."""
    return key(finding)[1:]


@dataclass
class Score:
    """Counts over a set of notes. `keyed` gives what must agree: `key`, or `strict_key` where the place counts too."""

    keyed: Callable[[Finding], tuple[object, ...]] = key
    right: int = 0
    wanted: int = 0
    found: int = 0
    wrong_side: int = 0
    silent: int = 0  # wrong, and no doubt was raised
    doubted: int = 0
    places: int = 0  # the most that could be right: a wrong finding and the missed one that it stands for are one
    missed: list[str] = field(default_factory=list)
    extra: list[str] = field(default_factory=list)

    @property
    def precision(self) -> float:
        return self.right / self.found if self.found else 1.0

    @property
    def recall(self) -> float:
        return self.right / self.wanted if self.wanted else 1.0

    @property
    def accuracy(self) -> float:
        """Strict field accuracy: of all findings written or found, the share that is right."""
        return self.right / self.places if self.places else 1.0

    @property
    def silent_share(self) -> float:
        """Of all findings found, the share that is wrong without a doubt."""
        return self.silent / self.found if self.found else 0.0

    @property
    def wrong_side_share(self) -> float:
        """Of all findings found, the share that is right but for the side."""
        return self.wrong_side / self.found if self.found else 0.0

    @property
    def f1(self) -> float:
        total = self.precision + self.recall
        return 2 * self.precision * self.recall / total if total else 0.0

    def add(self, expected: Sequence[Finding], got: Sequence[Finding], *, name: str = "") -> None:
        """Count one note."""
        want, have = Counter(map(self.keyed, expected)), Counter(map(self.keyed, got))
        both = want & have
        self.right += both.total()
        self.wanted += len(expected)
        self.found += len(got)
        self.places += max(len(expected), len(got))
        self.doubted += sum(1 for finding in got if finding.doubts)
        missing, extra = want - have, have - want
        lost = list(_those(expected, missing, keyed=self.keyed))
        self.missed += [f"{name}: {text(f)}" for f in lost]
        wrong = list(_those(got, extra, keyed=self.keyed))
        self.extra += [f"{name}: {text(f)}   <- {f.said}" for f in wrong]
        self.silent += sum(1 for finding in wrong if not finding.doubts)
        unmatched = Counter(map(sideless, lost))
        for finding in wrong:
            if unmatched[sideless(finding)] > 0:
                unmatched[sideless(finding)] -= 1
                self.wrong_side += 1

    def line(self, name: str) -> str:
        """Return the figures in one line."""
        return (
            f"{name:<28} F1 {self.f1:.3f}  precision {self.precision:.3f}  recall {self.recall:.3f}"
            f"  wanted {self.wanted:4d}  wrong side {self.wrong_side}  wrong without a doubt {self.silent}"
            f"  with a doubt {self.doubted}"
        )


def _those(
    findings: Iterable[Finding], counts: Counter[tuple[object, ...]], *,
    keyed: Callable[[Finding], tuple[object, ...]] = key,
) -> Iterable[Finding]:  # fmt: skip
    left = Counter(counts)
    for finding in findings:
        if left[keyed(finding)] > 0:
            left[keyed(finding)] -= 1
            yield finding


def text(finding: Finding) -> str:
    """Return a finding in one short line, for a reader of the figures."""
    left_out = {"said", "time", "confidence", "doubts", "replaced"}
    data: dict[str, Any] = finding.model_dump(by_alias=True, exclude=left_out)
    return " ".join(f"{k}={v}" for k, v in data.items() if v not in (None, []) and k not in ("section", "region"))
