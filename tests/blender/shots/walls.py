"""Walls with an artist's animation, shots to key on them, and all that an artist can see of keys."""

import bpy

from addon import compat, usecases
from addon.core.shots.shot import Shot
from addon.scene.wear import stamps
from tests.blender import scenes
from tests.blender.test_usecases import now

APPLIED = usecases.Dials(seed=7)
SHOTS = (
    usecases.OnFrame("wide", 10, usecases.Dials(seed=7, looseness=1.6, wear=1.5), {"dust": 1.5}),
    usecases.OnFrame("middle", 30, APPLIED),
    usecases.OnFrame("macro", 50, usecases.Dials(seed=7, looseness=0.4, wear=0.5), {"dust": 0.0, "rub": 1.25}),
    usecases.OnFrame("other hands", 70, usecases.Dials(seed=8)),
)
SHOT_AT = {1: 0, 9: 0, 10: 0, 29: 0, 30: 1, 49: 1, 50: 2, 69: 2, 70: 3, 500: 3}


def artists_wall() -> bpy.types.Collection:
    """A wall of bricks in all rotation modes, with deltas, parents and, on some, animation of the artist's own."""
    build = scenes.wall()
    parent = scenes.put(bpy.context.scene.collection, None, "table", (0.3, 0.0, 0.1))
    for number, thing in enumerate(build.objects):
        thing.delta_location.x = 0.0001 * (number % 3)
        thing.rotation_mode = ("XYZ", "QUATERNION", "ZYX")[number % 3]
        thing.parent = parent if number % 2 else None
    return build


def everything() -> dict:
    """All of `test_usecases.all_of_it`, and all curves."""
    owners = [*bpy.data.objects, *bpy.data.scenes]
    animated = {owner.name: owner.animation_data for owner in owners if owner.animation_data}
    return now() | {
        "animation": {
            name: (
                animation.action and animation.action.name,
                animation.last_slot_identifier,
                [curve_text(curve) for curve in compat.curves(animation)],
                [track.name for track in animation.nla_tracks],
                [driver.data_path for driver in animation.drivers],
            )
            for name, animation in animated.items()
        },
    }


def curve_text(curve) -> tuple:
    keys = [(*key.co, *key.handle_left, *key.handle_right, key.interpolation) for key in curve.keyframe_points]
    return curve.data_path, curve.array_index, curve.group and curve.group.name, curve.extrapolation, keys


def deltas() -> dict[str, bytes]:
    return scenes.transforms(bpy.data.collections["build"].objects)


def scene_values() -> dict[str, float]:
    names = (stamps.WEAR, *stamps.MORE.values())
    return {name: value for name in names if (value := bpy.context.scene.get(name, 0.0))}


def animate(thing, path: str, index: int, *values: float) -> None:
    """An artist's own keys on an object, one every 20 frames."""
    for number, value in enumerate(values):
        getattr(thing, path)[index] = value
        thing.keyframe_insert(path, index=index, frame=1 + 20 * number)


def push_down(thing) -> None:
    """The thing's action becomes a strip, as the NLA editor's button does it."""
    animation = thing.animation_data
    action, slot = animation.action, animation.action_slot
    strip = animation.nla_tracks.new().strips.new("strip", 1, action)
    strip.action_slot = slot
    animation.action = None


def busy_wall() -> bpy.types.Collection:
    """A wall with an artist's actions, strips and drivers on single bricks, and keys on the scene."""
    build, scene = artists_wall(), bpy.context.scene
    bricks = list(build.objects)
    animate(bricks[0], "location", 2, 0.0, 0.05, 0.1)
    animate(bricks[1], "rotation_euler", 2, 0.0, 0.1)
    animate(bricks[2], "location", 0, 0.0, 0.01, 0.02)
    push_down(bricks[2])
    animate(bricks[3], "location", 1, 0.0, 0.01)
    push_down(bricks[3])
    animate(bricks[3], "scale", 0, 1.0, 1.0)
    driver = bricks[4].driver_add("location", 2).driver
    driver.expression = "frame * 0.0001"
    bricks[5].animation_data_create()
    scene["mine"] = 0.0
    for frame, value in ((1, 0.0), (80, 8.0)):
        scene["mine"] = value
        scene.keyframe_insert('["mine"]', frame=frame)
    scene.frame_set(1)
    return build


def scene_shots() -> None:
    """Two shots on the timeline of the open scene, the second twice as worn."""
    scene = bpy.context.scene
    camera = bpy.data.objects.new("camera", bpy.data.cameras.new("camera"))
    scene.collection.objects.link(camera)
    scene.camera = camera
    usecases.add_shot(scene, Shot("wide", "camera", 1, 49))
    usecases.add_shot(scene, Shot("macro", "camera", 50, 90))
    usecases.remove_shot(scene, "scene")
    usecases.dial_shots(scene, {("macro", "wear"): 2.0, ("macro", "looseness"): 0.5, ("macro", "dust"): 0.5})
