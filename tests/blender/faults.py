"""What goes wrong on purpose: a job raises at a line of ours, and the file is compared with what it was before."""

import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import FrameType

import bpy

from addon import usecases
from addon.core.errors import PlaywornError
from addon.core.wear.names import AMOUNT, MASK
from addon.core.wear.quality import GEOMETRY
from addon.core.wear.story import Story
from addon.nodes import insertion
from addon.scene import files
from addon.scene.fit import deltas, rest
from addon.scene.wear.imprint import IMPRINT
from bench.ways.workshop import workshop
from tests.blender import scenes
from tests.blender.build import versions
from tests.blender.scenes import PRESET
from tests.blender.shots.walls import artists_wall, everything, scene_shots
from tests.blender.wear import hands
from tests.blender.wear.node_text import text_of_slots

CHECKOUT = Path(__file__).resolve().parents[2]
ROOMS = tuple(str(CHECKOUT / "addon" / room) for room in ("scene", "nodes", "usecases"))
DIALS = usecases.Dials(seed=7)
_TOLD_DATA = re.compile(r"'data': '\w+'")
ROUND = replace(DIALS, rounding=GEOMETRY)
WORN, CLEAN = usecases.Place(usecases.WORN), usecases.Place(usecases.CLEAN, is_smooth=False)
OTHER = replace(
    PRESET,
    name="other",
    fit=replace(PRESET.fit, shift_mm=0.09, clearance_mm=0.03),
    wear=replace(PRESET.wear, rounding_mm=0.35),
)
Line = tuple[str, int]


class Raised(Exception):
    """What goes wrong on purpose."""


class Watch:
    """Sees every line of ours; raises at one of them, the first time that it is reached."""

    def __init__(self, at: Line | None = None) -> None:
        self.at, self.seen = at, dict[Line, None]()

    def __enter__(self) -> "Watch":
        sys.settrace(self._call)
        return self

    def __exit__(self, *_) -> None:
        sys.settrace(None)

    def _call(self, frame: FrameType, event: str, _arg):
        return self._line if frame.f_code.co_filename.startswith(ROOMS) else None

    def _line(self, frame: FrameType, event: str, _arg):
        if event == "line":
            here = frame.f_code.co_filename, frame.f_lineno
            self.seen[here] = None
            if here == self.at:
                self.at = None
                raise Raised(f"at {told(here)}")
        return self._line


@dataclass(frozen=True)
class Job:
    """Something to do, and the file in which it is done."""

    prepare: Callable[[], object]
    do: Callable[[], object]

    def ready(self) -> dict:
        files.new()
        self.prepare()
        return all_of_it()


@dataclass(frozen=True)
class Mixed:
    """A line after which the file is neither as it was nor as it is when all is done."""

    where: str
    parts: tuple[str, ...]


def tried(job: Job, picked: Callable[[list[Line]], list[Line]] = list) -> tuple[int, list[Mixed]]:
    """Raises at each line picked of those that a job runs through; how many, and which leave a mixed file."""
    job.ready()
    with Watch() as watch:
        job.do()
    done, before = all_of_it(), job.ready()
    lines, mixed = picked(list(watch.seen)), []
    for line in lines:
        with Watch(line):
            failed = _fails(job.do)
        now = all_of_it()
        if now == before:
            continue
        if failed and now != done:
            parts = tuple(part for part in now if before[part] != now[part] != done[part])
            mixed.append(Mixed(told(line), parts))
        before = job.ready()
    return len(lines), mixed


def _fails(do: Callable[[], object]) -> bool:
    """Whether it does: what a file states may be told without, and is no failure."""
    try:
        do()
    except (Raised, PlaywornError):
        return True
    return False


def told(line: Line) -> str:
    return f"{Path(line[0]).relative_to(CHECKOUT)}:{line[1]}"


def all_of_it() -> dict:
    """All of the open file, as plain values. A data-block that nobody uses is none of it: Blender saves none.

    Nor is what a twin with a UV map was told as: Bevel adds up the corners of such a map in the order in which they lie
    in memory, so that it differs by 2e-7 from run to run.
    """
    found = everything()
    seen = bpy.context.view_layer.objects
    return found | {
        "raw": {key: _steady(key, value) for key, value in _named(found["raw"]).items()},
        "names": {kind: sorted(each.name for each in blocks if _is_saved(each)) for kind, blocks in _blocks()},
        "slots": _TOLD_DATA.sub("", text_of_slots()),
        "records": {
            thing.name: (*getattr(thing, deltas.RECORD), *getattr(thing, rest.RECORD)) for thing in bpy.data.objects
        },
        "rooms": {room.name: list(room.objects.keys()) for room in bpy.data.collections},
        "seen": {thing.name: (thing.hide_get(), thing.select_get()) for thing in seen},
    }


def _steady(key: tuple[str, str], kept: dict) -> dict:
    kind, name = key
    if kind != "meshes" or IMPRINT not in kept or not bpy.data.meshes[name].uv_layers:
        return kept
    told = {part: value for part, value in kept[IMPRINT].items() if part != "data"}
    return kept | {IMPRINT: told}


def _named(value):
    """With a data-block's name in its place."""
    if isinstance(value, dict):
        return {key: _named(each) for key, each in value.items()}
    return f"{value.id_type} {value.name}" if isinstance(value, bpy.types.ID) else value


def _blocks() -> Iterator[tuple[str, bpy.types.bpy_prop_collection]]:
    for prop in bpy.data.bl_rna.properties:
        if prop.type == "COLLECTION":
            yield prop.identifier, getattr(bpy.data, prop.identifier)


def _is_saved(block: bpy.types.ID) -> bool:
    return bool(block.users or not isinstance(block, bpy.types.Action | bpy.types.Mesh))


def build() -> bpy.types.Collection:
    return next(room for room in bpy.data.collections if room.name in ("build", "first"))


def _wall() -> None:
    """Bricks of all kinds: moved by an artist, without a material, with one without nodes, on a slot of their own."""
    room = artists_wall()
    scene_shots()
    bare, plain = room.objects[3], room.objects[5]
    bare.data = scenes.brick_mesh("bare", 4, 2, 3)
    plain.data = scenes.brick_mesh("plain", 4, 2, 3)
    plain.data.materials.append(None)
    own = room.objects[7]
    own.material_slots[0].link = "OBJECT"
    own.material_slots[0].material = bpy.data.materials["red"].copy()
    for thing in (room.objects[1], room.objects[2]):
        thing.keyframe_insert("hide_render", frame=3)
    room.objects[4].animation_data_create()
    room.objects[6].select_set(True)


def _worn() -> None:
    _wall()
    usecases.apply(build(), PRESET, ROUND)


def _handled() -> None:
    """What an artist did to rounded bricks of each kind: recoloured, painted, moved as a whole, made single users."""
    _worn()
    bricks = list(build().objects)
    alone, bare, plain = bricks[8], bricks[3], bricks[5]
    bricks[0].data.materials[0] = hands.material("by hand")
    bricks[0].data["batch"] = 4.0
    alone.data = alone.data.copy()
    alone.data.name = "my brick"
    hands.moved_in_edit_mode([bare])
    hands.uv_map([plain])


def _masked() -> None:
    """What an artist linked and typed on the wear's nodes, amounts of bricks and of a material, and a turned layer."""
    _wall()
    tree = bpy.data.materials["red"].node_tree
    painted = tree.nodes.new("ShaderNodeAttribute")
    usecases.apply(build(), PRESET, replace(ROUND, layers={"dust": 0.5}))
    usecases.give_amount(build(), build().objects[:2], 0.0)
    (node,) = insertion.ours(tree)
    tree.links.new(painted.outputs["Fac"], node.inputs[MASK["dust"]])
    node.inputs[MASK["rub"]].default_value, node.inputs[AMOUNT].default_value = 0.25, 0.5
    usecases.add_place(bpy.context.scene, build().objects[2:4], WORN)


def _place() -> bpy.types.Object:
    return next(thing for thing in bpy.data.objects if usecases.place_of(thing))


def _layers() -> None:
    dials = replace(ROUND, layers={"rub": 1.5})
    wear = replace(PRESET.wear, dust=replace(PRESET.wear.dust, size_mm=12.0))
    usecases.dial_wear(build(), replace(PRESET, wear=wear), dials)


def _keyed() -> None:
    _worn()
    usecases.shots_on_timeline(build(), bpy.context.scene)


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="playworn-faults-"))


@cache
def _export(name: str) -> Path:
    bricks = workshop(24)
    if name == "next":
        bricks = versions.recoloured(bricks[:9] + bricks[12:])
    return versions.export(_folder(), name, bricks)


def _imported() -> None:
    usecases.bring_in(_export("first"))
    scene_shots()
    usecases.apply(build(), PRESET, ROUND)
    usecases.shots_on_timeline(build(), bpy.context.scene)


def _save() -> None:
    usecases.save(_folder() / "out.blend")


JOBS = {
    "apply": Job(_wall, lambda: usecases.apply(build(), PRESET, ROUND)),
    "apply another": Job(_keyed, lambda: usecases.apply(build(), OTHER, DIALS)),
    "dial": Job(_keyed, lambda: usecases.dial(build(), OTHER, replace(ROUND, looseness=0.4))),
    "dial wear": Job(_keyed, lambda: usecases.dial_wear(build(), PRESET, replace(ROUND, wear=0.4))),
    "story": Job(_keyed, lambda: usecases.dial_wear(build(), replace(PRESET, story=Story(1.0, -0.5, 0.5)), ROUND)),
    "on timeline": Job(_keyed, lambda: usecases.shots_on_timeline(build(), bpy.context.scene)),
    "off timeline": Job(_keyed, lambda: usecases.off_timeline(build())),
    "clear": Job(_keyed, lambda: usecases.clear(build())),
    "clear everything": Job(_keyed, usecases.clear_everything),
    "apply over hands": Job(_handled, lambda: usecases.apply(build(), OTHER, ROUND)),
    "clear over hands": Job(_handled, lambda: usecases.clear(build())),
    "apply over masks": Job(_masked, lambda: usecases.apply(build(), OTHER, replace(DIALS, window_deg=30.0))),
    "clear over masks": Job(_masked, lambda: usecases.clear(build())),
    "layers": Job(_masked, _layers),
    "amount of bricks": Job(_masked, lambda: usecases.give_amount(build(), build().objects[1:4], 0.3)),
    "amount of a material": Job(
        _masked, lambda: usecases.give_amount_to_materials(build(), [bpy.data.materials["red"]], 0.1)
    ),
    "another place": Job(_masked, lambda: usecases.add_place(bpy.context.scene, build().objects[5:8], CLEAN)),
    "place said anew": Job(_masked, lambda: usecases.put_place(_place(), CLEAN)),
    "no place": Job(_masked, lambda: usecases.take_place(_place())),
    "pin": Job(_worn, lambda: usecases.pin(build(), build().objects[:5])),
    "roll again": Job(_worn, lambda: usecases.roll_again(build(), build().objects[:5])),
    "leave out": Job(_worn, lambda: usecases.leave_out(build(), build().objects[:5])),
    "shots": Job(_worn, lambda: usecases.dial_shots(bpy.context.scene, {("macro", "wear"): 0.5})),
    "copied dials": Job(_worn, lambda: usecases.copy_dials(bpy.context.scene, "macro", ["wide"])),
    "other setting": Job(_worn, lambda: usecases.set_shot(bpy.context.scene, "macro", "B")),
    "note on a shot": Job(_worn, lambda: usecases.note_shot(bpy.context.scene, "macro", "ask again")),
    "lock on a shot": Job(_worn, lambda: usecases.lock_shot(bpy.context.scene, "macro")),
    "bring in": Job(lambda: None, lambda: usecases.bring_in(_export("first"))),
    "update": Job(_imported, lambda: usecases.update(build(), _export("next"))),
    "save": Job(_worn, _save),
}
