"""Hear the default microphone and tell of it: one JSON object a line. Run in a process of its own by the tests.

    python -m tests.support.hear_microphone SECONDS WAV [DEVICE]

Ends after so many seconds on the source's clock. While the microphone is away it is tried ten times a second.
"""

from __future__ import annotations

import json
import sys
import time

import numpy as np
import soundfile

from dictate.audio.frame import SAMPLE_RATE_HZ
from dictate.audio.microphone import Microphone
from dictate.audio.source import Gap
from dictate.errors import DictateError, MicrophoneLost


def tell(**what: object) -> None:
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


def main(seconds: float, wav: str, device: str | None) -> None:
    microphone = Microphone(device=device)
    heard: list[np.ndarray] = []
    at_s = 0.0
    while at_s < seconds:
        try:
            for event in microphone:
                if isinstance(event, Gap):
                    tell(kind="gap", from_s=event.from_s, to_s=event.to_s, why=event.why)
                    at_s = event.to_s
                    continue
                if not heard:
                    tell(kind="first", start_s=event.start_s)
                if abs(event.start_s - at_s) > 0.002:
                    tell(kind="jump", at_s=at_s, start_s=event.start_s)
                heard.append(event.samples)
                at_s = event.end_s
                if at_s >= seconds:
                    microphone.close()
        except MicrophoneLost as error:
            tell(kind="lost", text=str(error), lost=microphone.lost)
            time.sleep(0.1)
        except DictateError as error:
            tell(kind="error", text=str(error))
            return
    soundfile.write(wav, np.concatenate(heard), SAMPLE_RATE_HZ)
    tell(kind="end", at_s=at_s, lost=microphone.lost, name=microphone.name)


if __name__ == "__main__":
    main(float(sys.argv[1]), sys.argv[2], sys.argv[3] if len(sys.argv) > 3 else None)
