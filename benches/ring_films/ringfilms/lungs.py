"""Air in the chest and the belly: lungs around heart, mediastinum and diaphragm, the airway, bowel gas, vessels."""
import numpy as np

from .levels import C4, T1, T6, SIDES
from .primitives import F4, sigmoid, tube

VESSELS = 20        # per lung, each with two branches


def column(values):
    """Values by height, as a column of float32."""
    return np.asarray(values, F4)[:, None]


class Lungs:
    """Form of the lungs at one breath."""

    def __init__(self, child, pose, chest, rng):
        size = self.size = child.size
        self.chest = chest
        self.dome_right, self.dome_left = (rng.normal() * 5 * size for _ in range(2))
        self.diaphragm = float(pose.centre[9, 2] - 6 * size + rng.normal() * 4 * size)      # near T9
        self.density = float(rng.uniform(0.2, 0.3))
        if child.traits.kyphosis > 70:
            self.diaphragm -= 8 * size
        z = self.diaphragm + 38 * size
        middle_x, middle_y, _, half_depth = chest.wall(z)
        aside = chest.spine_x(z) * 0.6 + 0.4 * middle_x + 15 * size
        self.heart = [float(aside), float(middle_y + 0.30 * half_depth), z]
        self.heart_radii = [radius * (0.15 + 0.85 * size) for radius in (55, 42, 56)]

    def thinned(self, plane, texture):
        """What the lungs leave of a plane's density, 0 to 1."""
        size, chest, z = self.size, self.chest, plane.heights
        middle_x, middle_y, half_width, half_depth = (column(values) for values in chest.wall(z))
        half_width, half_depth = half_width - 4 * size, half_depth - 4 * size
        ahead = (plane.y - middle_y) / half_depth
        out = np.sqrt(((plane.x - middle_x) / half_width) ** 2 + ahead ** 2)
        from_wall = (1 - out) * np.minimum(half_width, half_depth)

        before_spine = plane.y - column(chest.spine_y(z))
        spine_x = column(chest.spine_x(z))
        medial = column(np.interp(z, [self.diaphragm, chest.z_t8, chest.z_t1], [18, 20, 28]))
        medial = np.where(before_spine < -2 * size, F4(18 * size), medial * size)
        middle = spine_x + sigmoid((before_spine - 28 * size) / (6 * size)) * 0.18 * (middle_x - spine_x)
        narrower = np.clip(1.25 - 0.55 * np.clip(before_spine / (70 * size), 0, 1), 0.35, 1.3)
        aside = np.abs(plane.x - middle)
        from_middle = aside - medial * narrower

        on_dome = np.clip((aside - 0.5 * half_width) / (0.62 * half_width), -1.2, 1.2)
        left, right = F4(-7 * size + self.dome_left), F4(4 * size + self.dome_right)
        floor = self.diaphragm + np.where(plane.x > middle, left, right) - 32 * size * on_dome ** 2
        floor = floor - 62 * size * np.clip(0.15 - ahead, 0, 1) ** 2 - 22 * size * np.clip(ahead, 0, 1) ** 2
        from_floor = (plane.z - floor) * 0.8
        from_top = chest.z_t1 + 4 * size - plane.z - 22 * size * np.clip(out, 0, 1) ** 2
        from_heart = (plane.reach(self.heart, self.heart_radii) - 1) * 40 * size
        deep = np.minimum(np.minimum(from_wall, from_middle), np.minimum(from_floor, from_top))
        air = sigmoid(np.minimum(deep, from_heart) / 1.3)
        return 1 - air * (1 - self.density * (1 + 0.12 * texture))


class Airway:
    """The windpipe, from where it forks to the neck."""

    def __init__(self, child, pose, chest, trunk):
        size, centre = child.size, pose.centre
        heights = np.linspace(centre[T6, 2], centre[C4, 2], 14)
        nearest = [np.argmin(abs(centre[:, 2] - z)) for z in heights]
        before = np.interp(heights, centre[[T6, T1, C4], 2], [30, 17, 12]) * size
        x = trunk.middle_x(heights) * 0.5 + 0.5 * chest.spine_x(heights)
        self.path = np.c_[x, chest.spine_y(heights) + child.depth[nearest] / 2 + before, heights]
        self.radius = 6.8 * size

    def thinned(self, plane):
        """What the airway leaves of a plane's density, 0 to 1."""
        z = plane.heights
        x, y = (column(np.interp(z, self.path[:, 2], self.path[:, axis])) for axis in (0, 1))
        there = column((z > self.path[0, 2]) & (z < self.path[-1, 2]))
        return 1 - sigmoid((self.radius - np.hypot(plane.x - x, plane.y - y)) / 0.7) * there


class Gas:
    """Bubbles in bowel and stomach: (middle, radii, change of density)."""

    def __init__(self, child, chest, trunk, lungs, rng):
        size = self.size = child.size
        self.bubbles = []
        for _ in range(rng.integers(10, 22)):
            z = rng.uniform(chest.z_s1 - 60 * size, chest.z_t12 - 25 * size)
            if rng.random() < 0.55:     # the colon, at the sides
                aside = np.sign(rng.normal()) * rng.uniform(60, 105) * size
            else:
                aside = rng.uniform(-70, 70) * size
            y = trunk.middle_y(z) + rng.uniform(25, 95) * size
            radii = rng.uniform(5, 17, 3) * size
            self.bubbles.append(([float(trunk.middle_x(z) + aside), float(y), z], radii.tolist(),
                                 -rng.uniform(0.5, 1.0)))
        z = lungs.diaphragm - 22 * size
        stomach = [lungs.heart[0] + 35 * size, float(trunk.middle_y(z)) + 60 * size, lungs.diaphragm - 24 * size]
        radii = np.array([24, 20, 14]) * size * rng.uniform(0.6, 1.1)
        self.bubbles.append((stomach, radii.tolist(), -0.95))

    def thinned(self, plane):
        """What the bubbles leave of a plane's density, 0 to 1."""
        left = F4(1)
        for middle, radii, change in self.bubbles:
            if abs(plane.depth - middle[plane.depth_axis]) > radii[plane.depth_axis] * 1.3:
                continue
            uneven = np.sin(plane.x / (4 * self.size) + middle[2]) * np.sin(plane.z / (5 * self.size) + middle[0])
            out = plane.reach(middle, radii) + 0.12 * uneven
            left = left * (1 + change * sigmoid((1 - out) * (min(radii) / 1.3)))
        return left


def vessels(child, chest, lungs, airway, rng):
    """Clouds of the lungs' vessels, from the hilum outward."""
    size = child.size
    for side in SIDES:
        root = airway.path[0] + np.array([side * 24, 6, -8]) * size
        for _ in range(VESSELS):
            hilum = root + rng.normal(size=3) * np.array([8, 13, 20]) * size
            z = rng.uniform(lungs.diaphragm - 8 * size, chest.z_t1 - 20 * size)
            middle_x, middle_y, half_width, half_depth = chest.wall(z)
            angle, out = rng.uniform(0.15, 0.95) * np.pi, rng.uniform(0.5, 0.85)
            target = np.array([middle_x + side * half_width * out * np.sin(angle),
                               middle_y - half_depth * out * np.cos(angle), z])
            bend = (hilum + target) / 2 + rng.normal(size=3) * 8 * size
            t = np.linspace(0, 1, 12)[:, None]
            path = (1 - t) ** 2 * hilum + 2 * t * (1 - t) * bend + t * t * target
            radius = rng.uniform(1.2, 3.0) * size
            yield vessel(path, np.array([0.6, 0.7, 0.25]) * radius, 0.55, rng)
            for _ in range(2):
                start = path[rng.integers(3, 10)]
                branch = [start, start + rng.normal(size=3) * 18 * size]
                yield vessel(branch, np.array([0.4, 0.15]) * radius, 0.5, rng)


def vessel(path, radii, cell, rng):
    """A tube of blood."""
    return tube(path, radii, radii, [0.3, 0.1, 0.9], rng, wall=9, cortex=0.6, core=0.6, cell=cell)
