"""The ways: how a build is laid out, modelled, turned, scaled and written. Each name says all of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from . import layouts as lay
from .graph import Graph
from .parts import Style
from .workshop import Placed, on_ground, turned, twice

MM, CM, M, INCH, ODD = 1.0, 10.0, 1000.0, 25.4, 0.4

HOLLOW, SHELLS = Style(), Style(fused=False)
GAPS, GAPPED_SHELLS = Style(clearance=0.1, facets=24), Style(clearance=0.1, fused=False, facets=24)
GROUNDLESS = Style(clearance=0.1, grounded=False)
PLAIN = Style(hollow=False, fused=False, facets=12)
FINE = Style(facets=32)


@dataclass(frozen=True)
class Way:
    name: str
    suffix: str
    writer: str  # module and function in `files`
    layout: Callable[..., Graph] = lay.shared
    style: Style = HOLLOW
    unit_mm: float = MM
    y_up: bool = False
    turn: str = "coordinates"  # where the turn to y up goes
    options: dict = field(default_factory=dict)
    coloured: bool = True
    posed: bool = True  # whether what is placed says how it is turned; else equal parts turned apart may differ
    mirrored: bool = False
    told: bool = False  # so much was dropped that a sentence is an answer, too
    arranged: Callable[[Sequence[Placed]], Sequence[Placed]] = list

    def standing(self, build: Sequence[Placed]) -> Sequence[Placed]:
        """The build as it stands in the file."""
        return self.arranged(build)

    def write(self, build: Sequence[Placed], folder: Path) -> Path:
        """Write the build this way; raises what the writer raises."""
        path = folder / f"{self.name}{self.suffix}"
        graph = self.layout(self.standing(build), self.style).written_in(self.unit_mm, self.y_up, self.turn)
        module, function = self.writer.split(".")
        options = dict(self.options)
        if module in ("usd", "dae"):
            options |= {"unit_mm": self.unit_mm, "y_up": self.y_up}
        found = __import__(f"bench.ways.files.{module}", fromlist=[function])
        getattr(found, function)(graph, path, **options)
        return path


def ways() -> list[Way]:
    made = [
        *_gltf(),
        *_obj(),
        *_usd(),
        *_dae(),
        *_stl(),
        *_ply(),
        *_fbx(),
        *_occ(),
        *_polygons(),
        *_trimesh(),
        *_more(),
        *_hung(),
        *_unusual(),
    ]
    return [replace(way, name=f"{n:02d}-{way.name}") for n, way in enumerate(made, 1)]


_BAKED = {"posed": False}
_askew = partial(turned, degrees=37.0)
_noisy = partial(lay.copied, noise=1e-3)
_noisier = partial(lay.copied, noise=5e-3, shuffled=True)
_shuffled = partial(lay.copied, shuffled=True)
_scaled = partial(lay.nested, scale=0.1)
_mirroring = partial(lay.nested, scale=0.1, mirror=True)
_level_sets = partial(lay.levels, beside=False)
_merged = partial(lay.joined, merged=True)
_dropped = partial(lay.joined, dropped=1)
_both = partial(lay.joined, dropped=2)
_half_mirrored = partial(lay.under, root=lay.MIRROR, held=lay.MIRROR)
_inches = partial(lay.under, root=lay.scaled(INCH / M), held=lay.scaled(M / INCH))
_on_its_head = partial(lay.under, root=lay.ON_ITS_HEAD)
_far = partial(lay.under, root=lay.shifted(1e5, 0, 2e4))


def _gltf():
    hand = partial(Way, suffix=".glb", writer="gltf.write", unit_mm=M, y_up=True)
    yield hand("glb-shared-m")
    yield hand("glb-shared-m-turn-in-nodes", turn="top", style=GAPS)
    yield hand("glb-shared-mm-turn-above", unit_mm=MM, turn="root")
    yield hand("gltf-shared-inch", suffix=".gltf", unit_mm=INCH)
    yield hand("glb-shared-odd-unit-z-up", unit_mm=ODD, y_up=False)
    yield hand("glb-no-gloss-cm", unit_mm=CM, options={"gloss": False}, style=FINE)
    yield hand("glb-split-normals", options={"split": True})
    yield hand("glb-copies-noise-1um", layout=_noisy, style=GAPS)
    yield hand("glb-copies-noise-5um-shuffled", layout=_noisier)
    yield hand("glb-mirrored", layout=lay.mirrored, mirrored=True)
    yield hand("glb-nested-scaled-mirrored", layout=_mirroring, style=SHELLS, mirrored=True)
    yield hand("glb-stud-children", layout=lay.stud_children, style=SHELLS)
    yield hand("glb-stud-siblings-cm", layout=lay.stud_siblings, style=GAPPED_SHELLS, unit_mm=CM)
    yield hand("glb-stud-loose", layout=lay.stud_loose, style=SHELLS)
    yield hand("glb-by-colour", layout=lay.by_colour, **_BAKED)
    yield hand("glb-by-colour-shells", layout=lay.by_colour, style=GAPPED_SHELLS, **_BAKED)
    yield hand("glb-one-mesh", layout=lay.joined, **_BAKED)
    yield hand("glb-one-mesh-split-normals-shells", layout=lay.joined, style=SHELLS, options={"split": True}, **_BAKED)
    yield hand("glb-instanced", options={"instanced": True})
    yield hand("glb-vertex-colours", options={"shades": True})
    yield hand("glb-pygltflib-nested", writer="gltf.write_pygltflib", layout=lay.nested)
    yield hand("glb-trimesh", writer="gltf.write_trimesh")
    yield hand("gltf-trimesh-copies-mm", suffix=".glb", writer="gltf.write_trimesh", layout=_shuffled, unit_mm=MM)


def _obj():
    hand = partial(Way, suffix=".obj", writer="text.obj", layout=lay.baked, y_up=True, posed=False)
    yield hand("obj-o-mm")
    yield hand("obj-o-cm-z-up", unit_mm=CM, y_up=False, style=GAPS)
    yield hand("obj-g-a-brick-m", unit_mm=M, options={"keyword": "g"})
    yield hand("obj-g-a-stud", layout=lay.stud_loose, style=SHELLS, options={"keyword": "g"})
    yield hand("obj-o-a-stud-inch", layout=lay.stud_loose, style=GAPPED_SHELLS, unit_mm=INCH)
    yield hand("obj-g-all-in-one", style=SHELLS, options={"keyword": "g", "per": "all"})
    yield hand("obj-one-mesh-merged", layout=_merged, options={"per": "all", "gloss": False})
    yield hand("obj-one-mesh-merged-solid", layout=_merged, style=PLAIN, options={"per": "all"})
    yield hand("obj-by-colour-odd-unit", layout=lay.by_colour, unit_mm=ODD)
    yield hand("obj-one-mesh-dropped-one", layout=_dropped, options={"per": "all"}, told=True)
    yield hand("obj-one-mesh-dropped-both", layout=_both, style=SHELLS, options={"per": "all"}, told=True)


def _usd():
    lib = partial(Way, suffix=".usdc", writer="usd.write")
    yield lib("usdc-shared-mm")
    yield lib("usda-y-up-m", suffix=".usda", unit_mm=M, y_up=True, style=GAPS)
    yield lib("usdc-cm-y-up", unit_mm=CM, y_up=True, style=SHELLS)
    yield lib("usd-inch", suffix=".usd", unit_mm=INCH)
    yield lib("usdz-cm", suffix=".usdz", unit_mm=CM, y_up=True)
    yield lib("usdc-instanceable", options={"instanced": "references"})
    yield lib("usda-points-m", suffix=".usda", options={"instanced": "points"}, unit_mm=M)
    yield lib("usdc-stud-children", layout=lay.stud_children, style=SHELLS)
    yield lib("usdc-nested-scaled", layout=_scaled)
    yield lib("usdc-by-colour", layout=lay.by_colour, **_BAKED)
    yield lib("usdc-one-mesh-merged", layout=_merged, style=SHELLS, **_BAKED)
    yield lib("usdc-display-colour-no-gloss", options={"display": True})
    yield lib("usdc-odd-unit-noise", layout=_noisier, unit_mm=ODD)


def _dae():
    lib = partial(Way, suffix=".dae", writer="dae.write")
    yield lib("dae-shared-mm")
    yield lib("dae-y-up-m", unit_mm=M, y_up=True)
    yield lib("dae-cm", unit_mm=CM, style=GAPS)
    yield lib("dae-inch-library-nodes", unit_mm=INCH, options={"library": True})
    yield lib("dae-nested-mirrored", layout=_mirroring, mirrored=True)
    yield lib("dae-stud-children", layout=lay.stud_children, style=SHELLS, options={"library": True})
    yield lib("dae-by-colour", layout=lay.by_colour, y_up=True, **_BAKED)
    yield lib("dae-one-mesh", layout=lay.joined, style=SHELLS, **_BAKED)


def _stl():
    hand = partial(Way, suffix=".stl", writer="text.stl", layout=lay.joined, coloured=False, posed=False)
    yield hand("stl-binary-mm")
    yield hand("stl-ascii-inch-shells", style=GAPPED_SHELLS, unit_mm=INCH, options={"ascii_": True})
    yield hand("stl-binary-m-y-up-solid", style=PLAIN, unit_mm=M, y_up=True)


def _ply():
    hand = partial(Way, suffix=".ply", writer="text.ply", layout=lay.joined, posed=False)
    yield hand("ply-binary-mm")
    plain = {"ascii_": True, "shades": ""}  # merged, a vertex would have one colour for all bricks that meet there
    yield hand("ply-ascii-cm-merged-shells", layout=_merged, style=SHELLS, unit_mm=CM, options=plain, coloured=False)
    yield hand("ply-binary-y-up-gaps", style=GAPS, y_up=True, unit_mm=ODD)


def _fbx():
    blender = partial(Way, suffix=".fbx", writer="fbx.write", unit_mm=M)
    yield blender("fbx-cm")
    yield blender("fbx-m-children", layout=lay.stud_children, style=SHELLS, options={"scale": 100.0})
    yield blender("fbx-by-colour", layout=lay.by_colour, **_BAKED)
    yield blender("fbx-nested-mirrored", layout=_mirroring, mirrored=True)


def _occ():
    kernel = partial(Way, writer="occ.write")
    yield kernel("occ-glb", suffix=".glb")
    yield kernel("occ-gltf-gaps-cm", suffix=".gltf", style=GAPS, unit_mm=CM, y_up=True)
    yield kernel("occ-stl", suffix=".stl", coloured=False, posed=False)


def _polygons():
    hand = partial(Way, suffix=".obj", writer="text.obj", layout=lay.baked, y_up=True, posed=False)
    yield hand("obj-quads", options={"corners": 4})
    yield hand("obj-polygons-cm", unit_mm=CM, style=GAPS, options={"corners": None})
    yield hand("obj-polygons-one-mesh", layout=lay.joined, style=SHELLS, options={"corners": None, "per": "all"})


def _trimesh():
    lib = partial(Way, writer="gltf.write_trimesh", posed=False)
    yield lib("trimesh-ply-copies", suffix=".ply", layout=_shuffled, coloured=False)
    yield lib("trimesh-stl-m-y-up", suffix=".stl", unit_mm=M, y_up=True, coloured=False)
    yield lib("trimesh-obj-stud-siblings", suffix=".obj", layout=lay.stud_siblings, style=SHELLS, y_up=True)
    yield lib("trimesh-dae-baked", suffix=".dae", writer="dae.write_trimesh", layout=lay.baked, y_up=True)


def _more():
    hand = partial(Way, posed=False)
    yield hand("obj-one-mesh-dropped-one-shells", suffix=".obj", writer="text.obj", layout=_dropped, style=SHELLS,
               y_up=True, options={"per": "all"}, told=True)  # fmt: skip
    yield hand("stl-ascii-m", suffix=".stl", writer="text.stl", layout=lay.joined, unit_mm=M, coloured=False,
               options={"ascii_": True})  # fmt: skip
    yield hand("obj-one-mesh-dropped-both-solid", suffix=".obj", writer="text.obj", layout=_both, style=PLAIN,
               y_up=True, options={"per": "all"}, told=True)  # fmt: skip
    yield hand("obj-one-mesh-dropped-both-fused-m", suffix=".obj", writer="text.obj", layout=_both, unit_mm=M,
               options={"per": "all"}, told=True)  # fmt: skip
    yield hand(
        "obj-37-degrees-cm", suffix=".obj", writer="text.obj", layout=lay.baked, unit_mm=CM, arranged=_askew, style=GAPS
    )
    yield hand("stl-37-degrees-one-mesh", suffix=".stl", writer="text.stl", layout=lay.joined, unit_mm=INCH, style=GAPS,
               arranged=_askew, coloured=False)  # fmt: skip
    yield Way("usdc-37-degrees-in-nodes", ".usdc", "usd.write", arranged=_askew)
    yield hand("obj-no-ground-faces", suffix=".obj", writer="text.obj", layout=lay.baked, style=GROUNDLESS, y_up=True)
    yield hand("stl-no-ground-faces-one-mesh", suffix=".stl", writer="text.stl", layout=lay.joined, style=GROUNDLESS,
               coloured=False)  # fmt: skip
    yield Way("glb-levels-of-detail", ".glb", "gltf.write", lay.levels, unit_mm=M, y_up=True)
    yield Way("usdc-levels-of-detail-shells-cm", ".usdc", "usd.write", _level_sets, SHELLS, unit_mm=CM)


def _hung():
    """All of the build below one node that does something to it."""
    glb = partial(Way, suffix=".glb", writer="gltf.write", unit_mm=M, y_up=True)
    yield glb("glb-inches-below-a-scaled-and-turned-root", layout=_inches, turn="root")
    yield glb("glb-below-a-negative-root", layout=_half_mirrored)
    yield Way("fbx-below-a-negative-root", ".fbx", "fbx.write", _half_mirrored, unit_mm=M)
    yield glb("glb-on-its-head", layout=_on_its_head)
    yield Way("stl-on-its-head", ".stl", "text.stl", _on_its_head, coloured=False, posed=False)
    yield glb("glb-100-m-off", layout=_far)


def _unusual():
    glb = partial(Way, suffix=".glb", writer="gltf.write", unit_mm=M, y_up=True)
    text = partial(Way, posed=False)
    yield glb("glb-names-of-other-scripts", layout=lay.named)
    yield text("obj-names-of-other-scripts", ".obj", "text.obj", lay.named, y_up=True)
    yield Way("fbx-names-of-other-scripts", ".fbx", "fbx.write", lay.named, unit_mm=M)
    yield glb("glb-twice-side-by-side", arranged=twice)
    yield text("stl-twice-side-by-side", ".stl", "text.stl", lay.joined, arranged=twice, coloured=False)
    yield glb("glb-on-a-plate-of-2000-studs", arranged=on_ground)
    yield text("stl-on-a-plate-of-2000-studs", ".stl", "text.stl", lay.joined, arranged=on_ground, coloured=False)
    yield glb("glb-vertex-colours-no-material", options={"shades": True, "bare": True})
    yield glb("glb-numbers-of-16-bits", options={"short": True})
    yield Way("usdz-inch-one-mesh-display-colour", ".usdz", "usd.write", lay.joined, unit_mm=INCH,
              options={"display": True}, **_BAKED)  # fmt: skip
    yield Way("usda-a-file-a-part", ".usda", "usd.write", options={"instanced": "files"})
    yield Way("dae-polygons", ".dae", "dae.write", y_up=True, options={"corners": None})
    yield text("ply-quads-face-colours", ".ply", "text.ply", lay.joined, options={"shades": "face", "corners": 4})
    yield text("ply-big-endian-doubles", ".ply", "text.ply", lay.joined, style=GAPS, options={"wide": True})
    yield text("obj-materials-without-library", ".obj", "text.obj", lay.joined, y_up=True, coloured=False,
               options={"per": "all", "library": False})  # fmt: skip
    yield text("obj-counted-from-the-end", ".obj", "text.obj", lay.baked, unit_mm=CM, y_up=True,
               options={"relative": True, "corners": None})  # fmt: skip
    yield text("stl-half-inside-out", ".stl", "text.stl", lay.inside_out, coloured=False, mirrored=True)
    yield text("stl-ascii-a-solid-a-brick", ".stl", "text.stl", lay.baked, unit_mm=CM, coloured=False,
               options={"ascii_": True, "apart": True})  # fmt: skip
    yield Way("fbx-metres-said-to-be-cm", ".fbx", "fbx.write", unit_mm=M, options={"shrunk": 0.01})
