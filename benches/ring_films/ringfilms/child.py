"""Invents a child: sizes, bone, the balance of its curves, wedge of the bodies, and its random streams."""
from functools import cached_property

import numpy as np
from scipy.ndimage import gaussian_filter

from .levels import C7, COUNT, DEPTH, DISC, HEIGHT, WIDTH
from .primitives import F4
from .traits import draw_traits
from .windows import lordosis_kyphosis, neck_lordosis, ramp_sum

PURPOSES = ("traits", "shape", "quirks", "texture", "relief", "stage", "body", "ribs", "shoulders", "pelvis", "skull",
            "vessels", "film", "pixel", "framing", "polarity")
GRAIN_CELLS = 128       # of the spongy bone's texture, along each side
FINE = np.arange(0, COUNT - 1 + 0.01, 0.25)     # levels in quarters
TO_C7 = FINE <= C7


class Child:
    """One invented child; the seed and its number decide everything."""

    def __init__(self, seed, number, traits=None):
        self.seed, self.number, self.name = seed, number, f"k{number:02d}"
        self.traits = traits or draw_traits(self.stream("traits"))
        rng = self.stream("shape")
        self._draw_sizes(rng)
        self._draw_bone(rng)
        self._balance_coronal(rng)
        self._balance_sagittal()
        self.turn_gain = rng.uniform(0.38, 0.52)        # axial turn per coronal angle
        self._wedge_bodies(rng)
        self.quirks = self.stream("quirks").uniform(-0.12, 0.12, (COUNT, 2))
        self.relief = self.stream("relief").uniform(0.15, 0.45)     # part of the curve that traction takes away

    def stream(self, purpose, *numbers):
        """A random stream of this child's own for one purpose."""
        return np.random.default_rng([self.seed, self.number, PURPOSES.index(purpose) + 1, *numbers])

    @cached_property
    def grain(self):
        """Texture of the spongy bone, about 0 +- 1, repeating on all sides."""
        rng = self.stream("texture")
        shape = (GRAIN_CELLS,) * 3
        fine = gaussian_filter(rng.standard_normal(shape).astype(F4), (0.8, 0.8, 2.0), mode="wrap")
        coarse = gaussian_filter(rng.standard_normal(shape).astype(F4), 4, mode="wrap")
        return (0.75 * fine / fine.std() + 0.45 * coarse / coarse.std()).astype(F4)

    def _draw_sizes(self, rng):
        """Arrays by level, in mm; size is 1 for an adult-sized child."""
        age, normal = self.traits.age, rng.standard_normal
        grown = np.interp(age, [3, 5, 8, 11, 13, 15, 17], [0.56, 0.63, 0.74, 0.84, 0.91, 0.96, 0.99])
        size = self.size = float(grown * rng.uniform(0.96, 1.04))
        mature = self.mature = float(np.interp(age, [4, 16], [0, 1]))

        def by_maturity(young, old):
            return np.interp(mature, [0, 1], [young, old])

        self.width = WIDTH * size * by_maturity(1.02, 0.96) * (1 + 0.02 * normal(COUNT))
        self.depth = DEPTH * size * by_maturity(0.95, 1.0) * (1 + 0.02 * normal(COUNT))
        self.height = HEIGHT * size * by_maturity(0.9, 1.0) * (1 + 0.02 * normal(COUNT))
        self.disc = DISC * (0.35 + 0.65 * size) * by_maturity(1.2, 1.0) * (1 + 0.05 * normal(COUNT))
        self.bevel = float(by_maturity(1.9, 0.8))       # radius of the rounded rim

    def _draw_bone(self, rng):
        """Narrowing of the bodies at half height, hollow of their plates (upper, lower; mm), density of bone."""
        self.waist = rng.uniform(0.07, 0.14) + 0.015 * rng.standard_normal(COUNT)
        hollow = np.interp(np.arange(COUNT), [0, 6, C7, COUNT - 1], [1.6, 1.3, 0.7, 0.5])
        hollow = hollow * self.size * rng.uniform(0.7, 1.3)
        self.hollow = hollow * np.clip(1 + 0.25 * rng.standard_normal((2, COUNT)), 0.3, 2)
        self.density = float(rng.uniform(0.75, 1.25))

    def _balance_coronal(self, rng):
        """Adds compensatory curves and a lean, chosen so that C7 is about above S1."""
        main = self.traits.curves
        total = sum(angle for _, _, angle in main)
        low, high = min(curve[0] for curve in main), max(curve[1] for curve in main)
        wanted = rng.uniform(-0.6, 0.6)
        best_cost = np.inf
        for share in np.linspace(0.05, 0.95, 37):
            parts = main + [(max(low - 5.5, -1.5), low + 0.7, -total * share),
                            (high - 0.7, min(high + 6, 20), -total * (1 - share))]
            tilts = ramp_sum(parts, FINE)
            shift = np.sum(np.sin(np.radians((tilts - tilts[0])[TO_C7]))) / 4
            for lean in np.linspace(-5, 5, 11):
                miss = abs(shift + C7 * np.sin(np.radians(lean)) - wanted)
                cost = miss + 0.12 * abs(lean) + 0.5 * abs(share - 0.5)
                if cost < best_cost:
                    best_cost, self.curve_parts, self.lean = cost, parts, lean

    def _balance_sagittal(self):
        """Chooses sacral slope and lordosis to the kyphosis so that C7 is about above S1."""
        best_cost = np.inf
        for slope in np.linspace(12, 58, 47):
            lordosis = slope + 0.42 * self.traits.kyphosis + 4
            tilts = slope + lordosis_kyphosis(lordosis, self.traits.kyphosis, FINE)
            cost = abs(np.sum(np.sin(np.radians(tilts[TO_C7]))) / 4 - 0.5) + 0.02 * abs(slope - 38)
            if cost < best_cost:
                best_cost, self.sacral_slope, self.lordosis = cost, slope, lordosis

    def _wedge_bodies(self, rng):
        """Wedge of each body (degrees) to the side and in front: its part of the bend, and what is congenital."""
        levels = np.arange(COUNT)
        bend = ramp_sum(self.curve_parts, levels + 0.5) - ramp_sum(self.curve_parts, levels - 0.5)
        worst = max(abs(angle) for _, _, angle in self.traits.curves)
        usual = np.interp(worst, [20, 60, 120], [0.2, 0.35, 0.55])
        most_disc_bend = np.degrees(2 * 0.8 * self.disc / self.width)
        part = np.maximum(usual, 1 - most_disc_bend / np.maximum(np.abs(bend), 1e-3))
        side = np.clip(part, 0, 0.8) * bend

        def sagittal(at):
            return lordosis_kyphosis(self.lordosis, self.traits.kyphosis, at) + neck_lordosis(at)

        front = 0.5 * (sagittal(levels + 0.5) - sagittal(levels - 0.5))
        side[0] = front[0] = 0
        self.congenital = np.zeros((2, COUNT))
        for level, wedge in self.traits.wedges.items():
            self.congenital[:, level] = wedge
        normal = rng.standard_normal
        self.wedge_side = np.clip(side + self.congenital[0], -24, 24) + normal(COUNT)
        self.wedge_front = np.clip(front + self.congenital[1], -22, 22) + normal(COUNT)
