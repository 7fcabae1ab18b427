"""Ribs, and everything bony beside the spine together, as clouds in the world (mm, 1/mm)."""
import numpy as np
from scipy.interpolate import CubicSpline

from .girdles import arm_rods, hip_rods, ilium, jaw, scapula_blade, scapula_rods, skull, sternum_rod
from .levels import INDEX, SIDES
from .pose import frame
from .primitives import rods_cloud, tube_cloud

# By rib, first to twelfth: half breadth and half depth of its ring, and how far its front lies below its back.
HALF_BREADTH = np.array([44, 62, 76, 87, 95, 101, 106, 109, 110, 107, 100, 90])
HALF_DEPTH = np.array([38, 50, 60, 68, 75, 81, 86, 90, 90, 86, 80, 74])
FALL = np.array([22, 38, 52, 62, 70, 76, 80, 84, 86, 82, 62, 40])
FRONT_END = {11: 100, 12: 65}       # where a rib's bone ends, degrees from the back; floating ribs are short
USUAL_FRONT_END = 142


def other_bones(child, pose, view):
    """Clouds of cage, shoulders, pelvis and head.  They share one row of draws, the same at every stage."""
    rng = np.random.default_rng(child.trunk_seed)
    clouds = [rib(child, pose, number, side, rng) for number in range(1, 13) for side in SIDES]
    rods = []
    for side in SIDES:
        rods += arm_rods(child, pose, view, side)
        rods += scapula_rods(child, pose, view, side)
        rods += hip_rods(child, pose, side)
        clouds.append(scapula_blade(child, pose, view, side, rng))
        clouds.append(ilium(child, pose, side, rng))
    rods.append(sternum_rod(child, pose))
    clouds.append(rods_cloud(rods, 0.8, 1.3, child.cortex * 0.62, child.spongy * 0.5, rng))
    clouds.append(skull(child, pose, rng))
    clouds.append(jaw(child, pose, rng))
    return clouds


def rib(child, pose, number, side, rng):
    """Cloud of one rib."""
    size = child.size
    path = rib_path(child, pose, number, side)
    distance = np.r_[0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))]
    curve = CubicSpline(distance, path)
    places = np.arange(0, distance[-1], 0.6)
    tall = 5.6 * size + 0.4 if number > 1 else 6.5 * size
    return tube_cloud(curve(places), curve(places, 1), (2.7 * size + 0.4, tall), 0.55, 0.8,
                      child.cortex * 0.85, child.spongy * 0.7, rng)


def rib_path(child, pose, number, side):
    """Points from a rib's head over its tubercle (not the floating ribs) to the front end of its bone."""
    level = INDEX[f"T{number}"]
    floating = number >= 11
    size, width, depth, height = child.size, child.width[level], child.depth[level], child.height[level]
    head = pose.place(level, np.array([side * (width / 2 + 0.5), -depth / 2 + 4, height / 2 - 2]))
    path = [head]
    if not floating:
        tip = child.transverse[level] - 1
        path.append(pose.place(level, np.array([side * tip, -depth / 2 - 19 * size, 0.25 * height])))
    path.append(rib_ring(child, pose, number, side))
    return np.vstack(path)


def rib_ring(child, pose, number, side):
    """Points of a rib's ring, every 15 degrees from the back; the ring follows its vertebra's tilts in part."""
    level, k = INDEX[f"T{number}"], number - 1
    size = child.size
    breadth = (HALF_BREADTH * size * child.build)[k]
    deep = (HALF_DEPTH * size)[k]
    fall = (FALL * size)[k]
    middle_x = -0.35 * pose.centre[level, 0]        # the cage stays nearer the midline than the spine
    middle_y = deep - 24 * size - child.depth[level] / 2
    start = 24 if number >= 11 else 32
    angle = np.deg2rad(np.arange(start, FRONT_END.get(number, USUAL_FRONT_END) + 1, 15))
    x = side * breadth * np.sin(angle) + middle_x * np.sin(angle)
    y = middle_y - deep * np.cos(angle)
    z = -fall * ((1 - np.cos(angle)) / 2) ** 0.8 + 4
    turn = frame(0.45 * pose.coronal[level], 0.25 * pose.sagittal[level], 0.55 * pose.axial[level])
    return pose.centre[level] + np.stack([x, y, z], 1) @ turn.T
