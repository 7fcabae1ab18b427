"""Soft tissues as a density (water 1) on a grid of cells, and from it a cloud (mm, 1/mm)."""
import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter, gaussian_filter1d, zoom

from .girdles import head_middle, shoulder_and_elbow
from .levels import INDEX, SIDES
from .lungs import airway_parts, diaphragm, domes, lung_depth
from .primitives import F4, ramp

STEP = 2.8              # mm between cells
WATER = 0.0185          # attenuation of water (1/mm)

# Half breadth and half depth of the trunk at the heights of `outline_heights`, and the part of the fat beyond it.
HALF_BREADTH = np.array([150, 148, 134, 118, 120, 124, 124, 120, 86, 56, 50, 50])
HALF_DEPTH = np.array([105, 102, 92, 82, 88, 96, 92, 76, 62, 56, 54, 60])
FAT_ASIDE = np.array([1, 1, 1, 1, 1, 0.8, 0.6, 0.5, 0.4, 0.2, 0.1, 0])


def soft_cloud(child, pose, view):
    """Cloud of all soft tissues of a pose."""
    trunk = Trunk(child, pose, view)
    trunk.fill()
    trunk.add_lungs()
    trunk.add_liver()
    trunk.add_fat_planes()
    trunk.add_gas()
    trunk.add_airways()
    trunk.add_arms(view)
    trunk.add_head()
    return trunk.cloud()


class Trunk:
    """Grid, the trunk's own axes at every height, and the density being built up.

    x, y, z: world coordinates of the cells (shapes that broadcast); along_z: the heights as one row.
    own_x, own_y: x and y in axes that follow the spine in part and turn with it.  By height: half_width, half_depth,
    spine_y, middle_y (of the trunk).  spine_right, spine_front: offsets from the spine itself.
    """

    def __init__(self, child, pose, view):
        self.child, self.pose, self.size = child, pose, child.size
        self.rng = np.random.default_rng(child.trunk_seed + 7)
        self.spine_z = pose.centre[:, 2]
        self.along_z = np.arange(self.spine_z[0] - 190 * self.size, self.spine_z[-1] + 110, STEP)
        self._outline()
        self._grid(view)
        self._own_axes()
        self.density = None
        self.under_skin = None  # depth under the skin
        self.dome = None        # heights of the left and right dome of the diaphragm
        self.floor = None       # height of the diaphragm
        self.lung = None        # 1 in the lungs, 0 outside
        self.mottle = None      # coarse noise of unit spread

    def level_z(self, name):
        """Height of a level's middle."""
        return self.spine_z[INDEX[name]]

    def by_height(self, values):
        """Values of the levels at the heights of the cells."""
        return np.interp(self.along_z, self.spine_z, values, left=values[0], right=values[-1])

    def _outline(self):
        """Size and place of the trunk at every height, and the smoothed line of the spine."""
        size, fat, centre = self.size, self.child.fat, self.pose.centre
        heights = self._outline_heights()
        broad = HALF_BREADTH * size * self.child.build + fat * FAT_ASIDE
        deep = HALF_DEPTH * size * self.child.build + fat * 0.5
        self.half_width = PchipInterpolator(heights, broad)(self.along_z)
        self.half_depth = PchipInterpolator(heights, deep)(self.along_z)
        self.radius = np.minimum(self.half_width, self.half_depth).astype(F4)
        self.smooth_x = gaussian_filter1d(self.by_height(centre[:, 0]), 8)
        smooth_y = gaussian_filter1d(self.by_height(centre[:, 1]), 5)
        behind = 44 * size + fat * 0.6          # from the middles of the bodies to the skin of the back
        self.trunk_y = smooth_y + self.half_depth - behind - 14 * size
        self.spine_y = smooth_y.astype(F4)
        self.middle_y = self.trunk_y.astype(F4)

    def _outline_heights(self):
        """Heights that HALF_BREADTH and HALF_DEPTH belong to, from below the hips to above the head."""
        low, high, size, z = self.spine_z[0], self.spine_z[-1], self.size, self.level_z
        return [low - 190 * size, low - 90 * size, low + 10 * size, z("L3"), z("T12"), z("T8"), z("T5"), z("T2") - 8,
                z("T1") + 12 * size, z("C7") + 10 * size, z("C5"), high + 110]

    def _grid(self, view):
        """Cells that hold trunk and hanging arms, on lateral films also the arms held forward."""
        reach = 210 * self.size + 40
        front = self.trunk_y.max() + self.half_depth.max() + 20
        arms = 260 * self.size if view == "lateral" else 0
        self.along_x = np.arange(-reach, reach, STEP)
        self.along_y = np.arange(self.trunk_y.min() - self.half_depth.max() - 20, max(front, arms), STEP)
        axes = [axis.astype(F4) for axis in (self.along_x, self.along_y, self.along_z)]
        self.x, self.y, self.z = np.meshgrid(*axes, indexing="ij", sparse=True)

    def _own_axes(self):
        """The trunk shifts and turns with the spine, but only by 0.45 of it."""
        centre = self.pose.centre
        turn = self.by_height(self.pose.axial) * 0.45
        cos, sin = np.cos(turn).astype(F4), np.sin(turn).astype(F4)
        aside = self.x - (self.smooth_x * 0.45).astype(F4)
        ahead = self.y - self.spine_y
        self.own_x = aside * cos - ahead * sin
        self.own_y = aside * sin + ahead * cos + self.spine_y
        self.spine_right = self.x - self.by_height(centre[:, 0]).astype(F4)
        self.spine_front = self.y - self.by_height(centre[:, 1]).astype(F4)

    def fill(self):
        """The trunk as a whole: water with lighter fat under the skin."""
        out = (np.abs(self.own_x) / self.half_width.astype(F4)) ** 2.4 \
            + (np.abs(self.own_y - self.middle_y) / self.half_depth.astype(F4)) ** 2.2
        self.under_skin = (1 - np.sqrt(out)) * self.radius
        self.density = ramp(self.under_skin, STEP * 1.5) * (1 - 0.10 * ramp(self.child.fat * 0.8 - self.under_skin, 6))

    def add_lungs(self):
        """Lungs with denser roots and a coarse pattern of vessels."""
        self.dome = domes(self)
        self.floor = diaphragm(self, self.dome)
        self.lung = ramp(lung_depth(self), 4.5)
        self.mottle = self._coarse_noise()
        root = np.hypot(np.abs(self.own_x) - 30 * self.size, (self.z - self.level_z("T6")) * 0.7)
        near_root = np.exp(-root / (45 * self.size))
        lung_density = 0.24 + 0.10 * near_root + np.clip(self.mottle, 0, 4) * (0.05 + 0.16 * near_root)
        self.density = self.density * (1 - self.lung) + self.lung * lung_density

    def _coarse_noise(self):
        """Noise of unit spread, made on every third cell."""
        shape = self.density.shape
        noise = self.rng.standard_normal([count // 3 + 2 for count in shape]).astype(F4)
        noise = zoom(gaussian_filter(noise, 1.1), 3, order=1)
        noise = noise[:shape[0], :shape[1], :shape[2]]
        noise /= noise.std()
        return noise

    def add_liver(self):
        """The liver under the right dome, and the unevenness of all tissues but lung."""
        size, x, y = self.size, self.own_x, self.own_y - self.middle_y
        right_dome = self.dome[1]
        out = ((x - 48 * size) / (75 * size)) ** 2 + (y / (75 * size)) ** 2 \
            + ((self.z - (right_dome - 55 * size)) / (62 * size)) ** 2
        liver = (1 - np.sqrt(out)) * 60
        self.density = self.density * (1 + 0.045 * ramp(liver, 8) * (1 - self.lung))
        self.density = self.density * (1 + 0.02 * np.clip(self.mottle, -2, 2) * (self.density > 0.7))

    def add_fat_planes(self):
        """Lighter fat about the psoas muscles, which spread downward from T12."""
        size = self.size
        muscle_x = 24 * size + 0.18 * np.clip(self.level_z("T12") - self.z, 0, 150)
        beyond = np.hypot(np.abs(self.spine_right) - muscle_x, self.spine_front - 2) - 15 * size
        fat = ramp(self.under_skin - 18 * size, 8) * ramp(beyond, 5) * ramp(self.level_z("L1") - self.z, 30) \
            * ramp(self.spine_front + 5, 10)
        self.density = self.density * (1 - 0.05 * fat)

    def add_gas(self):
        """Gas in the stomach under the left dome and in the bowel."""
        size, rng = self.size, self.rng
        left_dome = self.dome[0]
        middle = float(np.median(self.trunk_y))
        stomach = (-52 * size, middle + 10 * size, left_dome - 34 * size)
        self._bubble(stomach, (26 * size, 22 * size, 15 * size), 0.9 * rng.random())
        for _ in range(int(rng.integers(6, 22))):
            rng.random()        # unused, but a draw less would change every film
            radii = rng.uniform(6, 17, 3) * size
            x = (rng.choice([-1, 1]) * rng.uniform(15, 95)) * size
            y = middle + rng.uniform(0, 55) * size
            z = self.spine_z[0] + rng.uniform(-70, 150) * size
            self._bubble((x, y, z), radii, 0.9)

    def _bubble(self, place, radii, lightness):
        """An ellipsoid whose density falls by the part `lightness`."""
        x, y, z = place
        first = max(0, int((z - radii[2] - 4 - self.along_z[0]) / STEP))
        last = max(0, int((z + radii[2] + 4 - self.along_z[0]) / STEP) + 1)
        part = (slice(None), slice(None), slice(first, last))
        out = ((self.own_x[part] - x) / radii[0]) ** 2 + ((self.own_y[part] - y) / radii[1]) ** 2 \
            + ((self.z[part] - z) / radii[2]) ** 2
        self.density[part] *= 1 - lightness * ramp((1 - np.sqrt(out)) * min(radii), 4)

    def add_airways(self):
        """Air in the trachea and both main bronchi."""
        for air, lightness in airway_parts(self):
            self.density = self.density * (1 - lightness * air)

    def add_arms(self, view):
        """Upper arms and the flesh between neck and shoulder."""
        size, fat, top = self.size, self.child.fat, self.pose.centre[INDEX["T2"]]
        lateral = view == "lateral"
        for side in SIDES:
            shoulder, elbow = shoulder_and_elbow(self.child, self.pose, view, side)
            neck = (side * 60 * size, top[1] - 5 + (20 if lateral else 0), top[2] + 10 * size)
            self._limb(shoulder, elbow, 38 * size + fat * 0.4, 30 * size + fat * 0.4)
            self._limb(shoulder, neck, (30 if lateral else 36) * size, 22 * size)

    def _limb(self, start, end, start_radius, end_radius):
        """A round rod of water outside the lungs."""
        start, end = np.array(start), np.array(end)
        way = end - start
        from_start = (self.x - start[0], self.y - start[1], self.z - start[2])
        along = from_start[0] * way[0] + from_start[1] * way[1] + from_start[2] * way[2]
        part = np.clip(along / (way @ way), 0, 1).astype(F4)
        off_axis = np.sqrt((from_start[0] - part * way[0]) ** 2 + (from_start[1] - part * way[1]) ** 2
                           + (from_start[2] - part * way[2]) ** 2)
        limb = ramp(start_radius + (end_radius - start_radius) * part - off_axis, 3)
        self.density = np.maximum(self.density, limb * (self.lung <= 0.2))

    def add_head(self):
        """The head, an ellipsoid of water."""
        x, y, z = head_middle(self.child, self.pose)
        out = ((self.x - x) / 72) ** 2 + ((self.y - y) / 90) ** 2 + ((self.z - z) / 95) ** 2
        self.density = np.maximum(self.density, ramp((1 - np.sqrt(out)) * 72, 3))

    def cloud(self):
        """The cells that are not empty."""
        cells = np.nonzero(self.density > 0.02)
        points = np.stack([self.along_x[cells[0]], self.along_y[cells[1]], self.along_z[cells[2]]], 1)
        return points.astype(F4), (self.density[cells] * WATER * STEP ** 3).astype(F4)
