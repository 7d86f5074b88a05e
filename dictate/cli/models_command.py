"""`dictate models`: which recognisers can be used here; and, only when told to, a download."""

from __future__ import annotations

import argparse
from typing import Any


def add(commands: Any) -> None:
    """Add the command to a parser's sub-commands."""
    models = commands.add_parser("models", help="list the recognisers' models, or fetch one")
    models.set_defaults(run=list_models)
    actions = models.add_subparsers(dest="action", metavar="ACTION")
    fetch = actions.add_parser("fetch", help="download an English Vosk model (the only command that uses the network)")
    fetch.add_argument("name", nargs="?", metavar="NAME", help="name of the model; else a small English one")
    fetch.set_defaults(run=fetch_model)


def list_models(_: argparse.Namespace) -> None:
    """Print the models that can be used, the preferred one first, and where others are looked for."""
    from dictate.recognise.engines import MODEL_VARIABLE, installed_models, models_folder

    models = installed_models()
    for model in models:
        print(f"{model.engine:<8} {model.name:<32} {model.folder}")
    if not models:
        print("no model can be used: install the embedded weights again, or fetch one")
    print(f"more are looked for in {models_folder()} and in ${MODEL_VARIABLE}; `dictate models fetch` downloads one")


def fetch_model(options: argparse.Namespace) -> None:
    """Download one model."""
    from dictate.recognise.fetch import DEFAULT_MODEL, fetch_vosk_model

    folder = fetch_vosk_model(options.name or DEFAULT_MODEL)
    print(f"fetched into {folder}")
