"""Small scenes of bricks, for tests inside Blender."""

from pathlib import Path

import bpy
import numpy as np

from addon.core.pictures import png
from addon.core.presets.preset import Fit, Preset
from addon.core.wear.layers import PICTURES, Dust, Fade, Rub, Scratches, Smudges, Tint, Wear
from tests.core.builds import block

PRESET = Preset(
    "test",
    "",
    Fit(
        shift_mm=0.05,
        lift_mm=0.03,
        twist_deg=1.5,
        tilt_deg=0.12,
        clearance_mm=0.1,
        play_mm=0.05,
        lean_mm=0.03,
        neatness=0.5,
    ),
    Wear(
        0.2,
        Scratches(0.5, 40.0, 3.0),
        Smudges(0.5, 35.0),
        dust=Dust(0.3, 30.0),
        rub=Rub(0.5),
        tint=Tint(1.0),
        fade=Fade(4.0),
    ),
)


def brick_mesh(name: str, studs_x: int, studs_y: int, plates: int, unit: float = 0.001) -> bpy.types.Mesh:
    """A closed box with stud rings over it, in `unit` of a millimetre a unit."""
    solid = block(studs_x, studs_y, plates)
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata((solid.vertices * unit).tolist(), [], solid.triangles.tolist())
    return mesh


def collection(name: str = "build") -> bpy.types.Collection:
    made = bpy.data.collections.new(name)
    bpy.context.scene.collection.children.link(made)
    return made


def put(into: bpy.types.Collection, mesh: bpy.types.Mesh | None, name: str, place=(0.0, 0.0, 0.0), parent=None):
    """A new object at `place`, in the parent's space."""
    thing = bpy.data.objects.new(name, mesh)
    into.objects.link(thing)
    thing.location = place
    thing.parent = parent
    return thing


def wall(courses: int = 4, length: int = 4, unit: float = 0.001) -> bpy.types.Collection:
    """2x4 bricks in running bond that share one mesh and one Principled material, and a 1x1 plate on top."""
    build, brick, plate = collection(), brick_mesh("2x4", 4, 2, 3, unit), brick_mesh("1x1", 1, 1, 1, unit)
    material = bpy.data.materials.new("red")
    if material.node_tree is None:
        material.use_nodes = True
    for mesh in (brick, plate):
        mesh.materials.append(material)
    for course in range(courses):
        for n in range(length):
            place = np.array([32.0 * n + 16.0 * (course % 2), 0.0, 9.6 * course]) * unit
            put(build, brick, f"part.{course * length + n:04d}", place)
    put(build, plate, "part.9999", np.array([48.0, 8.0, 9.6 * courses]) * unit)
    bpy.context.view_layer.update()
    return build


def transforms(things) -> dict[str, bytes]:
    """Every channel that places an object, bit for bit."""
    names = (
        "location", "rotation_euler", "rotation_quaternion", "rotation_axis_angle", "scale", "delta_location",
        "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale",
    )  # fmt: skip
    return {
        thing.name: b"".join(np.array(getattr(thing, name), np.float32).tobytes() for name in names) for thing in things
    }


def textures(folder: Path) -> Path:
    """A folder with a small picture for each kind: drawing those that stand in takes longer than most tests."""
    for kind in PICTURES:
        (folder / f"{kind}.png").write_bytes(png.encode(np.random.default_rng(0).random((16, 16))))
    return folder
