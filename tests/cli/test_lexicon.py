"""`dictate lexicon`: an author is told what is wrong, where, and what may have been meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from dictate.lexicon.load import builtin_folder, load_lexicon
from dictate.lexicon_check import check, terms_like
from tests.cli.conftest import Run

GOOD = """
kind = "test"
regions = ["knee"]
sections = ["special_tests"]

[[term]]
label = "harbour test"
forms = ["harbour test", "harbour"]

[[term]]
label = "lane test"
forms = ["lane test"]
"""


def write(folder: Path, content: str, name: str = "tests.toml") -> Path:
    path = folder / name
    path.write_text(content, encoding="utf-8")
    return path


def problems(folder: Path) -> list[str]:
    return check(folder).problems


def test_a_good_folder_has_no_problem(dictate: Run, tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    outcome = dictate("lexicon", "check", tmp_path)
    assert outcome.status == 0
    assert "1 files, 2 terms, 0 corpora: no problems" in outcome.out


def test_an_unknown_key_is_named_with_file_line_and_near_miss(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD.replace('forms = ["lane test"]', 'forms = ["lane test"]\nheard_az = ["lain"]'))
    (problem,) = problems(tmp_path)
    line = path.read_text(encoding="utf-8").splitlines().index('heard_az = ["lain"]') + 1
    assert problem.startswith(f"{path}:{line}: lane test")
    assert "did you mean 'heard_as'?" in problem


def test_an_unknown_key_at_the_top_of_a_file(tmp_path: Path) -> None:
    path = write(tmp_path, "regionz = 1\n" + GOOD)
    (problem,) = problems(tmp_path)
    assert problem.startswith(f"{path}:1:")
    assert "did you mean 'regions'?" in problem


def test_a_value_that_is_none_of_its_kind(tmp_path: Path) -> None:
    write(tmp_path, GOOD.replace('"special_tests"', '"special_test"'))
    found = problems(tmp_path)
    assert found
    assert "did you mean 'special_tests'?" in found[0]


def test_every_problem_is_reported_not_only_the_first(tmp_path: Path) -> None:
    write(tmp_path, GOOD.replace("forms =", "formz ="))
    assert len([p for p in problems(tmp_path) if "formz" in p]) == 2


def test_broken_toml_is_named_with_its_line(tmp_path: Path) -> None:
    path = write(tmp_path, 'kind = "test"\n[[term]\n')
    (problem,) = problems(tmp_path)
    assert problem.startswith(f"{path}:2:")


def with_word_list(folder: Path, name: str, old: str, new: str) -> Path:
    """Write a built-in file of word lists into a folder, with some of its text replaced."""
    content = (builtin_folder() / "common" / name).read_text(encoding="utf-8")
    assert content.count(old) == 1
    (folder / "common").mkdir()
    return write(folder, content.replace(old, new), f"common/{name}")


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ('apologies = "sorry"', "apologies: Input should be a valid frozenset"),
        ("apologies = []", "apologies: Frozenset should have at least 1 item"),
        ('apologies = ["sorry", 3]', "apologies.1: Input should be a valid string"),
        ('apologies = ["so sorry"]', "apologies.0: String should match pattern"),
        ('apologies = ["sorry"]\napologys = ["sorry"]', "apologys: unknown key; did you mean 'apologies'?"),
    ],
    ids=["no list", "empty", "no word", "two words", "unknown"],
)
def test_a_broken_word_list_is_named_with_file_and_line(tmp_path: Path, new: str, says: str) -> None:
    path = with_word_list(tmp_path, "corrections.toml", 'apologies = ["sorry"]', new)
    (problem,) = problems(tmp_path)
    line = path.read_text(encoding="utf-8").splitlines().index(new.splitlines()[-1]) + 1
    assert problem.startswith(f"{path}:{line}: {says}")


def test_a_missing_word_list_is_named(tmp_path: Path) -> None:
    path = with_word_list(tmp_path, "corrections.toml", 'apologies = ["sorry"]', "")
    assert problems(tmp_path) == [f"{path}:1: apologies: Field required"]


def test_a_term_that_nobody_could_say(tmp_path: Path) -> None:
    write(tmp_path, GOOD.replace('forms = ["lane test"]', ""))
    assert any("no forms" in problem for problem in problems(tmp_path))


def test_a_plan_that_names_no_term(tmp_path: Path) -> None:
    write(
        tmp_path,
        'region = "knee"\nforms = ["knee"]\n[[plan]]\nsection = "special_tests"\n'
        'items = [{ label = "x", any_of = ["lachmann test"] }]\n',
        "region.toml",
    )
    (problem,) = problems(tmp_path)
    assert ":5: plan: no term has the label 'lachmann test'; did you mean 'lachman test'?" in problem


def test_a_corpus_with_an_unknown_key(tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    write(
        tmp_path,
        '[[case]]\nsaid = ["harbour test positive"]\nfindings = [{ finding = "harbour test", statuz = "positive" }]\n',
        "tests.corpus.toml",
    )
    (problem,) = problems(tmp_path)
    assert "did you mean 'status'?" in problem


def test_two_terms_that_claim_one_wording_are_remarked(tmp_path: Path) -> None:
    write(tmp_path, GOOD.replace('forms = ["lane test"]', 'forms = ["lane test", "harbour"]'))
    report = check(tmp_path)
    assert report.problems == []
    assert any("'harbour' names both 'lane test' and 'harbour test'" in remark for remark in report.remarks)


def test_problems_make_the_command_fail(dictate: Run, tmp_path: Path) -> None:
    write(tmp_path, "colour = 1\n")
    outcome = dictate("lexicon", "check", tmp_path)
    assert outcome.status == 1
    assert "1 problem" in outcome.out


@pytest.mark.parametrize("name", ["", "none"])
def test_a_folder_without_a_lexicon(dictate: Run, tmp_path: Path, name: str) -> None:
    assert dictate("lexicon", "check", tmp_path / name).is_one_plain_error()


def test_try_shows_every_layer(dictate: Run) -> None:
    outcome = dictate("lexicon", "try", "Flexion one fifteen, no, one oh five on the right")
    kinds = [line.split()[0] for line in outcome.out.splitlines()]
    assert {"words", "mention", "repair", "talk", "frame", "finding"} <= set(kinds)
    assert "105°" in outcome.out


def test_try_of_something_that_is_no_finding(dictate: Run) -> None:
    assert "finding   none" in dictate("lexicon", "try", "please sit down").out


def test_try_takes_the_place_in_the_exam(dictate: Run) -> None:
    phrase = "flexion one ten"
    passive = dictate("lexicon", "try", phrase, "--section", "passive_motion", "--side", "left").out
    assert "passive motion left" in passive


def test_terms_are_found_by_letters(dictate: Run) -> None:
    assert dictate("lexicon", "terms", "lachmann").out.startswith("lachman test")
    assert dictate("lexicon", "terms", "qqqqqqq").out == "no term is like that\n"


def test_terms_like_a_label_begin_with_it() -> None:
    assert terms_like("medial joint line", load_lexicon().terms)[0].label == "medial joint line"


CORPUS = """
context = { region = "knee", section = "special_tests", side = "right" }

[[case]]
said = ["harbour test negative", "the harbour is negative"]
findings = [{ finding = "harbour test", status = "negative" }]
"""


def test_the_phrases_of_a_folder_are_read_with_it_laid_over(dictate: Run, tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    write(tmp_path, CORPUS, "tests.corpus.toml")
    outcome = dictate("lexicon", "check", tmp_path)
    assert (outcome.status, "1 corpora, 2 phrases: no problems" in outcome.out) == (0, True)


def test_a_phrase_that_means_something_else_is_named_with_both_meanings(dictate: Run, tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    write(tmp_path, CORPUS.replace('"the harbour is negative"', '"harbour test positive"'), "tests.corpus.toml")
    outcome = dictate("lexicon", "check", tmp_path)
    assert outcome.status == 1
    assert "tests.corpus.toml: “harbour test positive” gives" in outcome.out
    assert "status positive; the corpus says" in outcome.out


def test_a_value_in_a_corpus_that_no_finding_has(dictate: Run, tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    write(tmp_path, CORPUS.replace('status = "negative"', 'status = "fine"'), "tests.corpus.toml")
    outcome = dictate("lexicon", "check", tmp_path)
    assert outcome.status == 2
    assert "tests.corpus.toml: case 1: status:" in outcome.err
