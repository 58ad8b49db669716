"""What files are taken as. The name of one to write must say what it is, so that nothing is overwritten by a slip."""

import argparse
from pathlib import Path

HTML = ".html"


def blend(text: str) -> Path:
    return _of_kind(text, ".blend")


def svg(text: str) -> Path:
    return _of_kind(text, ".svg")


def png(text: str) -> Path:
    return _of_kind(text, ".png")


def yaml(text: str) -> Path:
    return _of_kind(text, ".yaml", ".yml")


def json(text: str) -> Path:
    return _of_kind(text, ".json")


def json_or_html(text: str) -> Path:
    return _of_kind(text, ".json", HTML)


def json_or_zip(text: str) -> Path:
    return _of_kind(text, ".json", ".zip")


def zip(text: str) -> Path:  # noqa: A001  within this file nothing is zipped
    return _of_kind(text, ".zip")


def _of_kind(text: str, *suffixes: str) -> Path:
    if not text.lower().endswith(suffixes):
        raise argparse.ArgumentTypeError(f"{text} does not end in {' or '.join(suffixes)}")
    return Path(text)


def add_keeping(sub: argparse.ArgumentParser) -> None:
    """For commands that read exports."""
    sub.add_argument("--keep-objects", action="store_true", help="take each object of an export as one brick, as it is")
    sub.add_argument(
        "--keep-alpha", action="store_true", help="make no clear plastic of what an export has see-through"
    )


def add_build(sub: argparse._ActionsContainer) -> None:
    """For commands that take one build."""
    sub.add_argument("--build", default="", metavar="NAME", help="the collection to take, where the file holds several")
