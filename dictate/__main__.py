"""`python -m dictate` is the `dictate` command."""

from dictate.cli.main import run

run()
