"""The inner wall of the chest along the spine, and the ribs and the sternum on it."""
import numpy as np
from scipy.ndimage import gaussian_filter1d

from .levels import C7, T1, T8, T12, SIDES
from .primitives import FORWARD, UP, tube

# By rib from above: degrees around the chest where its bone ends, and how far it falls on its way (mm).
RIB_ENDS = (118, 140, 146, 148, 150, 150, 148, 140, 132, 122, 95, 62)
RIB_FALLS = (30, 48, 62, 75, 88, 98, 105, 112, 112, 105, 75, 45)
FIRST_ANGLE = 24        # degrees around the chest where a rib leaves its tubercle


class Chest:
    """The course of the spine by height, and the chest's cross-section."""

    def __init__(self, child, pose):
        order = np.argsort(pose.centre[:, 2])
        self._x, self._y, self._z = pose.centre[order].T
        self.z_s1, self.z_t12, self.z_t8, self.z_t1 = pose.centre[[0, T12, T8, T1], 2].tolist()
        self.aside = 0.45 * pose.centre[T12:C7, 0].mean()
        size = child.size
        grown = np.array([0.12, 0.88]) @ [1, size], np.array([0.14, 0.86]) @ [1, size]
        self._knots = [self.z_t12 - 60 * size, self.z_t12, self.z_t8, 0.5 * (self.z_t8 + self.z_t1), self.z_t1,
                       self.z_t1 + 25 * size]
        self._half_width = np.array([112, 126, 128, 112, 58, 40]) * grown[0]
        self._half_depth = np.array([80, 90, 90, 74, 36, 26]) * grown[1]
        self._gutter = np.array([16, 26, 36, 34, 15, 8]) * size     # reach behind the middle of the bodies
        self._heights = np.linspace(self._knots[0], self._knots[-1], 40)
        self._middle_x = gaussian_filter1d(0.66 * self.spine_x(self._heights) + 0.14 * self.aside, 5)
        self._spine_y = gaussian_filter1d(self.spine_y(self._heights), 4)

    def spine_x(self, z):
        """Where the spine is across, at a height."""
        return np.interp(z, self._z, self._x)

    def spine_y(self, z):
        """Where the spine is in depth, at a height."""
        return np.interp(z, self._z, self._y)

    def wall(self, z):
        """Middle (x, y), half width and half depth of the chest at a height."""
        half_width = np.interp(z, self._knots, self._half_width)
        half_depth = np.interp(z, self._knots, self._half_depth)
        y = np.interp(z, self._heights, self._spine_y) + half_depth - np.interp(z, self._knots, self._gutter)
        return np.interp(z, self._heights, self._middle_x), y, half_width, half_depth


def rib_path(child, pose, chest, rib, side, end_angle):
    """A rib's course: from the body's side over the tubercle, then along the wall of the chest."""
    size, level = child.size, C7 - rib
    rotation, back = pose.rotation[level], -child.depth[level] / 2
    tilt = np.arctan2(rotation[0, 2], rotation[2, 2])
    twist = np.arctan2(-rotation[0, 1], rotation[1, 1])
    fall = RIB_FALLS[rib - 1] * size
    head = pose.place(level, np.array([side * child.width[level] * 0.46, back + size, 0.38 * child.height[level]]))
    reach = np.interp(level, [6, 8, 17], [22, 25, 32])
    tubercle = pose.place(level, np.array([side * reach * size, back - 13 * size, 0.30 * child.height[level]]))
    points = [head, 0.5 * head + 0.5 * tubercle + rotation @ np.array([0, -1.5 * size, 0.5]), tubercle]
    for t in np.linspace(0.12, 1, 40):
        angle = np.radians(FIRST_ANGLE + (end_angle - FIRST_ANGLE) * t)
        z = tubercle[2] - fall * (0.22 * np.sin(angle / 2) + 0.78 * ((1 - np.cos(angle)) / 2) ** 0.9) - 8 * size * t
        z = z - side * np.sin(angle) * np.tan(np.clip(tilt, -1, 1)) * 55 * size
        middle_x, middle_y, half_width, half_depth = chest.wall(
            np.clip(z, chest.z_t12 - 60 * size, chest.z_t1 + 10 * size))
        if rib == 1:
            half_width = half_width * 0.98
        x, y = side * half_width * 1.02 * np.sin(angle) ** 0.9, -half_depth * 1.02 * np.cos(angle)
        hump = 0.45 * twist * np.exp(-((angle - 0.6) / 0.9) ** 2)
        on_wall = np.array([middle_x + x * np.cos(hump) - y * np.sin(hump),
                            middle_y + x * np.sin(hump) + y * np.cos(hump), z])
        by_tubercle = tubercle + rotation @ np.array([side * 60 * size * t * 1.2,
                                                      -14 * size * np.sin(np.pi * min(1, t * 2.5)), -12 * size * t])
        share = np.clip((t - 0.1) / 0.28, 0, 1)
        share = share * share * (3 - 2 * share)
        points.append(share * on_wall + (1 - share) * by_tubercle)
    points = np.array(points)
    return np.concatenate([points[:2], gaussian_filter1d(points, 1.2, axis=0, mode="nearest")[2:]])


def ribs_and_sternum(child, pose, chest, rng):
    """Clouds of ribs, their cartilages and the sternum; and the place of the manubrium's top."""
    clouds, size, cortex = [], child.size, child.density ** 0.5
    upper_ends = []
    for rib in range(1, 13):
        for side in SIDES:
            path = rib_path(child, pose, chest, rib, side, RIB_ENDS[rib - 1] + rng.normal() * 2)
            slight = np.interp(rib, [1, 3, 8, 12], [0.9, 1, 1, 0.75]) * size
            clouds.append(tube(path, np.array([3.2, 3.4, 2.9, 2.7, 2.9, 3.0]) * slight,
                               np.array([3.6, 5.0, 5.6, 5.8, 6.2, 6.6]) * slight, UP, rng, cell=0.5,
                               wall=0.75 * (0.4 + 0.6 * size), cortex=0.85 * cortex, core=0.17 * child.density))
            end = path[-1]
            if rib == 1:
                upper_ends.append(end[2])
            if rib <= 10:
                middle_x, middle_y, _, half_depth = chest.wall(end[2])
                rise = np.interp(rib, [1, 4, 7, 10], [-2, 6, 40, 55]) * size
                target = np.array([middle_x + side * 12 * size, middle_y + half_depth * 1.03, end[2] + rise])
                clouds.append(tube([end, target], 3 * size, 5 * size, UP, rng, wall=0.5, cortex=0.06, core=0.04,
                                   cell=0.8))
    top = 0.5 * sum(upper_ends) + 4 * size
    heights = np.linspace(top + 8 * size, top - 140 * size, 12)
    middle_x, middle_y, _, half_depth = chest.wall(heights)
    path = np.c_[middle_x, middle_y + half_depth * 1.05, heights]
    clouds.append(tube(path[:4], np.array([26, 24, 15]) * size, 4.5 * size, FORWARD, rng, wall=0.5,
                       cortex=0.3 * cortex, core=0.07 * child.density, cell=0.6))
    for piece in (path[4:7], path[7:10], path[9:12]):
        clouds.append(tube(piece, 15 * size, 4 * size, FORWARD, rng, wall=0.6, cortex=0.35 * cortex,
                           core=0.08 * child.density, cell=0.7))
    return clouds, path[0]
