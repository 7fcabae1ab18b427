"""A vertebral body as a signed distance: its rim, its plates' ends, and its points (its own axes, mm)."""
from functools import cached_property

import numpy as np

from .child import GRAIN_CELLS
from .levels import C7, T1, T12
from .primitives import F4, sigmoid

ROUND_FRONT, ROUND_BACK = 2.25, 2.9     # exponents of the outline: 2 is an ellipse, more is squarer
CORNER = 0.293      # the middle of a rounded corner lies this part of its radius inside both faces
RIM_POINTS = 2880
GRAIN_CELL = 0.42   # mm
MARGIN = 1.0        # mm of cells about the body
RING_POINTS = 60000


class Body:
    """Form of one body; a point's `rho` is 1 on the outline at the plates, 0 in the middle."""

    def __init__(self, child, level):
        self.width, self.depth = float(child.width[level]), float(child.depth[level])
        self.height = float(child.height[level])
        self.fall_side = float(np.tan(np.radians(child.wedge_side[level] / 2)))
        self.fall_front = float(np.tan(np.radians(child.wedge_front[level] / 2)))
        self.bevel = child.bevel
        self.waist = max(0.03, float(child.waist[level]))
        self.hollow_upper, self.hollow_lower = (float(hollow) for hollow in child.hollow[:, level])
        narrow, self.skew = (float(quirk) for quirk in child.quirks[level])
        self.narrow_front = 0.10 + 0.5 * abs(narrow) if T12 <= level < T1 else 0.03
        self.lip = 1.8 * child.size if level >= C7 else 0.0         # raised sides of a cervical upper plate
        self.taper = 0.28 if level == 0 else 0.0                    # the sacrum narrows downward

    def rho(self, x, y):
        """How far out, in parts of the outline's radius."""
        ahead = y / (0.5 * self.depth)
        narrowing = self.narrow_front * np.clip(ahead, -1, 1.2) * 0.5 * (ahead > -0.2)
        aside = x / (0.5 * self.width * (1 - narrowing))
        u, v = np.abs(aside) + 1e-6, np.abs(ahead) + 1e-6
        front = (u ** ROUND_FRONT + v ** ROUND_FRONT) ** (1 / ROUND_FRONT)
        back = (u ** ROUND_BACK + v ** ROUND_BACK) ** (1 / ROUND_BACK)
        return np.where(y > 0, front, back) * (1 + 0.04 * self.skew * aside * ahead)

    def plates(self, x, y, rho):
        """Heights of the upper and the lower plate."""
        cup = np.clip(1 - np.clip(rho, 0, 1) ** 2.4, 0, 1) * (1 + 0.25 * np.clip(-y / (0.5 * self.depth), -1, 1))
        lip = self.lip * np.clip(np.abs(x) / (0.5 * self.width) - 0.6, 0, 0.4) ** 2 / 0.16
        upper = self.height / 2 - self.fall_side * x - self.fall_front * y - self.hollow_upper * cup + lip
        lower = -self.height / 2 + self.fall_side * x + self.fall_front * y + self.hollow_lower * cup
        return upper, lower

    def depths(self, x, y, z):
        """How deep points lie (mm) under the rounded surface, under the nearer plate, and under the wall."""
        rho = self.rho(x, y)
        upper, lower = self.plates(x, y, rho)
        zeta = np.clip((2 * z - upper - lower) / np.maximum(upper - lower, 1), -1, 1)
        outline = 1 - self.waist * (1 - np.abs(zeta) ** 2.6)
        if self.taper:
            outline = outline * (1 - self.taper * (1 - zeta) / 2)
        wall = (outline - rho) * np.hypot(x, y) / np.maximum(rho, 1e-3)
        plate = np.minimum(upper - z, z - lower)
        radius = self.bevel
        corner = radius - np.sqrt((radius - wall) ** 2 + (radius - plate) ** 2)
        in_corner = (wall < radius) & (plate < radius)
        return np.where(in_corner, corner, np.minimum(wall, plate)), plate, wall

    @cached_property
    def rims(self):
        """The middle of the rounded corner around the upper and the lower plate: two arrays (n, 3)."""
        around = np.linspace(0, 2 * np.pi, RIM_POINTS, endpoint=False)
        cos, sin = np.cos(around), np.sin(around)
        low, high = np.zeros_like(around), np.full_like(around, 80.0)
        for _ in range(40):
            middle = (low + high) / 2
            inside = self.rho(middle * cos, middle * sin) < 1
            low, high = np.where(inside, middle, low), np.where(inside, high, middle)
        inset = CORNER * self.bevel
        upper, lower = self.plates(low * cos, low * sin, np.ones_like(low))
        x, y = (low - inset) * cos, (low - inset) * sin
        return np.c_[x, y, upper - inset], np.c_[x, y, lower + inset]

    def ends(self, plate):
        """The four ends of a plate's rim."""
        rim = self.rims[0 if plate == "upper" else 1]
        return {"left": rim[rim[:, 0].argmax()], "right": rim[rim[:, 0].argmin()],
                "anterior": rim[rim[:, 1].argmax()], "posterior": rim[rim[:, 1].argmin()]}

    def _cells(self, cell, rng):
        """Jittered places of cells in and close about the body."""
        fall = abs(self.fall_side) * self.width / 2 + abs(self.fall_front) * self.depth / 2 + self.lip
        half_x, half_y = self.width / 2 + MARGIN, self.depth / 2 + MARGIN
        half_z = self.height / 2 + fall + MARGIN
        axes = [np.arange(-low, high, cell).astype(F4)
                for low, high in ((half_x + 1, half_x + 1), (half_y + 1, half_y + 1), (half_z, half_z))]
        x, y, z = [grid.ravel() for grid in np.meshgrid(*axes, indexing="ij")]
        near = (np.abs(x) / half_x) ** 2 + (np.abs(y) / half_y) ** 2 < 1.35
        return [axis[near] + cell * (rng.random(near.sum(), dtype=F4) - F4(0.5)) for axis in (x, y, z)]

    def cloud(self, child, cell, rng):
        """The body's points: dense walls and plates, spongy bone with texture, a vein's channel at the back."""
        x, y, z = self._cells(cell, rng)
        deep, plate, wall = self.depths(x, y, z)
        inside = deep > -0.35
        x, y, z, deep, plate, wall = (values[inside] for values in (x, y, z, deep, plate, wall))
        offset = rng.integers(0, GRAIN_CELLS, 3)
        place = [(np.floor(axis / GRAIN_CELL).astype(np.int32) + shift) & (GRAIN_CELLS - 1)
                 for axis, shift in zip((x, y, z), offset)]
        grain = child.grain[tuple(place)]
        thick = (0.45 + 0.35 * child.mature) * (0.7 + 0.3 * child.density)
        shell = np.maximum(sigmoid((thick - plate) / 0.12), sigmoid((thick * 0.85 - wall) / 0.12))
        spongy = 0.225 * child.density * (1 + 0.5 * grain) * (1 + 0.8 * np.exp(-np.clip(plate, 0, 30) / 1.6))
        solid = shell * (0.78 * child.density ** 0.5) + (1 - shell) * np.clip(spongy, 0.02, 0.6)
        vein = np.exp(-((x / 3) ** 2 + ((y + self.depth * 0.3) / 5) ** 2 + (z / 2) ** 2))
        density = sigmoid(deep / 0.09) * solid * (1 - 0.5 * vein)
        return np.c_[x, y, z], (density * cell ** 3).astype(F4)

    def ring_cloud(self, rng):
        """The thin growth rings that hug the rims, uneven around them."""
        points, weights = [], []
        around = np.pi * 0.5 * (self.width + self.depth)
        for rim, sign in zip(self.rims, (1, -1)):
            base = rim[rng.integers(0, len(rim), RING_POINTS)]
            outward = np.c_[base[:, :2] / np.hypot(base[:, 0], base[:, 1])[:, None], np.zeros(RING_POINTS)]
            out = 0.15 * self.bevel
            ring = base + outward * (out + 0.35 * rng.uniform(-1, 1, RING_POINTS))[:, None]
            ring[:, 2] += sign * (out + 0.35 * rng.uniform(-1, 1, RING_POINTS))
            lobes = 3 * np.arctan2(base[:, 1], base[:, 0]) + 6 * rng.random()
            points.append(ring)
            weights.append(0.45 * around * 0.49 * np.clip(0.5 + 0.5 * np.sin(lobes), 0.1, 1) / RING_POINTS)
        return np.concatenate(points).astype(F4), np.concatenate(weights).astype(F4)
