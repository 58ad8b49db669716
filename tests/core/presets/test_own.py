"""All presets in one zip: what is packed comes out again, and what is hostile in it is refused in one sentence.

The hostile ones are those of single bundles (see `test_bundle`), within a bundle's folder and at the top.
"""

import io
import json
import stat
import zipfile
from collections.abc import Callable

import pytest

from addon.core.errors import PlaywornError
from addon.core.presets import bundle as bundles
from addon.core.presets import parcel
from addon.core.presets.bundle import Own
from tests.core.presets import test_bundle
from tests.core.presets.test_bundle import ESCAPES, PICTURE, STRANGERS, THUMBNAIL, WHOLE

FOLDER, MANIFEST = "bundles/attic-0123456789ab/", "playworn/manifest.json"
ATTIC = WHOLE.files()["preset.json"]
FILES = {
    "attic.json": ATTIC,
    "attic.png": THUMBNAIL,
    "broken.json": b"{",
    **{FOLDER + name: content for name, content in WHOLE.files().items()},
}


def made(files: dict[str, bytes], change=None, told=None) -> bytes:
    return test_bundle.made(files, change, told, MANIFEST)


def with_file(name: str, content: bytes = PICTURE) -> bytes:
    return made({**FILES, name: content})


def linked(name: str) -> bytes:
    def change(entry: zipfile.ZipInfo) -> None:
        if entry.filename == name:
            entry.external_attr = (stat.S_IFLNK | 0o777) << 16

    return made(FILES, change)


def rows(change: Callable[[list], object]) -> bytes:
    with zipfile.ZipFile(io.BytesIO(made(FILES))) as packed:
        told = json.loads(packed.read(MANIFEST))
    change(told["files"])
    return made(FILES, told=json.dumps(told).encode())


TOP = [
    "../attic.json", "/etc/attic.json", "C:/attic.json", "a/attic.json", "..\\attic.json", "Attic.json", "a b.json",
    "con.json", "nul.png", "-a.json", "a--b.json", "a.json.exe", "x" * 61 + ".json", ".json", "earlier/attic.json",
    "trash/attic~1.json", "attic.svg", "run.py", "bundles/attic/preset.json", "bundles/../attic.json", "manifest.txt",
    "bundles/attic-0123456789ab", "bundles/attic-0123456789ab/", "bundles/../0123456789ab/preset.json",
    "bundles/attic-0123456789AB/preset.json", "bundles/attic-0123456789ab/bundles/preset.json", "attic.json/", "ö.json",
    "playworn/other.json", "bundles/attic-0123456789ab/../../a.png",
]  # fmt: skip
HOSTILE: dict[str, Callable[[], bytes]] = {
    **{f"at the top {name!r}": (lambda name=name: with_file(name)) for name in TOP},
    **{
        f"in a bundle {name!r}": (lambda name=name: with_file(FOLDER + name))
        for name in [*ESCAPES, *STRANGERS]
        if name != "MANIFEST.JSON"
    },
    **{f"link {name}": (lambda name=name: linked(name)) for name in FILES},
    "case clash": lambda: with_file(FOLDER + "textures/SCRATCHES.png"),
    "bomb": lambda: with_file(FOLDER + "textures/bomb.png", PICTURE[:12] + b"\0" * (30 << 20)),
    "text bomb": lambda: with_file("bomb.json", b" " * (1 << 20)),
    "many files": lambda: made({**FILES, **{f"n{n}.json": b"{}" for n in range(parcel.MOST_FILES)}}),
    "wrong hash": lambda: rows(lambda files: files[0].update(sha256="0" * 64)),
    "a file that the manifest lacks": lambda: rows(lambda files: files.pop()),
    "a file named twice": lambda: rows(lambda files: files.append(files[0])),
    "a manifest that is none": lambda: made(FILES, told=b"[]"),
    "a picture that is a page": lambda: with_file("page.png", b"<svg onload=x>" * 9),
    "a picture that is a program": lambda: with_file(FOLDER + "textures/a.png", b"MZ" + b"\0" * 40),
    "a preset in no text": lambda: with_file("odd.json", b"\xff\xfe{"),
    "a bundle's files under this manifest": lambda: made(test_bundle.FILES),
    "without its manifest": lambda: made(FILES).replace(b"playworn/manifest.json", b"playworn/mainfest.json"),
    "nothing": lambda: b"",
    "cut off": lambda: made(FILES)[:-40],
}


def test_what_is_packed_comes_out_again():
    held = bundles.unpack(bundles.pack_own(FILES), "x.zip")
    assert held == Own(
        {"attic.json": ATTIC, "attic.png": THUMBNAIL, "broken.json": b"{"}, {FOLDER.rstrip("/"): WHOLE.files()}
    )
    assert bundles.pack_own(FILES) == bundles.pack_own(FILES)
    assert bundles.unpack(made(FILES), "x.zip") == held, "what the hostile ones are made from is good"


def test_it_is_told_from_a_bundle():
    assert isinstance(bundles.unpack(test_bundle.made(test_bundle.FILES), "x.zip"), bundles.Bundle)
    assert isinstance(bundles.unpack(bundles.pack_own(FILES), "x.zip"), Own)


def test_zipped_again_by_hand_it_is_still_good():
    again = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(bundles.pack_own(FILES))) as old, zipfile.ZipFile(again, "w") as new:
        for folder in ("playworn/", "bundles/", FOLDER, f"{FOLDER}textures/"):
            new.writestr(folder, b"")
        for name in old.namelist():
            new.writestr(name, old.read(name), zipfile.ZIP_DEFLATED)
    assert bundles.unpack(again.getvalue(), "x.zip") == bundles.unpack(bundles.pack_own(FILES), "x.zip")


@pytest.mark.parametrize("make", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_export_is_refused_in_one_sentence(make):
    with pytest.raises(PlaywornError) as caught:
        bundles.unpack(make(), "theirs.zip")
    sentence = str(caught.value)
    assert "theirs.zip" in sentence
    assert "\n" not in sentence
    assert len(sentence) < 300


@pytest.mark.parametrize("name", TOP)
def test_what_would_be_refused_is_left_out(name):
    assert not bundles.belongs(name, PICTURE)
    assert all(bundles.belongs(place, content) for place, content in FILES.items())
