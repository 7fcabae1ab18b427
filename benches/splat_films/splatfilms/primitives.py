"""Simple solids as clouds of weighted points (see the package's docstring), and small helpers; mm, 1/mm."""
from typing import NamedTuple

import numpy as np
from scipy.ndimage import gaussian_filter

F4 = np.float32


class Rod(NamedTuple):
    """A rod of elliptic cross-section with round ends: radii at start and end, first along `axis`, then across."""

    start: tuple
    end: tuple
    axis: tuple
    start_radii: tuple
    end_radii: tuple


def ramp(value, width):
    """0 to 1 over `width` about value 0: a soft edge."""
    return np.clip(value / width + 0.5, 0, 1)


def blurred_noise(shape, sigma, rng):
    """Noise of unit spread, blurred by sigma (cells per axis)."""
    noise = gaussian_filter(rng.standard_normal(shape, dtype=F4), sigma, mode="wrap", truncate=2.5)
    return noise / (noise.std() + 1e-9)


def rod_axes(rod):
    """Start, unit direction, length, and the two unit axes of the cross-section."""
    start, end = np.array(rod.start, float), np.array(rod.end, float)
    along = end - start
    length = np.linalg.norm(along) + 1e-9
    along = along / length
    first = np.array(rod.axis, float)
    first = first - along * (first @ along)
    first /= np.linalg.norm(first)
    return start, along, length, first, np.cross(along, first)


def rod_depth(rod, length, t, a, b):
    """Depth under a rod's surface (about, inside +) at t along it and a, b across it."""
    part = np.clip(t / length, 0, 1)
    radius_a = rod.start_radii[0] + (rod.end_radii[0] - rod.start_radii[0]) * part
    radius_b = rod.start_radii[1] + (rod.end_radii[1] - rod.start_radii[1]) * part
    beyond = np.maximum(np.maximum(-t, t - length), 0)
    smaller = np.minimum(radius_a, radius_b)
    return (1 - np.sqrt((a / radius_a) ** 2 + (b / radius_b) ** 2 + (beyond / smaller) ** 2)) * smaller


def rod_depth_at(rod, points):
    """Depth under a rod's surface at points given as three arrays x, y, z."""
    start, along, length, first, second = rod_axes(rod)
    offset = [points[k] - start[k] for k in range(3)]

    def part(axis):
        """Offset from the start along an axis."""
        return offset[0] * axis[0] + offset[1] * axis[1] + offset[2] * axis[2]

    return rod_depth(rod, length, part(along), part(first), part(second)).astype(F4)


def union_depth(rods, low, high, step):
    """Grid of cells from low to high with the depth under the surface of all the rods together; -1 far outside."""
    shape = np.ceil((high - low) / step).astype(int)
    depth = np.full(shape, -1, F4)
    for rod in rods:
        reach = max(*rod.start_radii, *rod.end_radii) + 1
        start, end = np.array(rod.start, float), np.array(rod.end, float)
        first = np.maximum(((np.minimum(start, end) - reach - low) / step).astype(int), 0)
        last = np.minimum(((np.maximum(start, end) + reach - low) / step).astype(int) + 1, shape)
        part = tuple(slice(a, b) for a, b in zip(first, last))
        points = np.meshgrid(*[low[k] + step * np.arange(first[k], last[k]) for k in range(3)], indexing="ij")
        depth[part] = np.maximum(depth[part], rod_depth_at(rod, points))
    return depth


def rods_cloud(rods, step, shell, cortex, spongy, rng):
    """Cloud of rods one by one (overlaps count twice); the outer `shell` is cortex."""
    clouds = [rod_cloud(rod, step, shell, cortex, spongy, rng) for rod in rods]
    return joined(clouds)


def rod_cloud(rod, step, shell, cortex, spongy, rng):
    """Cloud of one rod, a jittered point per cell of `step`."""
    start, along, length, first, second = rod_axes(rod)
    reach = max(*rod.start_radii, *rod.end_radii)
    cap = max(rod.start_radii)
    across = np.arange(-reach, reach + step, step)
    lengthwise = np.arange(-cap, length + cap, step)
    grid = np.meshgrid(lengthwise, across, across, indexing="ij")
    t, a, b = [jittered(axis, step, rng) for axis in grid]
    depth = rod_depth(rod, length, t, a, b)
    inside = depth > 0
    points = start + t[inside][:, None] * along + a[inside][:, None] * first + b[inside][:, None] * second
    weights = np.where(depth[inside] < shell, cortex, spongy) * step ** 3
    return points.astype(F4), weights.astype(F4)


def jittered(coordinate, step, rng):
    """Cells' coordinate as float32, each moved at random within its cell: no moire between grid and pixels."""
    return coordinate.astype(F4) + (rng.random(coordinate.shape, dtype=F4) - 0.5) * step


def joined(clouds):
    """Several clouds as one."""
    points, weights = zip(*clouds)
    return np.concatenate(points), np.concatenate(weights)


def tube_cloud(path, tangent, radii, step, shell, cortex, spongy, rng):
    """Cloud of a tube along a path (n, 3) of even steps; radii: level and upright half-axes of its cross-section."""
    stride = np.linalg.norm(np.diff(path, axis=0), axis=1).mean()
    tangent = tangent / np.linalg.norm(tangent, axis=1)[:, None]
    up = np.array([0, 0, 1.0])
    upright = up - tangent * (tangent @ up)[:, None]
    upright /= np.linalg.norm(upright, axis=1)[:, None] + 1e-6
    level = np.cross(tangent, upright)
    a, b = np.meshgrid(np.arange(-radii[0], radii[0] + step, step), np.arange(-radii[1], radii[1] + step, step))
    count = len(path)
    a = a.ravel()[None] + (rng.random((count, a.size)) - 0.5) * step
    b = b.ravel()[None] + (rng.random((count, b.size)) - 0.5) * step
    depth = (1 - np.sqrt((a / radii[0]) ** 2 + (b / radii[1]) ** 2)) * min(radii)
    inside = np.nonzero(depth > 0)
    place = inside[0]
    points = path[place] + level[place] * a[inside][:, None] + upright[place] * b[inside][:, None] \
        + tangent[place] * ((rng.random(len(place)) - 0.5) * stride)[:, None]
    weights = np.where(depth[inside] < shell, cortex, spongy) * step * step * stride
    return points.astype(F4), weights.astype(F4)


def triangle_cloud(corners, thickness, attenuation, rng):
    """Cloud of a thin flat triangle."""
    side = 170
    count = side * side
    u, v = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 1, side), np.linspace(0, 1, side)))
    area = np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0])) / 2
    u = u + (rng.random(count) - 0.5) / side
    v = v + (rng.random(count) - 0.5) / side
    points = corners[0] * (1 - u)[:, None] + (u * (1 - v))[:, None] * corners[1] + (u * v)[:, None] * corners[2]
    # The points lie denser toward the first corner: a point stands for an area in proportion to u.
    return points.astype(F4), (attenuation * thickness * area * 2 * u / count).astype(F4)


def unit_cells(counts, jitter, rng):
    """Middles of counts[0] x counts[1] x counts[2] cells of the unit cube as three flat arrays; the first
    `jitter` of them moved at random within the cell."""
    grid = np.meshgrid(*[(np.arange(count) + 0.5) / count for count in counts], indexing="ij")
    flat = [axis.ravel() for axis in grid]
    for k in range(jitter):
        flat[k] = flat[k] + (rng.random(flat[k].size) - 0.5) / counts[k]
    return flat


def ruled_surface(first, second, u, v):
    """Surface between two curves (of u) by straight lines (v): points, normals, and area per unit of u and v.

    The normals have the area as their length.
    """
    start, end = first(u), second(u)
    points = start + (end - start) * v[:, None]
    normal = np.cross(first(u, 1) * (1 - v)[:, None] + second(u, 1) * v[:, None], end - start)
    return points, normal, np.linalg.norm(normal, axis=1)
