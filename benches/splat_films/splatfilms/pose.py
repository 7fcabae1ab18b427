"""How the spine stands at one stage: tilts and turns of the levels, and their stacking (mm, radians)."""
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from .levels import C7, LEVELS

STAGES = ("before", "traction")
MOST_TURN = np.deg2rad(45)


def frame(coronal, sagittal, axial):
    """Rotation from a vertebra's axes to the world's (its columns are the vertebra's axes).

    coronal: the top leans to the patient's right +; sagittal: the top leans forward +;
    axial: the front turns to the patient's right +.
    """
    cos, sin = np.cos, np.sin
    lean = np.array([[cos(coronal), 0, sin(coronal)], [0, 1, 0], [-sin(coronal), 0, cos(coronal)]])
    bow = np.array([[1, 0, 0], [0, cos(sagittal), sin(sagittal)], [0, -sin(sagittal), cos(sagittal)]])
    turn = np.array([[cos(axial), sin(axial), 0], [-sin(axial), cos(axial), 0], [0, 0, 1]])
    return lean @ bow @ turn


@dataclass
class Pose:
    """Tilts and turn of every level, signs as in `frame`; middles of the bodies; rotations of the levels."""

    coronal: np.ndarray
    sagittal: np.ndarray
    axial: np.ndarray
    centre: np.ndarray
    rotation: list

    def place(self, level, point):
        """A point of a vertebra's axes in the world."""
        return self.rotation[level] @ point + self.centre[level]

    def place_cloud(self, level, points):
        """Points (n, 3) of a vertebra's axes in the world, as float32."""
        return points @ self.rotation[level].T.astype(np.float32) + self.centre[level].astype(np.float32)


def bisect(function, low, high):
    """Where the function changes its sign between low and high."""
    positive = function(low) > 0
    for _ in range(25):
        middle = (low + high) / 2
        if (function(middle) > 0) == positive:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def coronal_tilts(child, curve, share):
    """Coronal tilts; of the main curve (radians) the part `share` is tilt at its lower end, the rest at its upper."""
    below = share * curve
    above = (1 - share) * curve
    knots = [0, child.lower, child.upper, C7, len(LEVELS) - 1]
    tilts = np.array([child.sacral_tilt * child.side, below, -above, child.neck_share * above, 0])
    return PchipInterpolator(knots, tilts)(np.arange(len(LEVELS))) * child.side + child.jitter[0]


def sagittal_tilts(child, kyphosis, back):
    """Sagittal tilts; `back` is how far T12 leans backward, kyphosis what T3/T4 lean forward against it."""
    front = max(kyphosis - back, 0.1)
    knots = [0, 3, 6, 14.5, C7, len(LEVELS) - 1]        # S1, L3, T12, T4/T3, C7, C3
    tilts = [back * 0.55 + 0.36, back * 0.1, -back, front, front * 0.75, 0.0]
    return PchipInterpolator(knots, tilts)(np.arange(len(LEVELS))) + child.jitter[1]


def stack(child, disc, coronal, sagittal):
    """Middles of the bodies (n, 3): each stands on the one below, a disc's height between them."""
    count = len(LEVELS)
    centre = np.zeros((count, 3))
    up = np.array([frame(coronal[i], sagittal[i], 0)[:, 2] for i in range(count)])
    for i in range(count - 1):
        across = up[i] + up[i + 1]
        across /= np.linalg.norm(across)
        below = up[i] * child.height[i] / 2
        above = up[i + 1] * child.height[i + 1] / 2
        centre[i + 1] = centre[i] + below + across * disc[i] + above
    return centre


def axial_turns(child, coronal, curve):
    """Axial turns: bodies turn into the convexity, most at the apex, outside the main curve less."""
    bend = -np.gradient(coronal - child.jitter[0])
    bend = gaussian_filter1d(bend, 0.8)
    main = slice(child.lower, child.upper + 1)
    turn = bend / np.abs(bend[main]).max()
    part = np.full(len(LEVELS), 0.6)
    part[main] = 1
    turn = turn * part * min(child.turn_share * curve, MOST_TURN)
    turn = gaussian_filter1d(turn, 0.8)
    turn[0] *= 0.25         # the pelvis hardly turns
    return turn


def take_pose(child, stage):
    """The child's pose at a stage: traction flattens the curves and opens the discs."""
    traction = stage == "traction"
    curve = np.deg2rad(child.curve) * (1 - child.relief if traction else 1)
    kyphosis = np.deg2rad(child.kyphosis) * (1 - 0.3 * child.relief if traction else 1)
    disc = child.disc * (child.disc_gain if traction else 1)
    upright = np.zeros(len(LEVELS))

    def off_side(share):
        """How far C7 is beyond its wanted shift to the convex side (mm)."""
        return stack(child, disc, coronal_tilts(child, curve, share), upright)[C7, 0] * child.side - child.shift

    share = bisect(off_side, 0.2, 0.8)
    coronal = coronal_tilts(child, curve, share)

    def off_front(back):
        """How far C7 is in front of its wanted place (mm)."""
        return stack(child, disc, coronal, sagittal_tilts(child, kyphosis, back))[C7, 1] - child.forward

    sagittal = sagittal_tilts(child, kyphosis, bisect(off_front, 0.05, 0.75 * kyphosis + 0.25))
    axial = axial_turns(child, coronal, curve)
    rotation = [frame(*angles) for angles in zip(coronal, sagittal, axial)]
    return Pose(coronal, sagittal, axial, stack(child, disc, coronal, sagittal), rotation)
