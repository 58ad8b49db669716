"""No file of the repository may carry a package registry's address or a path of somebody's machine."""

import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]

FORBIDDEN = {
    "a package registry": re.compile(
        r"\b(?:(?:test\.)?pypi|pythonhosted|anaconda)\.org|\bnpmjs\.(?:org|com)|\bcrates\.io|\b(?:deb|security|ftp)\.debian\.org"
        r"|\bblender\.org/pypi|--(?:extra-)?index-url|--find[-]links"
    ),
    "a path of one machine": re.compile(
        r"(?<![\w.~$}{*-])/(?:work|root|home|opt|Users|tmp|var/tmp)/[\w.]|\b[A-Z]:\\\\?Users\b"
    ),
}


def found(text: str) -> list[str]:
    """What must not stand in the text."""
    return [what for what, pattern in FORBIDDEN.items() if pattern.search(text)]


def _tracked() -> list[Path]:
    if not (CHECKOUT / ".git").exists():
        pytest.skip("this copy of the sources has no git to ask which files belong to it")
    names = subprocess.run(["git", "ls-files", "-z"], cwd=CHECKOUT, capture_output=True, text=True, check=True).stdout
    return [CHECKOUT / name for name in names.split("\0") if name]


def test_tracked_text_is_clean():
    dirty = {}
    for path in _tracked():
        data = path.read_bytes() if path.is_file() else b""
        if b"\0" not in data and (what := found(data.decode("utf-8"))):
            dirty[path.relative_to(CHECKOUT).as_posix()] = what
    assert dirty == {}


def test_no_lock_file_is_tracked():
    # It would write a registry's address for each package.
    assert [path.name for path in _tracked() if path.name == "uv.lock"] == []


@pytest.mark.parametrize(
    "text",
    [
        "https://py" + "pi.org/simple",
        "files.python" + "hosted.org",
        "registry.npm" + "js.org",
        "pip install --index" + "-url x",
        "open('/ho" + "me/anna/x')",
        "cd /wo" + "rk/main",
        "C:\\Us" + "ers\\anna",
        "/va" + "r/tmp/x",
    ],
)
def test_dirt_is_seen(text: str):
    assert found(text) != []


@pytest.mark.parametrize(
    "text", ["tests/work/a.py", "~/home/x", "a /tmp folder", "https://docs.blender.org/manual/en", "$HOME/x"]
)
def test_clean_text_passes(text: str):
    assert found(text) == []
