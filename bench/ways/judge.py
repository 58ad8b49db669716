"""Judge what bringing in makes of every file of a folder, in the Blender of this Python.

    python -m bench.ways.judge FOLDER [--only PATTERN] [--out TABLE.json] [--limit SECONDS] [--jobs N]

A file is right when the scale is true to 0.1 %, up is up, every true brick is matched by exactly one object (box to
0.05 mm, surface to 2 %) in its own colour, there are no others, and equal parts share their meshes. A file from which
faces were dropped may instead be answered by a sentence that says so. Each file has a process of its own.
"""

import argparse
import fnmatch
import itertools
import json
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

NEAR_MM, SCALE_NEAR, AREA_NEAR, COLOUR_NEAR = 0.05, 1e-3, 0.02, 0.03
AREA_NEAR_DROPPED = 0.7  # where faces were dropped
TELLS = ("told apart", "coincident", "dropped", "one from another", "lie on each other")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", default="*")
    parser.add_argument("--out", type=Path)
    parser.add_argument("--limit", type=float, default=300)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--one", action="store_true", help="judge this file here and print JSON")
    asked = parser.parse_args()
    if asked.one:
        print("\nJUDGED " + json.dumps(judged(asked.folder)))
        return
    files = sorted(asked.folder.glob("*.truth.json"))
    files = [f.with_name(f.name.removesuffix(".truth.json")) for f in files]
    files = [f for f in files if fnmatch.fnmatch(f.name, f"*{asked.only}*")]
    rows = []
    with ThreadPoolExecutor(asked.jobs) as pool:
        for row in pool.map(lambda file: _apart(file, asked.limit), files):
            rows.append(row)
            print(line(row), flush=True)
    print(f"{sum(row['right'] for row in rows)} of {len(rows)}")
    if asked.out:
        asked.out.write_text(json.dumps(rows, indent=1))


def line(row: dict) -> str:
    verdict = "told " if row["right"] and row.get("wrong") else "right" if row["right"] else "WRONG"
    if "bricks" not in row:
        return f"{verdict} {row['file']:44} {'; '.join(row['wrong'])}"
    counts = (
        f"{row['matched']:4}/{row['true']} of {row['bricks']:4}  parts {row['parts']:3}/{row['most_parts']:<3} "
        f"meshes {row['meshes']:3}/{row['most_meshes']:<3} {row['seconds']:5.1f} s"
    )
    return f"{verdict} {row['file']:44} {counts}  {'; '.join(row['wrong'])}"


def _apart(file, limit):
    """Judge in a child process: what crashes or hangs costs one file."""
    row = {"file": file.name, "right": False}
    command = [sys.executable, "-m", "bench.ways.judge", "--one", str(file)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=limit)
    except subprocess.TimeoutExpired:
        return row | {"wrong": [f"not done after {limit:.0f} s"]}
    answer = [text for text in done.stdout.splitlines() if text.startswith("JUDGED ")]
    if not answer:
        last = [text for text in done.stderr.strip().splitlines() if text.strip()][-1:]
        return row | {"wrong": [f"exit {done.returncode}: {' '.join(' '.join(last).split())[:150]}"]}
    return row | json.loads(answer[0].removeprefix("JUDGED "))


def judged(path: Path) -> dict:
    """The verdict on one file as a JSON object."""
    import bpy

    from addon.core.errors import PlaywornError
    from addon.scene.build import build
    from addon.scene.exports import importers
    from addon.scene.fit import deltas

    truth = json.loads(path.with_name(f"{path.name}.truth.json").read_text())
    bpy.ops.wm.read_factory_settings(use_empty=True)
    deltas.register()  # reading asks for its property
    began = time.perf_counter()
    try:
        collection, lattice = importers.bring(path)
        found = build.read(collection)
    except PlaywornError as error:
        return {"right": False, "wrong": [f"refused: {error}"]}
    finally:
        deltas.unregister()
    seconds = time.perf_counter() - began
    seen = _seen(found)
    wrong, matched = _compared(truth, seen)
    others = [obj.name for obj in collection.all_objects if obj.type == "MESH" and len(obj.data.polygons)]
    if len(others) > len(seen["low"]):
        wrong.append(f"{len(others) - len(seen['low'])} more objects with faces")
    apart = len(found.bricks.parts) > truth["most_parts"] or seen["meshes"] > truth["most_meshes"]
    if apart and not truth["told"]:  # where faces were dropped equal parts are no longer equal
        wrong.append("equal parts fall apart")
    said = [sentence for sentence in lattice.warnings if any(word in sentence for word in TELLS)]
    return {
        "right": not wrong or bool(truth["told"] and said),
        "wrong": wrong,
        "true": truth["bricks"],
        "bricks": len(seen["low"]),
        "matched": matched,
        "parts": len(found.bricks.parts),
        "most_parts": truth["most_parts"],
        "meshes": seen["meshes"],
        "most_meshes": truth["most_meshes"],
        "mm_per_unit": lattice.mm_per_unit,
        "seconds": seconds,
        "warnings": list(lattice.warnings),
    }


def _seen(found):
    """Boxes and surfaces in mm in the scene's axes, colours, and how many meshes there are."""
    import bpy

    to_mm = 1000 * bpy.context.scene.unit_settings.scale_length
    rows, meshes = [], {}
    for obj in found.objects:
        if obj.data not in meshes:
            meshes[obj.data] = _shape(obj.data)
        points, triangles = meshes[obj.data]
        matrix = np.array(obj.matrix_world) * to_mm
        points = points @ matrix[:3, :3].T + matrix[:3, 3]
        a, b, c = np.moveaxis(points[triangles], 1, 0)
        area = np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2
        rows.append((points.min(axis=0), points.max(axis=0), area, _colour(obj)))
    low, high, area, colour = map(np.array, zip(*rows, strict=True))
    return {"low": low, "high": high, "area": area, "colour": colour, "meshes": len(meshes)}


def _shape(mesh):
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    mesh.calc_loop_triangles()
    triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    return points.reshape(-1, 3).astype(float), triangles.reshape(-1, 3)


def _colour(obj):
    """Linear RGB: of the material that most faces have or, where it is driven by the mesh, of the mesh."""
    mesh = obj.data
    index = np.empty(len(mesh.polygons), dtype=np.int32)
    mesh.polygons.foreach_get("material_index", index)
    slot = int(np.bincount(index).argmax())
    material = obj.material_slots[slot].material if slot < len(obj.material_slots) else None
    shades = mesh.color_attributes
    if material is not None:
        nodes = material.node_tree.nodes if material.node_tree else []
        surface = next((node for node in nodes if node.type == "BSDF_PRINCIPLED"), None)
        if surface is None:
            return np.array(material.diffuse_color[:3])
        socket = surface.inputs["Base Color"]
        if any(node.type == "TEX_IMAGE" for node in nodes):
            return np.ones(3)  # a print
        if not socket.is_linked or not len(shades):
            return np.array(socket.default_value[:3])
    if not len(shades):
        return np.full(3, np.nan)
    values = np.empty(4 * len(shades[0].data), dtype=np.float32)
    shades[0].data.foreach_get("color", values)
    values = values.reshape(-1, 4)[:, :3]
    return np.median(values, axis=0) if np.ptp(values, axis=0).max() < 0.02 else np.full(3, np.nan)


def _compared(truth, seen):
    """What is wrong, and how many true bricks are matched by exactly one object."""
    low, high = np.array(truth["low"]), np.array(truth["high"])
    size, true_size = (np.ptp(np.concatenate(pair), axis=0) for pair in ((seen["low"], seen["high"]), (low, high)))
    wrong = []
    best = max((_matched(truth, seen, turn) for turn in _turns()), key=lambda found: (found[0].sum(), found[2]))
    matched, which, upright, determinant = best
    scale = np.sort(size)[-1] / np.sort(true_size)[-1]
    if abs(scale - 1) > SCALE_NEAR:
        wrong.append(f"scale {scale:.4g}")
    if not upright:
        wrong.append("up is not up")
    if determinant < 0:
        wrong.append("mirrored")
    if len(seen["low"]) != len(low):
        wrong.append(f"{len(seen['low'])} bricks")
    if not matched.all():
        wrong.append(f"{(~matched).sum()} missed, as {truth['names'][int(np.flatnonzero(~matched)[0])]}")
    if truth["coloured"] and matched.any():
        off = _off_colour(truth, seen["colour"][which[matched]], np.array(truth["colour"])[matched])
        if off:
            wrong.append(f"{off} of another colour")
    return wrong, int(matched.sum())


def _turns():
    """All turns by quarters, mirrored ones last; the scene's upright axis first."""
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1, -1), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            yield turn


def _matched(truth, seen, turn):
    """(N,) which true bricks exactly one object matches, and which; whether up stays up, and the determinant."""
    ends = [seen["low"] @ turn.T, seen["high"] @ turn.T]
    low, high = np.minimum(*ends), np.maximum(*ends)
    shift = np.min(truth["low"], axis=0) - low.min(axis=0)
    true_box = np.concatenate([truth["low"], truth["high"]], axis=1)
    box = np.concatenate([low + shift, high + shift], axis=1)
    area, true_area = seen["area"], np.array(truth["area"])
    near = AREA_NEAR_DROPPED if truth["told"] else AREA_NEAR
    matched, which = np.zeros(len(true_box), dtype=bool), np.zeros(len(true_box), dtype=int)
    for n, row in enumerate(true_box):
        fits = np.abs(box - row).max(axis=1) <= NEAR_MM
        fits &= np.abs(area - true_area[n]) <= near * true_area[n]
        if fits.sum() == 1:
            matched[n], which[n] = True, int(np.flatnonzero(fits)[0])
    determinant = round(np.linalg.det(turn))
    return matched, which, bool(turn[2, 2] == 1) and determinant > 0, determinant


def _off_colour(truth, found, true):
    """How many have another colour, in whichever space the file meant, linear or sRGB.

    See-through ones may be clear plastic, through which white looks as through two sheets laid over it, each of the
    palette's opacity (Porter and Duff 1984, Compositing Digital Images, "over").
    """
    palette, opacity = np.split(np.array(truth["colours"]), [3], axis=1)
    linear = np.where(palette <= 0.04045, palette / 12.92, ((palette + 0.055) / 1.055) ** 2.4)

    def off(space):
        through = np.where(opacity < 1.0, (1.0 - opacity + opacity * space) ** 2, space)
        return ~_near(found, space[true]) & ~_near(found, through[true])

    return min(int(off(space).sum()) for space in (palette, linear))


def _near(found, wanted):
    return np.abs(found - wanted).max(axis=1) <= COLOUR_NEAR


if __name__ == "__main__":
    main()
