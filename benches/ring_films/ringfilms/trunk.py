"""Soft tissue: the form of trunk, limbs and head, and its path lengths, marched plane by plane through the beam."""
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from .levels import SIDES, C5
from .lungs import Airway, Gas, Lungs, column
from .primitives import F4, sigmoid

PIXEL = 1.4         # mm of the coarse film
STEP = 3.6          # mm between planes
TEXTURE_CELLS, TEXTURE_CELL = 80, 4     # mm
# The trunk from below: half width, reach behind and before the spine; and how much of the fat each height has.
HALF_WIDTHS = np.array([150, 160, 150, 132, 124, 134, 142, 140, 134, 118, 70, 52, 50])
BEHIND = np.array([85, 90, 82, 62, 58, 60, 62, 60, 58, 56, 52, 48, 46])
BEFORE = np.array([85, 88, 92, 98, 104, 128, 150, 128, 92, 66, 52, 52, 52])
FAT_SHARES = np.array([1.4, 1.5, 1.4, 1.3, 1.2, 1, 0.9, 0.8, 0.6, 0.5, 0.4, 0.2, 0.2])


@dataclass
class Plane:
    """Where the rays of the coarse film cross a plane of one depth: x and y are rows, z is a column (float32)."""

    depth_axis: int
    depth: float
    across: np.ndarray
    heights: np.ndarray

    def __post_init__(self):
        across = np.asarray(self.across, F4)[None, :]
        flat = np.full_like(across, self.depth)
        self.x, self.y = (flat, across) if self.depth_axis == 0 else (across, flat)
        self.z = column(self.heights)

    def reach(self, middle, radii):
        """How far out of an ellipsoid, 1 on its surface."""
        return np.sqrt(((self.x - middle[0]) / radii[0]) ** 2 + ((self.y - middle[1]) / radii[1]) ** 2
                       + ((self.z - middle[2]) / radii[2]) ** 2)

    def from_rod(self, start, end):
        """Distance (mm) from a straight rod."""
        start, along = start.tolist(), (end - start).tolist()
        x, y, z = self.x - start[0], self.y - start[1], self.z - start[2]
        length2 = sum(part * part for part in along)
        t = np.clip((x * along[0] + y * along[1] + z * along[2]) / length2, 0, 1)
        return np.sqrt((x - t * along[0]) ** 2 + (y - t * along[1]) ** 2 + (z - t * along[2]) ** 2)


class Trunk:
    """The trunk's outline by height."""

    def __init__(self, child, pose, chest, hips):
        size = child.size
        fat = self.fat = float((6 + 9 * child.traits.fat) * size ** 0.5)     # mm
        hip_z, neck_z = float(np.mean([hips[side][2] for side in SIDES])), pose.centre[C5, 2]
        z_s1, z_t12, z_t8, z_t1 = chest.z_s1, chest.z_t12, chest.z_t8, chest.z_t1
        self.lowest = hip_z - 70 * size
        knots = np.array([hip_z - 120 * size, hip_z - 20 * size, z_s1 - 25 * size, z_s1 + 50 * size,
                          0.5 * (z_s1 + z_t12) + 20 * size, z_t12, z_t8, z_t8 + 60 * size, z_t1 - 45 * size,
                          z_t1 - 5 * size, z_t1 + 16 * size, neck_z, neck_z + 400])
        heights = self._heights = np.linspace(knots[0] - 50, knots[-1], 400)
        grown = np.r_[np.full(10, 0.1 + 0.9 * size), np.full(3, 0.35 + 0.65 * size)]
        more = fat - 12

        def smooth(values, sigma):
            return gaussian_filter1d(np.interp(heights, knots, values), sigma)

        self._half_width = smooth(HALF_WIDTHS * grown + more * FAT_SHARES, 6)
        self._behind = smooth(BEHIND * size + more * 0.6, 6)
        self._before = smooth(BEFORE * (0.12 + 0.88 * size) + more * 0.8, 6)
        follows = np.interp(heights, [z_s1 - 10, z_s1 + 60 * size, z_t1 - 30 * size, z_t1 + 30 * size],
                            [1, 0.6, 0.68, 1])
        self._x = gaussian_filter1d(follows * chest.spine_x(heights), 12)
        self._y = gaussian_filter1d(chest.spine_y(heights), 10)

    def middle_x(self, z):
        """Where the trunk's middle is across, at a height."""
        return np.interp(z, self._heights, self._x)

    def middle_y(self, z):
        """Where the spine is in depth, smoothed, at a height."""
        return np.interp(z, self._heights, self._y)

    def density(self, plane):
        """Density of the trunk on a plane, a little less in the fat."""
        z = plane.heights
        half_width, behind, before = (column(np.interp(z, self._heights, values))
                                      for values in (self._half_width, self._behind, self._before))
        middle_y = column(self.middle_y(z)) + (before - behind) / 2
        half_depth = (before + behind) / 2
        aside = np.abs(plane.x - column(self.middle_x(z))) / half_width
        out = (aside ** 2.5 + (np.abs(plane.y - middle_y) / half_depth) ** 2.5) ** 0.4
        deep = (1 - out) * np.minimum(half_width, half_depth)
        density = sigmoid(deep) * sigmoid((plane.z - self.lowest) / 12)
        return density * (1 - 0.08 * sigmoid((self.fat - deep) / 2))


def limbs(child, fat, joints, elbows, hips, view):
    """Rods of (start, end, radius): upper arms, shoulders, forearms held forward, thighs."""
    size = child.size
    for side in SIDES:
        shoulder, elbow, hip = joints[side], elbows[side], hips[side]
        yield shoulder, elbow, (36 + fat * 0.5) * size
        yield (shoulder + np.array([-side * 30, 0, 0]) * size, shoulder + np.array([side * 2, 0, -8]) * size,
               (40 if view == "pa" else 31) * size)
        if view == "lateral":
            yield elbow, elbow + np.array([0, 160, 130]) * size, 30 * size
        yield hip + np.array([0, 0, -20]) * size, hip + np.array([side * 2, 0, -300]) * size, (64 + fat) * size


def with_head(density, plane, head):
    """A plane's density with head and jaw."""
    middle, radii = (values.tolist() for values in head)
    if plane.heights.max() < middle[2] - 1.7 * radii[2]:
        return density
    density = np.maximum(density, sigmoid((1.06 - plane.reach(middle, radii)) * radii[0] / 1.2))
    jaw = [middle[0], middle[1] + 0.3 * radii[1], middle[2] - 0.85 * radii[2]]
    jaw_radii = [0.8 * radii[0], 0.72 * radii[1], 0.55 * radii[2]]
    return np.maximum(density, sigmoid((1 - plane.reach(jaw, jaw_radii)) * radii[0] * 0.5) * 0.9)


class SoftTissue:
    """Everything soft of a child at a pose, for one film."""

    def __init__(self, child, pose, chest, skeleton, view, rng):
        self.child, self.chest, self.head, self.view = child, chest, skeleton.head, view
        self.trunk = Trunk(child, pose, chest, skeleton.hips)
        self.limbs = list(limbs(child, self.trunk.fat, skeleton.shoulders, skeleton.elbows, skeleton.hips, view))
        self.lungs = Lungs(child, pose, chest, rng)
        self.gas = Gas(child, chest, self.trunk, self.lungs, rng)
        self.airway = Airway(child, pose, chest, self.trunk)
        texture = gaussian_filter(rng.standard_normal((TEXTURE_CELLS,) * 3).astype(F4), 2.2, mode="wrap")
        self.texture = texture / texture.std()
        self.middle = pose.centre[:18].mean(0)

    def density(self, plane):
        """Density (water 1) on a plane."""
        rows, columns = ((np.floor(places / TEXTURE_CELL).astype(int) % TEXTURE_CELLS)
                         for places in (plane.heights, plane.across))
        texture = self.texture[rows[:, None], columns[None, :], int(plane.depth // TEXTURE_CELL) % TEXTURE_CELLS]
        density = self.trunk.density(plane) * (1 + 0.035 * texture)
        softness = 1.0 if self.view == "pa" else 2.5
        for start, end, radius in self.limbs:
            density = np.maximum(density, sigmoid((radius - plane.from_rod(start, end)) / softness))
        density = with_head(density, plane, self.head)
        return density * self.lungs.thinned(plane, texture) * self.airway.thinned(plane) * self.gas.thinned(plane)

    def path_lengths(self, camera):
        """Path length in water (cm) on every pixel of the film."""
        size, axis = self.child.size, camera.depth_axis
        u, v = (np.arange(int(count * camera.spacing / PIXEL) + 3) - 0.5 for count in (camera.columns, camera.rows))
        u, v = camera.left + u * PIXEL, camera.top - v * PIXEL
        low, high = (-170 * size - 40, 230 * size + 60) if self.view == "pa" else (-215 * size - 30, 215 * size + 30)
        total = np.zeros((len(v), len(u)), F4)
        for depth in np.arange(self.middle[axis] + low, self.middle[axis] + high, STEP):
            plane = Plane(axis, float(depth), *camera.plane(depth, u, v))
            total += self.density(plane).astype(F4) * F4(STEP * 0.1)
        rows = upsampling((np.arange(camera.rows) + 0.5) * camera.spacing, len(v))
        columns = upsampling((np.arange(camera.columns) + 0.5) * camera.spacing, len(u))
        tall = sum(total[index] * weight[:, None] for index, weight in rows)
        return sum(tall[:, index] * weight[None, :] for index, weight in columns)


def upsampling(places, count):
    """Cubic spline weights: four pairs of (index in the coarse film, weight) for places (mm from the border)."""
    position = places / PIXEL + 0.5
    whole = np.floor(position).astype(int)
    t = position - whole
    weights = ((1 - t) ** 3, 3 * t ** 3 - 6 * t ** 2 + 4, -3 * t ** 3 + 3 * t ** 2 + 3 * t + 1, t ** 3)
    return [(np.clip(whole + step, 0, count - 1), (weight / 6).astype(F4))
            for step, weight in zip((-1, 0, 1, 2), weights)]
