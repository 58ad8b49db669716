"""What a camera shows where: exact projection of points of the build, in pixels of the full frame.

Pixels count from the frame's lower left corner, x to the right and y upwards, as Blender renders. Camera space is
x to the right, y up and depth away from the camera, in millimetres.
"""

from dataclasses import dataclass

import numpy as np

from .. import rigid

HORIZONTAL, VERTICAL, AUTO = "HORIZONTAL", "VERTICAL", "AUTO"

_FIRST_MM = 1e-9  # nearer points stand in the lens or behind it: they have no place in the picture


@dataclass(frozen=True)
class Lens:
    """A camera at one moment, as Blender's camera and render settings give it."""

    view: tuple[tuple[float, float, float, float], ...]  # (3, 4) from the build's mm to camera space in mm
    width_px: int  # of the full frame, the resolution percentage counted in
    height_px: int
    focal_mm: float = 50.0
    sensor_width_mm: float = 36.0
    sensor_height_mm: float = 24.0
    sensor_fit: str = AUTO
    shift_x: float = 0.0  # in shares of the side that the sensor spans
    shift_y: float = 0.0
    ortho_mm: float | None = None  # what the longer side shows of the world; None: perspective
    pixel_aspect: float = 1.0  # height of a pixel over its width
    near_mm: float = 0.0
    far_mm: float = float("inf")
    border: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)  # left, lower, right, upper: crops, never moves
    focus_mm: float | None = None  # depth that is sharp; None: everything is
    aperture_mm: float = 0.0  # diameter of the iris, as the renderer takes it

    @property
    def orthographic(self) -> bool:
        return self.ortho_mm is not None

    @property
    def _spanned(self) -> float:
        """Side of the frame that the sensor spans, in widths of a pixel (Blender's camera manual, Sensor Fit)."""
        tall = self.pixel_aspect * self.height_px
        fit = self.sensor_fit
        if fit == AUTO:
            fit = HORIZONTAL if self.width_px >= tall else VERTICAL
        return float(self.width_px) if fit == HORIZONTAL else tall

    @property
    def _sensor_mm(self) -> float:
        """The spanned side of the sensor; AUTO takes the sensor's width, even for a tall frame."""
        return self.sensor_height_mm if self.sensor_fit == VERTICAL else self.sensor_width_mm

    @property
    def _strength(self) -> float:
        """Pixels a unit of slope in perspective, pixels a millimetre in an orthographic view."""
        if self.ortho_mm is not None:
            return self._spanned / self.ortho_mm
        return self._spanned * self.focal_mm / self._sensor_mm

    @property
    def _scale(self) -> np.ndarray:
        """(2,) the strength across and up."""
        return self._strength / np.array([1.0, self.pixel_aspect])

    @property
    def _centre(self) -> np.ndarray:
        """(2,) where the optical axis meets the frame, in pixels."""
        shift = np.array([self.shift_x, self.shift_y]) * self._spanned
        return np.array([0.5 * self.width_px, 0.5 * self.height_px]) - shift / np.array([1.0, self.pixel_aspect])

    @property
    def _back(self) -> np.ndarray:
        """(4, 4) from camera space to the build, in homogeneous coordinates."""
        return np.linalg.inv(np.array([*self.view, (0.0, 0.0, 0.0, 1.0)]))

    @property
    def eye(self) -> np.ndarray:
        """(4,) where the build is seen from, in mm, and 1; or the way towards there, and 0, in an orthographic view."""
        return -self._back[:, 2] if self.orthographic else self._back[:, 3]

    def project(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places (..., 2) in pixels and depths (...) in mm of points (..., 3) in the build; NaN behind the camera.

        Pinhole camera: pixels = focal length / sensor * pixels of the frame * sideways way / depth.
        """
        x, y, near, scale = self.homogeneous(points)
        depth, safe = (-near, scale) if self.orthographic else (scale, np.where(scale > _FIRST_MM, scale, np.nan))
        return np.stack([x / safe, y / safe], axis=-1), depth

    def homogeneous(self, points: np.ndarray) -> np.ndarray:
        """Places in pixels and nearness of points (..., 3) in the build, each times the last of (4, ...): x, y,
        nearness, scale, which is not positive behind the camera. In this form all are linear in the points."""
        x, y, z = (points[..., k] for k in range(3))
        right, up, depth = (row[0] * x + row[1] * y + row[2] * z + row[3] for row in self.view)
        one = np.ones_like(depth)
        near, scale = (-depth, one) if self.orthographic else (one, depth)
        (middle, half), (wide, tall) = self._centre, self._scale
        return np.stack([wide * right + middle * scale, tall * up + half * scale, near, scale])

    def nearness(self, depth: np.ndarray) -> np.ndarray:
        """What grows towards the camera and is linear in the picture along anything flat, at depths in mm: one over the
        depth, or less the depth in an orthographic view. The same gives the depth of a nearness."""
        with np.errstate(divide="ignore"):
            return -depth if self.orthographic else 1.0 / depth

    def inside(self, px: np.ndarray, depth: np.ndarray) -> np.ndarray:
        """Which points, as `project` gives them, lie within the frame, its border and the clipping distances."""
        left, lower, right, upper = self.border
        size = np.array([self.width_px, self.height_px])
        low, high = np.array([left, lower]) * size, np.array([right, upper]) * size
        return ((px >= low) & (px <= high)).all(axis=-1) & (depth >= self.near_mm) & (depth <= self.far_mm)

    def px_per_mm(self, depth: np.ndarray) -> np.ndarray:
        """Pixels across of a millimetre that faces the camera at depths in mm."""
        return np.full_like(depth, self._strength) if self.orthographic else self._strength / depth

    def blur_px(self, depth: np.ndarray) -> np.ndarray | None:
        """Diameter in pixels of what a point at depths in mm blurs to; None where all is sharp.

        Thin lens: the cone of light from the iris that meets in focus is A |z - s| / s wide at depth z, by similar
        triangles (Potmesil and Chakravarty 1981; Cook, Porter and Carpenter 1984, as renderers cast it). The picture
        is drawn as a pinhole draws it: the film does not move away as the focus comes nearer.
        """
        if self.focus_mm is None:
            return None
        return self.aperture_mm * np.abs(depth - self.focus_mm) / self.focus_mm * self.px_per_mm(depth)

    def place(self, px: np.ndarray, depth: np.ndarray) -> np.ndarray:
        """What (..., 3) of the build pixels (..., 2) show at depths (...) in mm: `project` the other way."""
        (middle, half), (wide, tall) = self._centre, self._scale
        x, y = (px[..., 0] - middle) / wide, (px[..., 1] - half) / tall
        if not self.orthographic:
            x, y = x * depth, y * depth
        rows = (rigid.weighted((x, y, depth), way[:3]) + way[3] for way in self._back[:3])
        return np.stack(list(rows), axis=-1)
