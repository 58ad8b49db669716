"""Ways in which a file may be spoiled: any bytes, numbers in text, glTF's tree, FBX's values."""

import json
import random
import re
import struct
import zlib

from bench import fbx_records

COUNTS = [0, 1, 0x7F, 0xFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFFFFFE, 1 << 24, 100_000_000]
FLOATS = [float("nan"), float("inf"), -float("inf"), 1e38, -1e38, 1e-38, 3e38, 0.0, 1e30]
WORDS = [
    b"nan", b"inf", b"-inf", b"1e38", b"-1e38", b"1e999", b"1e-320", b"0", b"-1", b"-2147483649", b"4294967295",
    b"99999999999999999999", b"100000000", b"2147483647", b"-7", b"1e30",
]  # fmt: skip
LEAVES = [None, -1, 0, 1, 3.5, 1e38, 2147483647, 4294967296, 1 << 70, "", "x", [], {}, True, [1e38] * 16, [0] * 16]


def flipped(data, rng):
    """Some bits, mostly at the front where the counts are."""
    data = bytearray(data)
    reach = len(data) if rng.random() < 0.6 else min(len(data), 600)
    for _ in range(rng.choice((1, 1, 2, 4, 16, 64))):
        data[rng.randrange(reach)] ^= 1 << rng.randrange(8)
    return bytes(data)


def cut(data, rng):
    return data[: rng.randrange(1, len(data))]


def without(data, rng):
    at = rng.randrange(len(data))
    return data[:at] + data[at + rng.choice((1, 4, 50, 400, 4000)) :]


def doubled(data, rng):
    at, many = rng.randrange(len(data)), rng.choice((1, 4, 50, 400, 4000))
    return data[: at + many] + data[at : at + many] * rng.choice((1, 2, 50)) + data[at + many :]


def numbers(data, rng):
    """Four bytes in a row become a count or a coordinate that no build has."""
    data = bytearray(data)
    reach = len(data) if rng.random() < 0.6 else min(len(data), 600)
    for _ in range(rng.choice((1, 1, 2, 8))):
        at = rng.randrange(max(reach - 4, 1)) & ~3
        new = struct.pack("<I", rng.choice(COUNTS)) if rng.random() < 0.6 else struct.pack("<f", rng.choice(FLOATS))
        data[at : at + 4] = new
    return bytes(data)


def noise(data, rng):
    at, many = rng.randrange(len(data)), rng.choice((8, 64, 512))
    return data[:at] + rng.randbytes(many) + data[at + many :]


BYTES = [flipped, cut, without, doubled, numbers, noise]


def text_numbers(data, rng):
    found = list(re.finditer(rb"-?\d[\d.eE+-]*", data))
    if not found:
        return flipped(data, rng)
    for match in sorted(rng.sample(found, min(len(found), rng.choice((1, 1, 3, 20)))), key=lambda m: -m.start()):
        data = data[: match.start()] + rng.choice(WORDS) + data[match.end() :]
    return data


def lines(data, rng):
    """Lines swapped, left out, or said very often."""
    rows = data.splitlines(keepends=True)
    a, b = rng.randrange(len(rows)), rng.randrange(len(rows))
    way = rng.randrange(4)
    if way == 0:
        rows[a], rows[b] = rows[b], rows[a]
    elif way == 1:
        del rows[a : a + rng.choice((1, 3, 30))]
    elif way == 2:
        rows[a : a + 1] = rows[a : a + 1] * rng.choice((2, 100, 2000))
    else:
        rows[a] = rows[a].rstrip(b"\n") + b" " + rows[b]
    return b"".join(rows)


def words(data, rng):
    """One word of the file stands where another did: names refer to themselves, types change."""
    found = list(re.finditer(rb"[\w:/.<>\"]+", data))
    a, b = rng.choice(found), rng.choice(found)
    return data[: a.start()] + b.group() + data[a.end() :]


TEXT = [text_numbers, text_numbers, lines, words, words, cut, flipped]


def tree(data, rng):
    """A glTF's JSON with leaves of another kind, keys gone, entries doubled, nodes that hold themselves."""
    if data[:4] != b"glTF":
        return json.dumps(_spoiled(json.loads(data), rng)).encode()
    size = struct.unpack_from("<I", data, 12)[0]
    body = json.dumps(_spoiled(json.loads(data[20 : 20 + size]), rng)).encode()
    body += b" " * (-len(body) % 4)
    rest = data[20 + size :]
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(body) + len(rest), len(body), 0x4E4F534A) + body + rest


def _spoiled(root, rng):
    for _ in range(rng.choice((1, 1, 2, 4))):
        holder, key = rng.choice(list(_places(root)))
        way = rng.randrange(8)
        if way == 0 and "nodes" in root and isinstance(root["nodes"], list) and root["nodes"]:
            node = rng.choice(root["nodes"])
            if isinstance(node, dict):
                node["children"] = [rng.randrange(len(root["nodes"])) for _ in range(3)]
        elif way == 1:
            del holder[key]
        elif way == 2 and isinstance(holder, list):
            holder.extend([holder[key]] * rng.choice((1, 5, 200)))
        elif isinstance(holder[key], int | float) and way < 6:
            holder[key] = rng.choice([0, 1, 2, 5, 17, 5120, 5121, 5126, 35048, -1, 1 << 31, 1e9, 99999])
        else:
            holder[key] = rng.choice(LEAVES)
    return root


def _places(value):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield value, key
            yield from _places(inner)
    elif isinstance(value, list):
        for key, inner in enumerate(value[:40]):
            yield value, key
            yield from _places(inner)


def fbx_values(data, rng):
    """Values of a binary FBX: numbers, lists made shorter or pointing elsewhere, words; records doubled or gone."""
    records = fbx_records.read(data)
    every = list(_every(records))
    for _ in range(rng.choice((1, 1, 2, 4))):
        holder, record = rng.choice(every)
        heavy = [each for each in every if any(len(raw) > 40 for _, raw in each[1].values)]
        if rng.random() < 0.5 and heavy:  # where the shapes are
            holder, record = rng.choice(heavy)
        way = rng.randrange(10)
        if way == 0 and record in holder:
            holder.remove(record)
        elif way == 1:
            holder.append(record)
        elif record.values:
            at = rng.randrange(len(record.values))
            letter, raw = record.values[at]
            record.values[at] = letter, _unlike(letter, raw, rng)
    return fbx_records.written(data, records)


def _every(records):
    for record in records:
        yield records, record
        yield from _every(record.inner or [])


def _unlike(letter, raw, rng):
    """Another value of the same kind."""
    kind = letter.upper() if letter in fbx_records.ITEMS else letter
    if kind == b"S":
        return rng.choice([b"", raw[::-1], raw * 50, b"\xff\xfe", b"Mesh", b"ByPolygonVertex", b"IndexToDirect", b"C"])
    if kind == b"R" or not raw:
        return rng.randbytes(rng.choice((0, 3, 500)))
    width = len(raw) if letter not in fbx_records.ITEMS else fbx_records.ITEMS[letter]
    raw, many = bytearray(raw), len(raw) // width
    if many > 1 and rng.random() < 0.3:
        return bytes(raw[: rng.randrange(many) * width] if rng.random() < 0.7 else raw * 3)
    for _ in range(rng.choice((1, 1, 4, 30))):
        k = rng.randrange(many) * width
        raw[k : k + width] = {
            b"I": lambda: struct.pack("<I", rng.choice([*COUNTS, rng.randrange(500)])),
            b"F": lambda: struct.pack("<f", rng.choice(FLOATS)),
            b"D": lambda: struct.pack("<d", rng.choice([*FLOATS, 1e300])),
            b"L": lambda: struct.pack("<q", rng.choice([0, -1, 1 << 40, rng.randrange(500)])),
            b"Y": lambda: struct.pack("<H", rng.randrange(65536)),
        }.get(kind, lambda: bytes([rng.randrange(256)] * width))()
    return bytes(raw)


def ways(name, data):
    """The mutations for a file, structural ones more often than blind ones."""
    if name.endswith((".glb", ".gltf")):
        return [tree, tree, *(BYTES if name.endswith(".glb") else TEXT)]
    if name.endswith(".fbx"):
        return [*[fbx_values] * 12, *BYTES]
    if name.endswith((".obj", ".usda", ".dae", ".mtl")) or name == "text.ply" or name == "text.stl":
        return TEXT
    return BYTES


def spoiled(name, data, seed):
    """The file with one or two of its ways, the same for the same seed."""
    rng = random.Random(seed)
    for _ in range(rng.choice((1, 1, 2))):
        if data:
            try:
                data = rng.choice(ways(name, data))(data, rng)
            except (
                ValueError,
                KeyError,
                IndexError,
                struct.error,
                zlib.error,
            ):  # the first way left no structure for the second
                data = flipped(data, rng)
    return data
