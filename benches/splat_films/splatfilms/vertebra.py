"""One vertebra as a cloud in its own axes: body and arch (mm, 1/mm)."""
import numpy as np

from .levels import LEVELS, SIDES, SPINOUS_DROP
from .primitives import F4, Rod, blurred_noise, jittered, joined, union_depth
from .sacrum import sacrum

BODY_STEP = 0.42
ARCH_STEP = 0.52


def vertebra(child, level):
    """Cloud of a whole vertebra; S1 with the rest of the sacrum."""
    clouds = [body(child, level), arch(child, level)]
    if LEVELS[level] == "S1":
        clouds.append(sacrum(child))
    return joined(clouds)


def body(child, level):
    """Cloud of a vertebral body: wall, plates, rim, and spongy bone with a texture."""
    x, y, z = body_cells(child, level)
    radius = outline_radius(child, level, x, y)
    side, cap = body_depths(child, level, x, y, z, radius)
    edge = child.edge
    near_rim = (side < edge) & (cap < edge)
    rounded = edge - np.hypot(np.minimum(side - edge, 0), np.minimum(cap - edge, 0))
    depth = np.where(near_rim, rounded, np.minimum(side, cap))
    attenuation = body_attenuation(child, depth, side, cap)
    inside = depth > 0
    points = np.stack([x[inside], y[inside], z[inside]], 1)
    return points, (attenuation[inside] * BODY_STEP ** 3).astype(F4)


def plate_slopes(child, level):
    """Fall of the upper plate to the right and to the front (mm per mm); the lower plate mirrors it."""
    return np.tan(child.wedge_right[level] / 2), np.tan(child.wedge_front[level] / 2)


def body_cells(child, level):
    """Jittered coordinates of a box of cells about the body."""
    width, depth, height = child.width[level], child.depth[level], child.height[level]
    fall_right, fall_front = plate_slopes(child, level)
    top = height / 2 + abs(fall_right) * width / 2 + abs(fall_front) * depth / 2 + 1
    grid = np.meshgrid(np.arange(-width / 2 - 1, width / 2 + 1, BODY_STEP),
                       np.arange(-depth / 2 - 1, depth / 2 + 1, BODY_STEP),
                       np.arange(-top, top, BODY_STEP), indexing="ij")
    return [jittered(axis, BODY_STEP, child.rng) for axis in grid]


def outline_radius(child, level, x, y):
    """Where a point lies in the body's outline seen from above: 0 in the middle, 1 on the outline."""
    width, depth = child.width[level], child.depth[level]
    back = depth / 2 - child.hollow[level] * np.exp(-(x / (0.26 * width)) ** 2)
    aside = np.abs(x) / (width / 2)
    front_power = 1.95 if LEVELS[level][0] == "T" else 2.25
    back_power = 3.0
    front_radius = (aside ** front_power + (np.abs(y) / (depth / 2)) ** front_power) ** (1 / front_power)
    back_radius = (aside ** back_power + (np.abs(y) / back) ** back_power) ** (1 / back_power)
    return np.where(y > 0, front_radius, back_radius)


def body_depths(child, level, x, y, z, radius):
    """Depths (inside +) under the body's wall and under the nearer plate."""
    width, depth = child.width[level], child.depth[level]
    fall_right, fall_front = plate_slopes(child, level)
    plate = child.height[level] / 2 - fall_right * x - fall_front * y
    rise = np.clip(z / np.maximum(plate, 1), -1, 1)
    waist = child.waist * (1 - np.abs(rise) ** 2.2)
    if LEVELS[level] == "S1":       # tapers downward instead
        waist = waist * 0.4 + 0.16 * np.clip(-rise, 0, 1) + np.where(rise < 0, 0.05, 0)
    half = 0.5 * np.minimum(width, depth)
    side = (1 - waist - radius) * half * 1.1
    hollow = child.cup * (1.25 if LEVELS[level][0] == "L" else 0.8)
    cup = hollow * np.clip(1 - (radius / 0.86) ** 2.4, 0, 1) * (1 - 0.25 * y / (depth / 2))
    upper, lower = plate - cup - z, z + plate - cup
    return side, np.minimum(upper, lower)


def body_attenuation(child, depth, side, cap):
    """Attenuation by depth under the surface, under the wall (side) and under the plates (cap)."""
    coarse = blurred_noise(depth.shape, (1.6, 1.6, 3.0), child.rng)
    fine = blurred_noise(depth.shape, (0.9, 0.9, 1.6), child.rng)
    texture = 1 + child.grain * (coarse * 0.55 + fine * 0.5)
    value = child.spongy * np.clip(texture, 0.1, 4) * (1 + 0.5 * np.exp(-cap / 1.8))
    at_wall = side < cap
    shell = depth < np.where(at_wall, child.wall_thickness, child.plate_thickness)
    value = np.where(shell, np.where(at_wall, child.cortex * 0.85, child.plate), value)
    ring = (side < 2.2) & (cap < 1.3)       # the rim is thicker
    return np.where(ring, np.maximum(value, child.plate), value)


class Arch:
    """Measures of a vertebra's arch (mm): places that several of its parts share."""

    def __init__(self, child, level):
        name = LEVELS[level]
        self.child, self.level, self.size = child, level, child.size
        self.number = int(name[1:])
        self.sacral = name == "S1"
        self.lumbar = name[0] == "L" or self.sacral
        self.cervical = name[0] == "C"
        self.thoracic = name[0] == "T"
        self.width, self.height = child.width[level], child.height[level]
        self.pedicle = child.pedicle[level]
        wider = 3 if name in ("L5", "S1") or self.cervical else 0
        self.aside = min(child.canal[level] / 2 + self.pedicle / 2, self.width / 2 - 0.6 * self.pedicle / 2 + wider)
        self.back = -child.depth[level] / 2                 # back of the body
        self.joint = self.back - 10 * self.size - 1         # middle of the joints
        self.canal_depth = 16 * (self.size * 0.5 + 0.5)
        self.lamina_z = -0.28 * self.height                 # where the laminae meet


def arch(child, level):
    """Cloud of pedicles, joints, laminae and processes, together one solid."""
    measures = Arch(child, level)
    size, cortex, spongy, rng = child.size, child.cortex, child.spongy, child.rng
    low, high = arch_box(measures)
    depth = union_depth(arch_rods(measures), low, high, ARCH_STEP)
    cells = np.nonzero(depth > 0)
    depth = depth[cells]
    points = (np.stack(cells, 1) * ARCH_STEP + low).astype(F4)
    points = points + (rng.random((len(depth), 3), dtype=F4) - 0.5) * ARCH_STEP
    in_body = (np.abs(points[:, 0]) < measures.width / 2 - 1) \
        & (points[:, 1] > measures.back + child.hollow[level] + 0.8) \
        & (np.abs(points[:, 2]) < measures.height / 2)
    texture = np.clip(1 + 0.35 * rng.standard_normal(len(depth)), 0.2, 3)
    attenuation = np.where(depth < 1.25 * (size * 0.5 + 0.5), cortex * 0.8, spongy * 1.05 * texture)
    return points[~in_body], (attenuation * ARCH_STEP ** 3).astype(F4)[~in_body]


def arch_box(m):
    """Two corners of a box about the arch."""
    half = max(m.child.transverse[m.level], m.aside) + 8
    spine = m.child.spinous[m.level]
    spine_y = m.back - m.canal_depth - 1.5
    low = np.array([-half, spine_y - spine - 9, -m.height * 1.2 - spine * np.sin(SPINOUS_DROP[m.level]) - 8])
    return low, np.array([half, m.back + 6, m.height * 1.0 + 8])


def arch_rods(m):
    """All rods of the arch.  Of S1 only the laminae: its other parts belong to the sacrum."""
    rods = []
    normal = m.child.rng.standard_normal
    for side in SIDES:
        stout = 1 + 0.06 * normal()
        pedicle_x = m.aside * (1 + 0.02 * normal())
        if not m.sacral:
            rods.append(pedicle_rod(m, side, stout, pedicle_x))
            rods += joint_rods(m, side)
        rods.append(lamina_rod(m, side))
        tip = m.child.transverse[m.level] * (1 + 0.04 * normal())
        rods += transverse_rods(m, side, tip)
    if not m.sacral:
        rods.append(spinous_rod(m))
    return rods


def pedicle_rod(m, side, stout, x):
    """From the body to the joints; x of its axis."""
    high = (0.54 if m.lumbar else 0.56) * m.height * stout
    z = (0.05 if m.cervical else 0.17) * m.height
    radii = (m.pedicle / 2 * stout, high / 2)
    return Rod((side * x * 0.97, m.back + 2.5, z), (side * x, m.back - 9 * m.size, z + 0.3), (1, 0, 0), radii, radii)


def joint_rods(m, side):
    """Upper and lower joint process."""
    x, y, h, s = m.aside, m.joint, m.height, m.size
    if m.lumbar:
        return [Rod((side * (x + 1.5), y - 1, 0.15 * h), (side * (x + 3), y - 2, 0.68 * h), (1, 0, 0),
                    (4.6 * s, 5.2 * s), (3.6 * s, 4.6 * s)),
                Rod((side * (x - 0.5), y - 4, -0.15 * h), (side * (x - 1.5), y - 6, -0.80 * h), (1, 0, 0),
                    (4.6 * s, 4 * s), (4.0 * s, 4.2 * s))]
    return [Rod((side * (x - 0.2), y, 0.1 * h), (side * (x - 0.5), y - 1, 0.66 * h), (1, 0, 0),
                (5 * s, 3 * s), (4.2 * s, 2.2 * s)),
            Rod((side * (x - 1), y - 2, -0.1 * h), (side * (x - 1.5), y - 3.5, -0.72 * h), (1, 0, 0),
                (5 * s, 3 * s), (4.2 * s, 2.2 * s))]


def lamina_rod(m, side):
    """From a joint to the midline behind the canal."""
    h, s = m.height, m.size
    return Rod((side * (m.aside - 0.5), m.joint - 2, -0.08 * h), (0, m.back - m.canal_depth - 2.5, m.lamina_z),
               (0, 0, 1), (0.42 * h, 2.6 * s), (0.40 * h, 3.0 * s))


def transverse_rods(m, side, tip):
    """Transverse process, its tip at x = tip; in the neck also the uncinate process on the body's edge."""
    x, y, h, s = m.aside, m.joint, m.height, m.size
    if m.thoracic:
        low = m.number >= 11        # short and level at the last two
        end = (side * tip, y - (8 if low else 13) * s, (0.1 if low else 0.30) * h)
        return [Rod((side * (x + 1), y - 1, 0.12 * h), end, (0, 0, 1), (5.2 * s, 4 * s), (4.4 * s, 4.0 * s))]
    if m.cervical:
        return [Rod((side * (x - 1), m.back + 1, 0.0), (side * tip, m.back - 5 * s, -0.05 * h), (0, 0, 1),
                    (4 * s, 3.5 * s), (4 * s, 3.5 * s)),
                Rod((side * (m.width / 2 - 1.5), -1, h / 2 - 1), (side * (m.width / 2 - 0.5), -3, h / 2 + 2.5 * s),
                    (0, 1, 0), (4 * s, 1.8 * s), (3 * s, 1.2 * s))]
    if m.sacral:
        return []
    return [Rod((side * (x + 1), y + 2, 0.10 * h), (side * tip, y - 3, 0.12 * h + 2 * s), (0, 0, 1),
                (6.0 * s, 3 * s), (3.8 * s, 1.8 * s))]


def spinous_rod(m):
    """Spinous process: tall and level in the loins, slender and steep in the chest."""
    drop, length, s = SPINOUS_DROP[m.level], m.child.spinous[m.level], m.size
    y = m.back - m.canal_depth - 1.5
    tall = (8.5 if m.lumbar else 5.2) * s
    end = (0, y - length * np.cos(drop), m.lamina_z - length * np.sin(drop))
    return Rod((0, y, m.lamina_z), end, (1, 0, 0), (2.4 * s, tall), (2.6 * s, tall * (0.95 if m.lumbar else 0.65)))
