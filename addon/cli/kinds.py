"""Files to write: the name must say what a file is, so that no build or picture is overwritten by a slip."""

import argparse
from pathlib import Path


def blend(text: str) -> Path:
    return _of_kind(text, ".blend")


def svg(text: str) -> Path:
    return _of_kind(text, ".svg")


def json(text: str) -> Path:
    return _of_kind(text, ".json")


def zip(text: str) -> Path:  # noqa: A001  within this file nothing is zipped
    return _of_kind(text, ".zip")


def _of_kind(text: str, suffix: str) -> Path:
    if not text.lower().endswith(suffix):
        raise argparse.ArgumentTypeError(f"{text} does not end in {suffix}")
    return Path(text)
