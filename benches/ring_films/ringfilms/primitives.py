"""Points of tubes, with weights; rounded steps and ellipsoids."""
import numpy as np
from scipy.ndimage import gaussian_filter1d

F4 = np.float32
UP = np.array([0, 0, 1.0])
FORWARD = np.array([0, 1.0, 0])
TABLE = 200     # places along a tube at which its direction is known


def sigmoid(x):
    """A smooth step from 0 to 1."""
    return 1 / (1 + np.exp(-np.clip(x, -30, 30)))


def joined(clouds):
    """Several clouds as one."""
    return np.concatenate([points for points, _ in clouds]), np.concatenate([weights for _, weights in clouds])


def jittered(grid, cell, rng):
    """Places of one axis moved at random within their cells."""
    return grid + (rng.random(grid.size) - 0.5) * cell


def directions(path, along, toward):
    """Along a path, at TABLE places: unit vectors across it, the second as nearly `toward` as can be."""
    places = np.linspace(0, along[-1], TABLE)
    smooth = np.array([np.interp(places, along, path[:, axis]) for axis in range(3)]).T
    smooth = gaussian_filter1d(smooth, 4, axis=0, mode="nearest")
    tangent = np.gradient(smooth, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1)[:, None] + 1e-9
    toward = np.asarray(toward, float)
    second = toward - (tangent @ toward)[:, None] * tangent
    second /= np.linalg.norm(second, axis=1)[:, None] + 1e-9
    return np.cross(tangent, second), second


def tube(path, half_width, half_height, toward, rng, wall=0.8, cortex=0.8, core=0.15, cell=0.45, caps=True):
    """Cloud of an elliptic tube along a path: a wall (mm) of density `cortex` about a `core`.

    Half widths and heights are numbers, or lists spread along the path; the height is measured `toward` a direction.
    """
    path = np.asarray(path, float)
    if len(path) == 2:
        path = np.array([path[0] + (path[1] - path[0]) * t for t in np.linspace(0, 1, 5)])
    along = np.r_[0, np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))]
    length = along[-1]
    half_width = np.atleast_1d(np.asarray(half_width, float))
    half_height = np.atleast_1d(np.asarray(half_height, float))
    widest, highest = half_width.max(), half_height.max()
    counts = [max(4, int(extent / cell)) for extent in (length, 2 * widest, 2 * highest)]
    axes = [(np.arange(counts[0]) + 0.5) / counts[0]] + [(np.arange(n) + 0.5) / n * 2 - 1 for n in counts[1:]]
    s, p, q = [grid.ravel() for grid in np.meshgrid(*axes, indexing="ij")]
    s, p, q = (jittered(grid, extent / count, rng) for grid, extent, count in zip((s, p, q), (1, 2, 2), counts))
    inside = p ** 2 + q ** 2 < 1.02
    s, p, q = s[inside], p[inside], q[inside]

    wide = np.interp(s, np.linspace(0, 1, len(half_width)), half_width)
    high = np.interp(s, np.linspace(0, 1, len(half_height)), half_height)
    if caps:
        from_end = np.minimum(s, 1 - s) / min(0.5, min(widest, highest) / length)
        cap = np.maximum(np.sqrt(np.clip(1 - (1 - np.clip(from_end, 0, 1)) ** 2, 0, 1)), 0.05)
        wide, high = wide * cap, high * cap
    first, second = directions(path, along, toward)
    place = np.clip((s * (TABLE - 1)).astype(int), 0, TABLE - 1)
    middle = np.stack([np.interp(s * length, along, path[:, axis]) for axis in range(3)], axis=1)
    points = middle + first[place] * (p * wide)[:, None] + second[place] * (q * high)[:, None]

    deep = (1 - np.sqrt(p ** 2 + q ** 2)) * np.minimum(wide, high)
    in_wall = sigmoid((wall - deep) / 0.15)
    density = in_wall * cortex + (1 - in_wall) * core * (1 + 0.35 * rng.standard_normal(s.size))
    density *= sigmoid(deep / 0.12)
    weights = density * wide * high * 4 * length / np.prod(counts)
    return points.astype(F4), weights.astype(F4)
