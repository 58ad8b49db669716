"""Draws bricks in the colours of their sides over what a 3D view shows of them, each mesh once for all its bricks.

What differs from brick to brick lies in one picture that the shader reads: where it stands and what its sides have. The
colours are blended by the way a surface faces, as the wear's own shader blends what it has of each side.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import mathutils
import numpy as np

from ... import usecases
from ...core.pictures import ramp
from ...core.remembered import keeping

if TYPE_CHECKING:
    gpu: Any  # its stand-in takes no arguments where the module does
else:
    import gpu

_TEXELS = 5  # of a brick: three rows of where it stands, its sides at -x, -y, -z and those at x, y, z
_BESIDE = 256  # bricks in a row of the picture
_COLOURS = 256  # of the ramp

_VERTEX = """
void main() {
  int row = first + gl_InstanceID;
  ivec2 at = ivec2((row % BESIDE) * TEXELS, row / BESIDE);
  vec4 x = texelFetch(bricks, at, 0);
  vec4 y = texelFetch(bricks, at + ivec2(1, 0), 0);
  vec4 z = texelFetch(bricks, at + ivec2(2, 0), 0);
  vec4 own = vec4(point, 1.0);
  vec3 place = vec3(dot(x, own), dot(y, own), dot(z, own));
  vec3 away = eye.w > 0.0 ? eye.xyz - place : eye.xyz;
  gl_Position = seen * vec4(place + eye.w * NEARER * away, 1.0);
  gl_Position.z -= CLOSER * gl_Position.w;
  vec3 faces = normalize(normal);
  vec3 low = texelFetch(bricks, at + ivec2(3, 0), 0).xyz;
  vec3 high = texelFetch(bricks, at + ivec2(4, 0), 0).xyz;
  vec3 upward = step(0.0, faces);
  share = vec2(dot(faces * faces, mix(low, high, upward)), dot(faces * faces, mix(high, low, upward)));
  share = dot(cross(x.xyz, y.xyz), z.xyz) < 0.0 ? share.yx : share;
  vec3 outward = normalize(vec3(dot(x.xyz, faces), dot(y.xyz, faces), dot(z.xyz, faces)));
  slant = 1.0 - abs(dot(outward, normalize(away)));
}
"""
_FRAGMENT = """
void main() {
  float here = clamp(gl_FrontFacing ? share.x : share.y, 0.0, 1.0);
  vec3 tone = texelFetch(ramp, ivec2(int(here * float(COLOURS - 1) + 0.5), 0), 0).rgb;
  tone = mix(tone, vec3(0.5), GREYER * slant * slant);
  vec3 light = mix(pow((tone + 0.055) / 1.055, vec3(2.4)), tone / 12.92, lessThanEqual(tone, vec3(0.04045)));
  colour = vec4(takes_light > 0.0 ? light : tone, 1.0);
}
"""
_DEFINES = {
    "BESIDE": str(_BESIDE),
    "TEXELS": str(_TEXELS),
    "COLOURS": str(_COLOURS),
    "NEARER": "0.0005",  # share of the way to the eye that it is drawn nearer than the surface, so that it covers that
    "CLOSER": "0.000001",  # and of the depth of the view, where that has few steps
    "GREYER": "0.15",  # what turns away from the eye, so that shapes are seen
}


@dataclass(frozen=True)
class Eye:
    """How a view looks at the world."""

    seen: mathutils.Matrix  # from the world to the view's frame
    place: tuple[float, float, float, float]  # of the eye; the last is 0 where all rays go one way, and that towards it
    takes_light: bool = True  # whether what is drawn into encodes colours as sRGB by itself, as a 3D view does


class Painting:
    """The surfaces of bricks on the graphics card."""

    def __init__(self, gathered: usecases.Gathered, before: "Painting | None" = None):
        known = before.batches if before else {}
        self.gathered = gathered
        self.batches = {each.told: known.get(each.told) or _batch(each) for each in gathered.surfaces}
        self._standing: dict[int, _Standing] = {}  # by view

    def stand(self, view: int, standing: usecases.Standing) -> None:
        """Says where bricks stand in a view."""
        self._standing[view] = _Standing.of(self.gathered, standing)

    def stands(self, view: int) -> bool:
        return view in self._standing

    def move(self) -> None:
        """Bricks may stand elsewhere now."""
        self._standing.clear()

    def draw(self, view: int, eye: Eye) -> None:
        """Draws all that is shown in a view into what is bound, where nothing else lies nearer."""
        standing = self._standing[view]
        shader = _shader()
        shader.bind()
        shader.uniform_float("seen", eye.seen)
        shader.uniform_float("eye", eye.place)
        shader.uniform_float("takes_light", float(eye.takes_light))
        shader.uniform_sampler("ramp", _ramp())
        shader.uniform_sampler("bricks", standing.picture)
        gpu.state.depth_test_set("LESS_EQUAL")
        gpu.state.depth_mask_set(True)
        for surface, first, count in zip(self.gathered.surfaces, standing.first, standing.count, strict=True):
            if count:
                shader.uniform_int("first", first)
                self.batches[surface.told].draw_instanced(shader, instance_count=count)
        gpu.state.depth_mask_set(False)
        gpu.state.depth_test_set("NONE")


@dataclass(frozen=True)
class _Standing:
    """The bricks that a view shows, surface by surface."""

    picture: Any  # of gpu's textures
    first: list[int]
    count: list[int]

    @classmethod
    def of(cls, gathered: usecases.Gathered, standing: usecases.Standing) -> "_Standing":
        rows, first, count = told_by_surface(gathered, standing)
        return cls(_picture(texels(standing.place[rows], gathered.overlay.shares[rows])), first, count)


def told_by_surface(
    gathered: usecases.Gathered, standing: usecases.Standing
) -> tuple[np.ndarray, list[int], list[int]]:
    """The bricks that are shown, surface by surface, and for each surface its first one among these and how many."""
    shown = [each.bricks[standing.is_shown[each.bricks]] for each in gathered.surfaces]
    count = [len(each) for each in shown]
    return np.concatenate([np.zeros(0, dtype=np.intp), *shown]), (np.cumsum(count) - count).tolist(), count


def texels(place: np.ndarray, shares: np.ndarray) -> np.ndarray:
    """What the shader reads (R, BESIDE * TEXELS, 4) of bricks (N) from where they stand (N, 4, 4) and what their sides
    have (N, 6)."""
    rows = max(-(-len(place) // _BESIDE), 1)
    told = np.zeros((rows * _BESIDE, _TEXELS, 4), dtype=np.float32)
    told[: len(place), :3] = place[:, :3]
    told[: len(place), 3, :3], told[: len(place), 4, :3] = shares[:, 0::2], shares[:, 1::2]
    return told.reshape(rows, _BESIDE * _TEXELS, 4)


def _picture(values: np.ndarray) -> Any:
    height, width, _ = values.shape
    data = gpu.types.Buffer("FLOAT", values.size, np.ascontiguousarray(values, dtype=np.float32).ravel())
    return gpu.types.GPUTexture((width, height), format="RGBA32F", data=data)


def _batch(surface: usecases.Surface) -> Any:
    form = gpu.types.GPUVertFormat()
    for name in ("point", "normal"):
        form.attr_add(id=name, comp_type="F32", len=3, fetch_mode="FLOAT")
    corners = gpu.types.GPUVertBuf(form, len(surface.points))
    corners.attr_fill("point", surface.points)
    corners.attr_fill("normal", surface.normals)
    return gpu.types.GPUBatch(type="TRIS", buf=corners)


@keeping(1)
def _ramp() -> Any:
    colours = np.ones((1, _COLOURS, 4), dtype=np.float32)
    colours[0, :, :3] = ramp.colours(np.linspace(0.0, 1.0, _COLOURS))
    return _picture(colours)


@keeping(1)
def _shader() -> Any:
    info = gpu.types.GPUShaderCreateInfo()
    for name, value in _DEFINES.items():
        info.define(name, value)
    info.push_constant("MAT4", "seen")
    info.push_constant("VEC4", "eye")
    info.push_constant("FLOAT", "takes_light")
    info.push_constant("INT", "first")
    info.sampler(0, "FLOAT_2D", "bricks")
    info.sampler(1, "FLOAT_2D", "ramp")
    info.vertex_in(0, "VEC3", "point")
    info.vertex_in(1, "VEC3", "normal")
    between = gpu.types.GPUStageInterfaceInfo("playworn_overlay")
    between.smooth("VEC2", "share")  # as the surface is turned, and turned about, as Blender shades what is inside out
    between.smooth("FLOAT", "slant")
    info.vertex_out(between)
    info.fragment_out(0, "VEC4", "colour")
    info.vertex_source(_VERTEX)
    info.fragment_source(_FRAGMENT)
    return gpu.shader.create_from_info(info)
