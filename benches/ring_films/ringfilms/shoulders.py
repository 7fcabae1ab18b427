"""Shoulder girdle and upper arms; on a lateral film the arms are held forward."""
import numpy as np

from .levels import SIDES
from .primitives import F4, FORWARD, UP, tube

BLADE_POINTS = 120000


def shoulders(child, chest, manubrium, view, rng):
    """Clouds of clavicles, scapulae and humeri; and by side the places of the shoulder joint and the elbow."""
    size = child.size
    lateral = view == "lateral"
    z = chest.z_t1 - 4 * size
    x, y = chest.spine_x(z) * 0.8 + 0.2 * chest.aside, chest.spine_y(z)
    clouds, joints, elbows = [], {}, {}
    for side in SIDES:
        raised = rng.normal() * 6 * size
        acromion = np.array([x + side * 142 * size, y + 10 * size, z + raised])
        if lateral:
            acromion = acromion + np.array([-side * 3.2 * size, 8 * size, 0])
        clouds.append(clavicle(child, manubrium + np.array([side * 16, 2, 4]) * size, acromion, rng))
        socket = acromion + np.array([-side * 10, 2, -28]) * size
        joints[side] = socket + np.array([side * 18 * size, 0, 0])
        lower = np.array([x + side * (112 if lateral else 92) * size, y - 38 * size, z - 135 * size + raised])
        upper = np.array([x + side * 68 * size, y - 42 * size, z - 12 * size + raised])
        clouds += scapula(child, socket, lower, upper, acromion, rng)
        if lateral:
            reach = np.array([side * rng.uniform(-10, 10) * size, 240 * size,
                              -60 * size + side * 25 * size + rng.normal() * 15 * size])
        else:
            reach = np.array([side * 38, 5, -270]) * size
        elbows[side] = joints[side] + reach
        clouds += humerus(child, joints[side], reach, rng)
    return clouds, joints, elbows


def clavicle(child, start, end, rng):
    """The S of a clavicle."""
    size, t = child.size, np.linspace(0, 1, 12)
    path = start + (end - start) * t[:, None]
    path[:, 1] += 12 * size * np.sin(2 * np.pi * t)
    path[:, 2] += 8 * size * np.sin(np.pi * t)
    return tube(path, np.array([6, 4.6, 5.5]) * size, np.array([6, 4.6, 4]) * size, UP, rng, wall=1.1,
                cortex=0.7 * child.density ** 0.5, core=0.1 * child.density, cell=0.6)


def scapula(child, socket, lower, upper, acromion, rng):
    """A thin triangular blade with its borders, spine and socket."""
    size, cortex = child.size, child.density ** 0.5
    u, v = rng.random(BLADE_POINTS), rng.random(BLADE_POINTS)
    beyond = u + v > 1
    u[beyond], v[beyond] = 1 - u[beyond], 1 - v[beyond]
    points = socket + u[:, None] * (lower - socket) + v[:, None] * (upper - socket)
    from_edge = np.minimum(np.minimum(u, v), 1 - u - v)
    points[:, 1] -= 10 * size * np.minimum(from_edge * 6, 1)
    normal = np.cross(lower - socket, upper - socket)
    area = np.linalg.norm(normal) / 2
    normal /= 2 * area
    points += normal * (rng.uniform(-1.2, 1.2, BLADE_POINTS) * size)[:, None]
    blade = np.full(BLADE_POINTS, area * 2.0 * size * 0.32 * cortex / BLADE_POINTS, F4)
    height = np.array([0, 0, 16 * size])
    return [
        (points.astype(F4), blade),
        tube([socket, lower], 3.5 * size, 4.5 * size, normal, rng, cortex=0.55 * cortex, core=0.12, cell=0.7),
        tube([lower, upper], 2 * size, 2.5 * size, normal, rng, cortex=0.5 * cortex, core=0.12, cell=0.7),
        tube([upper * 0.6 + lower * 0.4, acromion + np.array([0, -8 * size, 0])], 3 * size,
             np.array([3, 7, 6]) * size, FORWARD, rng, cortex=0.5 * cortex, core=0.12, cell=0.7),
        tube([socket + height, socket - height], 5 * size, 9 * size, FORWARD, rng, cortex=0.5 * cortex, core=0.13,
             cell=0.7),
    ]


def humerus(child, head, reach, rng):
    """Head and shaft of an upper arm that goes from its head by `reach`."""
    size, cortex, toward = child.size, child.density ** 0.5, np.array([1.0, 0, 0.3])
    shaft = np.array([15, 11, 10, 10]) * size
    return [
        tube([head - 0.06 * reach, head + 0.09 * reach], 21 * size, 21 * size, toward, rng, wall=0.7,
             cortex=0.4 * cortex, core=0.15 * child.density, cell=0.8),
        tube([head, head + reach], shaft, shaft, toward, rng, wall=3.2 * size, cortex=0.75 * cortex, core=0.04,
             cell=0.6),
    ]
