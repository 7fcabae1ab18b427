"""The sacrum below and beside the body of S1, as a cloud in the axes of S1 (mm, 1/mm)."""
import numpy as np
from scipy.interpolate import CubicSpline

from .levels import SIDES
from .primitives import F4, Rod, joined, rods_cloud, ruled_surface, unit_cells

WING_CELLS = (170, 110, 22)         # along the height, from the middle to the side, through the thickness
HOLES = (0.27, 0.5, 0.7, 0.86)      # the openings of each side, parts of the height
TURNS = (0.14, 0.10, -0.15, -0.4)   # bend at each lower segment (radians)


def sacrum(child):
    """Cloud of the lower segments, the crest behind them and both wings."""
    wings = [wing(child, side) for side in SIDES]
    rods = segment_rods(child) + [crest_rod(child)]
    middle = rods_cloud(rods, 0.65, 1.1, child.cortex * 0.5, child.spongy * 0.6, child.rng)
    return joined([middle] + wings)


def segment_rods(child):
    """S2 to S5, each smaller and turned against the one above."""
    size, half = child.size, child.width[0] / 2
    rods = []
    y, z = 0.0, -child.height[0] / 2
    lean = -0.05
    for k, turn in enumerate(TURNS):
        length = (22 - 3.5 * k) * size
        lean += turn
        next_y, next_z = y - np.sin(lean) * length, z - np.cos(lean) * length
        wide = half * (0.60 - 0.11 * k)
        rods.append(Rod((0, y - 2 * np.sin(lean), z - 1), (0, next_y, next_z + 2), (1, 0, 0),
                        (wide, (11 - 2 * k) * size), (wide * 0.85, (9.5 - 2 * k) * size)))
        y, z = next_y, next_z
    return rods


def crest_rod(child):
    """The row of spinous processes behind."""
    size, depth, height = child.size, child.depth[0], child.height[0]
    return Rod((0, -depth / 2 - 17 * size, -0.1 * height), (0, -depth / 2 - 34 * size, -2.6 * height), (1, 0, 0),
               (3 * size, 4 * size), (3 * size, 3 * size))


def wing(child, side):
    """Cloud of one wing: a thick plate between a curve near the middle and one at the side, with four holes."""
    size, rng = child.size, child.rng

    def curve(*places):
        """Smooth curve from the top down, x outward."""
        points = [np.array([side * x * size, y * size, z * size]) for x, y, z in places]
        return CubicSpline([0, 0.35, 0.7, 1], points)

    inner = curve((16, -2, 8), (15, -9, -26), (10, -24, -58), (3, -30, -84))
    outer = curve((50, -8, -1), (47, -22, -28), (30, -36, -58), (8, -32, -86))
    u, v, through = unit_cells(WING_CELLS, 3, rng)
    u = np.clip(u, 0, 1)
    points, normal, area = ruled_surface(inner, outer, u, v)
    normal /= area[:, None] + 1e-9
    thickness = (20 - 11 * u) * (1 - 0.25 * v) * size
    points = points + normal * ((through - 0.5) * thickness)[:, None]
    hole = np.zeros(len(u), bool)
    for height in HOLES:
        hole |= np.hypot((u - height) * 95, (v - 0.22) * 30) < 4.2
    cortex = (np.minimum(through, 1 - through) * thickness < 0.9) | (v > 0.975) | (u < 0.012)
    attenuation = np.where(cortex, child.cortex * 0.6, child.spongy * 0.7) \
        * (1 + 0.35 * rng.standard_normal(len(u)).clip(-2, 2))
    attenuation[hole] *= 0.15
    return points.astype(F4), (attenuation * area * thickness / np.prod(WING_CELLS)).astype(F4)
