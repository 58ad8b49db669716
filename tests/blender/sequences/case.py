"""Two looks at a file, and what can be told of where they differ."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .seen import NEAR, Seen

LOOSE = 0.25  # of a pitch: what our motions, roundings and clearances together come to at the end of a long brick
LONGEST = 8  # pitches of a long brick
MIDDLE = 0.05  # of a pitch: how far the middle of several bricks goes, as far as motions take it
TWIN = "its rounded mesh"  # among what was touched: while it showed one
ON_MESH = {"pull_points", "subdivide", "add_uv_map", "add_attribute", "add_shape_key", "add_vertex_group",
           "shade_smooth", "join", "apply_modifier", "separate", "apply_transforms"}  # fmt: skip
# What Blender works out from where an object stands, ours within.
MIXING = {"move", "rotate", "scale", "nudge_delta_location", "nudge_delta_rotation", "clear_deltas",
          "zero_delta_location", "transforms_to_deltas", "parent", "parent_to_brick", "unparent", "origin_to_geometry",
          "apply_transforms", "duplicate", "make_instances_real"}  # fmt: skip
KEYS = "its keys"  # among what was touched: while it had keys of ours
ON_DELTAS = {
    "nudge_delta_location",
    "nudge_delta_rotation",
    "type_delta_location",
    "clear_deltas",
    "zero_delta_location",
}
# What sets a channel that a key may have.
OVER_KEYS = {"type_location", "type_rotation", "type_scale", "transforms_to_deltas"}
HANDS = {*MIXING, "type_delta_location", "type_location", "type_rotation", "type_scale"}
CARRIED = ("attributes", "layers", "materials", "keys")
# Attributes that Blender makes and drops by itself, and the normals of a rounding.
DRAWN = {"material_index", "sharp_face", "sharp_edge", "custom_normal"}


@dataclass(frozen=True)
class Case:
    """Two looks at a file, and what was done to its objects while they bore something of ours."""

    never: Seen
    now: Seen
    touched: Mapping[str, set[str]]
    pitch: float
    shown: Mapping[str, set[str]] = field(default_factory=dict)  # by mesh, in either of the looks
    is_updated: bool = False  # whether a next version came

    def did(self, name: str, *actions: str) -> bool:
        return not self.touched.get(name, set()).isdisjoint(actions)

    def is_own(self, name: str) -> bool:
        """Whether an object has a mesh that was rounded when it was changed, or shares one."""
        done = self.touched.get(name, set())
        return TWIN in done and any(f"{each}{more}" in done for each in ON_MESH for more in ("", " of another"))

    def went_as_one(self, name: str) -> bool:
        """Whether all points of an object are off by the same way, and by no more than a middle goes."""
        way = self._way(name)
        return self.went_little(name) and np.ptp(way, axis=0).max() <= 2 * NEAR * self.pitch

    def jumped(self, name: str) -> bool:
        """Whether all points of an object are off by the same way, and by no more than the object is long."""
        way = self._way(name)
        longest = np.ptp(self.never["objects", name, "world"], axis=0).max()
        return np.abs(way).max() <= longest and np.ptp(way, axis=0).max() <= 2 * NEAR * self.pitch

    def went_little(self, name: str) -> bool:
        """Whether no point of an object is off by more than a middle goes."""
        return np.abs(self._way(name)).max(initial=0.0) <= MIDDLE * self.pitch

    def shown_with(self, name: str) -> set[str]:
        """The objects that show the mesh of another in both looks, as one does that was given its mesh."""
        with_it = [
            {one for one in self.shown.get(mesh, ()) if look.get(("objects", one, "data")) == mesh}
            for look in (self.never, self.now)
            for mesh in (look.get(("objects", name, "data")),)
        ]
        return set.intersection(*with_it)

    def is_parted(self, name: str) -> bool:
        """Whether some that show the mesh of an object without ours show another now."""
        mesh, other = (look.get(("objects", name, "data")) for look in (self.never, self.now))
        shown = (one for one in self.shown.get(mesh, ()) if self.never.get(("objects", one, "data")) == mesh)
        return any(self.now.get(("objects", one, "data")) != other for one in shown)

    def shows_anothers(self, name: str) -> bool:
        """Whether an object was given the mesh of one that has its own."""
        return any(map(self.is_own, self.shown_with(name)))

    def stands_as(self, name: str) -> bool:
        """Whether no point of an object is off by more than its end goes; rounded it has others."""
        if self.is_own(name):
            return self.stands_near(name)
        return np.abs(self._way(name)).max(initial=0.0) <= self._end(name)

    def _end(self, name: str) -> float:
        """How far the end of a long brick goes, or of an object that is longer since more was joined to it."""
        return LOOSE * max(self.pitch, np.ptp(self.never["objects", name, "world"], axis=0).max() / LONGEST)

    def carries_all(self, name: str) -> bool:
        """Whether the mesh that an object shows carries all that the one carries which it shows without ours."""
        one, other = (look.get(("objects", name, "data")) for look in (self.never, self.now))
        parts = [(self.never.get(("meshes", one, part)), self.now.get(("meshes", other, part))) for part in CARRIED]
        return all(
            a.keys() - DRAWN == b.keys() - DRAWN if isinstance(a, dict) and isinstance(b, dict) else a == b
            for a, b in parts
        )

    def _way(self, name: str, kind: str = "objects", part: str = "world") -> np.ndarray:
        """How far each point is off; by as far as can be where they are not the same points."""
        one, other = (look.get((kind, name, part)) for look in (self.never, self.now))
        if one is None or other is None or one.shape != other.shape:
            return np.full((1, 3), np.inf)
        return other - one

    def lies_near(self, name: str) -> bool:
        """Whether no point of a mesh is off by more than the end of a long brick goes."""
        return np.abs(self._way(name, "meshes", "points")).max(initial=0.0) <= LOOSE * self.pitch

    def lies_as_if_moved(self, name: str) -> bool:
        """Whether all points of a mesh are off by the same way, and by no more than it is long."""
        way, size = self._way(name, "meshes", "points"), np.ptp(self.never["meshes", name, "points"], axis=0).max()
        return np.abs(way).max() <= size and np.ptp(way, axis=0).max() <= 2 * NEAR * self.pitch

    def lies_as_one(self, name: str) -> bool:
        """Whether all points of a mesh are off by the same way, and by no more than a middle goes."""
        way = self._way(name, "meshes", "points")
        return np.abs(way).max() <= MIDDLE * self.pitch and np.ptp(way, axis=0).max() <= 2 * NEAR * self.pitch

    def stands_still(self, name: str) -> bool:
        """Whether an object's own channels and deltas are as they were: what is off is its mesh's. Where Blender turned
        or scaled several about their middle, but for how far that went."""
        one, other = (look.get(("objects", name, "channels")) for look in (self.never, self.now))
        off = MIDDLE * self.pitch if self.did(name, "rotate", "scale") else 1e-6
        return one is not None and other is not None and bool(np.abs(np.subtract(one, other)).max() <= off)

    def stands_near(self, name: str) -> bool:
        """Whether an object takes up the same room, as far as motions and roundings let it."""
        one, other = (look.get(("objects", name, "world")) for look in (self.never, self.now))
        if one is None or other is None:
            return False
        return all(np.abs(end(one, axis=0) - end(other, axis=0)).max() <= self._end(name) for end in (np.min, np.max))
