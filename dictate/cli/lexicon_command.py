"""`dictate lexicon`."""
from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    pass
