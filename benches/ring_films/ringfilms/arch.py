"""The arch behind a body: pedicles, laminae, articular, transverse and spinous processes (its own axes, mm)."""
import numpy as np

from .levels import C7, L3, L4, SIDES, T12
from .primitives import FORWARD, UP, joined, tube


def arch_cloud(child, body, level, rng):
    """The points of one arch."""
    size, height, back = child.size, body.height, -body.depth / 2
    cortex, core = 0.62 * child.density ** 0.5, 0.13 * child.density
    wall_share = 0.55 + 0.45 * size
    lumbar, cervical = level < T12, level >= C7
    clouds = []

    def rod(start, end, half_width, half_height, toward=UP, wall=0.7):
        clouds.append(tube([np.array(start), np.array(end)], half_width, half_height, toward, rng,
                           wall=wall * wall_share, cortex=cortex, core=core, cell=0.5))

    def chance(spread=0.6):
        return spread * size * rng.standard_normal()

    half_wide = np.interp(level, [1, 5, 7, 12, 16, 18, 23], [7.5, 4.2, 4.0, 2.6, 3.6, 2.9, 2.7]) * size
    half_tall = np.interp(level, [1, 5, 7, 12, 18, 23], [7.5, 7.6, 7.5, 5.4, 3.6, 3.4]) * size
    canal = np.interp(level, [1, 5, 12, 18, 23], [12.5, 11, 8.3, 11, 11]) * (0.3 + 0.7 * size)
    aside, z = canal + half_wide * 0.8, 0.17 * height
    for side in SIDES:
        x = side * aside
        rod((x * 0.97, back + 3 * size, z), (x * 1.04, back - 9 * size, z + 0.5), half_wide, half_tall, wall=0.9)
        joint = (x * 1.1, back - 12 * size, z)
        rod(joint, (x * (1.2 if lumbar else 1.0) + chance(), back - 13 * size, 0.5 * height + 6 * size),
            4.2 * size, 3.6 * size, FORWARD)
        rod(joint, (x * (1.0 if lumbar else 0.9) + chance(), back - 17 * size, -0.55 * height - 7 * size),
            4.5 * size, 3.4 * size, FORWARD)
        rod((x * 0.95, back - 14 * size, z - 0.15 * height), (side * 1.5 * size, back - 21 * size, -0.18 * height),
            2.2 * size, 0.36 * height)
        if lumbar:
            reach = 38 if level in (L3, L4) else 34
            rod((x * 1.1, back - 9 * size, z),
                (side * reach * size + chance(2), back - 13 * size, z + 1 + chance(1)), 2.4 * size, 4.2 * size)
        elif cervical:
            reach = 25 if level == C7 else 20
            rod((x * 0.9, back + 2 * size, 0), (side * reach * size, back - 7 * size, -1), 2.2 * size, 3.2 * size)
        elif level > T12 + 1:
            reach = np.interp(level, [8, 17], [25, 34])
            rod((x * 1.1, back - 13 * size, z),
                (side * reach * size + chance(), back - 20 * size, z + 0.22 * height + chance()),
                3.4 * size, 4.2 * size)
        else:
            rod((x * 1.1, back - 13 * size, z), (side * 20 * size, back - 17 * size, z), 3.2 * size, 4.0 * size)

    y = back - 19 * size
    if lumbar:
        rod((0, y, -0.22 * height), (rng.normal() * 0.8, y - 29 * size, -0.42 * height),
            2.6 * size, [9 * size, 10 * size, 9 * size])
    elif cervical:
        length = 30 if level == C7 else 18
        rod((0, y, -0.1 * height), (0, y - length * size, -0.5 * height), 2.4 * size, 3.6 * size)
    else:
        drop = np.interp(level, [6, 8, 11, 14, 17], [8, 16, 25, 20, 9]) * size
        rod((0, y, -0.2 * height), (rng.normal() * 1.2, y - 26 * size, -0.3 * height - drop),
            2.6 * size, [5.5 * size, 4.5 * size, 4.2 * size])
    return joined(clouds)
