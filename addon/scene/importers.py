"""Bring in an export: read it with Blender's importers, find its true scale and upright axis, stand it in the scene."""

import re
from collections.abc import Callable
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

import bpy
import numpy as np
from mathutils import Matrix, Vector

from .. import compat
from ..core import lattice, ply, shells, stl
from ..core.errors import FileProblem
from ..core.lattice import Boxes, Lattice
from ..core.units import MM_PER_METRE
from ..stdout import kept_clean
from . import pieces
from .attempt import attempt

OPEN_SHARE = 0.5  # of the objects: more open surfaces than solids


@dataclass(frozen=True)
class Format:
    """How a kind of file is read; its own unit in mm and upright axis as they stand in the scene after reading."""

    name: str
    load: Callable[[Path], None]
    unit_mm: float = MM_PER_METRE
    up: int = 2
    whole: bool = False  # one object may hold the whole build


def read(path: Path) -> list[bpy.types.Object]:
    """Import a file into the current scene and return its mesh objects; FileProblem leaves nothing behind."""
    return _read(Path(path))[0]


def bring(path: Path) -> tuple[bpy.types.Collection, Lattice]:
    """Import a build at true scale and upright, under one frame in one new collection named after the file."""
    path = Path(path)
    with attempt():
        objects, warnings = _read(path)
        form = _format(path)
        found = lattice.find(Boxes.of(_world_points(objects)), form.unit_mm, form.up)
        if not found.share_on_lattice:
            warnings += _open_surfaces(objects)
        return placed(objects, found, path.stem), replace(found, warnings=found.warnings + warnings)


def placed(objects: list[bpy.types.Object], found: Lattice, name: str) -> bpy.types.Collection:
    """Put objects and their parents under one frame that turns up to +Z and scales to the scene's unit; no mesh is
    touched. All of it goes into a new collection of the scene."""
    scene = bpy.context.scene
    collection = bpy.data.collections.new(name)
    scene.collection.children.link(collection)
    frame = bpy.data.objects.new(f"{name} frame", None)
    up = Vector([found.sign if axis == found.up else 0 for axis in range(3)])
    frame.rotation_euler = up.rotation_difference(Vector((0, 0, 1))).to_euler()
    frame.scale = [found.mm_per_unit / MM_PER_METRE / scene.unit_settings.scale_length] * 3
    collection.objects.link(frame)
    for obj in _with_parents(objects):
        for other in obj.users_collection:
            other.objects.unlink(obj)
        collection.objects.link(obj)
        if obj.parent is None:
            obj.parent = frame
            obj.matrix_parent_inverse = Matrix()
    bpy.context.view_layer.update()
    return collection


def _read(path):
    form = _format(path)
    with attempt() as made:
        try:
            with kept_clean(), _plain_scene():
                form.load(path)
        except FileProblem:
            raise
        except Exception as error:  # importers written in Python fail in every way
            raise FileProblem(_unreadable(path, form, error)) from error
        bpy.context.view_layer.update()
        objects = [obj for obj in made.objects() if obj.type == "MESH" and len(obj.data.polygons)]
        if not objects:
            raise FileProblem(f'"{path}" has no mesh in it: export the bricks as meshes')
        warnings = ()
        if form.whole and len(objects) == 1:
            objects, warnings = pieces.apart(objects[0])
        kept = set(_with_parents(objects))
        bpy.data.batch_remove([obj for obj in made.objects() if obj not in kept])
        bpy.context.view_layer.update()
    return objects, warnings


@contextmanager
def _plain_scene():
    """While importers run the unit is the metre (some scale by it and some do not), and what they make lands in the
    scene's own collection, which cannot be excluded from the view layer as the active one may be."""
    units, layer = bpy.context.scene.unit_settings, bpy.context.view_layer
    kept = units.scale_length, layer.active_layer_collection
    units.scale_length, layer.active_layer_collection = 1.0, layer.layer_collection
    try:
        yield
    finally:
        units.scale_length, layer.active_layer_collection = kept


def _format(path):
    known = ", ".join(FORMATS)
    if path.is_dir():
        raise FileProblem(f'"{path}" is a folder: choose the export itself ({known})')
    if not path.is_file():
        raise FileProblem(f'"{path}" does not exist: check the name and the folder')
    if path.suffix.lower() not in FORMATS:
        raise FileProblem(f'"{path}" is not of a kind that can be brought in: export the build as one of {known}')
    if not path.stat().st_size:
        raise FileProblem(f'"{path}" is empty: export it again')
    return FORMATS[path.suffix.lower()]


def _unreadable(path, form, error):
    reason = re.sub(r"\s+", " ", str(error)).removeprefix("Error: ").strip(" .") or type(error).__name__
    return f'"{path}" cannot be read as {form.name} ({reason[:200]}): export it again, or in another format'


def _with_parents(objects):
    """The objects and whatever they hang on, each once."""
    found = dict.fromkeys(objects)
    for obj in objects:
        while (obj := obj.parent) is not None and obj not in found:
            found[obj] = None
    return list(found)


def _world_points(objects):
    clouds = {}
    for obj in objects:
        if obj.data not in clouds:
            points = np.empty(len(obj.data.vertices) * 3, dtype=np.float32)
            obj.data.vertices.foreach_get("co", points)
            clouds[obj.data] = points.reshape(-1, 3).astype(float)
        matrix = np.array(obj.matrix_world)
        yield clouds[obj.data] @ matrix[:3, :3].T + matrix[:3, 3]


def _open_surfaces(objects):
    """A CAD program may write one part as hundreds of open surfaces; that is no build."""
    closed = {mesh: _is_closed(mesh) for mesh in {obj.data for obj in objects}}
    open_ = sum(not closed[obj.data] for obj in objects)
    if open_ < OPEN_SHARE * len(objects):
        return ()
    return (f"{open_} of {len(objects)} objects are open surfaces and not solids: export one solid for each brick.",)


def _is_closed(mesh):
    mesh.calc_loop_triangles()
    points = np.empty(len(mesh.vertices) * 3, dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    triangles = np.empty(len(mesh.loop_triangles) * 3, dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles)
    return shells.is_closed(points.reshape(-1, 3), triangles.reshape(-1, 3))


def _gltf(path):
    bpy.ops.import_scene.gltf(
        filepath=str(path),
        import_scene_as_collection=False,
        import_scene_extras=False,
        import_select_created_objects=False,
    )


def _fbx(path):
    bpy.ops.wm.fbx_import(filepath=str(path), use_anim=False)


def _usd(path):
    bpy.ops.wm.usd_import(
        filepath=str(path),
        set_frame_range=False,
        import_cameras=False,
        import_lights=False,
        create_world_material=False,
        support_scene_instancing=False,
        apply_unit_conversion_scale=True,
    )


def _dae(path):
    if not compat.has_operator("wm", "collada_import"):
        raise FileProblem(
            f'"{path}" is a .dae file, which this Blender no longer reads: export the build as .glb instead'
        )
    bpy.ops.wm.collada_import(filepath=str(path))


def _obj(path):
    # Checking would drop faces that lie on each other, which is where bricks touch.
    bpy.ops.wm.obj_import(filepath=str(path), forward_axis="Y", up_axis="Z", validate_meshes=False)


def _ply(path):
    with attempt() as made:
        bpy.ops.wm.ply_import(filepath=str(path), forward_axis="Y", up_axis="Z")
        for obj in made.objects():
            with suppress(ValueError):  # an unusual file is taken as Blender reads it
                faces = ply.faces(path.read_bytes()) if len(obj.data.polygons) else []
                if len(faces) > len(obj.data.polygons):
                    pieces.reface(obj, faces)


def _stl(path):
    corners = stl.corners(path.read_bytes())
    points, order = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    triangles = order.reshape(-1, 3)
    real = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)  # three corners in three places
    mesh = bpy.data.meshes.new(path.stem)
    mesh.from_pydata(points, [], triangles[real].tolist())
    pieces.shade(mesh)
    bpy.context.scene.collection.objects.link(bpy.data.objects.new(path.stem, mesh))


_BARE = {"unit_mm": 1.0, "whole": True}  # numbers without a unit are millimetres
FORMATS = {
    ".glb": Format("glTF", _gltf),
    ".gltf": Format("glTF", _gltf),
    ".fbx": Format("FBX", _fbx),
    ".obj": Format("OBJ", _obj, up=1, **_BARE),
    ".dae": Format("COLLADA", _dae),
    ".usd": Format("USD", _usd),
    ".usda": Format("USD", _usd),
    ".usdc": Format("USD", _usd),
    ".usdz": Format("USD", _usd),
    ".stl": Format("STL", _stl, **_BARE),
    ".ply": Format("PLY", _ply, **_BARE),
}
