"""What an artist does to bricks, and what there is to see of it afterwards."""

import bmesh
import bpy
import numpy as np
from mathutils import Matrix, Vector

from addon import compat
from addon.scene.build import state

MM = 0.001  # of the scenes that these are for
OVER_THE_BODY = 9.8 * MM
Bricks = list[bpy.types.Object]


def select(*things: bpy.types.Object) -> None:
    for thing in bpy.context.view_layer.objects:
        thing.select_set(thing in things)
    bpy.context.view_layer.objects.active = things[0]


def single(bricks: Bricks) -> None:
    """Makes the first bricks single users of their meshes."""
    select(*bricks[:4])
    bpy.ops.object.make_single_user(object=True, obdata=True)


def join(bricks: Bricks) -> None:
    select(bricks[0], bricks[1])
    bpy.ops.object.join()


def separate(bricks: Bricks) -> None:
    """The studs leave."""
    select(bricks[0])
    mesh = bricks[0].data
    bpy.ops.object.mode_set(mode="EDIT")
    work = bmesh.from_edit_mesh(mesh)
    for face in work.faces:
        face.select_set(face.calc_center_median().z > OVER_THE_BODY)
    bmesh.update_edit_mesh(mesh)
    bpy.ops.mesh.separate(type="SELECTED")
    bpy.ops.object.mode_set(mode="OBJECT")


def edit(bricks: Bricks) -> None:
    """Pulls the highest points up by 3 mm in Edit Mode."""
    select(bricks[0])
    mesh = bricks[0].data
    bpy.ops.object.mode_set(mode="EDIT")
    work = bmesh.from_edit_mesh(mesh)
    top = max(vert.co.z for vert in work.verts)
    for vert in work.verts:
        if vert.co.z > top - 0.5 * MM:
            vert.co.z += 3.0 * MM
    bmesh.update_edit_mesh(mesh)
    bpy.ops.object.mode_set(mode="OBJECT")


def look_only(bricks: Bricks) -> None:
    """Enters Edit Mode, selects, hides, and leaves it with nothing done."""
    select(bricks[0])
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.object.mode_set(mode="OBJECT")


def uv_map(bricks: Bricks) -> None:
    layer = bricks[0].data.uv_layers.new(name="by hand")
    layer.uv.foreach_set("vector", np.full(2 * len(layer.uv), 0.25, np.float32))


def attribute(bricks: Bricks) -> None:
    layer = bricks[0].data.attributes.new("dirt", "FLOAT", "POINT")
    layer.data.foreach_set("value", np.full(len(layer.data), 0.5, np.float32))


def colours(bricks: Bricks) -> None:
    layer = bricks[0].data.color_attributes.new("painted", "BYTE_COLOR", "CORNER")
    layer.data.foreach_set("color", np.tile(np.array([1.0, 0.0, 0.0, 1.0], np.float32), len(layer.data)))


def material(name: str) -> bpy.types.Material:
    made = bpy.data.materials.new(name)
    if made.node_tree is None:
        made.use_nodes = True
    return made


def assigned(bricks: Bricks) -> None:
    bricks[0].data.materials[0] = material("blue")


def slot(bricks: Bricks) -> None:
    """A second slot, which no face shows yet."""
    bricks[0].data.materials.append(material("green"))


def faces(bricks: Bricks) -> None:
    """A second slot, which the studs show."""
    mesh = bricks[0].data
    mesh.materials.append(material("green"))
    for face in mesh.polygons:
        face.material_index = int(face.center[2] > OVER_THE_BODY)


def own_slot(bricks: Bricks) -> None:
    bricks[0].material_slots[0].link = "OBJECT"
    bricks[0].material_slots[0].material = material("mine")


def keys(bricks: Bricks) -> None:
    thing = bricks[0]
    thing.shape_key_add(name="Basis")
    key = thing.shape_key_add(name="pressed")
    for point in key.data:
        point.co = Vector(point.co) + Vector((0.0, 0.0, 2.0 * MM))
    key.value = 0.5


def group(bricks: Bricks) -> None:
    thing = bricks[0]
    made = thing.vertex_groups.new(name="soft")
    made.add(range(len(thing.data.vertices)), 0.75, "REPLACE")
    thing.modifiers.new("cast", "CAST").vertex_group = "soft"


def modifier(bricks: Bricks) -> None:
    bricks[0].modifiers.new("more", "SUBSURF").levels = 1


def applied_modifier(bricks: Bricks) -> None:
    """Applied to a brick that has its mesh for itself."""
    thing = bricks[0]
    select(thing)
    if thing.data.users > 1:
        bpy.ops.object.make_single_user(object=True, obdata=True)
    thing.modifiers.new("long", "ARRAY").count = 2
    bpy.ops.object.modifier_apply(modifier="long")


def origins(bricks: Bricks) -> None:
    select(*bricks)
    bpy.ops.object.origin_set(type="ORIGIN_GEOMETRY", center="BOUNDS")


def moved_in_edit_mode(bricks: Bricks) -> None:
    bricks[0].data.transform(Matrix.Translation((5.0 * MM, 0.0, 0.0)))


def turned_in_edit_mode(bricks: Bricks) -> None:
    bricks[0].data.transform(Matrix.Rotation(0.5, 4, "Z"))


def alone(bricks: Bricks) -> None:
    select(bricks[0])
    bpy.ops.object.make_single_user(object=True, obdata=True)


def all_alone(bricks: Bricks) -> None:
    select(*bricks)
    bpy.ops.object.make_single_user(object=True, obdata=True)


def duplicated(bricks: Bricks) -> None:
    select(bricks[0])
    bpy.ops.object.duplicate(linked=False)


def duplicated_linked(bricks: Bricks) -> None:
    select(bricks[0])
    bpy.ops.object.duplicate(linked=True)


def setting(bricks: Bricks) -> None:
    bricks[0].data.use_mirror_x = True
    bricks[0].data.remesh_voxel_size = 0.125


def custom_property(bricks: Bricks) -> None:
    mesh = bricks[0].data
    mesh["batch"] = 12.5
    mesh["said"] = {"by": "hand", "of": [1, 2, 3]}
    mesh.id_properties_ui("batch").update(min=1.0, max=20.0, description="which one")


def renamed(bricks: Bricks) -> None:
    bricks[0].data.name = "my brick"


def kept(bricks: Bricks) -> None:
    bricks[0].data.use_fake_user = True


def animated(bricks: Bricks) -> None:
    mesh = bricks[0].data
    mesh["pulse"] = 0.0
    mesh.keyframe_insert('["pulse"]', frame=1)


def creased(bricks: Bricks) -> None:
    mesh = bricks[0].data
    layer = mesh.attributes.new("crease_edge", "FLOAT", "EDGE")
    layer.data.foreach_set("value", np.full(len(layer.data), 0.5, np.float32))
    mesh.attributes.new("uv_seam", "BOOLEAN", "EDGE").data[0].value = True


def flat(bricks: Bricks) -> None:
    select(bricks[0])
    bpy.ops.object.shade_flat()


ACTIONS = {
    each.__name__: each
    for each in (
        join, separate, edit, look_only, uv_map, attribute, colours, assigned, slot, faces, own_slot, keys, group,
        modifier, applied_modifier, origins, moved_in_edit_mode, turned_in_edit_mode, alone, all_alone, duplicated,
        duplicated_linked, setting, custom_property, renamed, kept, animated, creased, flat,
    )
}  # fmt: skip


def seen(build: bpy.types.Collection) -> dict:
    """All that such hands leave on a build, by object; sizes in mm."""
    of_mesh = {mesh: _of_mesh(mesh) for mesh in {thing.data for thing in build.objects}}
    return {thing.name: of_mesh[thing.data] | _of_object(thing) for thing in build.objects}


def boxes(build: bpy.types.Collection) -> dict[str, np.ndarray]:
    """Where the mesh of each object lies in the world, mm (2, 3)."""
    bpy.context.view_layer.update()
    return {thing.name: _box(thing) for thing in build.objects}


def shared(build: bpy.types.Collection) -> set[frozenset[str]]:
    """Which objects show one mesh."""
    by_mesh: dict[bpy.types.Mesh, set[str]] = {}
    for thing in build.objects:
        by_mesh.setdefault(thing.data, set()).add(thing.name)
    return set(map(frozenset, by_mesh.values()))


def of_ours() -> list[str]:
    """What of ours is in the file."""
    found = []
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION":
            for block in getattr(bpy.data, prop.identifier):
                if block.users or not isinstance(block, bpy.types.Mesh):
                    found += [f"{block.name} {name}" for name in block.keys() if name.startswith("playworn_")]  # noqa: SIM118
    for mesh in bpy.data.meshes:
        found += [f"{mesh.name} {layer.name}" for layer in mesh.attributes if layer.name.startswith("playworn")]
    found += [room.name for room in bpy.data.collections if state.is_marked(room)]
    return found


def _of_object(thing: bpy.types.Object) -> dict:
    return {
        "materials": [each.material and each.material.name for each in thing.material_slots],
        "groups": _groups(thing),
        "modifiers": [(each.name, each.type) for each in thing.modifiers],
    }


def _of_mesh(mesh: bpy.types.Mesh) -> dict:
    return {
        "faces": _faces(mesh),
        "layers": _layers(mesh),
        "keys": _keys(mesh),
        "properties": {
            name: str(mesh[name].to_dict() if hasattr(mesh[name], "to_dict") else mesh[name])
            for name in mesh.keys()  # noqa: SIM118  a mesh is no dict
            if not name.startswith("playworn_") and name not in mesh.bl_rna.properties
        },
        "range": mesh.id_properties_ui("batch").as_dict()["max"] if "batch" in mesh else None,
        "settings": (mesh.use_mirror_x, mesh.remesh_voxel_size),
        "name": (mesh.name == "my brick", mesh.use_fake_user),
        "curves": [curve.data_path for curve in compat.curves(mesh.animation_data)] if mesh.animation_data else [],
    }


def _faces(mesh: bpy.types.Mesh) -> list[int]:
    """The slots that more than a hundredth of the surface shows."""
    areas, slots = np.empty(len(mesh.polygons), np.float32), np.empty(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("area", areas)
    mesh.polygons.foreach_get("material_index", slots)
    return [int(number) for number in np.unique(slots) if areas[slots == number].sum() > 0.01 * areas.sum()]


def _layers(mesh: bpy.types.Mesh) -> dict[str, tuple]:
    """The layers that only a hand makes, and the most that they hold."""
    kinds = {
        "by hand": ("vector", 2, np.float32), "dirt": ("value", 1, np.float32), "painted": ("color", 4, np.float32),
        "crease_edge": ("value", 1, np.float32), "uv_seam": ("value", 1, bool),
    }  # fmt: skip
    found = {}
    for layer in mesh.attributes:
        if layer.name in kinds:
            name, width, kind = kinds[layer.name]
            values = np.empty(width * len(layer.data), kind)
            layer.data.foreach_get(name, values)
            most = values.reshape(-1, width).astype(float).max(axis=0).round(3)
            found[layer.name] = layer.domain, layer.data_type, tuple(most.tolist())
    return found


def _keys(mesh: bpy.types.Mesh) -> list[tuple]:
    """How far each shape key goes at most, in mm."""
    if not mesh.shape_keys:
        return []
    blocks = mesh.shape_keys.key_blocks
    places = [_flat(each.data, "co") for each in blocks]
    return [
        (each.name, each.value, tuple(((place - places[0]) / MM).max(axis=0).round(3).tolist()))
        for each, place in zip(blocks, places, strict=True)
    ]


def _groups(thing: bpy.types.Object) -> list[tuple]:
    names = [each.name for each in thing.vertex_groups]
    weights = {round(each.weight, 4) for vertex in thing.data.vertices for each in vertex.groups} if names else set()
    return [(name, sorted(weights)) for name in names]


def _box(thing: bpy.types.Object) -> np.ndarray:
    matrix = np.array(thing.matrix_world)
    points = (_flat(thing.data.vertices, "co") @ matrix[:3, :3].T + matrix[:3, 3]) / MM
    return np.array([points.min(axis=0), points.max(axis=0)])


def _flat(points, name: str) -> np.ndarray:
    flat = np.empty(3 * len(points), np.float32)
    points.foreach_get(name, flat)
    return flat.reshape(-1, 3).astype(float)
