"""The one family of errors that a person is shown as a single plain line."""


class DictateError(Exception):
    """Something that the user can act on. The text says what is wrong and what to do; the command exits with 2."""


class UnusableInput(DictateError):
    """A recording or transcript that cannot be read."""


class LexiconError(DictateError):
    """A lexicon file that cannot be used; the text names file and line."""


class RecogniserError(DictateError):
    """A recogniser whose weights or library are missing, damaged or unfit."""


class MicrophoneError(DictateError):
    """No microphone to hear with: the library or the device is missing, or the device cannot be opened."""


class MicrophoneLost(MicrophoneError):
    """A microphone that gave sound went away or stopped; what it gave is kept, and it may come back."""


class JournalError(DictateError):
    """An exam's folder, journal or sound that cannot be written or read; what is on disk stays as it is."""
