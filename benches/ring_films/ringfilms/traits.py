"""What is drawn first about a child: age, curves, kyphosis, congenital wedges, fat."""
from dataclasses import dataclass

import numpy as np

from .levels import T12

PATTERNS = ("thoracic", "thoracolumbar", "double")
PATTERN_SHARES = (0.5, 0.28, 0.22)
LARGEST = {"thoracic": 120, "thoracolumbar": 105, "double": 85}     # degrees
WEDGED_SHARE = 0.3


@dataclass
class Traits:
    """Curves are (lower end, upper end, degrees), convex right +; wedges map a level to (coronal, sagittal) degrees."""

    age: float
    pattern: str
    curves: list
    kyphosis: float
    fat: float
    wedges: dict


def draw_traits(rng):
    """Traits of a random child."""
    pattern = str(rng.choice(PATTERNS, p=PATTERN_SHARES))
    age = round(rng.uniform(4, 17), 1)
    curves = draw_curves(pattern, rng)
    kyphosis = 20 + 80 * rng.random() ** 1.5        # mostly moderate
    return Traits(age, pattern, curves, kyphosis, rng.uniform(0.6, 1.9), draw_wedges(curves[0][2], rng))


def draw_curves(pattern, rng):
    """The structural curves of a pattern, the main one first; thoracic curves are mostly convex right."""
    angle = rng.uniform(20, LARGEST[pattern])
    usual = 1 if rng.random() < 0.75 else -1
    if pattern == "thoracolumbar":
        return [(rng.uniform(1, 2.5), rng.uniform(9.5, 12), -usual * angle)]
    if pattern == "thoracic":
        return [(rng.uniform(4, 6), rng.uniform(12, 13.7), usual * angle)]
    lower = rng.uniform(6, 7.5)
    main = (lower, rng.uniform(13, 14), usual * angle)
    lumbar = (rng.uniform(1, 2), lower, -usual * angle * rng.uniform(0.7, 0.95))
    # Without a curve below the lumbar one the trunk would lean far to one side.
    lumbosacral = (-1.5, lumbar[0] + 0.7, usual * angle * rng.uniform(0.3, 0.4))
    return [main, lumbar, lumbosacral]


def draw_wedges(angle, rng):
    """Now and then one body wedged to the side, or two wedged in front."""
    if rng.random() >= WEDGED_SHARE:
        return {}
    level = int(rng.integers(T12 + 1, T12 + 6))
    if rng.random() < 0.35:
        return {level: (0, rng.uniform(5, 8)), level + 1: (0, rng.uniform(5, 8))}
    return {level: (float(np.sign(angle)) * rng.uniform(7, 21), rng.uniform(2, 6))}
