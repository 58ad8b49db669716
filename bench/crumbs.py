"""A file of a million loose pieces: how long bringing it in takes, and what is said of it.

    python bench/crumbs.py [--many 1000000] [--kind stl] [--single] [--random]

`--single` writes single triangles in place of tetrahedra, `--random` piles up pieces of any shape.
"""

import argparse
import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

_TETRAHEDRON = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)], dtype=np.float32)
_SIDES = [(0, 2, 1), (0, 1, 3), (0, 3, 2), (1, 2, 3)]


def crumbs(many, single):
    """Points (many, k, 3) of pieces 2 apart and the triangles of each (sides, 3)."""
    edge = int(np.ceil(many ** (1 / 3)))
    places = 2.0 * np.stack(np.unravel_index(np.arange(many), (edge,) * 3), axis=1).astype(np.float32)
    points, sides = (_TETRAHEDRON[:3], _SIDES[:1]) if single else (_TETRAHEDRON, _SIDES)
    return places[:, None] + points, np.array(sides)


def randomly(points, rng):
    """The same pieces, every one of another shape, piled up in a tenth of the room."""
    return (0.1 * points + rng.uniform(-2, 2, points.shape)).astype(np.float32)


def obj(points, sides):
    corners = 1 + (sides + points.shape[1] * np.arange(len(points))[:, None, None]).reshape(-1, 3)
    places = ("v {:.5f} {:.5f} {:.5f}".format(*each) for each in points.reshape(-1, 3).tolist())
    return "\n".join([*places, *("f {} {} {}".format(*each) for each in corners.tolist()), ""]).encode()


def stl(points, sides):
    corners = points[:, sides].reshape(-1, 3, 3)
    rows = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    rows["corners"] = corners
    return bytes(80) + np.uint32(len(rows)).tobytes() + rows.tobytes()


def ply(points, sides):
    faces = np.zeros((len(points), len(sides)), [("many", "u1"), ("corners", "<i4", 3)])
    faces["many"], faces["corners"] = 3, sides + points.shape[1] * np.arange(len(points))[:, None, None]
    head = f"ply\nformat binary_little_endian 1.0\nelement vertex {points.shape[0] * points.shape[1]}\n"
    head += "property float x\nproperty float y\nproperty float z\n"
    head += f"element face {faces.size}\nproperty list uchar int vertex_indices\nend_header\n"
    return head.encode() + points.astype("<f4").tobytes() + faces.tobytes()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--many", type=int, default=1_000_000)
    parser.add_argument("--kind", choices=("stl", "ply", "obj"), default="stl")
    parser.add_argument("--single", action="store_true")
    parser.add_argument("--random", action="store_true")
    arguments = parser.parse_args()
    import bpy

    from addon.core.errors import FileProblem
    from addon.scene.exports import importers

    bpy.ops.wm.read_factory_settings(use_empty=True)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"crumbs.{arguments.kind}"
        points, sides = crumbs(arguments.many, arguments.single)
        points = randomly(points, np.random.default_rng(0)) if arguments.random else points
        path.write_bytes({"stl": stl, "ply": ply, "obj": obj}[arguments.kind](points, sides))
        begun, worked = time.monotonic(), time.process_time()
        try:
            room, found = importers.bring(path)
            said = f"{len(room.all_objects) - 1} objects; {'; '.join(found.warnings)}"
        except FileProblem as problem:
            said = str(problem)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    took, work = time.monotonic() - begun, time.process_time() - worked
    print(f"{arguments.many} in {took:.1f} s, {work:.1f} of a processor, {peak:.1f} GiB: {said}")


if __name__ == "__main__":
    main()
