"""Sound: frames of 16 kHz mono from recordings, and where utterances begin and end."""

from dictate.audio.endpoint import Endpointer, EndpointOptions, SpokenSpan
from dictate.audio.files import duration_s, frames_of_file
from dictate.audio.frame import SAMPLE_RATE_HZ, Frame, Samples

__all__ = [
    "SAMPLE_RATE_HZ",
    "EndpointOptions",
    "Endpointer",
    "Frame",
    "Samples",
    "SpokenSpan",
    "duration_s",
    "frames_of_file",
]
