"""How much a page may ask of the server, and what is counted of those who ask too much."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What one server puts up with. All numbers are the project's choice: one person, one or two tabs, one machine."""

    body_bytes: int = 1 << 20  # of a request
    message_bytes: int = 1 << 18  # of a message on a socket; sound comes in messages of 3.2 kB
    sockets: int = 8  # open at once, of all kinds
    requests_per_s: float = 50.0  # of those who have the cookie
    requests_burst: int = 200
    messages_per_s: float = 400.0  # on one socket; ten minutes of kept sound are 6000 messages
    messages_burst: int = 1200
    stranger_requests_per_s: float = 5.0  # of those who have not
    stranger_requests_burst: int = 20
    wrong_token_delay_s: float = 0.5  # before a wrong token is answered
    wrong_tokens_waiting: int = 8  # answers held back at once; one more is refused at once


class Allowance:
    """A bucket of tokens: so many at once, refilled at so many a second.

    >>> allowance = Allowance(per_s=1, burst=2, clock=lambda: 0.0)
    >>> [allowance.take() for _ in range(3)]
    [True, True, False]
    """

    def __init__(self, *, per_s: float, burst: int, clock: Callable[[], float] = time.monotonic) -> None:
        self._per_s, self._burst, self._clock = per_s, float(burst), clock
        self._left, self._at = float(burst), clock()

    def take(self) -> bool:
        """Take one, if there is one."""
        now = self._clock()
        self._left = min(self._burst, self._left + (now - self._at) * self._per_s)
        self._at = now
        if self._left < 1:
            return False
        self._left -= 1
        return True

    @property
    def wait_s(self) -> float:
        """Seconds until there is one again."""
        return max(0.0, (1 - self._left) / self._per_s)
