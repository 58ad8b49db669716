"""The faces of a PLY file, every one of them.

Blender's own importer drops a face between the same vertices as another, which is what welded bricks are made of where
they touch. Format: Turk, The PLY Polygon File Format (1994).
"""

import struct
from itertools import islice

import numpy as np

TYPES = {"char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4"}
TYPES |= {"int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4", "float32": "f4"}
TYPES |= {"double": "f8", "float64": "f8"}
_LETTERS = {"i1": "b", "u1": "B", "i2": "h", "u2": "H", "i4": "i", "u4": "I"}  # struct's
_WORDS = ("ply", "format", "comment", "obj_info", "element", "property")
_MOST_FAR = 1e12
CORNERS = ("vertex_indices", "vertex_index")
_SHADES = (
    ("red", "green", "blue", "alpha"),
    ("diffuse_red", "diffuse_green", "diffuse_blue", "alpha"),
    ("r", "g", "b", "a"),
)  # how writers name them; common practice, no published source but for the first


def faces(data: bytes) -> list[np.ndarray]:
    """Vertex numbers of each face; ValueError where the file is not one of faces after plain elements."""
    kind, body, count, properties = _of_faces(data)
    if kind != "ascii" and properties[0][-1] in CORNERS:
        rows = _rows(body, _order(kind), count, properties)
        if rows is not None:
            return list(rows["corners"].astype(int))
    return [_corners(row) for row in _each(body, kind, count, properties)]


def shades(data: bytes) -> np.ndarray | None:
    """The colour of each face (F, 4), sRGB and opacity from 0 to 1, which Blender's importer leaves out; None where
    faces have none. ValueError as in faces()."""
    kind, body, count, properties = _of_faces(data)
    names = _shades(properties)
    if not names:
        return None
    rows = None if kind == "ascii" else _rows(body, _order(kind), count, properties)
    each = () if rows is not None else list(_each(body, kind, count, properties))
    found = np.ones((count, 4))
    for column, (name, most) in enumerate(names):
        if rows is not None:
            found[:, column] = rows[f"/{name}"] / most
        else:
            found[:, column] = [float(row[name][0]) / most for row in each]
    return found


def are_shaded(head: bytes) -> bool:
    """Whether the header tells of colours of faces."""
    return any(_shades(properties) for name, _, properties in _parts(head)[1] if name == "face")


def shades_of_points(head: bytes) -> list[tuple[str, float]]:
    """The properties of vertices that hold red, green, blue and, if it is there, opacity, and how much of each is all;
    none where the header tells of no such colours."""
    found = (_shades(properties) for name, _, properties in _parts(head)[1] if name == "vertex")
    return next(found, [])


def _shades(properties: list[list[str]]) -> list[tuple[str, float]]:
    types = {words[-1]: words[0] for words in properties if words[0] != "list"}
    spelt = {name.lower(): name for name in types}
    for names in _SHADES:
        if all(name in spelt for name in names[:3]):
            return [(spelt[name], _most(types[spelt[name]])) for name in names if name in spelt]
    return []


def _most(kind: str) -> float:
    whole = np.dtype(TYPES[kind])
    return 1.0 if whole.kind == "f" else float(np.iinfo(whole).max)


def face_count(data: bytes) -> int:
    """How many faces the header tells of."""
    return sum(count for name, count, _ in _parts(data)[1] if name == "face")


def check_length(data: bytes) -> None:
    """ValueError where the file ends before what its header announces."""
    kind, elements, body = _parts(data)
    if kind == "ascii":
        rows = (row for row in body.split(b"\n") if row.strip())
        for name, count, _ in elements:
            _check_count(name, sum(1 for _ in islice(rows, max(count, 0))), count)
        return
    at = 0
    for name, count, properties in elements:
        there, at = _passed(body, at, _order(kind), count, properties)
        _check_count(name, there, count)


def _check_count(name: str, there: int, count: int) -> None:
    if there < count:
        raise ValueError(f"it ends after {there} of the {count} elements {name[:40]} that it announces")


def _passed(body: bytes, at: int, order: str, count: int, properties: list[list[str]]) -> tuple[int, int]:
    """How many elements of `count` are there from a place on, and where the next ones begin."""
    sizes = [np.dtype(TYPES[words[-2]]).itemsize for words in properties]
    if all(words[0] != "list" for words in properties):
        there = min(count, (len(body) - at) // sum(sizes)) if sizes else count
        return there, at + there * sum(sizes)
    lengths = [struct.Struct(order + _LETTERS[TYPES[words[1]]]) if words[0] == "list" else None for words in properties]
    there = 0
    try:
        while there < count:
            for size, length in zip(sizes, lengths, strict=True):
                at += size if length is None else length.size + size * max(length.unpack_from(body, at)[0], 0)
            if at > len(body):
                break
            there += 1
    except struct.error:
        pass
    return there, at


def is_whole(data: bytes) -> bool:
    """Whether it is binary, of vertices and of faces that all have as many corners, ends where it says, and leads
    nowhere else; all other files are not said to be bad, but to be looked at by someone else."""
    try:
        check(data[: data.find(b"end_header")])
        kind, elements, body = _parts(data)
        (vertex, many, columns), (face, count, lists) = elements
        points = np.dtype([(name, _order(kind) + TYPES[item]) for item, name in columns])
        places, after = np.frombuffer(body, points, many), body[many * points.itemsize :]
        rows = _rows(after, _order(kind), count, lists)
        return (
            (vertex, face, lists[0][-1] in CORNERS) == ("vertex", "face", True)
            and kind.startswith("binary")
            and rows is not None
            and len(after) == rows.nbytes
            and rows["corners"].shape[1] >= 3
            and bool((rows["corners"] >= 0).all() and (rows["corners"] < many).all())
            and all(bool((np.abs(places[axis]) < _MOST_FAR).all()) for axis in "xyz")
        )
    except (ValueError, KeyError, IndexError, TypeError):
        return False


def _of_faces(data):
    """How numbers are written, what follows all before the faces, how many there are, and what each has."""
    kind, elements, body = _parts(data)
    for name, count, properties in elements:
        if name == "face" and properties:
            return kind, body, count, properties
        body = _after(body, kind, count, properties)
    raise ValueError("it has no faces")


def _parts(data):
    """The kind, the elements, and what follows the header."""
    head, _, body = data.partition(b"end_header")
    lines = [line.split() for line in head.decode("ascii", "replace").splitlines()]
    kind = next((words[1] for words in lines if words[:1] == ["format"]), "")
    return kind, _elements(lines), body[body.find(b"\n") + 1 :]


def _order(kind):
    return ">" if "big" in kind else "<"


def check(head: bytes) -> None:
    """ValueError where a line of the header is none: Blender's importer reads on, and what it makes is chance."""
    lines = head.partition(b"end_header")[0].decode("ascii", "replace").splitlines()
    told = [line.split()[:2] for line in lines]
    for line, words in zip(lines, told, strict=True):
        if words[:1] not in ([], *([word] for word in _WORDS)):
            raise ValueError(f'its header has a line "{line[:40]}"')
    kinds = [words[0] for words in told if words and words[0] in ("element", "property")]
    if ["element", "vertex"] not in told or kinds[0] != "element":
        raise ValueError("its header tells of no vertices")


def _elements(lines):
    elements = []
    for words in lines:
        if words[:1] == ["element"]:
            elements.append((words[1], int(words[2]), []))
        elif words[:1] == ["property"]:
            elements[-1][2].append(words[1:])
    return elements


def _after(body, kind, count, properties):
    if kind == "ascii":
        return b"\n".join(body.splitlines()[count:])
    if any(words[0] == "list" for words in properties):
        raise ValueError("lists stand before its faces")
    return body[count * sum(np.dtype(TYPES[words[0]]).itemsize for words in properties) :]


def _corners(row):
    for name in CORNERS:
        if name in row:
            return row[name].astype(int)
    raise ValueError("its faces have no vertices")


def _each(body, kind, count, properties):
    """What each face has: its numbers by name."""
    if kind == "ascii":
        for line in body.splitlines()[:count]:
            words, at, row = line.split(), 0, {}
            for *types, name in properties:
                many = int(words[at]) if types[0] == "list" else 1
                at += types[0] == "list"
                row[name] = np.array(words[at : at + many], dtype=float)
                at += many
            yield row
        return
    order, at = _order(kind), 0
    for _ in range(count):
        row = {}
        for *types, name in properties:
            many = 1
            if types[0] == "list":
                size = np.dtype(order + TYPES[types[1]])
                many = int(np.frombuffer(body, size, 1, at)[0])
                at += size.itemsize
            item = np.dtype(order + TYPES[types[-1]])
            row[name] = np.frombuffer(body, item, many, at)
            at += many * item.itemsize
        yield row


def _rows(body, order, count, properties):
    """The faces as rows with their `corners` (many,), where one list stands before all else that is said of a face, and
    is of the same length for each; else None."""
    (_, length, item, _), *others = properties
    if any(words[0] == "list" for words in others):
        return None
    many = int(np.frombuffer(body, order + TYPES[length], 1)[0])
    row = [("many", order + TYPES[length]), ("corners", order + TYPES[item], (many,))]
    row = np.dtype(row + [(f"/{name}", order + TYPES[kind]) for kind, name in others])
    if len(body) < count * row.itemsize:
        return None
    rows = np.frombuffer(body, row, count)
    return rows if (rows["many"] == many).all() else None
