"""The clinic's file of codes: what it may hold, and what is said of one that cannot be used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from dictate.export.codes import read_codes
from dictate.export.errors import ExportError
from dictate.lexicon.load import load_lexicon

LABELS = {term.label for term in load_lexicon().terms}
GOOD = """
[[code]]
kind = "finding"
label = "effusion"
system = "https://codes.example.org/exam"
code = "EX-101"
display = "Joint effusion"
"""


def read(tmp_path: Path, text: str) -> object:
    path = tmp_path / "codes.toml"
    path.write_text(text, encoding="utf-8")
    return read_codes(path, labels=LABELS)


def test_a_code_is_found_by_kind_and_label(tmp_path: Path) -> None:
    path = tmp_path / "codes.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert read_codes(path, labels=LABELS).of("finding", "effusion")[0].code == "EX-101"


def test_the_example_of_the_manual_can_be_used(tmp_path: Path) -> None:
    manual = (Path(__file__).parents[2] / "docs" / "export.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(.*?)```", manual, flags=re.DOTALL)
    read(tmp_path, example)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("effusion", "efusion", 1), "perhaps 'effusion' is meant"),
        (GOOD.replace('"finding"', '"findings"'), "code 1, key 'kind'"),
        (GOOD.replace("https://codes.example.org/exam", "my codes"), "key 'system'"),
        (GOOD.replace("EX-101", " "), "key 'code'"),
        (GOOD + 'colour = "red"', "key 'colour'"),
        (GOOD + GOOD.replace("EX-101", "EX-102"), "a second one"),
        ("[[code", "is no TOML"),
        ("[codes]", "the file"),
        (GOOD.replace('"finding"', '"side"'), "there is no side 'effusion'"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(ExportError, match=re.escape(said)):
        read(tmp_path, text)


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="cannot be read"):
        read_codes(tmp_path / "none.toml", labels=LABELS)


def test_levels_of_the_spine_are_structures(tmp_path: Path) -> None:
    read(tmp_path, GOOD.replace('"finding"', '"structure"').replace("effusion", "L4 dermatome", 1))
