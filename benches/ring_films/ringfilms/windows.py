"""Smooth ramps and windows along the levels, of which the curves of the spine are made."""
import numpy as np

from .levels import T1


def ramp(level, low, high):
    """From 0 below `low` to 1 above `high`: the integral of a raised cosine."""
    t = np.clip((np.asarray(level, float) - low) / (high - low), 0, 1)
    return t - np.sin(2 * np.pi * t) / (2 * np.pi)


def bump(level, low, high):
    """A raised cosine between `low` and `high`, 1 in the middle, 0 outside."""
    t = (np.asarray(level, float) - low) / (high - low)
    return np.where((t > 0) & (t < 1), 0.5 - 0.5 * np.cos(2 * np.pi * t), 0)


def ramp_sum(parts, level):
    """Coronal tilt at levels by curves of (lower end, upper end, degrees)."""
    return sum(angle * ramp(level, low, high) for low, high, angle in parts)


def lordosis_kyphosis(lordosis, kyphosis, level):
    """Sagittal tilt of the trunk's levels against the sacrum (degrees, forward +)."""
    return -lordosis * ramp(level, -0.5, 7) + kyphosis * ramp(level, 5, 18.5)


def neck_lordosis(level):
    """Sagittal tilt that the neck adds (degrees, forward +)."""
    return -28 * ramp(level, T1, 25)
