"""What a camera shows where: exact projection of points of the build, in pixels of the full frame.

Pixels count from the frame's lower left corner, x to the right and y upwards, as Blender renders. Camera space is
x to the right, y up and depth away from the camera, in millimetres.
"""

from dataclasses import dataclass

import numpy as np

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
    def _centre(self) -> np.ndarray:
        """(2,) where the optical axis meets the frame, in pixels."""
        shift = np.array([self.shift_x, self.shift_y]) * self._spanned
        return np.array([0.5 * self.width_px, 0.5 * self.height_px]) - shift / np.array([1.0, self.pixel_aspect])

    @property
    def _linear(self) -> np.ndarray:
        return np.array(self.view)[:, :3]

    @property
    def _offset(self) -> np.ndarray:
        return np.array(self.view)[:, 3]

    def project(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places (..., 2) in pixels and depths (...) in mm of points (..., 3) in the build; NaN behind the camera.

        Pinhole camera: pixels = focal length / sensor * pixels of the frame * sideways way / depth.
        """
        seen = points @ self._linear.T + self._offset
        depth = seen[..., 2]
        slope = (
            seen[..., :2]
            if self.orthographic
            else seen[..., :2] / np.where(depth > _FIRST_MM, depth, np.nan)[..., None]
        )
        return slope * self._strength / np.array([1.0, self.pixel_aspect]) + self._centre, depth

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

    def rays(self, px: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where the rays of pixels (N, 2) start, at the near clipping distance, and their directions, in the build."""
        slope = (px - self._centre) * np.array([1.0, self.pixel_aspect]) / self._strength
        nothing, one = np.zeros((len(px), 1)), np.ones((len(px), 1))
        start = np.hstack([slope, nothing]) if self.orthographic else np.zeros((len(px), 3))
        way = np.hstack([np.zeros_like(slope), one]) if self.orthographic else np.hstack([slope, one])
        back = np.linalg.inv(self._linear).T
        return (start + self.near_mm * way - self._offset) @ back, way @ back

    def rectangle(self, corners: np.ndarray) -> tuple[float, float, float, float]:
        """What some corners (V, 3) span of the bordered frame, in pixels: left, lower, right, upper. All where one
        lies behind the lens; right before left, or upper below lower, where they lie beside it."""
        size = np.array([self.width_px, self.height_px] * 2)
        left, lower, right, upper = (np.array(self.border) * size).tolist()
        px, _ = self.project(corners)
        if np.isnan(px).any():
            return left, lower, right, upper
        low, high = px.min(axis=0).tolist(), px.max(axis=0).tolist()
        return max(left, low[0]), max(lower, low[1]), min(right, high[0]), min(upper, high[1])

    def grid(self, where: tuple[float, float, float, float], most: int) -> tuple[np.ndarray, bool]:
        """Places (N, 2) in a rectangle of pixels, and whether they are the middles of all of its pixels: else of square
        cells, `most` of them or a few less. Always the same ones: nothing is drawn by chance.
        """
        low, high = np.floor(where[:2]), np.ceil(where[2:])
        wide, tall = np.maximum(high - low, 0.0).tolist()
        if wide * tall <= most:
            x, y = np.arange(low[0], low[0] + wide) + 0.5, np.arange(low[1], low[1] + tall) + 0.5
            return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2), True
        step = float(np.sqrt(wide * tall * self.pixel_aspect / most))
        columns, rows = max(1, int(wide / step)), max(1, int(tall * self.pixel_aspect / step))
        x = low[0] + wide * (np.arange(columns) + 0.5) / columns
        y = low[1] + tall * (np.arange(rows) + 0.5) / rows
        return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2), False
