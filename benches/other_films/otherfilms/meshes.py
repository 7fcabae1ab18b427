"""Closed triangle meshes (vertices in mm, faces as index triples) and the scene that collects them."""
import numpy as np
from scipy.interpolate import CubicSpline


def cross(a, b):
    """Cross product along the last axis (numpy's own is slow on small arrays)."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    return np.stack([a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1], a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2],
                     a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]], -1)


def _grid_faces(m, n):
    """Faces of m rings of n points each, closed around n, open along m."""
    i, j = np.meshgrid(np.arange(m - 1), np.arange(n), indexing="ij")
    k = (j + 1) % n
    a, b, c, d = i * n + j, i * n + k, (i + 1) * n + k, (i + 1) * n + j
    return np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])


def rings(points):
    """Closed mesh from rings (m, n, 3); both ends are closed by a fan to the ring's mean."""
    m, n, _ = points.shape
    v = np.concatenate([points.reshape(-1, 3), points[0].mean(0)[None], points[-1].mean(0)[None]])
    j = np.arange(n)
    k = (j + 1) % n
    first = np.stack([np.full(n, m * n), k, j], -1)
    last = np.stack([np.full(n, m * n + 1), (m - 1) * n + j, (m - 1) * n + k], -1)
    return v, np.concatenate([_grid_faces(m, n), first, last])


def smooth_path(points, count):
    """Cubic spline through points (mm) by chord length, resampled to `count` points."""
    p = np.asarray(points, float)
    s = np.r_[0, np.cumsum(np.maximum(np.linalg.norm(np.diff(p, axis=0), axis=1), 1e-6))]
    return CubicSpline(s, p)(np.linspace(0, s[-1], count))


def tube(path, ra, rb=None, ref=(0, 0, 1), n=10, cap=True, power=1.0):
    """Swept ellipse: half-axes ra across `ref`, rb along it (mm; scalars or one per point)."""
    p = np.asarray(path, float)
    ra = np.broadcast_to(np.asarray(ra, float), len(p)).copy()
    rb = ra.copy() if rb is None else np.broadcast_to(np.asarray(rb, float), len(p)).copy()
    t = np.gradient(p, axis=0)
    t /= np.linalg.norm(t, axis=1, keepdims=True)
    if cap:                                     # rounded ends: two shrunken rings beyond each end
        r0, r1 = min(ra[0], rb[0]), min(ra[-1], rb[-1])
        p = np.vstack([p[0] - t[0] * 0.8 * r0, p[0] - t[0] * 0.5 * r0, p,
                       p[-1] + t[-1] * 0.5 * r1, p[-1] + t[-1] * 0.8 * r1])
        t = np.vstack([t[0], t[0], t, t[-1], t[-1]])
        ra = np.r_[0.45 * ra[0], 0.85 * ra[0], ra, 0.85 * ra[-1], 0.45 * ra[-1]]
        rb = np.r_[0.45 * rb[0], 0.85 * rb[0], rb, 0.85 * rb[-1], 0.45 * rb[-1]]
    side = cross(t, np.asarray(ref, float))
    bad = np.linalg.norm(side, axis=1) < 1e-3
    side[bad] = cross(t[bad], (1.0, 0.3, 0.0))
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    up = cross(side, t)
    a = np.arange(n) * 2 * np.pi / n
    c, s = np.cos(a), np.sin(a)
    if power != 1.0:
        c, s = np.sign(c) * abs(c) ** power, np.sign(s) * abs(s) ** power
    return rings(p[:, None] + ra[:, None, None] * c[None, :, None] * side[:, None]
                 + rb[:, None, None] * s[None, :, None] * up[:, None])


def ellipsoid(centre, axes, n=16):
    """Ellipsoid; `axes` rows are the three half-axis vectors (mm), or three half-lengths along X, Y, Z."""
    axes = np.asarray(axes, float)
    axes = np.diag(axes) if axes.ndim == 1 else axes
    lat = np.linspace(-1, 1, n // 2 + 2)[1:-1] * np.pi / 2
    lat = np.r_[-1.54, lat, 1.54]
    lon = np.arange(n) * 2 * np.pi / n
    d = np.stack([np.cos(lat)[:, None] * np.cos(lon), np.cos(lat)[:, None] * np.sin(lon),
                  np.broadcast_to(np.sin(lat)[:, None], (len(lat), n))], -1)
    return rings(np.asarray(centre, float) + d @ axes)


def slab(mid, thickness):
    """A curved plate: mid-surface grid (m, n, 3), thickness in mm (scalar or (m, n))."""
    mid = np.asarray(mid, float)
    nrm = cross(np.gradient(mid, axis=0), np.gradient(mid, axis=1))
    nrm /= np.maximum(np.linalg.norm(nrm, axis=-1, keepdims=True), 1e-9)
    h = np.broadcast_to(np.asarray(thickness, float), mid.shape[:2])[..., None] / 2
    return rings(np.concatenate([mid + nrm * h, (mid - nrm * h)[:, ::-1]], axis=1))


def moved(mesh, rot, shift):
    """Mesh turned by the matrix `rot` (columns are the new axes) and shifted (mm)."""
    return mesh[0] @ np.asarray(rot).T + shift, mesh[1]


def volume(mesh):
    """Signed volume, mm3."""
    a, b, c = (mesh[0][mesh[1][:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, cross(b, c)).sum() / 6)


class Scene:
    """Meshes by class: `fine` (full resolution bone), `half` (half resolution bone), `metal`.

    Each mesh carries the attenuation it adds to whatever surrounds it (1/mm).
    """

    def __init__(self):
        self.parts = {"fine": [], "half": [], "metal": []}

    def add(self, mesh, mu, cls="half"):
        v, f = mesh
        self.parts[cls].append((v, f, mu * np.sign(volume((v - v.mean(0), f)) or 1.0)))

    def shell(self, make, thick, mu_out, mu_in, cls="half"):
        """make(inset mm) -> mesh; dense shell of `thick` mm around a lighter inside."""
        self.add(make(0.0), mu_out, cls)
        self.add(make(thick), mu_in - mu_out, cls)

    def bone_tube(self, path, ra, rb=None, thick=0.7, mu=(0.03, 0.008), cls="half", **kw):
        """Hollow bone along a path: half-axes in mm, mu = (cortex, inside) above soft tissue."""
        ra = np.asarray(ra, float)
        rb = ra if rb is None else np.asarray(rb, float)
        self.shell(lambda d: tube(path, np.maximum(ra - d, 0.3), np.maximum(rb - d, 0.3), **kw),
                   thick, mu[0], mu[1], cls)

    def triangles(self, cls):
        """(T,3,3) vertices in mm and (T,) weights of one class."""
        tri = [v[f] for v, f, _ in self.parts[cls]]
        w = [np.full(len(f), m) for _, f, m in self.parts[cls]]
        return (np.concatenate(tri), np.concatenate(w)) if tri else (np.zeros((0, 3, 3)), np.zeros(0))
