"""The folders of presets, shipped and of the user, and what lies in them."""

from pathlib import Path

SHIPPED = sorted(path.stem for path in Path(__file__).resolve().parents[3].joinpath("presets").glob("*.json"))


def files(folder: Path) -> list[str]:
    """All files but the one that holds the lock."""
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file() and path.name != ".lock"
    )


def held(folder: Path) -> dict[str, bytes]:
    paths = (path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}
