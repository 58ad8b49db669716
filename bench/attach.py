"""How long it takes to wear the materials of a large build, and how much memory and file each brick costs.

    python bench/attach.py [BRICKS]

60 parts, 24 materials of the usual kinds, a slot of the mesh's or of the brick's own; the same build once more without
any material. The pictures are tiny: their memory does not depend on the bricks. Bar: 10,000 bricks in under 2 s.
"""

import os
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import perf_counter

import bpy
import numpy as np

CHECKOUT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(CHECKOUT))

from addon import compat, register, unregister, usecases  # noqa: E402  the checkout is no installed package
from addon.core.fit import fit  # noqa: E402
from addon.core.wear.layers import PICTURES  # noqa: E402
from addon.core.wear.quality import STANDARD  # noqa: E402
from addon.core.wear.texture import Texture  # noqa: E402
from addon.nodes import attach  # noqa: E402
from addon.nodes.plain import plain  # noqa: E402
from addon.scene.build import build  # noqa: E402
from addon.scene.fit import motion  # noqa: E402
from addon.scene.wear import slots, stamps  # noqa: E402
from tests.blender import scenes  # noqa: E402

PARTS = [(x, y, plates) for x in (1, 2, 3, 4, 6, 8) for y in (1, 2, 3, 4, 6) for plates in (1, 3)]
MATERIALS = 24
ROUNDS = 5
UNIT = 0.001  # metres


def materials() -> list[bpy.types.Material]:
    """Plain colours, glass, metal, coats, noise in the roughness with a bump."""
    made = []
    for number in range(MATERIALS):
        one = bpy.data.materials.new(f"material {number}")
        tree = compat.node_tree(one)
        shader = next(node for node in tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
        shader.inputs["Base Color"].default_value = (number / MATERIALS, 0.3, 1.0 - number / MATERIALS, 1.0)
        for kind, name in enumerate(("Transmission Weight", "Metallic", "Coat Weight")):
            shader.inputs[name].default_value = float(number % 6 == kind)
        if number % 6 == 3:
            noise, bump = tree.nodes.new("ShaderNodeTexNoise"), tree.nodes.new("ShaderNodeBump")
            tree.links.new(noise.outputs[0], bump.inputs["Height"])
            tree.links.new(noise.outputs[0], shader.inputs["Roughness"])
            tree.links.new(bump.outputs[0], shader.inputs["Normal"])
        made.append(one)
    return made


def build_of(count: int, painted: bool) -> bpy.types.Collection:
    """Bricks in a square grid, far enough apart that nothing has to be solved; a third with a slot of their own."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    collection = scenes.collection()
    paints = materials() if painted else []
    meshes = [scenes.brick_mesh(f"{x}x{y}x{plates}", x, y, plates, UNIT) for x, y, plates in PARTS]
    for number, mesh in enumerate(meshes if painted else ()):
        mesh.materials.append(paints[number % MATERIALS])
    side = int(np.ceil(np.sqrt(count)))
    for n in range(count):
        row, column = divmod(n, side)
        brick = scenes.put(collection, meshes[n % len(meshes)], f"part.{n:05d}", (0.08 * column, 0.08 * row, 0.0))
        if painted and n % 3 == 0:
            brick.material_slots[0].link = "OBJECT"
            brick.material_slots[0].material = paints[n // 3 % MATERIALS]
    bpy.context.view_layer.update()
    return collection


def took(job: Callable[[], object]) -> float:
    start = perf_counter()
    job()
    return 1000.0 * (perf_counter() - start)


def file_size() -> int:
    path = Path(tempfile.mkdtemp()) / "build.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True, compress=False)
    size = path.stat().st_size
    path.unlink()
    path.parent.rmdir()
    return size


def memory() -> int:
    """Bytes that the process holds now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def measure(name: str, collection: bpy.types.Collection) -> None:
    """Prints what wearing a build costs, step by step, and what it leaves in memory and file."""
    found = build.read(collection)
    pictures = {kind: Texture(bpy.data.images.new(kind, 8, 8)) for kind in PICTURES}
    preset, layer = usecases.find_preset("well-loved"), bpy.context.view_layer
    sits = fit.fitted(found.bricks, preset.fit, seed=0, looseness=1.0, fixed=found.held)

    def fill() -> None:
        slots.fill(found.objects, plain)

    def wear() -> None:
        attach.attach(slots.materials(found.objects), preset.wear, pictures, UNIT, STANDARD)

    def stamp() -> None:
        stamps.write(found)

    def unwear() -> None:
        attach.detach(slots.materials(found.objects))

    def give_back() -> None:
        slots.give_back(found.objects)

    print(f"\n{name}: {len(found.bricks)} bricks, {len(found.bricks.parts)} parts")
    print(f"{'a brick':28}{'in the file':>14}{'in memory':>14}")
    move = partial(motion.write, found, sits.motions)
    for what, job in {"slots": fill, "wear": wear, "stamps": stamp, "motions, their record": move}.items():
        size, held = file_size(), memory()
        job()
        layer.update()
        print(f"{what:28}{(file_size() - size) / len(found.bricks):8.0f} bytes", end="")
        print(f"{(memory() - held) / len(found.bricks):8.0f} bytes")

    unwear()
    give_back()
    layer.update()
    best: dict[str, float] = {}
    attaching = {"fill empty slots": fill, "put the wear in": wear, "stamp the bricks": stamp, "update": layer.update}
    back = {"put it in anew": wear, "take the wear out": unwear, "give the slots back": give_back}
    for _ in range(ROUNDS):
        for what, job in (attaching | back).items():
            best[what] = min(took(job), best.get(what, np.inf))
        layer.update()
    print(f"{'best of ' + str(ROUNDS):28}")
    for what, each in best.items():
        print(f"{what:28}{each:8.1f} ms")
    print(f"{'attaching, the first four':28}{sum(best[what] for what in attaching):8.1f} ms")


if __name__ == "__main__":
    register()
    try:
        bricks = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
        print(f"Blender {bpy.app.version_string}, numpy {np.__version__}")
        measure("With materials", build_of(bricks, True))
        measure("Without any", build_of(bricks, False))
    finally:
        unregister()  # classes left registered make the wheel of Blender 4.5 hang at exit
