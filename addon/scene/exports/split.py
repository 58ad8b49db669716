"""A mesh and the shells that it is made of."""

from collections.abc import Generator
from dataclasses import dataclass

import bpy
import numpy as np

from ...core.build.boxes import Boxes
from ...core.parts import fused, shells
from ...core.parts.solids import Solids, boxes_of
from ...core.slices import sliced
from .forms import Form


@dataclass(frozen=True)
class Split:
    """A mesh with its shells: the faces and the triangles of each, and what each measures in the mesh's own axes."""

    form: Form
    label: np.ndarray
    faces: list[np.ndarray]
    triangles: list[np.ndarray]
    parts: shells.Shells
    solids: Solids

    @classmethod
    def splitting(cls, mesh: bpy.types.Mesh) -> Generator[None, None, "Split"]:
        """The split of a mesh, in parts."""
        form = Form.of(mesh)
        yield
        return (yield from sliced(lambda: cls._by(form, shells.split(form.points, form.triangles, form.words))))

    @property
    def closed(self) -> np.ndarray:
        return self.parts.closed

    def standing(self, matrix: np.ndarray) -> Boxes:
        """The boxes of the shells standing at each of matrices (n, 4, 4), those of the first one first."""
        own = [np.unique(self.form.triangles[each]) for each in self.triangles]
        starts = np.cumsum([0, *map(len, own)])
        begin = np.arange(len(matrix))[:, None] * starts[-1] + starts[:-1]
        placed = self.form.points[np.concatenate(own)] @ matrix[:, :3, :3].swapaxes(1, 2) + matrix[:, None, :3, 3]
        return boxes_of(placed.reshape(-1, 1, 3), begin.ravel())

    def parted(self, mm: np.ndarray) -> "Split":
        """With shells that are several bricks taken apart, an axis' unit being `mm` (3,)."""
        form, points, firsts = self.form, self.form.points * mm, self.parts.firsts()
        label = fused.parted(points, form.triangles, form.face_of_triangle, firsts)
        if label.max() == len(np.unique(self.parts.same)) - 1:
            return self
        if (firsts < self.label).any():  # what copies are copies of comes apart
            label = fused.parted(points, form.triangles, form.face_of_triangle, self.label)
        whole = np.unique(np.stack([self.label, label])[:, label >= 0], axis=1)[0]
        return self._by(form, shells.Shells.unlike(label, self.closed[whole] & (np.bincount(whole)[whole] == 1)))

    def several(self, finer: "Split") -> np.ndarray:
        """(S,) which shells are several in a finer split."""
        pairs = np.unique(np.stack([self.label, finer.label]), axis=1)[0]
        return np.bincount(pairs[pairs >= 0], minlength=len(self.closed)) > 1

    @classmethod
    def _by(cls, form: Form, parts: shells.Shells) -> "Split":
        order, starts = _by_label(parts.label, len(parts))
        label = np.full(len(form.starts), -1)
        label[form.face_of_triangle] = parts.label
        faces = np.split(*_by_label(label, len(parts)))[1:]
        triangles = np.split(order, starts)[1:]
        firsts, which = np.unique(parts.same, return_inverse=True)
        own = [triangles[n] for n in firsts]
        begin = np.cumsum([0, *map(len, own)])[:-1]
        measured = Solids.of(form.points[form.triangles[np.concatenate(own)]] if own else np.zeros((0, 3, 3)), begin)
        return cls(form, parts.label, faces, triangles, parts, measured.copies(which, parts.shift))


def _by_label(label: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """What has a label, in the labels' order, and where each label starts."""
    order = np.argsort(label, kind="stable")
    return order, np.searchsorted(label[order], np.arange(count))
