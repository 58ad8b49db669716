"""Properties of a collection's objects as arrays, read and written in one go."""

from collections.abc import Iterable, Sequence
from itertools import chain
from operator import attrgetter

import bpy
import numpy as np
import numpy.typing as npt

from ..blender import context


class Columns:
    """The objects of a collection and of those inside it, each once, and their properties by name; of the whole file
    where there is no collection.

    Walks `objects` of each collection: `all_objects` takes many seconds on a large build.
    """

    def __init__(self, collection: bpy.types.Collection | None):
        self._rooms = [bpy.data] if collection is None else [collection, *collection.children_recursive]
        self._counts = [len(room.objects) for room in self._rooms]  # Blender counts them one by one whenever asked
        entries = list(chain.from_iterable(room.objects for room in self._rooms))
        self.objects = list(dict.fromkeys(entries)) if len(self._rooms) > 1 else entries
        self._row_of_entry = np.arange(len(entries))
        if len(entries) > len(self.objects):  # some stand in two collections
            rows = {thing: row for row, thing in enumerate(self.objects)}
            self._row_of_entry = np.array([rows[thing] for thing in entries])

    def some(self, rows: np.ndarray) -> list[bpy.types.Object]:
        """The objects of some rows."""
        return list(map(self.objects.__getitem__, rows.tolist())) if not self._is_all(rows) else self.objects

    def read(self, name: str, width: int = 1, dtype: npt.DTypeLike = np.float32) -> np.ndarray:
        """Values (n, width), or (n,) for width 1, in the order of `objects`."""
        flat = np.zeros(len(self._row_of_entry) * width, dtype=dtype)
        for room, part in self._slices(width):
            room.objects.foreach_get(name, flat[part])
        values = flat.reshape(-1, width)
        if len(values) > len(self.objects):
            entries, values = values, np.zeros((len(self.objects), width), dtype=dtype)
            values[self._row_of_entry] = entries
        return values if width > 1 else values[:, 0]

    def write(self, name: str, rows: np.ndarray, values: np.ndarray) -> None:
        """Sets the rows of one property; all other objects get back the value they have."""
        width, everything = values.shape[1], values
        if not self._is_all(rows):
            everything = self.read(name, width)
            everything[rows] = values
        if len(self._row_of_entry) > len(self.objects):
            everything = everything[self._row_of_entry]
        flat = np.ascontiguousarray(everything, dtype=np.float32).ravel()
        for room, part in self._slices(width):
            room.objects.foreach_set(name, flat[part])

    def read_matrix(self, name: str) -> np.ndarray:
        """Matrices (n, 4, 4) that act on column vectors."""
        return self.read(name, 16).reshape(-1, 4, 4).swapaxes(1, 2)

    def _is_all(self, rows: np.ndarray) -> bool:
        return len(rows) == len(self.objects) and bool((rows == np.arange(len(rows))).all())

    def _slices(self, width: int):
        start = 0
        for room, count in zip(self._rooms, self._counts, strict=True):
            stop = start + width * count
            if stop > start:
                yield room, slice(start, stop)
            start = stop


def raw_names(objects: Iterable[bpy.types.Object], among: Sequence[str]) -> set[str]:
    """Which of some names any of the objects carries a raw property by. Object by object: each is fetched from memory
    once, and that takes longer than being asked."""
    return {name for thing in objects for name in among if name in thing}


def matrices(objects: list[bpy.types.Object]) -> np.ndarray:
    """World matrices (n, 4, 4) of any objects, as they were last evaluated; where the scene does not show the first of
    them, those that their own channels and their parents give all of them."""
    everything = list(bpy.data.objects)
    row = {thing: n for n, thing in enumerate(everything)}
    chosen = np.array([row[thing] for thing in objects], dtype=np.intp)
    if objects and context().view_layer.objects.get(objects[0].name) != objects[0]:
        return _by_channels(everything, row, chosen)
    return _read("matrix_world", len(everything))[chosen]


def _by_channels(everything, row, chosen):
    own = _read("matrix_basis", len(everything))
    parents = list(map(attrgetter("parent"), everything))
    world, above = own[chosen], chosen
    if not any(parents):
        return world
    parent = np.array([row.get(each, -1) for each in parents], dtype=np.intp)
    inverse = _read("matrix_parent_inverse", len(everything))
    while (hanging := np.flatnonzero(parent[above] >= 0)).size:
        world[hanging] = inverse[above[hanging]] @ world[hanging]
        above = np.where(parent[above] >= 0, parent[above], above)
        world[hanging] = own[above[hanging]] @ world[hanging]
    return world


def _read(name: str, count: int) -> np.ndarray:
    flat = np.empty(16 * count, dtype=np.float32)
    bpy.data.objects.foreach_get(name, flat)
    return flat.reshape(-1, 4, 4).swapaxes(1, 2).astype(np.float64)
