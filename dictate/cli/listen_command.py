"""`dictate listen`: a live exam from a microphone, to the note."""

from __future__ import annotations

import argparse
import select
import signal
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from dictate.cli.values import age_years
from dictate.contract import Region
from dictate.errors import DictateError, UnusableInput

if TYPE_CHECKING:
    from dictate.audio.source import Source
    from dictate.cli.listen_screen import Lines, Screen
    from dictate.journal.replay import Replayed
    from dictate.live.resume import Unfinished
    from dictate.live.session import Resumption, Session

_LOOK_EVERY_S = 0.1
_KNOWN = ("region", "injured", "age", "sex", "patient")  # options that only a new exam takes
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)  # each ends the exam as "q" does


def add(commands: Any) -> None:
    """Add the command to a parser's sub-commands."""
    listen = commands.add_parser("listen", help="a live exam: speak, see the note grow", description=run.__doc__)
    listen.add_argument("--device", metavar="NAME", help="microphone, by number or a part of its name")
    listen.add_argument("--list-devices", action="store_true", help="print the microphones that there are, and end")
    listen.add_argument("--from", dest="recording", metavar="AUDIO", help="hear a recording in place of a microphone")
    listen.add_argument("--speed", type=_speed, default=1.0, metavar="N", help="of --from: 1 is real time; or max")
    listen.add_argument("--page", action="store_true", help="show the exam on a page of this machine's browser as well")
    listen.add_argument("--browser-microphone", action="store_true", help="with --page: the page's microphone is heard")
    listen.add_argument("--port", type=int, default=0, metavar="N", help="of the page; else a free one")
    listen.add_argument("--region", choices=get_args(Region), help="region examined; else as said")
    listen.add_argument("--injured", choices=("left", "right", "both"), help="injured side; else as said")
    listen.add_argument("--age", type=age_years, metavar="YEARS", help="age of the patient")
    listen.add_argument("--sex", choices=("female", "male"), help="sex of the patient")
    listen.add_argument("--patient", metavar="PSEUDONYM", help="what the exam is found by; never a name")
    listen.add_argument("--lexicon", metavar="DIR", help="a folder laid over the built-in lexicon")
    listen.add_argument("--engine", choices=("whisper", "vosk"), help="recogniser; else the best that is installed")
    listen.add_argument("--model", metavar="DIR", help="folder with the recogniser's weights; else the embedded ones")
    listen.add_argument("--data", metavar="DIR", help="the folder that exams are kept in; else the user's own")
    listen.add_argument("--sounds", action="store_true", help="play a short sound for understood, unsure and section")
    listen.add_argument("--read-back", action="store_true", help="speak answers aloud, such as to “read back”")
    again = listen.add_mutually_exclusive_group()
    again.add_argument("--resume", nargs="?", const="", metavar="EXAM", help="go on with an exam; else the last one")
    again.add_argument("--new", action="store_true", help="begin a new exam, whatever was left unfinished")
    listen.add_argument("--json", action="store_true", help="print the note as JSON, nothing else")
    listen.add_argument("--out", metavar="DIR", help="write EXAM.json and EXAM.txt there too")
    listen.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Listen to an exam and show its note as it grows; q or Ctrl-C ends it and prints the note."""
    if options.list_devices:
        return _list_devices()
    if options.browser_microphone and not options.page:
        raise UnusableInput("--browser-microphone needs --page: the page is what hears")
    from dictate.cli.archive_keep import tidy_at_start
    from dictate.data_folder import chosen_lexicon, data_folder
    from dictate.journal.pseudonym import pseudonym
    from dictate.live.session import ExamOptions, Session
    from dictate.live.worker import HearingOptions

    data = data_folder(options.data)
    lexicon = chosen_lexicon(options.lexicon, data=data)
    about = ExamOptions(
        region=options.region, injured_side=options.injured, age=options.age, sex=options.sex,
        patient=pseudonym(options.patient) if options.patient else None,
        lexicon_dir=str(lexicon) if lexicon else None,
    )  # fmt: skip
    source = _source(options)  # before any exam is taken up: a recording that cannot be read changes nothing
    hearing = HearingOptions(engine=options.engine, model_dir=options.model)
    tidied = tidy_at_start(data)
    resumed = _resumed(options, data, tidied.unfinished if tidied else None)
    session = Session(source, data=data, about=about, hearing=hearing, resumed=resumed, read_back=options.read_back)
    if options.sounds:
        session.subscribe(_Earcons())
    replayed = _conduct(session, options)
    return _deliver(session, replayed, options)


def _list_devices() -> int:
    from dictate.audio.microphone import devices

    for device in devices():
        print(f"{device.number:>3}  {device.name}{'  (default)' if device.default else ''}")
    return 0


def _source(options: argparse.Namespace) -> Source:
    if options.recording:
        from dictate.audio.source import FileSource

        return FileSource(options.recording, speed=options.speed)
    if options.browser_microphone:
        from dictate.live.browser_source import BrowserSource

        return BrowserSource()
    from dictate.audio.microphone import Microphone

    return Microphone(device=options.device)


# -- going on with an exam --------------------------------------------------------------------------------------------


def _resumed(options: argparse.Namespace, data: Path, likely: Iterable[str] | None) -> Resumption | None:
    """Return the exam that goes on, None for a new one. `likely`: where to look for one; None for everywhere."""
    from dictate.live.resume import resume, unfinished

    if options.new:
        return None
    known = [name for name in _KNOWN if getattr(options, name) is not None]
    if options.resume is not None and known:
        raise UnusableInput(
            f"an exam that goes on has its own record; leave out --{' and --'.join(known)} "
            "(`dictate archive about EXAM` changes patient, age and sex)"
        )
    if options.resume:
        return resume(data, options.resume)
    left = unfinished(data, likely)
    if options.resume == "":
        if not left:
            raise UnusableInput("no exam was left unfinished; name one, or leave out --resume to begin a new one")
        return resume(data, left[0].exam)
    if not left:
        return None
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        print(f"{_told(left[0])}; a new exam begins. --resume {left[0].exam} goes on with it", file=sys.stderr)
        return None
    if not _wanted(left[0]):
        return None
    if known:
        print(f"It has its own record: --{' and --'.join(known)} is not used.", file=sys.stderr)
    return resume(data, left[0].exam)


def _wanted(left: Unfinished) -> bool:
    print(f"{_told(left)}.", file=sys.stderr)
    while True:
        print("Go on with it? [y/n] ", end="", file=sys.stderr, flush=True)
        answer = sys.stdin.readline().strip().lower()
        if answer in ("y", "yes"):
            return True
        if answer in ("n", "no", ""):
            return False


def _told(left: Unfinished) -> str:
    from dictate.note.describe import clock

    when = left.begun.astimezone().strftime("%Y-%m-%d %H:%M")
    return f"The exam of {when} was not finished ({clock(left.seconds)} min of sound, {left.utterances} utterances)"


# -- the exam ---------------------------------------------------------------------------------------------------------


def _conduct(session: Session, options: argparse.Namespace) -> Replayed:
    """Run the exam until it is ended, and return it."""
    ending = threading.Event()
    with ExitStack() as stack:
        asked = stack.enter_context(_signals(ending))
        if sys.stderr.isatty():
            print("Starting …", file=sys.stderr, flush=True)
        session.start()
        if options.page:
            stack.enter_context(_page(session, options))
        keyboard = _keyboard() if sys.stdin.isatty() else None
        key = stack.enter_context(keyboard) if keyboard else (lambda: "")
        display = stack.enter_context(_display(options))
        while not ending.is_set() and not session.wait(_LOOK_EVERY_S):
            display.show(session.view())
            if key() in ("q", "Q"):
                break
        return _closed(session, display, asked)


def _closed(session: Session, display: Screen | Lines, asked: list[int]) -> Replayed:
    """Close the exam, showing how it comes along; a second Ctrl-C leaves it to be resumed."""
    result: list[Replayed | BaseException] = []

    def close() -> None:
        try:
            result.append(session.close())
        except BaseException as error:  # noqa: BLE001 - raised again below, in the thread that prints
            result.append(error)

    closing = threading.Thread(target=close, name="dictate-close", daemon=True)
    before = len(asked)
    closing.start()
    while closing.is_alive():
        closing.join(_LOOK_EVERY_S)
        display.show(session.view())
        if len(asked) > max(before, 1):
            session.abandon()
            raise DictateError(f"stopped before all was heard; `dictate listen --resume {session.exam}` goes on")
    outcome = result[0]
    if isinstance(outcome, BaseException):
        raise outcome
    return outcome


def _deliver(session: Session, replayed: Replayed, options: argparse.Namespace) -> int:
    from dictate.cli.output import deliver

    out = Path(options.out) if options.out else None
    deliver(replayed.note, out=out, name=session.exam, as_json=options.json)
    print(f"Kept as {session.exam}.", file=sys.stderr)
    trouble = session.unsaved or (str(session.source_error) if session.source_error else None)
    if trouble:
        raise DictateError(trouble)
    return 0


class _Earcons:
    """Plays the session's sounds on this machine; where that fails, says so once and stays silent."""

    def __init__(self) -> None:
        self._silent = False

    def __call__(self, news: Any) -> None:
        if self._silent or not isinstance(news, dict) or news.get("type") != "sound":
            return
        from dictate.live.earcons import play

        try:
            play(news["name"])
        except DictateError as error:
            self._silent = True
            print(f"dictate: {error}", file=sys.stderr)


@contextmanager
def _page(session: Session, options: argparse.Namespace) -> Iterator[None]:
    from dictate.live.server import serve_live

    microphone = "browser" if options.browser_microphone else "program"
    with serve_live(session, microphone=microphone, port=options.port) as server:  # type: ignore[arg-type]
        print(f"Live page: {server.url}", file=sys.stderr)
        print("It is for you at this machine; the link is its key.", file=sys.stderr, flush=True)
        yield


def _display(options: argparse.Namespace) -> AbstractContextManager[Screen | Lines]:
    from dictate.cli.listen_screen import Lines, Screen

    return Screen() if sys.stderr.isatty() and not options.page else Lines()  # the link must stay to be seen


@contextmanager
def _signals(ending: threading.Event) -> Iterator[list[int]]:
    """Let signals end the exam in place of the program; yield the list of those that came."""
    asked: list[int] = []

    def ask(number: int, _: object) -> None:
        asked.append(number)
        ending.set()

    before = {number: signal.signal(number, ask) for number in _SIGNALS}
    try:
        yield asked
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@contextmanager
def _keyboard() -> Iterator[Any]:
    """Read single keys without waiting, and give the terminal back as it was."""
    import termios
    import tty

    before = termios.tcgetattr(sys.stdin)
    tty.setcbreak(sys.stdin)

    def key() -> str:
        ready, _, _ = select.select([sys.stdin], [], [], 0)
        return sys.stdin.read(1) if ready else ""

    try:
        yield key
    finally:
        with suppress(termios.error):
            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _speed(text: str) -> float | None:
    if text == "max":
        return None
    try:
        speed = float(text)
    except ValueError:
        speed = 0.0
    if not speed > 0:
        raise argparse.ArgumentTypeError(f"{text!r} is no speed; give a number above 0, or max")
    return speed
