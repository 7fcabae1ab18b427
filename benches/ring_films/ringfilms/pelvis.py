"""What hangs on S1: the rest of the sacrum, the hip bones and the upper ends of the thighs."""
import numpy as np
from scipy.ndimage import gaussian_filter1d

from .levels import SIDES
from .pose import bow
from .primitives import F4, FORWARD, UP, tube

# S2 to S5: width, depth and height of the body, reach of the wing.
LOWER_SACRUM = ((40, 22, 25, 34), (32, 17, 21, 30), (27, 13, 18, 22), (21, 10, 15, 8))
CREST = np.array([[44, -55, -22], [70, -45, 22], [104, -12, 46], [124, 30, 28], [122, 58, -8], [116, 62, -22]], float)
WING_POINTS = 360000


def pelvis(child, pose, rng):
    """Clouds of sacrum, hip bones and thighs; and by side the place of the hip joint."""
    clouds, hips = lower_sacrum(child, pose, rng), {}
    origin = pose.centre[0] + np.array([0, 0, child.height[0] / 2])
    scale = 0.15 + 0.85 * child.size
    for side in SIDES:
        clouds += sacral_wing(child, pose, side, rng)
        socket = origin + np.array([side * 86, 18, -92]) * scale
        roof = socket + np.array([-side * 10, -8, 22]) * scale
        clouds += ilium(child, origin, roof, side, scale, rng)
        clouds += hip_ring(child, origin, socket, roof, side, scale, rng)
        hips[side] = socket + np.array([side * 3, 3, -2]) * scale
        clouds += femur(child, hips[side], side, scale, rng)
    return clouds, hips


def lower_sacrum(child, pose, rng):
    """S2 to S5, each bent further back, with their wings."""
    clouds, size, cortex = [], child.size, child.density ** 0.5
    rotation = pose.rotation[0]
    middle = pose.centre[0] - rotation[:, 2] * child.height[0] * 0.5
    for below, (width, depth, height, wing) in enumerate(LOWER_SACRUM):
        rotation = rotation @ bow(np.radians(-(10 + 4 * below)))
        up = rotation[:, 2]
        middle = middle - up * height * size * 0.5
        half = up * height * size * 0.45
        clouds.append(tube([middle + half, middle - half], np.array([width, width * 0.8, width * 0.88]) * size * 0.5,
                           depth * size * 0.5, rotation[:, 1], rng, wall=0.6, cortex=0.5 * cortex,
                           core=0.13 * child.density, cell=0.55, caps=False))
        for side in SIDES:
            start = middle + rotation[:, 0] * side * width * 0.3 * size
            end = middle + rotation @ (np.array([side * (width * 0.45 + wing * 0.55), -6, 3]) * size)
            clouds.append(tube([start, end], 7 * size, height * size * 0.42, up, rng, wall=0.7, cortex=0.4 * cortex,
                               core=0.1 * child.density, cell=0.7))
        middle = middle - up * height * size * 0.55
    return clouds


def sacral_wing(child, pose, side, rng):
    """S1's wing and upper articular process."""
    size, cortex = child.size, child.density ** 0.5
    axes = pose.rotation[0]

    def place(x, y, z):
        return pose.place(0, np.array([side * x, y, z]) * size)

    return [
        tube([place(13, -4, 0), place(54, -14, -6)], np.array([11, 13, 10]) * size, np.array([8, 11, 15]) * size,
             axes[:, 2], rng, wall=0.8, cortex=0.35 * cortex, core=0.1 * child.density, cell=0.7),
        tube([place(20, -20, -2), place(18, -19, 15)], 5 * size, 4 * size, axes[:, 1], rng, cortex=0.6 * cortex,
             cell=0.6),
    ]


def ilium(child, origin, roof, side, scale, rng):
    """The wing of a hip bone, a curved plate from above the socket to the crest, and the crest."""
    size, cortex = child.size, child.density ** 0.5
    places = np.linspace(0, 1, 24)
    knots = CREST * scale * np.array([side, 1, 1])
    crest = np.array([np.interp(places, np.linspace(0, 1, len(knots)), knots[:, axis]) for axis in range(3)]).T
    crest = gaussian_filter1d(crest, 1.5, axis=0, mode="nearest") + origin
    along, out = rng.random(WING_POINTS), np.sqrt(rng.random(WING_POINTS))
    on_crest = np.array([np.interp(along, places, crest[:, axis]) for axis in range(3)]).T
    points = roof + out[:, None] * (on_crest - roof)
    points[:, 0] -= side * 8 * scale * np.sin(np.pi * out)
    thick = (3 + 6 * out ** 6 + 5 * (1 - out)) * size
    layer = rng.uniform(-1, 1, WING_POINTS)
    points[:, 0] += layer * thick / 2 * 0.9 * side
    points[:, 1] -= layer * thick / 2 * 0.4
    area = 0.5 * 170 * 105 * scale ** 2
    density = np.where(np.abs(layer) > 1 - 1.4 / thick, 0.55 * cortex, 0.1 * child.density)
    return [
        (points.astype(F4), (density * area * thick / WING_POINTS).astype(F4)),
        tube(crest, 4.5 * size, 5 * size, UP, rng, wall=0.9, cortex=0.45 * cortex, core=0.12, cell=0.7),
    ]


def hip_ring(child, origin, socket, roof, side, scale, rng):
    """Inner line, pubis, ischium and the rim of the socket."""
    size, cortex = child.size, child.density ** 0.5
    joint = origin + np.array([side * 50, -32, -38]) * scale
    pubis = origin + np.array([side * 10, 72, -112]) * scale
    ischium = origin + np.array([side * 58, -8, -150]) * scale
    around = np.linspace(-0.2, np.pi + 0.2, 20)
    rim = socket + np.c_[side * (-25 * np.cos(around) * 0.9), 0 * around, 25 * np.sin(around)] * scale
    rods = (
        ([joint, roof], 8, 10, UP, 1.2, 0.5, 0.12),
        ([socket + np.array([-side * 18, 0, 10]) * scale, pubis], 6, 8, UP, 1, 0.5, 0.12),
        ([socket + np.array([-side * 12, -14, -6]) * scale, ischium], 9, 11, FORWARD, 1, 0.5, 0.13),
        ([ischium, pubis], 5, 7, UP, 1, 0.45, 0.12),
        (rim, 4, 12, FORWARD, 1, 0.5, 0.15),
    )
    return [tube(path, half_width * size, half_height * size, toward, rng, wall=wall, cortex=hard * cortex, core=core,
                 cell=0.7) for path, half_width, half_height, toward, wall, hard, core in rods]


def femur(child, head, side, scale, rng):
    """Head, neck and the upper part of the shaft."""
    size, cortex = child.size, child.density ** 0.5
    trochanter = head + np.array([side * 48, -12, -30]) * scale
    shaft = trochanter + np.array([-side * 12, 0, -190]) * scale
    along = trochanter - head
    wide = np.array([17, 13, 13]) * size
    return [
        tube([head - 0.27 * along, head + 0.35 * along], 22 * size, 22 * size, FORWARD, rng, wall=0.8,
             cortex=0.45 * cortex, core=0.2 * child.density, cell=0.8),
        tube([head, trochanter], np.array([14, 14, 17]) * size, np.array([14, 13, 17]) * size, FORWARD, rng, wall=1.3,
             cortex=0.5 * cortex, core=0.15, cell=0.8),
        tube([trochanter, shaft], wide, wide, FORWARD, rng, wall=4 * size, cortex=0.75 * cortex, core=0.05, cell=0.6),
    ]
