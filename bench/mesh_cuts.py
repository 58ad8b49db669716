"""What the lighthouse's own meshes share after the fit, beyond what they shared in the export: volumes by manifold3d.

    python bench/mesh_cuts.py [PRESET [SEED]]

Once for the bodies, each mesh cut at the face its studs stand on, once for the meshes as they are, studs in sockets
included (nominal CAD sockets leave studs no play, so that any motion of a joint shows there), and once for the meshes
with rounded edges that take their place, which have the clearance and the play in them.
"""

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import bpy
import manifold3d
import numpy as np
import trimesh

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core import near, rigid  # noqa: E402
from addon.core.fit import fit  # noqa: E402
from addon.core.fit.motions import Motions  # noqa: E402
from addon.core.wear.quality import GEOMETRY  # noqa: E402
from addon.demo import export  # noqa: E402
from addon.scene.build.build import Build, read  # noqa: E402
from addon.scene.wear import originals  # noqa: E402

WELD_DIGITS = 5  # of a millimetre: vertices split at sharp edges come together again
STUD_MM = 2.0


def lighthouse() -> Build:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lighthouse.glb"
        export.write_glb(path)
        return read(usecases.bring_in(path))


def solid(build: Build, brick: int, mesh: bpy.types.Mesh) -> manifold3d.Manifold:
    """A mesh of the brick in its part's axes, mm."""
    flat = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", flat)
    vertices = (flat.reshape(-1, 3) - build.middle[brick]) * build.scale[brick]
    mesh.calc_loop_triangles()
    triangles = np.empty(3 * len(mesh.loop_triangles), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    welded = trimesh.Trimesh(vertices, triangles.reshape(-1, 3), process=False)
    welded.merge_vertices(digits_vertex=WELD_DIGITS)
    vertices, faces = np.asarray(welded.vertices, np.float32), np.asarray(welded.faces, np.uint32)
    return manifold3d.Manifold(manifold3d.Mesh(vertices, faces))


def shapes(build: Build) -> list[manifold3d.Manifold]:
    """The meshes that the bricks show now."""
    made: dict[str, manifold3d.Manifold] = {}
    for n, thing in enumerate(build.objects):
        if thing.data.name not in made:
            made[thing.data.name] = solid(build, n, thing.data)
    return [made[thing.data.name] for thing in build.objects]


def body(build: Build, brick: int, whole: manifold3d.Manifold) -> manifold3d.Manifold:
    part = build.bricks.parts[build.bricks.part[brick]]
    size = (part.body_high - part.body_low).tolist()
    return whole ^ manifold3d.Manifold.cube(size).translate(part.body_low.tolist())


def placed(build: Build, shapes: list[manifold3d.Manifold], motions: Motions) -> list[manifold3d.Manifold]:
    bricks, turn = build.bricks, rigid.rotation(motions.turn)
    linear = rigid.product(turn, bricks.turn * motions.shrink[:, None, :])
    origin = bricks.centre + motions.shift - rigid.turned(linear, bricks.centre_in_part)
    return [shape.transform(np.c_[linear[n], origin[n]]) for n, shape in enumerate(shapes)]


def added(build: Build, before: list, after: list, motions: Motions, pairs: np.ndarray) -> float:
    """Volume (mm³) shared after the motions beyond what was shared before, over all pairs."""
    still = np.zeros((len(before), 3))
    before = placed(build, before, Motions(still, still, np.ones_like(still)))
    after = placed(build, after, motions)
    return sum(max((after[i] ^ after[j]).volume() - (before[i] ^ before[j]).volume(), 0.0) for i, j in pairs)


def main(preset: str = "well-loved", seed: str = "7") -> None:
    bpy.ops.wm.read_factory_settings(use_empty=True)
    build = lighthouse()
    sits = fit.fitted(build.bricks, usecases.find_preset(preset).fit, int(seed), 1.0)
    reach = np.array([0.0, 0.0, STUD_MM])
    pairs = near.near_pairs(build.bricks.low - reach, build.bricks.high + reach, 0.3)
    whole = shapes(build)
    bodies = [body(build, n, shape) for n, shape in enumerate(whole)]
    print(f"{len(whole)} bricks, {len(sits.contacts.joints)} joints, {preset}, seed {seed}")
    print(f"bodies               {added(build, bodies, bodies, sits.motions, pairs):10.6f} mm³")
    print(f"studs and all        {added(build, whole, whole, sits.motions, pairs):10.6f} mm³", flush=True)
    dials = usecases.Dials(seed=int(seed), rounding=GEOMETRY)
    told = usecases.apply(build.collection, usecases.find_preset(preset), dials)
    sharp = sum("sharp edges" in each.reason for each in told.skipped)
    rounded = np.array([originals.original(thing.data) is not thing.data for thing in build.objects])
    moved = replace(sits.motions, shrink=np.where(rounded[:, None], 1.0, sits.motions.shrink))
    print(
        f"with rounded meshes  {added(build, whole, shapes(build), moved, pairs):10.6f} mm³, {sharp} bricks left sharp"
    )


if __name__ == "__main__":
    register()
    try:
        main(*sys.argv[1:])
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
