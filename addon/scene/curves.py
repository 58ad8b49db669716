"""Curves of ours among those that an artist has on an object or a scene, told apart by their group."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import bpy
import numpy as np

from .. import compat
from ..blender import items_of
from ..transaction import Back, at_end, keep

GROUP = "Playworn"
OF_FIT, OF_WEAR = "Playworn fit by shot", "Playworn wear by shot"  # our actions
_LENT = "playworn_lent"  # on our actions: slots whose owner had animation data before, with the slot it had last
Owner = bpy.types.Object | bpy.types.Scene

_KINDS = ("interpolation", "easing", "handle_left_type", "handle_right_type")  # of a key, whole numbers
_POINTS = ("co", "handle_left", "handle_right")  # and pairs of numbers
_SLOTS = 500  # of an action at the most: Blender looks for a slot and its curves one by one


class Actions:
    """Where the curves of many owners go: the action an owner has already, else one of ours with a slot for it."""

    def __init__(self, name: str):
        self._name = name
        self._action: bpy.types.Action | None = None

    def bag(self, owner: Owner) -> bpy.types.ActionChannelbag:
        """What holds the owner's curves. `hindrance` has nothing against it."""
        keep(lambda: _before(owner))
        animation = owner.animation_data
        if animation is not None and animation.action is not None:
            bag = compat.curve_bag(animation)
            assert bag is not None
            return bag
        action = self._with_room()
        slot = action.slots.new(owner.id_type, owner.name)
        if animation is None:
            animation = owner.animation_data_create()
        else:
            action[_LENT][str(slot.handle)] = animation.last_slot_identifier
        animation.action, animation.action_slot = action, slot
        strip = action.layers[0].strips[0]
        assert isinstance(strip, bpy.types.ActionKeyframeStrip)
        return strip.channelbag(slot, ensure=True)

    def _with_room(self) -> bpy.types.Action:
        if self._action is None or len(self._action.slots) >= _SLOTS:
            sweep()
            self._action = bpy.data.actions.new(self._name)
            self._action.layers.new("Shots").strips.new(type="KEYFRAME")
            self._action[_LENT] = {}
        return self._action


@dataclass(frozen=True)
class Keys:
    """What a curve jumps to at some frames, and holds until the next; or from where it runs straight to the next."""

    frames: np.ndarray  # (k,) float32, in order
    values: np.ndarray  # (k,) float32
    goes_on: np.ndarray | None = None  # (k,) whether it runs; None: nowhere

    @property
    def drawn(self) -> dict[str, np.ndarray]:
        """As Blender has keys: without those that change nothing; of several at one frame the last is left."""
        runs = np.zeros(len(self.frames), dtype=bool) if self.goes_on is None else self.goes_on
        last = np.append(self.frames[1:] != self.frames[:-1], True)
        frames, values, runs = self.frames[last], self.values[last], runs[last]
        bits = values.view(np.uint32)  # zero has two
        change = np.concatenate([[True], (bits[1:] != bits[:-1]) | runs[1:] | runs[:-1]])
        way = items_of(bpy.types.Keyframe, "interpolation")
        ways = np.where(runs[change], way["LINEAR"].value, way["CONSTANT"].value)
        return {"co": np.stack([frames, values], axis=1)[change], "interpolation": ways.astype(np.int32)}


def put(bag: bpy.types.ActionChannelbag, path: str, index: int, keys: Keys) -> bpy.types.FCurve:
    """A curve of ours."""
    return _drawn(bag, path, index, keys.drawn)


def _drawn(bag: bpy.types.ActionChannelbag, path: str, index: int, keys: dict[str, np.ndarray]) -> bpy.types.FCurve:
    """A curve of ours whose keys have some properties, each as (k, …)."""
    curve = bag.fcurves.new(path, index=index)
    curve.group = next((group for group in bag.groups if group.name == GROUP), None) or bag.groups.new(GROUP)
    curve.keyframe_points.add(len(keys["co"]))
    for name, values in keys.items():
        curve.keyframe_points.foreach_set(name, values.ravel())
    curve.update()
    return curve


def remove(owner: Owner) -> None:
    """Takes our curves off the owner; what an artist has beside them stays, out of an action of ours in one of its
    own."""
    animation = owner.animation_data
    if animation is None:
        return
    keep(lambda: _before(owner))
    if not _is_all_ours(animation):
        for bag, curve in _ours(animation):
            bag.fcurves.remove(curve)
    action = animation.action
    if action is None or _LENT not in action or action.library:
        return
    if _artists(compat.curves(animation)):
        _part(owner, animation, action)
        return
    last = action[_LENT].get(str(animation.action_slot_handle))
    animation.action = None
    if last is not None:
        animation.last_slot_identifier = last
    elif not animation.nla_tracks and not animation.drivers:
        owner.animation_data_clear()


def _part(owner: Owner, animation: bpy.types.AnimData, action: bpy.types.Action) -> None:
    """Gives the owner an action of its own with what an artist keyed in one of ours, named as Blender names it."""
    made: list[bpy.types.Action] = []
    keep(lambda: lambda: bpy.data.batch_remove(made))
    slot = animation.action_slot.identifier
    made.append(action.copy())
    del made[0][_LENT]
    made[0].name = f"{owner.name}Action"
    for other in [each for each in made[0].slots if each.identifier != slot]:
        made[0].slots.remove(other)
    animation.action, animation.action_slot = made[0], made[0].slots[slot]


def held(owner: Owner, frames: Sequence[float]) -> dict[tuple[str, int], list[float]]:
    """What our curves on an owner say at some frames, by their paths and indices."""
    animation = owner.animation_data
    found = [] if animation is None else [curve for _, curve in _ours(animation)]
    return {(curve.data_path, curve.array_index): [curve.evaluate(frame) for frame in frames] for curve in found}


def sweep() -> None:
    """Removes the actions of ours that nobody uses, and from the others the slots that nobody uses."""
    at_end(_sweep)


def ours() -> list[bpy.types.Action]:
    """Our actions in the file."""
    return [action for action in bpy.data.actions if _LENT in action and not action.library]


def _sweep() -> None:
    used = [action for action in ours() if action.users]
    if unused := [action for action in ours() if not action.users]:
        bpy.data.batch_remove(unused)  # removing none too makes Blender link up all objects anew
    for action in used:
        for slot in [slot for slot in action.slots if not slot.users()]:
            action.slots.remove(slot)
    for action in used:  # made while those that left had their names
        base, _, number = action.name.rpartition(".")
        if base in (OF_FIT, OF_WEAR) and number.isdecimal():
            action.name = base


def artists_paths(owner: Owner) -> set[str]:
    """The paths of everything that an artist has animated or driven on the owner."""
    animation = owner.animation_data
    if animation is None:
        return set()
    curves = [curve for holder in (animation, *compat.nla_strips(animation)) for curve in compat.curves(holder)]
    return {curve.data_path for curve in (*_artists(curves), *animation.drivers)}


def hindrance(owner: Owner) -> str:
    """Why no curve can be put on the owner without touching what is an artist's, as the end of a sentence; "" for
    nothing."""
    animation = owner.animation_data
    if animation is None:
        return ""
    if animation.use_tweak_mode:
        return "has a strip open for editing: leave the strip's tweak mode first"
    mixed = (animation.action_blend_type, animation.action_extrapolation, animation.action_influence)
    if animation.nla_tracks and mixed != ("REPLACE", "HOLD", 1.0):
        return "has its action mixed with strips: push the action down into a strip"
    if animation.action is None:
        return ""
    if not animation.action.is_editable:
        return "has an action linked from another file: make the action local"
    if compat.curve_bag(animation) is None:
        return "has an action without curves: unlink the action"
    if len(animation.action_slot.users()) > 1:
        return "shares its action with others: make the action single-user"
    return ""


def _is_all_ours(animation: bpy.types.AnimData) -> bool:
    """Whether an action of ours, with nothing of an artist's in it, is all that moves the owner."""
    action = animation.action
    return bool(action and _LENT in action and not animation.nla_tracks) and not _artists(compat.curves(animation))


def _before(owner: Owner) -> Back:
    """How the owner is animated now; an action that is all ours keeps its curves while it is off."""
    animation = owner.animation_data
    if animation is None:
        return owner.animation_data_clear
    action, slot, last = animation.action, animation.action_slot, animation.last_slot_identifier
    were = None if _is_all_ours(animation) else [(bag, *_told(curve)) for bag, curve in _ours(animation)]

    def back() -> None:
        now = owner.animation_data or owner.animation_data_create()
        if were is not None:
            for bag, curve in _ours(now):
                bag.fcurves.remove(curve)
            for bag, path, index, keys in were:
                _drawn(bag, path, index, keys)
        if now.action != action or now.action_slot != slot:
            now.action = action
            if action is not None:
                now.action_slot = slot
        if action is None:
            now.last_slot_identifier = last

    return back


def _told(curve: bpy.types.FCurve) -> tuple[str, int, dict[str, np.ndarray]]:
    """All that keys hold, an artist's changes to ours too."""
    points = curve.keyframe_points
    keys = {name: np.zeros(len(points), dtype=np.int32) for name in _KINDS}
    keys |= {name: np.zeros((len(points), 2), dtype=np.float32) for name in _POINTS}
    for name, values in keys.items():
        points.foreach_get(name, values.ravel())
    return curve.data_path, curve.array_index, keys


def _ours(animation: bpy.types.AnimData) -> list[tuple[bpy.types.ActionChannelbag, bpy.types.FCurve]]:
    """Our curves, wherever an artist has put them, each with what holds it."""
    bags = filter(None, map(compat.curve_bag, (animation, *compat.nla_strips(animation))))
    return [(bag, curve) for bag in bags for curve in filter(_is_ours, bag.fcurves)]


def _artists(curves: Iterable[bpy.types.FCurve]) -> list[bpy.types.FCurve]:
    return [curve for curve in curves if not _is_ours(curve)]


def _is_ours(curve: bpy.types.FCurve) -> bool:
    return curve.group is not None and curve.group.name == GROUP
