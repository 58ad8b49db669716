"""Bundles: what is packed comes out again, and a hundred hostile ones are each refused in one sentence.

The hostile ones are made with Python's zipfile and by changing bytes at places that PKWARE's APPNOTE names: the zips of
an attacker need not be ones that a well-meaning tool would write.
"""

import hashlib
import io
import json
import random
import stat
import struct
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from addon.core.errors import BundleProblem, PlaywornError
from addon.core.pictures import png
from addon.core.presets import bundle as bundles
from addon.core.presets import parcel
from addon.core.presets import preset as presets
from addon.core.presets.bundle import Bundle
from addon.core.wear import standin

SHIPPED = Path(__file__).resolve().parents[3] / "presets"
PRESET = presets.parse((SHIPPED / "attic.json").read_text("utf-8"), "attic.json")
PICTURE = png.encode(standin.scratches(3)[:64, :64])
THUMBNAIL = (SHIPPED / "attic.png").read_bytes()
WHOLE = Bundle(PRESET, {"scratches.png": PICTURE, "Staub ö 2k.PNG": PICTURE}, THUMBNAIL, "Do as you like.\n")


def test_what_is_packed_comes_out_again():
    for each in (WHOLE, Bundle(PRESET), replace(WHOLE, thumbnail=b"")):
        data = bundles.pack(each)
        assert bundles.unpack(data, "x.zip") == each
        assert bundles.pack(each) == data, "nothing of the day or the machine is in it"


def test_any_unzipper_reads_it_and_finds_the_hashes_right():
    """The manifest against hashlib on what Python's zipfile takes out."""
    with zipfile.ZipFile(io.BytesIO(bundles.pack(WHOLE))) as packed:
        assert packed.testzip() is None
        told = json.loads(packed.read("manifest.json"))["files"]
        assert {each["file"] for each in told} == set(packed.namelist()) - {"manifest.json"}
        for each in told:
            content = packed.read(each["file"])
            assert (each["bytes"], each["sha256"]) == (len(content), hashlib.sha256(content).hexdigest())


def test_one_zipped_again_by_hand_is_still_good():
    """Unpacked and packed by another tool: folders stand in it, and everything is deflated."""
    again = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(bundles.pack(WHOLE))) as old, zipfile.ZipFile(again, "w") as new:
        new.writestr("textures/", b"")
        for name in old.namelist():
            new.writestr(name, old.read(name), zipfile.ZIP_DEFLATED)
    assert bundles.unpack(again.getvalue(), "x.zip") == WHOLE


@pytest.mark.parametrize(
    "name", ["..", "a/b.png", "con.png", ".png", "x.exe", "x" * 200 + ".png", "a\n.png", "a:b.png"]
)
def test_what_nobody_would_take_is_not_packed(name):
    with pytest.raises(BundleProblem):
        bundles.pack(replace(WHOLE, textures={name: PICTURE}))


def made(
    files: dict[str, bytes],
    change: Callable[[zipfile.ZipInfo], None] | None = None,
    told=None,
    manifest: str = "manifest.json",
) -> bytes:
    """A zip of files with a manifest that is right about them, or `told`; `change` alters each entry."""
    if told is None:
        rows = [{"file": n, "bytes": len(c), "sha256": hashlib.sha256(c).hexdigest()} for n, c in files.items()]
        told = json.dumps({"format": 1, "files": rows}).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, content in {manifest: told, **files}.items():
            entry = zipfile.ZipInfo(name)
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            if change:
                change(entry)
            packed.writestr(entry, content)
    return out.getvalue()


FILES = WHOLE.files()


def with_file(name: str, content: bytes = PICTURE) -> bytes:
    return made({**FILES, name: content})


def linked(name: str, kind: int = stat.S_IFLNK) -> bytes:
    def change(entry: zipfile.ZipInfo) -> None:
        if entry.filename == name:
            entry.external_attr = (kind | 0o777) << 16

    return made(FILES, change)


def twice(name: str) -> bytes:
    out = io.BytesIO(made(FILES))
    with zipfile.ZipFile(out, "a") as packed, pytest.warns(UserWarning, match="Duplicate name"):
        packed.writestr(name, b"another")
    return out.getvalue()


def patched(offset: int, value: bytes, marker: bytes = b"PK\x01\x02", number: int = 0) -> bytes:
    """A good bundle with bytes changed at an offset from the n-th header of a kind (APPNOTE 4.3.7, 4.3.12)."""
    data, at = bytearray(made(FILES)), -1
    for _ in range(number + 1):
        at = data.index(marker, at + 1)
    data[at + offset : at + offset + len(value)] = value
    return bytes(data)


def manifest(**changes) -> bytes:
    told = json.loads(made_manifest())
    return made(FILES, told=json.dumps({**told, **changes}).encode())


def made_manifest() -> bytes:
    with zipfile.ZipFile(io.BytesIO(made(FILES))) as packed:
        return packed.read("manifest.json")


def rows(change: Callable[[list], object]) -> bytes:
    told = json.loads(made_manifest())
    change(told["files"])
    return made(FILES, told=json.dumps(told).encode())


def bomb(size: int) -> bytes:
    return with_file("textures/bomb.png", PICTURE[:12] + b"\0" * size)


ESCAPES = [
    "../escape.png", "textures/../../escape.png", "/etc/escape.png", "textures//escape.png", "C:/escape.png",
    "textures/C:escape.png", "..\\escape.png", "textures\\escape.png", "textures/..\\escape.png", "~/escape.png",
    "textures/a/b.png", "textures/./a.png", "\\\\server\\share\\a.png", "textures/.hidden.png", "textures/a.png ",
    "textures/a.png.", "textures/ a.png", "textures/nul.png", "textures/COM1.png", "textures/aux .png",
    "textures/a\x01.png", "textures/a\u202egnp.exe.png", "textures/a?.png", "textures/a|b.png", "textures/a*.png",
    "textures/" + "x" * 101 + ".png", "textures/" + "ö" * 60 + ".png", "textures/.png", "textures/\u2028.png",
]  # fmt: skip
STRANGERS = [
    "run.py", "textures/run.py", "textures/a.svg", "textures/a.blend", "autorun.inf", "textures/a.png.exe",
    "MANIFEST.JSON", "Preset.json", "presets/attic.json", "thumbnail.jpg", "licence.md", "__MACOSX/._preset.json",
    "textures.png", "textures/a.gif", "preset.json/a.png", "thumbnail.png/",
]  # fmt: skip

HOSTILE: dict[str, Callable[[], bytes]] = {
    **{f"escape {name!r}": (lambda name=name: with_file(name)) for name in ESCAPES},
    **{f"stranger {name!r}": (lambda name=name: with_file(name)) for name in STRANGERS},
    **{f"link {name}": (lambda name=name: linked(name)) for name in ("preset.json", "textures/scratches.png")},
    **{f"device {kind:o}": (lambda kind=kind: linked("licence.txt", kind)) for kind in (0o20000, 0o60000, 0o10000)},
    "a folder that says it is a file": lambda: linked("licence.txt", stat.S_IFDIR),
    **{f"twice {name}": (lambda name=name: twice(name)) for name in ("preset.json", "textures/scratches.png")},
    "case clash": lambda: with_file("textures/Scratches.png"),
    "accent clash": lambda: with_file("textures/Staub o\u0308 2k.PNG"),
    "bomb": lambda: bomb(30 << 20),
    "small bomb": lambda: bomb(1 << 20),
    "text bomb": lambda: made({**FILES, "licence.txt": b" " * (1 << 20)}),
    "many files": lambda: made({**FILES, **{f"textures/{n}.png": PICTURE for n in range(parcel.MOST_FILES)}}),
    "a size that lies": lambda: patched(24, struct.pack("<I", 10), number=2),
    "a size of four gigabytes": lambda: patched(24, struct.pack("<I", 0xFFFFFFFE), number=4),
    "a packed size that lies": lambda: patched(20, struct.pack("<I", 3), number=2),
    "a place outside of the file": lambda: patched(42, struct.pack("<I", 0x7FFFFFFF), number=1),
    "a place in another entry": lambda: patched(42, struct.pack("<I", 40), number=3),
    "another name in the local header": lambda: patched(30, b"evil", b"PK\x03\x04", 1),
    "a checksum that lies": lambda: patched(16, b"\1\2\3\4", number=1),
    "encrypted": lambda: patched(8, struct.pack("<H", 1), number=1),
    "packed in an odd way": lambda: patched(10, struct.pack("<H", 99), number=1),
    "packed with bzip2": lambda: patched(10, struct.pack("<H", 12), number=1),
    "no end": lambda: made(FILES)[:-22],
    "only an end": lambda: made(FILES)[-22:],
    "wrong hash": lambda: rows(lambda files: files[0].update(sha256="0" * 64)),
    "hash in capitals": lambda: rows(lambda files: files[0].update(sha256=files[0]["sha256"].upper())),
    "no hash": lambda: rows(lambda files: files[0].pop("sha256")),
    "wrong size": lambda: rows(lambda files: files[0].update(bytes=1)),
    "a file that the manifest lacks": lambda: rows(lambda files: files.pop()),
    "a file that only the manifest has": lambda: rows(
        lambda files: files.append({"file": "textures/x.png", "bytes": 0, "sha256": ""})
    ),
    "a file named twice": lambda: rows(lambda files: files.append(files[0])),
    "a file that is a number": lambda: rows(lambda files: files.append(3)),
    "a manifest of another format": lambda: manifest(format=2),
    "a manifest of format true": lambda: manifest(format=True),
    "a manifest without files": lambda: manifest(files=None),
    "a manifest that is none": lambda: made(FILES, told=b"[]"),
    "a manifest in a deep hole": lambda: made(FILES, told=b"[" * 50_000),
    "a manifest in no text": lambda: made(FILES, told=b"\xff\xfe"),
    "a manifest with a key twice": lambda: made(FILES, told=b'{"format": 1, "format": 1, "files": []}'),
    "a preset out of range": lambda: made({**FILES, "preset.json": FILES["preset.json"].replace(b"0.06", b"9.99")}),
    "a preset that is none": lambda: made({**FILES, "preset.json": b"{}"}),
    "a preset in no text": lambda: made({**FILES, "preset.json": b"\xff\xfe{"}),
    "a preset with a path for a name": lambda: made(
        {**FILES, "preset.json": FILES["preset.json"].replace(b'"attic"', b'"../../attic"')}
    ),
    "a picture that is a program": lambda: with_file("textures/a.png", b"MZ" + b"\0" * 40),
    "a picture that is a page": lambda: with_file("textures/a.webp", b"RIFF....HTML<script>"),
    "a thumbnail that is a page": lambda: made({**FILES, "thumbnail.png": b"<svg onload=x>" * 9}),
    "a thumbnail of a gigapixel": lambda: made(
        {**FILES, "thumbnail.png": THUMBNAIL[:16] + struct.pack(">II", 40_000, 40_000) + THUMBNAIL[24:]}
    ),
    "a thumbnail without a size": lambda: made({**FILES, "thumbnail.png": THUMBNAIL[:20]}),
    "a licence in no text": lambda: made({**FILES, "licence.txt": b"\xff\xfe\xfd"}),
    **{
        f"without {name}": (lambda name=name: made({n: c for n, c in FILES.items() if n != name}))
        for name in ("preset.json", "licence.txt")
    },
    "nothing": lambda: b"",
    "a picture in place of a zip": lambda: PICTURE,
    "a text in place of a zip": lambda: b"PK\x03\x04 is how a zip begins",
    "an empty zip": lambda: b"PK\x05\x06" + b"\0" * 18,
    **{
        f"cut off at {share} %": (lambda share=share: made(FILES)[: len(made(FILES)) * share // 100])
        for share in (5, 50, 99)
    },
}


def refused(data: bytes) -> None:
    with pytest.raises(PlaywornError) as caught:
        bundles.unpack(data, "theirs.zip")
    sentence = str(caught.value)
    assert "theirs.zip" in sentence
    assert "\n" not in sentence
    assert len(sentence) < 300


def test_there_are_a_hundred_of_them():
    assert len(HOSTILE) >= 100


@pytest.mark.parametrize("make", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_bundle_is_refused_in_one_sentence(make):
    refused(make())


def test_what_the_hostile_ones_are_made_from_is_good():
    """Else they would be refused for something that all of them have."""
    assert bundles.unpack(made(FILES), "x.zip") == WHOLE


@pytest.mark.parametrize("seed", range(300))
def test_damaged_bytes_are_refused_or_do_no_harm(seed):
    """A few bytes changed anywhere: what still reads is the very bundle, its hashes say so."""
    draw, data = random.Random(seed), bytearray(bundles.pack(replace(WHOLE, textures={})))
    for _ in range(draw.randrange(1, 4)):
        data[draw.randrange(len(data))] = draw.randrange(256)
    try:
        read = bundles.unpack(bytes(data), "theirs.zip")
    except PlaywornError:
        refused(bytes(data))
    else:
        assert read == replace(WHOLE, textures={})
