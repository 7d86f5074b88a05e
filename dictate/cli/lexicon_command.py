"""`dictate lexicon`: for authors of terms. What is wrong in a folder, how a phrase is read, which terms there are."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, get_args

from dictate.contract import Region, Section

EXIT_PROBLEMS = 1
_MOST_TERMS = 40


def add(commands: Any) -> None:
    """Add the command to a parser's sub-commands."""
    lexicon = commands.add_parser("lexicon", help="check the lexicon, try a phrase, look up a term")
    actions = lexicon.add_subparsers(dest="action", required=True, metavar="ACTION")

    check = actions.add_parser("check", help="say what is wrong in a lexicon folder; read its corpora")
    check.add_argument("folder", nargs="?", metavar="DIR", help="a folder of one's own; else the built-in lexicon")
    check.set_defaults(run=check_folder)

    attempt = actions.add_parser("try", help="show step by step how a phrase is read")
    attempt.add_argument("phrase", help="what might be said")
    attempt.add_argument("--region", choices=get_args(Region), default="knee", help="region being examined")
    attempt.add_argument("--section", choices=get_args(Section), help="section being examined")
    attempt.add_argument("--side", choices=("left", "right"), help="side being examined")
    attempt.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    attempt.set_defaults(run=try_phrase)

    terms = actions.add_parser("terms", help="list the terms that match a query, by letters")
    terms.add_argument("query", help="part of a label or of a wording")
    terms.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    terms.set_defaults(run=find_terms)


def check_folder(options: argparse.Namespace) -> int:
    """Print every problem with file and line, and every phrase that means something else than its corpus says.

    Exits with 1 when there is a problem. Phrases are read only once the files can be used, and those of the built-in
    lexicon not at all: its tests read them.
    """
    from dictate.lexicon.load import builtin_folder
    from dictate.lexicon_check import check

    folder = Path(options.folder) if options.folder else builtin_folder()
    report = check(folder)
    phrases = ""
    if options.folder and report.corpora and not report.problems:
        phrases = f", {_read_corpora(folder, report.problems)} phrases"
    for problem in report.problems:
        print(problem)
    for remark in report.remarks:
        print(f"remark: {remark}")
    counts = f"{report.files} files, {report.terms} terms, {report.corpora} corpora{phrases}"
    print(f"{counts}: {len(report.problems) or 'no'} problem{'' if len(report.problems) == 1 else 's'}")
    return EXIT_PROBLEMS if report.problems else 0


def _read_corpora(folder: Path, problems: list[str]) -> int:
    """Add what the phrases of a folder's corpora mean otherwise than they should; return how many phrases there are."""
    from dictate.interface import reader_of
    from dictate.lexicon_corpus import corpora, disagreements

    cases = corpora(folder)
    problems += disagreements(cases, reader_of(folder))
    return len(cases)


def try_phrase(options: argparse.Namespace) -> None:
    """Print each step of the reading of one phrase."""
    from dictate.cli.lexicon_try import steps
    from dictate.lexicon.load import load_lexicon

    lexicon = load_lexicon(Path(options.lexicon) if options.lexicon else None)
    for line in steps(options.phrase, lexicon, region=options.region, section=options.section, side=options.side):
        print(line)


def find_terms(options: argparse.Namespace) -> None:
    """Print terms whose label or wording matches, the best first."""
    from dictate.lexicon.load import load_lexicon
    from dictate.lexicon_check import terms_like

    lexicon = load_lexicon(Path(options.lexicon) if options.lexicon else None)
    found = terms_like(options.query, lexicon.terms)
    for term in found[:_MOST_TERMS]:
        regions = ", ".join(term.regions) or "every region"
        print(f"{term.label}  ({term.kind}; {regions})  {', '.join(term.forms[:6])}")
    if not found:
        print("no term is like that")
    elif len(found) > _MOST_TERMS:
        print(f"and {len(found) - _MOST_TERMS} more")
