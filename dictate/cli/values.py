"""Values of options that several commands take."""

from __future__ import annotations

import argparse
from datetime import datetime


def age_years(text: str) -> float:
    """Return an age in years."""
    try:
        years = float(text)
    except ValueError:
        years = -1.0
    if not 0 <= years <= 130:
        raise argparse.ArgumentTypeError(f"{text!r} is no age in years from 0 to 130")
    return years


def moment(text: str) -> datetime:
    """Return a time of day with its zone; this machine's zone where none is given."""
    try:
        if len(text) <= len("2026-11-25"):
            raise ValueError
        return datetime.fromisoformat(text).astimezone()
    except (ValueError, OverflowError) as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no time such as 2026-11-25T09:15") from error
