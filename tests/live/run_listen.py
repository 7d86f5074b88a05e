"""`dictate listen` with the recogniser whose words are in the sound: run as a program, so that it can be killed."""

from __future__ import annotations

import sys

from dictate.cli.main import main
from dictate.live.worker import HearingOptions
from tests.live.fake_recogniser import FACTORY

if __name__ == "__main__":
    HearingOptions.__init__.__kwdefaults__["factory"] = FACTORY
    sys.exit(main(sys.argv[1:]))
