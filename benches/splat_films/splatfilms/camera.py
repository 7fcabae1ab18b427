"""Beam and film of one radiograph: a point source, a flat film, and splatting clouds onto it (mm, pixels)."""
import copy

import numpy as np

from .levels import C7
from .primitives import F4

BONE_CELLS = 2      # bone is splatted on cells of half a pixel


class Camera:
    """Where the source is and which part of the film's plane the film covers.

    `across` is the world axis along the film's rows (X on pa films, Y on lateral ones), `along` the one from source
    to film.  flip: +1 where `across` grows toward image-right.  Magnification: at the middle of the spine.
    The draws are taken here, in a fixed order.
    """

    def __init__(self, view, centre, size, flip, rng):
        """centre: middles of the bodies (n, 3); size: the child's."""
        self.view, self.flip = view, flip
        self.toward = rng.choice([-1, 1])       # on lateral films: +1 where the film is at the right side
        lateral = view == "lateral"
        self.source_to_film = rng.uniform(1780, 1900)
        self.spine_to_film = rng.uniform(130, 180) + (60 if lateral else 0)
        self.spacing = round(float(rng.uniform(0.2, 0.35)), 3)      # mm per pixel on the film
        spine = centre[:C7 + 1]
        top = spine[:, 2].max() + rng.uniform(8, 60) * size
        bottom = spine[:, 2].min() - rng.uniform(15, 85) * size
        if lateral:
            across = spine[:, 1]
            self.middle = (across.min() + across.max()) / 2 + rng.uniform(0, 30) * size
            half = rng.uniform(110, 160) * size
        else:
            across = spine[:, 0]
            self.middle = (across.min() + across.max()) / 2 + rng.normal(0, 6)
            half = rng.uniform(115, 165) * size
        half = max(half, np.ptp(across) / 2 + 35 * size)
        self.magnification = self.source_to_film / (self.source_to_film - self.spine_to_film)
        self.middle_z = (top + bottom) / 2
        self.source = (self.middle, self.middle_z + rng.uniform(-40, 40))       # across, z
        self.rows = int((top - bottom) * self.magnification / self.spacing)
        self.columns = int(2 * half * self.magnification / self.spacing)

    def coarse(self, spacing, margin):
        """The same beam onto a film of other pixels, `margin` of them beyond each border."""
        other = copy.copy(self)
        other.spacing = spacing
        other.columns = int(self.columns * self.spacing / spacing) + 2 * margin
        other.rows = int(self.rows * self.spacing / spacing) + 2 * margin
        return other

    def project(self, points):
        """Column and row (pixels, the first pixel's outer corner is 0) and magnification of points (n, 3)."""
        if self.view == "pa":       # source behind, film in front
            across, along = points[:, 0], points[:, 1]
        else:
            across, along = points[:, 1], points[:, 0] * self.toward
        source_u, source_v = self.source
        scale = self.source_to_film / ((self.source_to_film - self.spine_to_film) + along)
        u = source_u + (across - source_u) * scale
        v = source_v + (points[:, 2] - source_v) * scale
        middle_u = source_u + (self.middle - source_u) * self.magnification
        middle_v = source_v + (self.middle_z - source_v) * self.magnification
        column = (u - middle_u) * self.flip / self.spacing + self.columns / 2
        row = self.rows / 2 - (v - middle_v) / self.spacing
        return column, row, scale


def splat_nearest(camera, cloud, film):
    """Adds a cloud to a film of BONE_CELLS cells per pixel, every point to the cell that it falls in.

    A point of weight w (mm2) adds w * magnification^2 / (area of a cell): the sums are line integrals of attenuation.
    """
    points, weights = cloud
    column, row, scale = camera.project(points)
    rows, columns = film.shape
    u = np.floor(column * BONE_CELLS).astype(np.int32)
    v = np.floor(row * BONE_CELLS).astype(np.int32)
    on_film = (u >= 0) & (u < columns) & (v >= 0) & (v < rows)
    if not on_film.any():
        return
    u, v = u[on_film], v[on_film]
    left, top = u.min(), v.min()
    wide, tall = u.max() - left + 1, v.max() - top + 1
    value = weights[on_film] * scale[on_film] ** 2 * (BONE_CELLS / camera.spacing) ** 2
    sums = np.bincount((v - top) * wide + (u - left), weights=value, minlength=tall * wide)
    film[top:top + tall, left:left + wide] += sums.reshape(tall, wide).astype(F4)


def splat_shared(camera, cloud, film):
    """Adds a cloud to a film, every point shared among the four nearest pixels."""
    points, weights = cloud
    column, row, scale = camera.project(points)
    rows, columns = film.shape
    column, row = column - 0.5, row - 0.5
    u, v = np.floor(column).astype(np.int32), np.floor(row).astype(np.int32)
    on_film = (u >= 0) & (u < columns - 1) & (v >= 0) & (v < rows - 1)
    u, v = u[on_film], v[on_film]
    right, down = column[on_film] - u, row[on_film] - v
    value = weights[on_film] * scale[on_film] ** 2 / camera.spacing ** 2
    place = v * columns + u
    shares = ((0, (1 - right) * (1 - down)), (1, right * (1 - down)),
              (columns, (1 - right) * down), (columns + 1, right * down))
    for step, share in shares:
        sums = np.bincount(place + step, weights=value * share, minlength=rows * columns)
        film += sums.reshape(rows, columns).astype(F4)
