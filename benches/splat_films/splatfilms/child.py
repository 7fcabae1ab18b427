"""Invents a child: sizes, bone, curve, poses, wedge of the bodies, and the solids of its vertebrae."""
import numpy as np
from scipy.ndimage import gaussian_filter1d

from .levels import CANAL, DEPTH, DISC, HEIGHT, INDEX, LEVELS, PEDICLE, SPINOUS, TRANSVERSE, WIDTH
from .pose import STAGES, take_pose
from .vertebra import vertebra

# Kinds of main curve: T thoracic, T2 low thoracic, TL thoracolumbar, L lumbar, K mostly kyphotic.
KINDS = ("T", "T", "T", "TL", "L", "T2", "K", "T", "T", "TL", "T2", "T")        # by the child's number
ENDS = {"T": ("T12", "T5"), "T2": ("L1", "T6"), "TL": ("L3", "T9"), "L": ("L4", "T11"), "K": ("L1", "T5")}
CURVES = {"T": (45, 110), "T2": (50, 90), "TL": (35, 80), "L": (35, 65), "K": (20, 30)}     # degrees
# Some children have a narrower range, so that twelve of them spread from moderate to severe.
CURVES_OF = {1: (50, 60), 2: (68, 85), 3: (95, 110), 8: (60, 75), 9: (80, 95), 12: (98, 110)}

MOST_DISC_BEND = np.deg2rad(6)      # coronal bend of one level beyond this goes into the bodies


class Child:
    """One invented child; its number decides everything."""

    def __init__(self, number):
        self.number = number
        self.name = f"k{number:02d}"
        self.rng = np.random.default_rng(52000 + number)
        self._draw_sizes()
        self._draw_bone()
        self._draw_curve()
        self._draw_stance()
        self.poses = {stage: take_pose(self, stage) for stage in STAGES}
        self._wedge_bodies()
        self.solids = [vertebra(self, level) for level in range(len(LEVELS))]
        self._draw_trunk()

    def _draw_sizes(self):
        """Arrays by level, in mm; size is 1 for an adult-sized child."""
        draw, normal, count = self.rng.uniform, self.rng.standard_normal, len(LEVELS)
        size = self.size = draw(0.70, 1.0)
        wide, tall, deep = draw(0.92, 1.07), draw(0.93, 1.07), draw(0.94, 1.06)
        self.width = WIDTH * size * wide * (1 + 0.02 * normal(count))
        self.depth = DEPTH * size * deep * (1 + 0.02 * normal(count))
        self.height = HEIGHT * size * tall * (1 + 0.025 * normal(count))
        self.disc = DISC * (size * 0.6 + 0.4) * draw(0.85, 1.35) * (1 + 0.06 * normal(count))
        self.canal = CANAL * (size * 0.6 + 0.4)
        self.pedicle = PEDICLE * size * draw(0.85, 1.1)
        self.transverse = TRANSVERSE * size * draw(0.93, 1.05)
        self.spinous = SPINOUS * size * draw(0.9, 1.1)
        self.hollow = 0.035 * self.depth        # how far the back of a body is hollowed

    def _draw_bone(self):
        """Attenuations (1/mm), thicknesses of walls and plates (mm), forms of the bodies."""
        draw = self.rng.uniform
        self.cortex = draw(0.034, 0.054)
        self.spongy = draw(0.009, 0.0165)
        self.plate = draw(0.026, 0.046)
        self.wall_thickness = draw(0.55, 0.95)
        self.plate_thickness = draw(0.55, 1.0)
        self.waist = draw(0.05, 0.12)           # narrowing at half height, part of the half width
        self.cup = draw(0.5, 1.5)               # depth of a plate's hollow (mm)
        self.edge = draw(0.9, 2.4) * self.size  # radius of the rounded rim (mm)
        self.grain = draw(0.25, 0.55)           # contrast of the spongy bone's texture

    def _draw_curve(self):
        """Main curve and kyphosis in degrees, end levels, and the convex side (right +1)."""
        rng, draw = self.rng, self.rng.uniform
        kind = self.kind = KINDS[(self.number - 1) % len(KINDS)]
        # Every range is drawn from, also those not used: the later draws must not depend on the kind.
        of_kind = {name: draw(*limits) for name, limits in CURVES.items()}
        of_number = {number: draw(*limits) for number, limits in CURVES_OF.items()}
        self.curve = of_number.get(self.number, of_kind[kind])
        self.kyphosis = draw(62, 80) if kind == "K" else draw(20, 60)
        lower, upper = ENDS[kind]
        self.lower = INDEX[lower] + int(rng.integers(-1, 2))
        self.upper = INDEX[upper] + int(rng.integers(-1, 2))
        if kind in ("L", "TL"):
            self.lower = max(self.lower, INDEX["L3"])
        usual = draw() < 0.75
        self.side = 1 if usual == (kind in ("T", "T2")) else -1     # thoracic curves are mostly convex right

    def _draw_stance(self):
        """How the spine stands (mm, radians) and what traction does to it."""
        rng, draw = self.rng, self.rng.uniform
        self.turn_share = draw(0.22, 0.40)      # greatest axial turn per coronal angle
        self.sacral_tilt = np.deg2rad(rng.normal(0, 2.5))
        self.wedge_share = draw(0.3, 0.5)       # part of a level's bend that is in the body
        self.shift = rng.normal(0, 12)          # C7 beyond S1 to the convex side
        self.forward = rng.normal(-5, 15)       # C7 in front of S1
        self.neck_share = draw(-0.08, 0.25)     # tilt of C7 against that of the upper end level
        self.jitter = np.deg2rad(rng.normal(0, 0.7, (2, len(LEVELS))))
        self.relief = draw(0.25, 0.45)          # part of the curve that traction takes away
        self.disc_gain = draw(1.03, 1.07)       # height of the discs in traction

    def _wedge_bodies(self):
        """Wedge of each body (radians): lower on the right + and lower in front +, about its own axes."""
        pose = self.poses["before"]
        coronal = gaussian_filter1d(np.gradient(pose.coronal), 0.7)
        sagittal = gaussian_filter1d(np.gradient(pose.sagittal), 0.7)
        part = np.maximum(self.wedge_share, 1 - MOST_DISC_BEND / np.maximum(np.abs(coronal), 1e-6))
        side = part * coronal
        front = np.where(np.arange(len(LEVELS)) < INDEX["L1"], 0.22, self.wedge_share + 0.1) * sagittal
        turn = pose.axial
        self.wedge_right = side * np.cos(turn) - front * np.sin(turn)
        self.wedge_front = side * np.sin(turn) + front * np.cos(turn)
        self.wedge_right[0] = 0
        self.wedge_front[0] = 0

    def _draw_trunk(self):
        """What the soft tissues and the cage need."""
        draw = self.rng.uniform
        self.fat = draw(6, 20)                  # mm under the skin
        self.build = draw(0.92, 1.1)            # breadth of trunk and cage
        self.arms = draw(-0.6, 0.7)             # arms above the horizontal on a lateral film (radians)
        self.trunk_seed = int(self.rng.integers(1 << 30))
        self.breath = draw(-12, 10)             # height of the diaphragm (mm)

    def rim(self, level, plate):
        """The four ends of a plate's rim in the vertebra's axes (mm); they lie on the rounded edge."""
        inset = 0.29 * self.edge
        width, depth = self.width[level], self.depth[level]
        places = {
            "left": (-width / 2 + inset, 0),
            "right": (width / 2 - inset, 0),
            "anterior": (0, depth / 2 - inset),
            "posterior": (0, -depth / 2 + self.hollow[level] + inset),
        }
        sign = 1 if plate == "upper" else -1
        fall_right = np.tan(self.wedge_right[level] / 2)
        fall_front = np.tan(self.wedge_front[level] / 2)
        half = self.height[level] / 2
        return {end: np.array([x, y, sign * (half - fall_right * x - fall_front * y - inset)])
                for end, (x, y) in places.items()}
