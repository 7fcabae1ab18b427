"""Form of lungs, diaphragm, heart, great vessels and airways on the cells of a `trunk.Trunk` (mm)."""
from functools import reduce

import numpy as np

from .levels import SIDES
from .primitives import F4, ramp


def domes(trunk):
    """Heights of the left and of the right dome of the diaphragm."""
    right = trunk.level_z("T10") + trunk.child.breath + 22 * trunk.size
    return right - 10 * trunk.size, right


def diaphragm(trunk, dome):
    """Height of the diaphragm over every x and y: two domes, falling off to all sides and most to the back."""
    size = trunk.size
    ahead = trunk.own_y - trunk.middle_y - 12 * size
    steepness = np.where(trunk.own_y < trunk.middle_y + 12 * size, 1.5, 0.6)

    def surface(top, x):
        """One dome, its top at this x."""
        aside = ((trunk.own_x - x) / (52 * size)) ** 2 * 16 * size
        return top - aside - (ahead / (60 * size)) ** 2 * 34 * size * steepness

    left, right = dome
    return np.where(trunk.own_x > 0, surface(right, 55 * size), surface(left, -55 * size))


def lung_depth(trunk):
    """Depth under the lungs' surface (about, inside +): inside the chest, above the diaphragm, below the apex,
    and outside mediastinum, spine, heart and aortic arch."""
    top = trunk.level_z("T1") - 4 * trunk.size + 15 * trunk.size
    limits = [
        inside_chest(trunk),
        (trunk.z - trunk.floor) * 0.9,
        top - trunk.z,
        outside_mediastinum(trunk),
        outside_spine(trunk),
        outside_heart(trunk),
        outside_arch(trunk),
    ]
    return reduce(np.minimum, limits)


def inside_chest(trunk):
    """Depth under the chest's inner wall."""
    size, fat = trunk.size, trunk.child.fat
    half_width = (trunk.half_width - fat * 0.6 - 14 * size).astype(F4)
    half_depth = (trunk.half_depth - fat * 0.5 - 13 * size).astype(F4)
    out = (trunk.own_x / half_width) ** 2 + ((trunk.own_y - trunk.middle_y - 4) / half_depth) ** 2
    return (1 - np.sqrt(out)) * trunk.radius


def outside_mediastinum(trunk):
    """Distance from the mediastinum: narrow before the spine, widest 30 mm further forward, a wavy border."""
    size = trunk.size
    wave = np.sin((trunk.along_z - trunk.spine_z[0]) / (45 * size) + trunk.rng.uniform(0, 6))
    middle_x = (trunk.smooth_x * 0.35).astype(F4) + (5 * size * wave).astype(F4)
    ahead = trunk.own_y - trunk.spine_y
    middle_x = middle_x * np.exp(-(np.maximum(ahead, 0) / (45 * size)) ** 2)
    half = size * (3 + 15 * np.exp(-((ahead - 30 * size) / (20 * size)) ** 2))
    return np.minimum(np.abs(trunk.own_x - middle_x) - half, 60 * size)


def outside_spine(trunk):
    """Distance from the spine, which with its arches reaches further back than forward."""
    ahead = np.where(trunk.spine_front < 0, trunk.spine_front * 0.55, trunk.spine_front * 0.9)
    half = (trunk.by_height(trunk.child.width) / 2 + 2.5).astype(F4)
    return np.hypot(trunk.spine_right, ahead) - half


def outside_heart(trunk):
    """Distance from the heart, to the left of the midline at T8."""
    size = trunk.size
    x, y, z = -24 * size, 16 * size, trunk.level_z("T8") + trunk.child.breath * 0.5
    out = ((trunk.own_x - x) / (54 * size)) ** 2 + ((trunk.own_y - trunk.middle_y - y) / (44 * size)) ** 2 \
        + ((trunk.z - z) / (50 * size)) ** 2
    return (np.sqrt(out) - 1) * 45 * size


def outside_arch(trunk):
    """Distance from the aortic arch, left of the midline at T4."""
    size = trunk.size
    ring = np.hypot(trunk.own_x + 20 * size, (trunk.z - trunk.level_z("T4")) * 0.8) - 15 * size
    return ring + np.abs(trunk.own_y - trunk.spine_y - 22 * size) * 0.2


def airway_parts(trunk):
    """Trachea down to T5, then the two main bronchi: pairs of (1 in the air, 0 outside; part of density lost)."""
    size, fork = trunk.size, trunk.level_z("T5")
    ahead = trunk.own_y - trunk.spine_y - trunk.by_height(trunk.child.depth).astype(F4) / 2 - 14 * size
    trachea = ramp(7.5 * size - np.hypot(trunk.own_x, ahead), 3) * ramp(trunk.z - fork, 6)
    yield trachea, 0.92
    spread = np.clip((fork - trunk.z) / (30 * size), 0, 1)
    beside_fork = (trunk.z < fork) & (trunk.z > fork - 30 * size)
    for side in SIDES:
        off_axis = np.hypot(trunk.own_x - side * 28 * size * spread, ahead)
        yield ramp(5.5 * size - off_axis, 3) * beside_fork, 0.85
