"""The `dictate` command: which sub-command, and one plain line for whatever goes wrong."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

from dictate.cli.arguments import Parser, parser
from dictate.cli.output import harmless
from dictate.errors import DictateError

EXIT_UNUSABLE = 2
EXIT_INTERRUPTED = 130  # as shells report it


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 with a result, 2 with one line on standard error."""
    command: Parser = parser()
    try:
        options = command.parse_args(arguments)
        return int(options.run(options) or 0)
    except DictateError as error:
        return _fail(str(error))
    except BrokenPipeError:  # the reader of our output has gone (`dictate ... | head`)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or Python complains as it ends
        return EXIT_UNUSABLE
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except MemoryError:
        return _fail("there is not enough memory for this; close other programs, or give a shorter recording")


def _fail(message: str) -> int:
    line = harmless(" ".join(message.split()))
    print(f"dictate: {line}", file=sys.stderr)
    return EXIT_UNUSABLE


def run() -> NoReturn:
    """Be the console script. Output is UTF-8 whatever the locale: a note holds degrees and minus signs."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    sys.exit(main())


if __name__ == "__main__":
    run()
