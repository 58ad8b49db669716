"""What a build's next version leaves as it was: ten cases, each alone and all together, and how long it takes.

    python -m bench.next_version [--bricks 600] [--only NAME ...] [--time COUNT ...]

An artist names, pins, draws anew, nudges, animates and shapes bricks of the first version. A brick is identical if all
that the fit and the wear put on it has the same bits; those within reach of a change, walked here over what touches,
may differ. With shots on the timeline their keys count too. Twice and back tell whether updating again changes
nothing, and updating back gives the first version.
"""

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import bpy
import numpy as np

import addon
from addon import compat, usecases
from addon.core.build.contacts import contacts
from addon.core.fit.refit import REACH
from addon.core.near import near_pairs
from addon.core.sizes import TRADE
from addon.scene.build import pins, rolls
from addon.scene.build.build import read
from addon.scene.fit import deltas
from addon.scene.wear import stamps

from .ways import layouts
from .ways.catalogue import INCH, M, Way
from .ways.parts import Style
from .ways.workshop import COLOURS, Placed, about, workshop

SHARE, UP = 0.02, np.array([0.0, 0.0, 1.0])
COARSE, FINE = Style(facets=24), Style(facets=32)


def chosen(build: list[Placed], seed: int) -> set[int]:
    return set(np.random.default_rng(seed).permutation(len(build))[: max(1, int(SHARE * len(build)))].tolist())


def removed(build: list[Placed]) -> list[Placed]:
    out = chosen(build, 1)
    return [brick for n, brick in enumerate(build) if n not in out]


def added(build: list[Placed]) -> list[Placed]:
    """Bricks on top of some that have nothing above them."""
    place, up, half = np.array([brick.at for brick in build]), TRADE.brick_height * UP, np.array([10.0, 10.0, 4.5])
    middle = np.concatenate([place, place + up])
    above, below = near_pairs(middle - half, middle + half, 0.0).T
    free = np.ones(len(build), dtype=bool)
    free[below[(above < len(build)) & (below >= len(build))] - len(build)] = False
    chosen = [b for b, alone in zip(build, free, strict=True) if alone and b.part.startswith("brick")]
    return [*build, *(replace(b, at=b.at + up) for b in chosen[: max(1, int(SHARE * len(build)))])]


def recoloured(build: list[Placed]) -> list[Placed]:
    names, others = list(COLOURS)[:6], chosen(build, 3)
    return [
        replace(b, colour=names[(n + 1) % 6] if b.colour != names[(n + 1) % 6] else names[n % 6]) if n in others else b
        for n, b in enumerate(build)
    ]


def section_up(build: list[Placed]) -> list[Placed]:
    return [replace(b, at=b.at + TRADE.plate_height * UP) if b.at[2] > 30.0 else b for b in build]


def set_elsewhere(build: list[Placed]) -> list[Placed]:
    turn = about(UP, 90)
    return [replace(b, turn=turn @ b.turn, at=turn @ b.at + np.array([37.3, -8.0, 0.0])) for b in build]


def renamed(build, style):
    graph = layouts.shared(build, style)
    for n, node in enumerate(graph.nodes):
        node.name = f"element {len(graph.nodes) - n}"
    return graph


def noisy(build, style):
    return layouts.copied(build, style, noise=0.01, shuffled=True)


CASES: dict[str, tuple[tuple[Callable, ...], dict]] = {
    "added": ((added,), {}),
    "removed": ((removed,), {}),
    "recoloured": ((recoloured,), {}),
    "section one plate up": ((section_up,), {}),
    "objects renamed": ((), {"layout": renamed}),
    "origin moved and turned": ((set_elsewhere,), {}),
    "in inches": ((), {"unit_mm": INCH}),
    "another upright axis": ((), {"y_up": False}),
    "other vertices, 0.01 mm noise": ((), {"layout": noisy}),
    "32 sides for 24": ((), {"style": FINE}),
    "copies for instances": ((), {"layout": layouts.copied}),
}
CASES["all together"] = (
    (section_up, recoloured, removed, added, set_elsewhere),
    {"layout": noisy, "style": FINE, "unit_mm": INCH, "y_up": False},
)
ON_TIMELINE = "few changes, two shots on the timeline"
CASES[ON_TIMELINE] = (recoloured, removed, added), {}
SHOTS = (
    usecases.OnFrame("wide", 1, usecases.Dials(seed=3, looseness=1.3, wear=1.5), {"dust": 1.5}),
    usecases.OnFrame("macro", 40, usecases.Dials(seed=3, looseness=0.5, wear=0.6), {"scratches": 0.5}),
)


def export(folder: Path, name: str, build: list[Placed], **how) -> Path:
    settings = {"suffix": ".glb", "writer": "gltf.write", "unit_mm": M, "y_up": True, "style": COARSE} | how
    return Way(name, **settings).write(build, folder)


def touched_up(six: list[bpy.types.Object]) -> None:
    """What an artist does to six bricks."""
    named, pinned, rolled, nudged, animated, shaped = six
    named.name = "the artist's"
    pins.pin([pinned])
    rolls.again([rolled])
    nudged.delta_location.x += 0.001
    animated.location.x += 0.01
    animated.keyframe_insert("location", frame=1)
    animated.location.x -= 0.01
    animated.keyframe_insert("location", frame=20)
    shaped.modifiers.new("artist", "BEVEL")


def sat(thing: bpy.types.Object) -> bytes:
    channels = ("delta_location", "delta_rotation_euler", "delta_rotation_quaternion", "delta_scale", deltas.RECORD)
    raw = (stamps.SHARE, stamps.OFFSET, stamps.TURN, stamps.LOT)
    curves = compat.curves(thing.animation_data) if thing.animation_data else []
    ours = sorted((c.data_path, c.array_index, c) for c in curves if c.group and c.group.name == "Playworn")
    return b"".join(
        [np.array(getattr(thing, name), np.float32).tobytes() for name in channels]
        + [np.array(thing.get(name, 0.0), float).tobytes() for name in raw]
        + [f"{path}{n}{[tuple(key.co) for key in curve.keyframe_points]}".encode() for path, n, curve in ours]
    )


def artists(thing: bpy.types.Object) -> tuple:
    data, own = thing.animation_data, [modifier.name for modifier in thing.modifiers]
    action = data.action.name if data and data.action and not data.action.name.startswith("Playworn") else ""
    return pins.is_pinned(thing), thing.get(rolls.ROLL), action, *own


def pairs(room: bpy.types.Collection) -> set[tuple[str, str]]:
    table = read(room).bricks
    met = contacts(table)
    return {(table.names[a], table.names[b]) for a, b in zip(met.a.tolist(), met.b.tolist(), strict=True)}


def within(hops: int, changed: set[str], touching: set[tuple[str, str]]) -> set[str]:
    found = set(changed)
    for _ in range(hops):
        found |= {b for a, b in touching if a in found} | {a for a, b in touching if b in found}
    return found


def deepest(room: bpy.types.Collection, frames: list[int]) -> list[float]:
    """What bricks cut at each frame, in mm: a brick that the artist's keys take elsewhere may, with or without us."""
    cuts = list[float]()
    for frame in reversed(frames):
        bpy.context.scene.frame_set(frame)
        cuts.append(usecases.check(room).max_interference_mm)
    return cuts


def compared(case: str, blend: Path, first: Path, folder: Path, build: list[Placed]) -> dict:
    room = usecases.open_build(blend)
    frames = [1]
    if case == ON_TIMELINE:
        usecases.on_timeline(room, SHOTS)
        frames = [shot.first_frame for shot in SHOTS]
    whole = {thing.name: (sat(thing), tuple(thing.location)) for thing in read(room).objects}
    hand = {thing.name: artists(thing) for thing in read(room).objects}
    stood = deepest(room, frames)
    touching, places = pairs(room), {thing.name: np.array(thing.location) for thing in read(room).objects}
    changes, how = CASES[case]
    for change in changes:
        build = change(build)
    path = export(folder, "next", build, **how)
    begun = time.perf_counter()
    told, _ = usecases.update(room, path)
    took = time.perf_counter() - begun
    things = {thing.name: thing for thing in read(room).objects}
    went = {name: np.array(things[name].location) - places[name] for name in places if name in things}
    after = pairs(room)
    alone = {each.object for each in told.changes if each.reason.startswith("went")}
    alone = {name for name in alone if "0, 0, 3.2 mm" not in next(e.reason for e in told.changes if e.object == name)}
    changed = (set(places) ^ set(things)) | alone
    parted = [
        pair for pair in touching | after
        if all(name in went for name in pair) and np.abs(went[pair[0]] - went[pair[1]]).max() > 1e-4
    ]  # fmt: skip
    near = within(max(told.reach, REACH), changed | {name for pair in parted for name in pair}, touching | after)
    kept = set(places) & set(things)
    far = kept - near
    same = {name for name in kept if sat(things[name]) == whole[name][0]}
    gone = {name for name in kept if artists(things[name]) != hand[name]}
    cut = max(now - before for now, before in zip(deepest(room, frames), stood, strict=True))
    once = {name: sat(thing) for name, thing in things.items()}
    again, _ = usecases.update(room, path)
    twice = {thing.name: sat(thing) for thing in read(room).objects} == once and again.kept == again.bricks
    usecases.update(room, first)
    back = {thing.name: (sat(thing), tuple(thing.location)) for thing in read(room).objects} == whole
    return {
        "bricks": told.bricks,
        "kept": len(kept),
        "near": len(kept & near),
        "identical": len(same),
        "far": len(far),
        "far identical": len(far & same),
        "lost": len(gone),
        "cut um": 1000 * max(cut, 0.0),
        "twice": twice,
        "back": back,
        "s": took,
    }


def prepared(folder: Path, build: list[Placed], by_hand: bool = True) -> tuple[Path, Path]:
    from addon.scene.presets.library import find_preset

    first, blend = export(folder, "first", build), folder / "first.blend"
    room = usecases.bring_in(first)
    if by_hand:
        touched_up(sorted(read(room).objects, key=lambda thing: thing.name)[20::70][:6])
    usecases.apply(room, find_preset("well-loved"), usecases.Dials(seed=3))
    usecases.save(blend)
    return first, blend


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bricks", type=int, default=600)
    parser.add_argument("--only", nargs="*", choices=list(CASES), default=list(CASES))
    parser.add_argument("--time", type=int, nargs="*", default=[])
    asked = parser.parse_args()
    bpy.ops.wm.read_factory_settings(use_empty=True)
    addon.register()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if asked.only:
            build = workshop(asked.bricks)
            first, blend = prepared(folder, build)
            for case in asked.only:
                _say({"case": case, **compared(case, blend, first, folder, build)})
        for count in asked.time:
            build = workshop(count)
            bpy.ops.wm.read_factory_settings(use_empty=True)
            _, blend = prepared(folder, build, by_hand=False)
            room = usecases.open_build(blend)
            path = export(folder, "next", removed(recoloured(added(build))))
            begun, worked = time.perf_counter(), time.process_time()
            told, _ = usecases.update(room, path)
            took, work = time.perf_counter() - begun, time.process_time() - worked
            _say({"bricks": told.bricks, "solved": told.solved, "otherwise": told.resat, "s": took, "cpu s": work})
    os._exit(0)


def _say(row: dict) -> None:
    os.write(1, (json.dumps({k: round(v, 4) if isinstance(v, float) else v for k, v in row.items()}) + "\n").encode())


if __name__ == "__main__":
    main()
