"""The head's bones: vault, base, jaw and teeth."""
import numpy as np

from .levels import C2, SIDES
from .primitives import F4, FORWARD, UP, tube

VAULT_POINTS = 350000
VAULT_RADII = np.array([72, 92, 78])


def skull(child, pose, rng):
    """Clouds of the head's bones; and middle and radii of the head (mm)."""
    scale = 0.55 + 0.45 * min(1, child.size + 0.12)
    base = pose.place(C2, np.array([0, 0, child.height[C2] * 0.8]))
    middle, radii = base + np.array([0, 22, 78]) * scale, VAULT_RADII * scale

    outward = rng.standard_normal((VAULT_POINTS, 3))
    outward /= np.linalg.norm(outward, axis=1)[:, None]
    points = middle + outward * radii * (1 + rng.uniform(-0.03, 0.03, VAULT_POINTS))[:, None]
    volume = 4 * np.pi * (80 * scale) ** 2 * 4.5
    clouds = [(points.astype(F4), np.full(VAULT_POINTS, volume * 0.6 / VAULT_POINTS, F4))]

    floor = np.array([[-52, 2, 10], [52, 2, 10]]) * scale + base
    clouds.append(tube(floor, 12 * scale, 9 * scale, UP, rng, cortex=0.6, core=0.2, cell=0.8))

    around = np.linspace(0, np.pi, 25)
    chin = base + np.array([0, 78, -22]) * scale
    jaw = chin + np.c_[46 * np.cos(around), 62 * np.sin(around) - 62, 0 * around] * scale
    clouds.append(tube(jaw, 5 * scale, np.array([14, 12, 15, 12, 14]) * scale, UP, rng, wall=1.8, cortex=0.7, core=0.2,
                       cell=0.8))
    for side in SIDES:
        corner = jaw[0 if side > 0 else -1]
        clouds.append(tube([corner, base + np.array([side * 50, 16, 22]) * scale], 5 * scale, 14 * scale, FORWARD, rng,
                           wall=1.5, cortex=0.7, core=0.2, cell=0.8))
    teeth = jaw[5:20] + np.array([0, -4, 20]) * scale
    clouds.append(tube(teeth, 4 * scale, 8 * scale, UP, rng, wall=9, cortex=0.8, core=0.8, cell=0.8))
    return clouds, (middle, radii)
