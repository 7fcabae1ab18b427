"""Beam geometry and exact ray sums through closed meshes.

The ray sum of a closed surface is the sum over its faces of the depth at which the ray crosses it, + where
it leaves, - where it enters; every face is scan-converted at pixel centres and added into the image.
"""
import numpy as np
from .meshes import cross


class Beam:
    """A point source and a flat detector.

    source (mm, world); forward, right, down: unit vectors (depth, image column, image row); sid in mm.
    `slot`: vertical scan (parallel in the row direction, fan in the column direction, scaled to the
    isocentre depth `iso`), else a cone.  origin: detector mm of the film's outer top-left corner;
    spacing: mm per pixel; shape: rows, columns.
    """

    def __init__(self, source, forward, right, down, sid, slot=False, iso=None):
        self.source, self.forward = np.asarray(source, float), np.asarray(forward, float)
        self.right, self.down, self.sid = np.asarray(right, float), np.asarray(down, float), float(sid)
        self.slot, self.iso = slot, iso
        self.origin, self.spacing, self.shape = np.zeros(2), 1.0, (1, 1)

    def detector(self, p):
        """World points -> (column mm, row mm, depth mm)."""
        q = np.asarray(p, float) - self.source
        z = q @ self.forward
        if self.slot:
            return q @ self.right * (self.iso / z), q @ self.down, z
        return q @ self.right * (self.sid / z), q @ self.down * (self.sid / z), z

    def pixels(self, p):
        """World points -> (x, y) film pixels, SCOORD origin (outer corner of the first pixel)."""
        c, r, _ = self.detector(p)
        return np.stack([(c - self.origin[0]) / self.spacing, (r - self.origin[1]) / self.spacing], -1)

    def ray(self, x, y):
        """Pixel coordinates -> (base point at depth 0, step per mm of depth), arrays (..., 3)."""
        c = np.asarray(x)[..., None] * self.spacing + self.origin[0]
        r = np.asarray(y)[..., None] * self.spacing + self.origin[1]
        if self.slot:
            return self.source + r * self.down, self.forward + c / self.iso * self.right
        return self.source + 0 * c, self.forward + c / self.sid * self.right + r / self.sid * self.down

    def magnification(self, p):
        """Detector mm per mm at a world point (columns)."""
        z = float((np.asarray(p, float) - self.source) @ self.forward)
        return (self.iso if self.slot else self.sid) / z


def ray_sums(beam, tri, weight, factor=1):
    """Sum of weight x path length (dimensionless if weight is 1/mm) on the film grid divided by `factor`."""
    rows, cols = -(-beam.shape[0] // factor), -(-beam.shape[1] // factor)
    img = np.zeros(rows * cols)
    if not len(tri):
        return img.reshape(rows, cols).astype(np.float32)
    c, r, z = beam.detector(tri.reshape(-1, 3))
    step = beam.spacing * factor
    x = ((c - beam.origin[0]) / step).reshape(-1, 3)
    y = ((r - beam.origin[1]) / step).reshape(-1, 3)
    z = z.reshape(-1, 3)
    normal = cross(tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0])
    ray = tri[:, 0] - beam.source
    if beam.slot:
        ray = ray - (ray @ beam.down)[:, None] * beam.down
    val = weight * np.sign(np.einsum("ij,ij->i", normal, ray))
    z = z - np.median(z)
    den = (y[:, 1] - y[:, 2]) * (x[:, 0] - x[:, 2]) + (x[:, 2] - x[:, 1]) * (y[:, 0] - y[:, 2])
    x0, y0 = np.floor(x.min(1) - 0.5).astype(int) + 1, np.floor(y.min(1) - 0.5).astype(int) + 1
    x1, y1 = np.floor(x.max(1) - 0.5).astype(int), np.floor(y.max(1) - 0.5).astype(int)
    x0, y0 = np.maximum(x0, 0), np.maximum(y0, 0)
    nx, ny = np.minimum(x1, cols - 1) - x0 + 1, np.minimum(y1, rows - 1) - y0 + 1
    ok = (nx > 0) & (ny > 0) & (abs(den) > 1e-12)
    sizes = np.unique(np.r_[1, 2, 3, np.round(4 * 1.35 ** np.arange(28))].astype(int))   # bounding-box classes
    kx, ky = (sizes[np.minimum(np.searchsorted(sizes, k), len(sizes) - 1)] for k in (nx, ny))
    key = kx * 100003 + ky
    for k in np.unique(key[ok]):
        sel = np.nonzero(ok & (key == k))[0]
        w, h = kx[sel[0]], ky[sel[0]]
        chunk = max(1, 150000 // (w * h))
        for s in range(0, len(sel), chunk):
            _fill(img, cols, sel[s:s + chunk], w, h, x, y, z, den, x0, y0, nx, ny, val)
    return img.reshape(rows, cols).astype(np.float32)


def _fill(img, cols, t, w, h, x, y, z, den, x0, y0, nx, ny, val):
    """Adds one batch of faces with bounding boxes up to w x h pixels."""
    i, j = np.arange(w), np.arange(h)
    d = den[t]
    ax, ay = (y[t, 1] - y[t, 2]) / d, (x[t, 2] - x[t, 1]) / d
    bx, by = (y[t, 2] - y[t, 0]) / d, (x[t, 0] - x[t, 2]) / d
    px, py = x0[t] + 0.5 - x[t, 2], y0[t] + 0.5 - y[t, 2]
    a = (ax * px + ay * py)[:, None, None] + ax[:, None, None] * i + ay[:, None, None] * j[:, None]
    b = (bx * px + by * py)[:, None, None] + bx[:, None, None] * i + by[:, None, None] * j[:, None]
    inside = (a >= 0) & (b >= 0) & (a + b <= 1)
    inside &= (i < nx[t][:, None, None]) & (j[:, None] < ny[t][:, None, None])
    n, jj, ii = np.nonzero(inside)
    a, b = a[inside], b[inside]
    tn = t[n]
    depth = z[tn, 2] + a * (z[tn, 0] - z[tn, 2]) + b * (z[tn, 1] - z[tn, 2])
    np.add.at(img, (y0[tn] + jj) * cols + x0[tn] + ii, depth * val[tn])


def enlarge(img, factor, shape):
    """Linear interpolation of a grid whose pixels are `factor` film pixels wide, onto the film grid."""
    def weights(n, m):
        p = np.clip((np.arange(n) + 0.5) / factor - 0.5, 0, m - 1)
        k = np.minimum(p.astype(int), max(m - 2, 0))
        return k, np.minimum(k + 1, m - 1), (p - k).astype(np.float32)
    k, l, f = weights(shape[0], img.shape[0])
    out = img[k] * (1 - f)[:, None] + img[l] * f[:, None]
    k, l, f = weights(shape[1], img.shape[1])
    return out[:, k] * (1 - f) + out[:, l] * f
