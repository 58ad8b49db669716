"""Thirty sequences in Blender's own window: an artist's actions and ours, then all of them undone, and done again.

Run inside the window as panel.py is. After every step back, and every step forward, the file is as it was there; at the
end of each sequence the build is cleared, and nothing of ours is left.
"""

# ruff: noqa: F821  the names above are given

from random import Random

import bpy
import numpy as np

MANY, LONGEST = 30, 10
PITCH = 0.008
CORNERS = np.array([(x, y, z) for z in (0.0, 9.6) for y in (0.0, 16.0) for x in (0.0, 16.0)]) * 1e-3
FACES = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (1, 3, 7, 5), (3, 2, 6, 7), (2, 0, 4, 6))
CHANNELS = ("location", "rotation_euler", "scale", "delta_location", "delta_rotation_euler", "delta_scale")


def build() -> None:
    """A wall of square bricks in bond, two colours, beside a table that is no brick."""
    scene = bpy.context.scene
    bpy.data.batch_remove([*bpy.data.objects, *bpy.data.collections, *bpy.data.meshes, *bpy.data.materials])
    room = bpy.data.collections.new("build")
    scene.collection.children.link(room)
    meshes = []
    for name, colour in (("red", (0.6, 0.05, 0.05, 1.0)), ("blue", (0.05, 0.1, 0.6, 1.0))):
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(CORNERS.tolist(), [], FACES)
        material = bpy.data.materials.new(name)
        material.use_nodes = True
        material.diffuse_color = colour
        mesh.materials.append(material)
        meshes.append(mesh)
    for course in range(3):
        for column in range(4):
            thing = bpy.data.objects.new(f"brick {course} {column}", meshes[column % 2])
            room.objects.link(thing)
            thing.location = (2 * PITCH * column + PITCH * (course % 2), 0.0, 0.0096 * course)
    scene.collection.objects.link(bpy.data.objects.new("table", None))
    scene.frame_set(1)
    scene.playworn.build = room


def seen() -> dict:
    """The file as plain values."""
    bpy.context.view_layer.update()
    things = {}
    for thing in bpy.data.objects:
        stands = [np.array(getattr(thing, name), np.float32).tobytes() for name in CHANNELS]
        slots = [(slot.link, slot.material and slot.material.name) for slot in thing.material_slots]
        rooms = sorted(room.name for room in thing.users_collection)
        raw = {key: str(plain(value)) for key, value in sorted(thing.items())}
        parent = thing.parent and thing.parent.name
        things[thing.name] = (stands, slots, rooms, raw, parent, thing.data and thing.data.name, thing.select_get())
    meshes = {}
    for mesh in bpy.data.meshes:
        points = np.empty(3 * len(mesh.vertices), np.float32)
        mesh.vertices.foreach_get("co", points)
        meshes[mesh.name] = points.tobytes(), [each and each.name for each in mesh.materials], sorted(mesh.keys())
    materials = {
        each.name: sorted(node.name for node in each.node_tree.nodes) if each.node_tree else None
        for each in bpy.data.materials
    }
    marked = {room.name: {key: str(plain(value)) for key, value in room.items()} for room in bpy.data.collections}
    scene = {key: str(plain(value)) for key, value in bpy.context.scene.items() if key.startswith("playworn_")}
    groups = sorted(bpy.data.node_groups.keys()), sorted(bpy.data.actions.keys())
    return {"things": things, "meshes": meshes, "materials": materials, "marked": marked, "scene": scene,
            "groups": groups}  # fmt: skip


def plain(value):
    for convert in ("to_dict", "to_list"):
        if hasattr(value, convert):
            return getattr(value, convert)()
    return value


def unlike(one: dict, other: dict) -> str:
    """In what two looks at the file differ."""
    told = []
    for part in one:
        if isinstance(one[part], dict):
            keys = sorted(
                key for key in one[part].keys() | other[part].keys() if one[part].get(key) != other[part].get(key)
            )
            told += [f"{part} {key}: {one[part].get(key)} | {other[part].get(key)}" for key in keys[:3]]
        elif one[part] != other[part]:
            told.append(f"{part}: {one[part]} | {other[part]}")
    return "\n".join(line[:600] for line in told)


def chosen(random: Random, many: int = 1) -> list:
    """Selects some bricks, the first of them active."""
    bricks = sorted(
        (each for each in bpy.context.view_layer.objects if each.type == "MESH"), key=lambda each: each.name
    )
    some = random.sample(bricks, min(many, len(bricks)))
    bpy.ops.object.select_all(action="DESELECT")
    for each in some:
        each.select_set(True)
    bpy.context.view_layer.objects.active = some[0]
    return some


def ours(name: str):
    def act(random: Random):
        operator = getattr(bpy.ops.playworn, name)
        if name in ("pin", "unpin", "roll_again", "undo_rolls", "leave_out", "count_in"):
            chosen(random, 3)
        if operator.poll():
            operator()

    return act


def dialled(name: str, values):
    def act(random: Random):
        setattr(bpy.context.scene.playworn, name, random.choice(values))

    return act


def operated(many: int, call):
    def act(random: Random):
        chosen(random, many)
        call()

    return act


def moved(random: Random):
    chosen(random)
    bpy.ops.transform.translate(value=(random.uniform(-2, 2) * PITCH, 0.0, 2 * PITCH))


def renamed(random: Random):
    (thing,) = chosen(random)
    thing.name = random.choice(("door", "mine", "brick 0 0"))


def assigned(random: Random):
    (thing,) = chosen(random)
    thing.active_material = random.choice([each for each in bpy.data.materials if each.name in ("red", "blue")])


def dressed(random: Random):
    (thing,) = chosen(random)
    thing.data.uv_layers.new(name="mine")


def parented(random: Random):
    chosen(random)
    table = bpy.context.scene.objects["table"]
    table.select_set(True)
    bpy.context.view_layer.objects.active = table
    bpy.ops.object.parent_set(type="OBJECT", keep_transform=True)


ACTIONS = {
    "apply": ours("apply"),
    "clear": ours("clear"),
    "pin": ours("pin"),
    "roll again": ours("roll_again"),
    "leave out": ours("leave_out"),
    "looseness": dialled("looseness", (0.4, 1.0, 1.7)),
    "wear": dialled("wear", (0.0, 0.5, 1.0)),
    "seed": dialled("seed", (0, 1, 2)),
    "rounding": dialled("rounding", ("shading", "geometry")),
    "preset": dialled("preset", ("fresh", "attic", "well-loved")),
    "move": moved,
    "rename": renamed,
    "assign": assigned,
    "add UV map": dressed,
    "parent": parented,
    "unparent": operated(2, lambda: bpy.ops.object.parent_clear(type="CLEAR_KEEP_TRANSFORM")),
    "duplicate": operated(2, lambda: bpy.ops.object.duplicate()),
    "duplicate linked": operated(2, lambda: bpy.ops.object.duplicate(linked=True)),
    "delete": operated(1, lambda: bpy.ops.object.delete()),
    "join": operated(2, lambda: bpy.ops.object.join()),
    "origin": operated(2, lambda: bpy.ops.object.origin_set(type="ORIGIN_GEOMETRY")),
    "single user": operated(1, lambda: bpy.ops.object.make_single_user(object=True, obdata=True)),
    "clear deltas": operated(2, lambda: bpy.ops.object.location_clear(clear_delta=True)),
}


def steps():
    side_panel("Playworn")
    yield
    settings = bpy.context.scene.playworn
    settings.quality = "draft"
    for number in range(MANY):
        random = Random(number)
        build()
        settings = bpy.context.scene.playworn
        settings.rounding, settings.looseness, settings.wear = random.choice(("shading", "geometry")), 1.0, 1.0
        bpy.ops.ed.undo_push(message="build")
        names = ["apply", *random.choices(sorted(ACTIONS), k=random.randint(3, LONGEST))]
        passed = [seen()]
        for name in names:
            try:
                ACTIONS[name](random)
            except RuntimeError as refused:
                print(f"{number} {name}: {refused}", flush=True)
            bpy.ops.ed.undo_push(message=name)
            passed.append(seen())
        yield snap(f"{number:02d}_done") if number % 10 == 0 else None
        for name, was in zip(reversed(names), reversed(passed[:-1]), strict=True):
            bpy.ops.ed.undo()
            assert not (told := unlike(was, seen())), f"{number} {names}: {name} undone\n{told}"
        for name, was in zip(names, passed[1:], strict=True):
            bpy.ops.ed.redo()
            assert not (told := unlike(was, seen())), f"{number} {names}: {name} done again\n{told}"
        yield press("ctrl+z")
        assert not (told := unlike(passed[-2], seen())), f"{number} {names}: Ctrl+Z\n{told}"
        yield press("ctrl+shift+z")
        assert not (told := unlike(passed[-1], seen())), f"{number} {names}: Ctrl+Shift+Z\n{told}"
        if bpy.ops.playworn.clear.poll():
            bpy.ops.playworn.clear()
        bpy.ops.ed.undo_push(message="clear")
        print(f"{number} {names}: as it was, {len(names)} steps back and forward", flush=True)
    yield snap("99_all_done")
