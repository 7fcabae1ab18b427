"""Exact path lengths through closed triangle meshes.

Every triangle adds (exit side) or takes away (entry side) its distance from
the source on the pixels it covers; over a closed mesh the sum is the length of
the ray inside it.  A triangle is linear on each detector row, so only its two
ends a row are stored and one running sum along the row gives the rest."""
import numpy as np


class Beam:
    """Point source + flat detector; slot = fan beam scanned down the patient."""

    def __init__(self, across, along, source, sdd, px, centre, slot_mag=None):
        self.h, self.d, self.s = (np.asarray(v, float) for v in (across, along, source))
        self.sdd, self.px, self.c, self.slot_mag = sdd, px, centre, slot_mag

    def project(self, p, px=None):
        """Points (n,3) -> column, row (pixels from the outer corner), distance."""
        q = np.asarray(p, float) - self.s
        depth = q @ self.d
        mag = self.sdd / depth
        px = px or self.px
        vmag = self.slot_mag if self.slot_mag else mag
        u = self.c[0] * self.px / px + (q @ self.h) * mag / px
        v = self.c[1] * self.px / px - q[:, 2] * vmag / px
        return u, v, depth

    def slant(self, rows, cols, px):
        """How much longer the slanted ray is than its depth."""
        s = self.px / px
        x = ((np.arange(cols) + .5) - self.c[0] * s) * px / self.sdd
        y = ((np.arange(rows) + .5) - self.c[1] * s) * px / self.sdd
        y = y * (0 if self.slot_mag else 1)
        return np.sqrt(1 + x[None, :] ** 2 + y[:, None] ** 2).astype(np.float32)


class Scene:
    """A list of closed meshes, each with a layer and a weight."""

    def __init__(self):
        self.parts = []

    def add(self, mesh, layer, weight=1.0):
        self.parts.append((mesh[0], mesh[1], layer, weight))

    def shell(self, outer, inner, spongy, dens=1.0):
        """Bone: cortex is the outer less the inner solid."""
        self.add(outer, "cortex", dens)
        if inner is not None:
            self.add(inner, "cortex", -dens)
            self.add(inner, spongy, dens)

    def render(self, layer, beam, rows, cols, px=None):
        vs, fs, ws, n = [], [], [], 0
        for v, f, lay, w in self.parts:
            if lay == layer:
                vs.append(v)
                fs.append(f + n)
                ws.append(np.full(len(f), w))
                n += len(v)
        if not vs:
            return np.zeros((rows, cols), np.float32)
        u, v, t = beam.project(np.concatenate(vs), px)
        return accumulate(u, v, t - t.mean(), np.concatenate(fs),
                          np.concatenate(ws), rows, cols) \
            * beam.slant(rows, cols, px or beam.px)


def accumulate(u, v, t, f, w, rows, cols):
    # corners sorted by row so that neighbours share each edge's arithmetic
    area = (u[f[:, 1]] - u[f[:, 0]]) * (v[f[:, 2]] - v[f[:, 0]]) \
        - (u[f[:, 2]] - u[f[:, 0]]) * (v[f[:, 1]] - v[f[:, 0]])
    keep = np.abs(area) > 1e-7
    f, w, area = f[keep], w[keep], area[keep]
    f = np.take_along_axis(f, np.argsort(v[f], axis=1, kind="stable"), 1)
    ua, ub, uc = u[f].T
    va, vb, vc = v[f].T
    ta, tb, tc = t[f].T
    det = (ub - ua) * (vc - va) - (uc - ua) * (vb - va)
    gx = ((tb - ta) * (vc - va) - (tc - ta) * (vb - va)) / det
    gy = ((ub - ua) * (tc - ta) - (uc - ua) * (tb - ta)) / det
    w = w * np.sign(area)
    first = np.clip(np.ceil(va - .5), 0, rows).astype(int)
    last = np.clip(np.ceil(vc - .5), 0, rows).astype(int)
    num = np.maximum(last - first, 0)
    k = np.repeat(np.arange(len(f)), num)
    if not len(k):
        return np.zeros((rows, cols), np.float32)
    r = first[k] + np.arange(len(k)) - np.repeat(np.cumsum(num) - num, num)
    y = r + .5
    with np.errstate(divide="ignore", invalid="ignore"):
        long = ua[k] + (y - va[k]) * ((uc - ua) / (vc - va))[k]
        up = ua[k] + (y - va[k]) * ((ub - ua) / (vb - va))[k]
        low = ub[k] + (y - vb[k]) * ((uc - ub) / (vc - vb))[k]
    short = np.where(y < vb[k], up, low)
    a = np.clip(np.ceil(np.minimum(long, short) - .5), 0, cols).astype(int)
    b = np.clip(np.ceil(np.maximum(long, short) - .5), 0, cols).astype(int)
    go = b > a
    k, r, a, b, y = k[go], r[go], a[go], b[go], y[go]
    const = w[k] * (ta[k] - gx[k] * ua[k] + gy[k] * (y - va[k]))
    slope = w[k] * gx[k]
    at = np.concatenate([r * (cols + 1) + a, r * (cols + 1) + b])
    size = rows * (cols + 1)

    def run(x):
        s = np.bincount(at, np.concatenate([x, -x]), size).reshape(rows, cols + 1)
        return np.cumsum(s, 1, out=s)[:, :cols]
    out = run(slope)
    out *= np.arange(cols) + .5
    out += run(const)
    out = out.astype(np.float32)
    return out if out.sum() >= 0 else -out


def close(rings):
    """Rings (n,m,3) -> closed mesh, ends shut with fans, faces looking out."""
    rings = np.asarray(rings, float)
    n, m = rings.shape[:2]
    v = np.concatenate([rings.reshape(-1, 3), rings[:1].mean(1), rings[-1:].mean(1)])
    i, j = np.meshgrid(np.arange(n - 1), np.arange(m), indexing="ij")
    p, q = (i * m + j).ravel(), (i * m + (j + 1) % m).ravel()
    f = [np.stack([p, q, q + m], 1), np.stack([p, q + m, p + m], 1)]
    j = np.arange(m)
    jn = (j + 1) % m
    f.append(np.stack([np.full(m, n * m), jn, j], 1))
    f.append(np.stack([np.full(m, n * m + 1), (n - 1) * m + j, (n - 1) * m + jn], 1))
    f = np.concatenate(f)
    o = v - v.mean(0)
    if np.einsum("ij,ij->", o[f[:, 0]], np.cross(o[f[:, 1]], o[f[:, 2]])) < 0:
        f = f[:, ::-1]
    return v, f


def smooth_path(nodes, n):
    """Catmull-Rom through the nodes (any number of columns)."""
    p = np.asarray(nodes, float)
    p = np.concatenate([2 * p[:1] - p[1:2], p, 2 * p[-1:] - p[-2:-1]])
    s = np.linspace(0, len(p) - 3 - 1e-9, n)
    i = s.astype(int)
    t = (s - i)[:, None]
    a, b, c, d = p[i], p[i + 1], p[i + 2], p[i + 3]
    return .5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t ** 2
                 + (3 * b - a - 3 * c + d) * t ** 3)


def tube(nodes, flat, n=14, m=10, less=0.0, taper=True):
    """Swept ellipse.  nodes rows: x,y,z,ra,rb; rb lies along `flat`."""
    k = smooth_path(nodes, n)
    c, ra, rb = k[:, :3], np.maximum(k[:, 3] - less, .12), np.maximum(k[:, 4] - less, .12)
    d = np.gradient(c, axis=0)
    d /= np.linalg.norm(d, axis=1)[:, None] + 1e-9
    flat = np.broadcast_to(np.asarray(flat, float), c.shape)
    e2 = flat - np.einsum("ij,ij->i", flat, d)[:, None] * d
    e2 /= np.linalg.norm(e2, axis=1)[:, None] + 1e-9
    e1 = np.cross(d, e2)
    a = np.arange(m) * 2 * np.pi / m
    ring = lambda cc, s: cc[:, None] + s[:, None, None] * (
        ra[:, None, None] * e1[:, None] * np.cos(a)[None, :, None]
        + rb[:, None, None] * e2[:, None] * np.sin(a)[None, :, None])
    if less:
        c[0] += d[0] * less
        c[-1] -= d[-1] * less
    r = ring(c, np.ones(n))
    if taper:                                    # rounded ends
        cap = np.minimum(ra, rb)
        parts = [r]
        for s, h in ((.8, .6), (.4, .92)):
            parts.insert(0, (c[:1] - d[:1] * cap[0] * h)[:, None] + (r[:1] - c[:1, None]) * s)
            parts.append((c[-1:] + d[-1:] * cap[-1] * h)[:, None] + (r[-1:] - c[-1:, None]) * s)
        r = np.concatenate(parts)
    return close(r)


def ellipsoid(c, axes, n=12, m=18):
    """axes: 3 rows = half-axis vectors."""
    p = np.linspace(-np.pi / 2 + .02, np.pi / 2 - .02, n)[:, None]
    a = (np.arange(m) * 2 * np.pi / m)[None]
    q = np.stack([np.cos(p) * np.cos(a), np.cos(p) * np.sin(a), np.sin(p) + 0 * a], -1)
    return close(np.asarray(c) + q @ np.asarray(axes, float))


def sheet(grid, thick):
    """Bent plate: grid (n,m,3) mid surface, thick (n,m) full thickness -> closed."""
    g = np.asarray(grid, float)
    nrm = np.cross(np.gradient(g, axis=0), np.gradient(g, axis=1))
    nrm /= np.linalg.norm(nrm, axis=2)[..., None] + 1e-9
    off = nrm * (thick * .5)[..., None]
    return close(np.concatenate([g + off, (g - off)[:, ::-1]], 1))
