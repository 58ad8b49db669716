"""Spoiled presets, bundles, pictures and properties of ours, handed to the jobs that read them.

    python bench/hostile.py [--many 1000] [--only preset,bundle,own,picture,kept] [--seed 0] [--keep FOLDER]

The counterpart of bench/fuzz.py, which does this with exports; what its columns mean stands there. "left" is here: a
file that was refused, but of which something is in the library, the folder or the file; or one that was taken in and
cannot be read again. `kept` are the raw properties of a worn .blend with shots on its timeline, each put to values of
wrong kinds and to spoiled texts; then all jobs that read them are done, and what was worn has to come off again.
"""

import argparse
import io
import json
import os
import random
import shutil
import sys
import tempfile
import zipfile
import zlib
from contextlib import suppress
from copy import deepcopy
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from bench import fuzz, mutations  # noqa: E402  found by the line above

KINDS = ("preset", "bundle", "own", "picture", "kept")
OWN = "PLAYWORN_PRESETS"
SUFFIXES = ("png", "jpg", "tif", "exr", "webp")


def spoiled_json(data, rng):
    """JSON with leaves of another kind, keys gone or said twice; or as any text, or as any bytes."""
    way = rng.randrange(6)
    if way < 3:
        return json.dumps(_tree(json.loads(data), rng)).encode()
    if way == 3:
        return (
            data.replace(b'"fit"', b'"wear"', 1) if rng.random() < 0.5 else b"[" * rng.choice((5, 50, 100_000)) + data
        )
    return rng.choice(mutations.TEXT if way == 4 else mutations.BYTES)(data, rng)


def _tree(root, rng):
    for _ in range(rng.choice((1, 1, 2, 4))):
        places = list(mutations._places(root))
        if not places:
            break
        holder, key = rng.choice(places)
        if rng.random() < 0.15:
            del holder[key]
        elif isinstance(holder, dict) and rng.random() < 0.2:
            holder[rng.choice(["x", "", "fit", "unknown", "wear", "\ud800", "é" * 500])] = deepcopy(rng.choice(LEAVES))
        else:
            holder[key] = deepcopy(rng.choice(LEAVES))
    return root


LEAVES = [None, -1, 0, 1, 0.05, 1e308, float("nan"), float("inf"), 1 << 70, "", "x", "con", "../x", "a/b", "\ud800",
          "x" * 5000, [], {}, [[]], {"a": 1}, True, False, [1] * 40, ["a", "a"], "\u202e", "a\nb"]  # fmt: skip


def spoiled_zip(data, rng):
    """A zip with other bytes, or one whose files are other than its manifest says, or one put together anew."""
    if rng.random() < 0.4:
        return rng.choice(mutations.BYTES)(data, rng)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    name = rng.choice(list(files))
    way = rng.randrange(6)
    if way == 0:
        del files[name]
    elif way == 1:
        files[rng.choice(["../out.json", "/x/y", "textures/../../x.png", "a.exe", "C:x", name.upper()])] = files[name]
    elif way == 2:
        files[name] = spoiled_json(files[name], rng) if name.endswith(".json") else mutations.noise(files[name], rng)
    else:  # spoiled, and packed as a bundle is: only what is in it can tell
        from addon.core.presets import bundle, parcel

        manifest = next(each for each in files if each.endswith("manifest.json"))
        del files[manifest]
        name = rng.choice(list(files))
        files[name] = spoiled_json(files[name], rng) if name.endswith(".json") else mutations.noise(files[name], rng)
        return parcel.pack(files, bundle._ONE if manifest == "manifest.json" else bundle._ALL)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", rng.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED))) as packed:
        for each, content in files.items():
            packed.writestr(each, content)
    return made.getvalue()


def spoiled_picture(data, rng):
    """A picture of other bytes, most of them in its header, or of a size that nobody has."""
    way = rng.randrange(8)
    if way == 0 and data.startswith(b"\x89PNG"):
        sides = [
            rng.choice((0, 1, 70, 20_000, 60_000, 1_000_000, 2**31 - 1, 2**32 - 1)).to_bytes(4, "big") for _ in "wh"
        ]
        head = b"IHDR" + b"".join(sides) + data[24:29]
        return data[:12] + head + zlib.crc32(head).to_bytes(4, "big") + data[33:]
    if way == 1:
        return mutations.cut(data, rng)
    if way == 2:
        return data[: rng.randrange(40)] + rng.randbytes(rng.choice((0, 20, 4000)))
    return mutations.spoiled("picture", data, str(rng.random()))


def pictures():
    """Good ones of each kind, by suffix."""
    import bpy
    import numpy as np
    from PIL import Image

    grey = (np.random.default_rng(0).random((48, 70, 3)) * 255).astype(np.uint8)
    found = {}
    for suffix, form in (("png", "PNG"), ("jpg", "JPEG"), ("tif", "TIFF"), ("webp", "WEBP")):
        made = io.BytesIO()
        Image.fromarray(grey).save(made, form)
        found[suffix] = made.getvalue()
    image = bpy.data.images.new("x", 70, 48, float_buffer=True)
    with tempfile.TemporaryDirectory() as folder:
        image.filepath_raw, image.file_format = str(Path(folder) / "x.exr"), "OPEN_EXR"
        image.save()
        found["exr"] = (Path(folder) / "x.exr").read_bytes()
    return found


def spoil(kind, many, seed, folder):
    """Writes `many` spoiled files of a kind."""
    from addon.core.presets import bundle, thumbnail
    from addon.core.presets import preset as presets

    rng = random.Random(f"{seed} {kind}")
    shipped = [
        json.dumps({**json.loads(path.read_bytes()), "name": f"{path.stem}-2"}).encode()
        for path in sorted((CHECKOUT / "presets").glob("*.json"))
    ]
    if kind == "kept":
        return [_kept(rng, folder / f"{n:05d}.json") for n in range(many)]
    if kind == "preset":
        return [_written(folder / f"{n:05d}.json", spoiled_json(rng.choice(shipped), rng)) for n in range(many)]
    good = pictures()
    if kind == "picture":
        paths = []
        for n in range(many):
            suffix = rng.choice(SUFFIXES)
            wrong = rng.choice(SUFFIXES) if rng.random() < 0.1 else suffix
            paths.append(folder / f"{n:05d}" / f"scratches.{wrong}")
            paths[-1].parent.mkdir()
            _written(paths[-1], spoiled_picture(good[suffix], rng))
        return paths
    preset = presets.parse(shipped[0].decode(), "a shipped one")
    if kind == "bundle":
        picture = thumbnail.marked(good["png"], preset)
        whole = bundle.pack(bundle.Bundle(preset, {"scratches.png": good["png"], "dust.jpg": good["jpg"]}, picture))
    else:
        files = {f"{presets.parse(each.decode(), '').name}.json": each for each in shipped[:3]}
        whole = bundle.pack_own({**files, f"bundles/{preset.name}-0123456789ab/textures/dust.png": good["png"]})
    return [_written(folder / f"{n:05d}.zip", spoiled_zip(whole, rng)) for n in range(many)]


def _written(path, data):
    path.write_bytes(data)
    return path


PROPERTIES = (
    "playworn", "playworn_shots", "playworn_shot_cameras", "playworn_timeline", "playworn_stood", "playworn_lattice",
    "playworn_told", "playworn_key", "playworn_home", "playworn_placed", "playworn_roll", "playworn_pinned",
    "playworn_counted", "playworn_given", "playworn_slots", "playworn_slot", "playworn_instead_of", "playworn_shape",
    "playworn_rounded", "playworn_original", "playworn_shrink", "playworn_aside", "playworn_levels",
    "playworn_stand_in", "playworn_mark", "playworn_brought_in", "playworn_came", "playworn_export", "playworn_rest",
)  # fmt: skip
PLAIN = [-1, 0, 1, 1 << 30, 1e308, float("nan"), "", "x", "{", "[]", "{}", "null", "[1]", '{"format": 1}', "[" * 5000,
         [], [1, 2], [0.5, 2.5, float("nan")], [1.0] * 40, ["a", "b"], {}, {"a": 1}, {"a": {"b": [1]}}, True,
         "NaN", "\x00x", "x" * 100_000]  # fmt: skip


def _kept(rng, path):
    """What is to be put where: a value of its own, or None to have the text that is there spoiled by the number."""
    value = rng.choice(PLAIN) if rng.random() < 0.5 else None
    asked = {
        "name": rng.choice(PROPERTIES[:6] if rng.random() < 0.5 else PROPERTIES),
        "value": value,
        "seed": rng.random(),
    }
    path.write_text(json.dumps(asked))
    return path


def read(answer, kind, names):
    """In the child: hands each file to what reads it."""
    look = {
        "preset": look_at_preset,
        "bundle": take_in,
        "own": take_in,
        "picture": look_at_picture,
        "kept": look_at_kept,
    }
    fuzz.answer_each(answer, names, look[kind])


def look_at_preset(path):
    from addon import usecases
    from addon.core.presets import preset as presets

    text = presets.dump(usecases.read_preset(path))
    if presets.dump(presets.parse(text, "")) != text:
        raise fuzz.Left("what was read reads otherwise once it is written")


def take_in(path):
    from addon import usecases
    from addon.core.errors import PlaywornError

    own = path.parent / "own"
    shutil.rmtree(own, ignore_errors=True)
    own.mkdir()
    os.environ[OWN] = str(own)
    outside = _files(path.parent, own)
    try:
        usecases.import_presets(path, "")
    except PlaywornError as problem:
        if left := [each for each in _files(own) if not each.endswith("/.lock")]:
            raise fuzz.Left(f"{left} after {problem}") from problem
        raise
    finally:
        if _files(path.parent, own) != outside:
            raise fuzz.Left("a file outside of the library")
    if broken := [each for each in usecases.list_presets() if each.origin == "own" and each.problem]:
        raise fuzz.Left(f"taken in, but {broken[0].problem}")


def _files(folder, but=None):
    return {str(each) for each in folder.rglob("*") if each.is_file() and (but is None or but not in each.parents)}


def look_at_picture(path):
    import bpy

    from addon import usecases
    from addon.core.errors import TextureProblem
    from addon.scene.wear import images

    preset = usecases.find_preset("well-loved")
    usecases.survey_textures(path.parent, preset)
    before = len(bpy.data.images)
    try:
        images.find(path.parent)
    except TextureProblem as problem:
        if len(bpy.data.images) != before:
            raise fuzz.Left(problem) from problem
        raise
    finally:
        for image in list(bpy.data.images):
            if not image.packed_file:
                bpy.data.images.remove(image)


def look_at_kept(path):
    import bpy

    from addon import usecases
    from addon.core.errors import PlaywornError

    worn = path.parent / "worn.blend"
    if not worn.exists():
        _worn(worn)
    bpy.ops.wm.open_mainfile(filepath=str(worn))
    asked = json.loads(path.read_text())
    put(asked["name"], asked["value"], random.Random(asked["seed"]))
    scene, build = bpy.context.scene, bpy.data.collections["build"]
    preset = usecases.find_preset("fresh")
    refusals = []
    for job in (
        lambda: usecases.inspect(build),
        lambda: usecases.list_shots(scene),
        lambda: usecases.find_shots(scene),
        lambda: usecases.check(build),
        lambda: usecases.shots_on_timeline(build, scene),
        lambda: usecases.off_timeline(build),
        lambda: usecases.apply(build, preset, usecases.Dials(3)),
        lambda: usecases.forget_shots(scene),
        lambda: usecases.clear(build),
    ):
        try:
            job()
        except PlaywornError as problem:
            refusals.append(problem)
    if any(usecases.is_applied(room) for room in bpy.data.collections):
        raise fuzz.Left(f"still worn: {refusals[-1:]}")
    if refusals:
        raise refusals[0]


def _worn(path):
    import bpy

    from addon import usecases
    from tests.blender import scenes

    bpy.ops.wm.read_factory_settings(use_empty=True)
    build, scene = scenes.wall(2, 2), bpy.context.scene
    for n in range(2):
        thing = bpy.data.objects.new(f"camera {n}", bpy.data.cameras.new("camera"))
        scene.collection.objects.link(thing)
        scene.timeline_markers.new(f"sh{n}", frame=1 + 100 * n).camera = thing
    scene.camera = thing
    preset = usecases.find_preset("well-loved")
    usecases.apply(build, preset, usecases.Dials(1, rounding="geometry"))
    usecases.find_shots(scene)
    usecases.dial_shots(scene, {("sh1", "looseness"): 0.5})
    usecases.keep_shots(scene)
    usecases.shots_on_timeline(build, scene)
    with suppress(FileNotFoundError):
        path.unlink()
    bpy.ops.wm.save_as_mainfile(filepath=str(path))


def put(name, value, rng):
    """Puts a property to a value wherever it is, or where it may be; without one what is there is spoiled."""
    import bpy

    everything = [*bpy.data.scenes, *bpy.data.collections, *bpy.data.objects, *bpy.data.meshes, *bpy.data.materials,
                  *bpy.data.images]  # fmt: skip
    holders = [thing for thing in everything if name in thing]
    for thing in holders or [bpy.context.scene, bpy.data.collections["build"], bpy.data.objects[0], bpy.data.meshes[0]]:
        given = value
        if given is None:
            there = thing.get(name)
            if isinstance(there, str):
                spoiled = spoiled_json(there.encode(), rng) if there[:1] in ("{", "[") else there.encode()[::-1]
                given = spoiled.decode("utf-8", "replace").replace("\0", "")
            else:
                given = rng.choice(PLAIN)
        if isinstance(given, str):
            given = given.replace("\0", "")
        with suppress(TypeError, OverflowError, ValueError):  # Blender keeps no such value
            thing[name] = given


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--many", type=int, default=1000)
    parser.add_argument("--only", default=",".join(KINDS))
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keep", type=Path)
    arguments = parser.parse_args()
    print(fuzz.headings("what"))
    for kind in arguments.only.split(","):
        with tempfile.TemporaryDirectory() as folder:
            paths = spoil(kind, arguments.many, arguments.seed, Path(folder))
            found, tracebacks = fuzz.judge(paths, __file__, kind)
            print(fuzz.line(kind, found, tracebacks), flush=True)
            for path, told in found.items() if arguments.keep else ():
                if told[0] not in fuzz.KINDS[:2]:
                    arguments.keep.mkdir(parents=True, exist_ok=True)
                    shutil.copy(path, arguments.keep)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--read"]:
        read(int(sys.argv[2]), sys.argv[3], sys.argv[4:])
    else:
        main()
