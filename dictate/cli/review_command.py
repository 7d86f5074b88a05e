"""`dictate review` and `dictate verify`: look at notes afterwards, sign them, and see whether anything was changed."""

from __future__ import annotations

import argparse
import getpass
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
    review.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    review.set_defaults(run=review_page)


def review_page(options: argparse.Namespace) -> None:
    """Show the review page on this machine, until Ctrl+C."""
    import threading
    import webbrowser

    with start_review(options) as server:
        link = server.url if not options.exam else server.url.replace("/?", f"/review/{options.exam}?")
        print(f"Review page: {link}", flush=True)
        print("It is for you at this machine; the link is its key. Ctrl+C ends it.", flush=True)
        if not options.no_browser:
            webbrowser.open(link)
        threading.Event().wait()


def start_review(options: argparse.Namespace) -> RunningServer:
    """Start the server of the page and return it, running."""
    from dictate.interface import reader_of
    from dictate.journal.exam import ExamFolder, data_folder
    from dictate.review.desk import Desk
    from dictate.review.exams import FolderScan
    from dictate.review.routes import ReviewRoutes
    from dictate.web.server import serve

    data = data_folder(options.data)
    if options.exam:
        ExamFolder.of(data, options.exam)  # said here, in a line, and not first on the page
    desk = Desk(data, reader_of(Path(options.lexicon) if options.lexicon else None))
    routes = ReviewRoutes(desk, FolderScan(data), reviewer=options.name or _login())
    return serve(routes.routes(), port=options.port)


def _login() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # no entry for the user on this machine
        return ""
