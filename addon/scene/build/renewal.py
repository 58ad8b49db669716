"""The objects of a build after its export came anew: each brick keeps its own, moved or recoloured where it must be.

What comes in takes the place, the mesh and the materials of bricks like it, so that it looks and shares as they do.
"""

from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Matrix

from ...blender import mesh_of
from ...core.build.matching import QUARTERS, snapped
from .. import curves
from ..exports import naming
from ..turns import channels, rotations
from ..wear import originals, slots
from . import arrival, inherited, looks
from .build import Build, axes


@dataclass(frozen=True)
class Places:
    """Where the middles (n, 3) of a build's bricks lie, in its frame in mm."""

    build: Build
    middle: np.ndarray

    def move(self, n: int, way: np.ndarray, quarters: int) -> str:
        """Moves brick n by a way (3,) and turns it about its middle; why that cannot be, as the end of a sentence."""
        build, thing = self.build, self.build.objects[n]
        if curves.artists_paths(thing) & {"location", "rotation_euler", "rotation_quaternion"}:
            return "has its place animated, and stays where it was"
        before = arrival.channels(thing)
        inherited.leave_home(thing, self.middle[n], quarters)
        inverse = np.linalg.inv(build.parent_turn[n])
        base = build.base.rows(np.array([n]))
        turn = QUARTERS[quarters]
        origin = build.parent_shift[n] + build.parent_turn[n] @ (build.location[n] + base.location[0])
        place = self.middle[n] + way
        origin = place + turn @ (origin - self.middle[n])
        thing.location = inverse @ (origin - build.parent_shift[n]) - base.location[0]
        if quarters:
            mode = build.mode[n : n + 1]
            euler, quaternion = np.array([thing.rotation_euler]), np.array([thing.rotation_quaternion])
            own = rotations(mode, euler, quaternion)[0]
            delta = rotations(mode, base.euler, base.quaternion)[0]
            about = delta.T @ inverse @ turn @ build.parent_turn[n] @ delta
            told = channels(mode, (about @ own)[None], euler, quaternion)
            thing.rotation_euler, thing.rotation_quaternion = told[0][0], told[1][0]
        inherited.come_home(thing, place)
        arrival.moved(thing, before)
        return ""

    def put_beside(self, thing: bpy.types.Object, n: int, place: np.ndarray) -> None:
        """Lets a thing stand as brick n does, its middle at a place (3,), with that brick's mesh."""
        build, like = self.build, self.build.objects[n]
        way, stood = snapped(place - self.middle[n]), arrival.placed([like])[0]
        thing.parent, thing.parent_type = like.parent, like.parent_type
        thing.matrix_parent_inverse = like.matrix_parent_inverse
        thing.rotation_mode, thing.scale = like.rotation_mode, like.scale
        thing.rotation_euler, thing.rotation_quaternion = stood[3:6], stood[6:]
        thing.location = stood[:3] + np.linalg.inv(build.parent_turn[n]) @ way

    def stand(self, thing: bpy.types.Object, pose: np.ndarray) -> None:
        """Lets a thing stand under the build's frame; pose (4, 4) from its mesh to the build in mm."""
        upright = np.eye(4)
        upright[:3, :3] = axes(self.build.lattice)
        thing.parent, thing.matrix_parent_inverse = self.build.root, Matrix()
        thing.matrix_basis = Matrix((np.linalg.inv(upright) @ pose).tolist())


def pose_of(build: Build, n: int) -> np.ndarray:
    """From the mesh of brick n, in its own units, to its build in mm (4, 4)."""
    bricks, pose = build.bricks, np.eye(4)
    pose[:3, :3] = bricks.turn[n] * build.scale[n]
    pose[:3, 3] = bricks.origin[n] - pose[:3, :3] @ build.middle[n]
    return pose


def bare(build: Build, n: int) -> bool:
    """Whether brick n has no deltas of the artist's, so that others may stand as it does."""
    base = build.base.rows(np.array([n]))
    still = not (base.location.any() or base.euler.any()) and (base.scale == 1.0).all()
    return bool(still and not build.objects[n].animation_data)


class Wardrobe:
    """What the bricks of a build show: a mesh for each shape and look, a material for each of the export's."""

    def __init__(self, things: list[bpy.types.Object], worn: list[looks.Look], alike: dict):
        self.alike = alike
        self.materials: dict[tuple, bpy.types.Material | None] = {}
        self.meshes: dict[tuple, bpy.types.Mesh] = {}
        for thing, look in zip(things, worn, strict=True):
            mesh = originals.original(mesh_of(thing))
            for told, material in zip(look, mesh.materials, strict=False):
                self.materials.setdefault(told, slots.own(material))

    def dress(self, mesh: bpy.types.Mesh) -> None:
        """Lets a mesh of the new version show the materials that the old one has for the same."""
        for n, material in enumerate(mesh.materials):
            mesh.materials[n] = self._material(material)

    def in_look_of(self, mesh: bpy.types.Mesh, like: bpy.types.Object) -> bpy.types.Mesh | None:
        """A mesh as it looks in the materials of a thing of the new version; None where that has other slots."""
        wanted = tuple(mesh_of(like).materials)
        if len(slots.of_mesh(mesh)) != len(wanted):
            return None
        if (mesh, wanted) not in self.meshes:
            copy = self.meshes[mesh, wanted] = mesh.copy()
            for n, material in enumerate(wanted):
                copy.materials[n] = self._material(material)
        return self.meshes[mesh, wanted]

    def recolour(self, thing: bpy.types.Object, like: bpy.types.Object) -> str:
        """Lets a brick show what a thing of the new version shows; why that cannot be, as the end of a sentence.

        `thing` shows its own mesh and no twin.
        """
        slots.show_meshes([thing])
        if any(slot.link == "OBJECT" for slot in thing.material_slots):
            return "was recoloured in the export, and keeps the material it was given by hand"
        kept = thing.get(looks.BEFORE)
        came = kept.to_dict() if kept is not None else {"look": thing.get(looks.LOOK, ""), "mesh": thing.data}
        if came["look"] == like.get(looks.LOOK) and isinstance(came["mesh"], bpy.types.Mesh):
            thing.data = came["mesh"]
            del thing[looks.BEFORE]
        else:
            mesh = self.in_look_of(came["mesh"], like)
            if mesh is None:
                return "was recoloured in the export, and has other slots there: it keeps its materials"
            thing[looks.BEFORE] = came
            thing.data = mesh
        thing[looks.LOOK] = like[looks.LOOK]
        return ""

    def _material(self, material: bpy.types.Material | None) -> bpy.types.Material | None:
        told = self.alike.get(looks.told(material))
        return self.materials.get(told, material) if told else material


def name_added(thing: bpy.types.Object, mark: str) -> None:
    """Marks a brick as brought by an update of the export with this mark, by the name that the export gave it."""
    naming.named([thing, mesh_of(thing)])
    arrival.keep([thing], mark)
