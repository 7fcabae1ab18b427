"""How the spine stands at one stage: tilts and turns of the levels, and their stacking."""
from dataclasses import dataclass

import numpy as np

from .levels import C7, COUNT
from .primitives import F4
from .windows import bump, lordosis_kyphosis, neck_lordosis, ramp_sum

STAGES = ("before", "traction")
MOST_TURN = 45      # degrees


def bow(angle):
    """Rotation whose top leans forward (radians)."""
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[1, 0, 0], [0, cos, sin], [0, -sin, cos]])


def lean(angle):
    """Rotation whose top leans to the patient's left (radians)."""
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[cos, 0, sin], [0, 1, 0], [-sin, 0, cos]])


def turn(angle):
    """Rotation whose front turns to the patient's right (radians)."""
    cos, sin = np.cos(angle), np.sin(angle)
    return np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])


@dataclass
class Pose:
    """Of every level the rotation (its columns are the vertebra's axes), the middle of its body, its axial turn."""

    rotation: np.ndarray
    centre: np.ndarray
    axial: np.ndarray

    def place(self, level, point):
        """A point of a vertebra's axes in the world."""
        return self.rotation[level] @ point + self.centre[level]

    def place_cloud(self, level, cloud):
        """A cloud of a vertebra's axes in the world."""
        points, weights = cloud
        return points @ self.rotation[level].T.astype(F4) + self.centre[level].astype(F4), weights


def coronal_tilts(child, kept):
    """Coronal tilts (degrees); `kept` is the part of the curves that traction leaves."""
    levels = np.arange(COUNT)
    tilts = ramp_sum(child.curve_parts, levels) * kept
    tilts = tilts - tilts[0] + child.lean * kept
    wedge = child.congenital[0]
    congenital = np.cumsum(wedge) - 0.5 * wedge
    return tilts + congenital - congenital[C7] * np.clip(levels / C7, 0, 1)


def sagittal_tilts(child, kept):
    """Sagittal tilts (degrees); `kept` is the part of the kyphosis that traction leaves."""
    levels = np.arange(COUNT)
    kyphosis = child.traits.kyphosis
    lordosis = child.lordosis - (1 - kept) * kyphosis * 0.42
    return child.sacral_slope + lordosis_kyphosis(lordosis, kyphosis * kept, levels) + neck_lordosis(levels)


def axial_turns(child, relief):
    """Axial turns (degrees): bodies turn into the convexity, most at the apex of each curve."""
    turns = np.zeros(COUNT)
    for low, high, angle in child.curve_parts:
        most = min(MOST_TURN, child.turn_gain * abs(angle))
        turns += np.sign(angle) * most * bump(np.arange(COUNT), low - 1.5, high + 1.5)
    return np.clip(turns, -MOST_TURN, MOST_TURN) * (1 - 0.4 * relief)


def stack(child, rotation, opening):
    """Middles of the bodies (n, 3): each stands on the one below, a disc and the opening (mm) between them."""
    centre = np.zeros((COUNT, 3))
    centre[0] = -rotation[0][:, 2] * child.height[0] / 2
    for i in range(COUNT - 1):
        below, above = rotation[i][:, 2], rotation[i + 1][:, 2]
        across = (below + above) / np.linalg.norm(below + above)
        gap = child.disc[i] + opening * (0.6 if i > 16 else 1)
        centre[i + 1] = centre[i] + below * child.height[i] / 2 + across * gap + above * child.height[i + 1] / 2
    return centre


def take_pose(child, stage, view_turn):
    """The child's pose at a stage, turned as a whole; traction flattens the curves and opens the discs."""
    late = STAGES.index(stage)
    rng = child.stream("stage", late)
    relief = child.relief if late else 0
    opening = rng.uniform(0.4, 1.0) if late else 0
    whole = turn(np.radians(rng.normal() * 3 + view_turn))
    coronal = np.radians(coronal_tilts(child, 1 - relief))
    sagittal = np.radians(sagittal_tilts(child, 1 - 0.7 * relief))
    axial = axial_turns(child, relief)
    rotation = np.array([whole @ lean(coronal[i]) @ bow(sagittal[i]) @ turn(np.radians(axial[i]))
                         for i in range(COUNT)])
    return Pose(rotation, stack(child, rotation, opening), axial)
