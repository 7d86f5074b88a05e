"""`dictate review` and `dictate verify`: look at notes afterwards, sign them, and see whether anything was changed."""

from __future__ import annotations

import argparse
import getpass
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dictate.web.server import RunningServer

EXIT_FAULTS = 1


def add(commands: Any) -> None:
    """Add the commands to a parser's sub-commands."""
    review = commands.add_parser("review", help="review and sign notes in the browser", description=review_page.__doc__)
    review.add_argument("exam", nargs="?", metavar="EXAM", help="id of an exam; else the list of all")
    review.add_argument("--data", metavar="DIR", help="the folder that exams are kept in; else the user's own")
    review.add_argument("--port", type=int, default=0, metavar="N", help="port of the page; else a free one")
    review.add_argument("--no-browser", action="store_true", help="only print the link")
    review.add_argument("--name", metavar="NAME", help="who reviews; else the name you are logged in by")
    review.add_argument("--lexicon", metavar="DIR", help="laid over the built-in lexicon; else what was learned here")
    review.set_defaults(run=review_page)

    verify = commands.add_parser(
        "verify", help="has a note been changed, and by whom", description=verify_exams.__doc__
    )
    verify.add_argument("exam", nargs="?", metavar="EXAM|FOLDER", help="id or folder of an exam; else all exams")
    verify.add_argument("--data", metavar="DIR", help="the folder that exams are kept in; else the user's own")
    verify.add_argument("--digest", metavar="SHA256", help="compare with the digest that a handed-on note carries")
    verify.add_argument("--all", action="store_true", help="list the decisions before the first signature, too")
    verify.set_defaults(run=verify_exams)


def review_page(options: argparse.Namespace) -> None:
    """Show the review page on this machine, until Ctrl+C."""
    import threading
    import webbrowser

    from dictate.cli.archive_keep import tidy_at_start
    from dictate.data_folder import data_folder

    data = data_folder(options.data)
    tidied = tidy_at_start(data)
    with ended_by_signals(), plain_exam(data, options.exam), start_review(options) as server:
        link = server.url if not options.exam else server.url.replace("/?", f"/review/{options.exam}?")
        print(f"Review page: {link}", flush=True)
        print("It is for you at this machine; the link is its key. Ctrl+C ends it.", flush=True)
        if not options.exam and tidied and tidied.sealed:
            print(f"{_sealed(tidied.sealed)} not listed; name one to open it: dictate review EXAM", flush=True)
        if not options.no_browser:
            webbrowser.open(server.link_for_once(f"/review/{options.exam}" if options.exam else "/"))
        threading.Event().wait()


@contextmanager
def start_review(options: argparse.Namespace) -> Iterator[RunningServer]:
    """Give the server of the page, running."""
    from dictate.cli.review_exams import IndexedExams
    from dictate.data_folder import chosen_lexicon, data_folder
    from dictate.interface import reader_of
    from dictate.journal.exam import ExamFolder
    from dictate.review.desk import Desk
    from dictate.review.routes import ReviewRoutes
    from dictate.web.server import serve

    data = data_folder(options.data)
    if options.exam:
        ExamFolder.of(data, options.exam)  # said here, in a line, and not first on the page
    lexicon = chosen_lexicon(options.lexicon, data=data)
    desk = Desk(data, reader_of(lexicon))
    exams = IndexedExams(data, lexicon_dir=lexicon)
    routes = ReviewRoutes(desk, exams, reviewer=options.name or _login())
    try:
        with serve(routes.routes(), port=options.port) as server:
            yield server
    finally:
        exams.close()
        desk.close()


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let a closed terminal, or whoever ends the program, end it as Ctrl+C does: a sealed exam is sealed again then."""
    import signal

    def end(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    before = {number: signal.signal(number, end) for number in (signal.SIGTERM, signal.SIGHUP)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def plain_exam(data: Path, exam: str | None) -> Iterator[None]:
    """Hold a sealed exam open while it is worked with; it is sealed again afterwards."""
    from dictate.archive.vault import sealed_files
    from dictate.cli.archive_access import open_vault
    from dictate.journal.exam import exams_folder, is_exam_id

    if exam is None or not is_exam_id(exam) or not sealed_files(exams_folder(data) / exam):
        yield
        return
    vault = open_vault(data, needed=True)
    with vault.opened(exam) if vault else nullcontext():
        yield


def _sealed_exams(data: Path) -> int:
    from dictate.journal.exam import exam_ids, exams_folder

    return sum(_is_sealed(exams_folder(data) / exam) for exam in exam_ids(data))


def _is_sealed(folder: Path) -> bool:
    from dictate.archive.vault import sealed_files
    from dictate.journal.exam import JOURNAL_NAME

    return not (folder / JOURNAL_NAME).exists() and bool(sealed_files(folder))


def _sealed(number: int) -> str:
    return "1 sealed exam is" if number == 1 else f"{number} sealed exams are"


def _login() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # no entry for the user on this machine
        return ""


def verify_exams(options: argparse.Namespace) -> int:
    """Show who signed and changed what, and whether an exam is as it was written; exit with 1 if it is not."""
    from dictate.data_folder import data_folder

    data = data_folder(options.data)
    with plain_exam(data, options.exam):
        return _verified(options, data)


def _verified(options: argparse.Namespace, data: Path) -> int:
    from dictate.errors import JournalError
    from dictate.review.verify import folders_of, verify

    folders = folders_of(options.exam, data)
    sealed = _sealed_exams(data) if options.exam is None else 0
    if sealed:
        folders = [folder for folder in folders if not _is_sealed(folder)]
        print(f"{_sealed(sealed)} not looked at; name one to open it: dictate verify EXAM")
    faulty = 0
    borne = False
    for folder in folders:
        try:
            found = verify(folder, digest=options.digest if len(folders) == 1 else None, everything=options.all)
        except JournalError as error:
            if options.exam:
                raise
            print(f"{folder.name}: {error}")
            faulty += 1
            continue
        print(_safe(f"{found.exam}: {found.state}; {'NOT as it was written' if found.faults else 'as it was written'}"))
        for line in (*(f"! {fault}" for fault in found.faults), *found.lines):
            print(f"  {_safe(line)}")
        faulty += bool(found.faults)
        borne = borne or (options.digest or "-").strip().lower() in found.digests
    if not folders:
        print(f"there are no {'others' if sealed else 'exams'} in {data}")
    elif len(folders) > 1:
        print(f"{len(folders)} exams, {faulty or 'none'} not as written")
        if options.digest and not borne:
            print("! no signature of any of them has the digest that you gave")
            return EXIT_FAULTS
    return EXIT_FAULTS if faulty else 0


def _safe(line: str) -> str:
    """Return a line without what would steer a terminal: names and words come from whoever typed or spoke them."""
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in line)
