"""Trunk form as a function of height, ribs, sternum, and lung vessels (mm, degrees)."""
import numpy as np
from scipy.ndimage import gaussian_filter1d
from .meshes import smooth_path, tube


class Trunk:
    """Rib cage and skin as superellipses per height z: centre (cx, cy), half-axes, turn psi (degrees)."""

    def __init__(self, child, sp):
        s = self.s = child["scale"]
        slim = child["slim"]
        order = np.argsort(sp.centre[:, 2])
        z, c = sp.centre[order, 2], sp.centre[order]
        self.z = np.arange(-330.0, z[-1] + 260, 2.0)
        self.spine_x, self.spine_y = np.interp(self.z, z, c[:, 0]), np.interp(self.z, z, c[:, 1])
        self.turn = gaussian_filter1d(np.interp(self.z, z, sp.gamma[order]), 12)
        zt = lambda n: sp.centre[sp.index(n), 2]
        names = ["S1", "L4", "L1", "T12", "T9", "T6", "T3", "T2", "T1", "C6", "C3"]
        zz = np.r_[-300 * s, -160 * s, -90 * s, [zt(n) for n in names], zt("C3") + 60 * s, zt("C3") + 240]
        half = np.array([150, 158, 150, 128, 112, 112, 120, 128, 122, 104, 90, 70, 54, 52, 60, 60]) * s * slim
        depth = np.array([190, 195, 190, 170, 160, 168, 178, 184, 172, 138, 124, 108, 100, 95, 130, 130]) * s * slim
        g = lambda v, k: gaussian_filter1d(np.interp(self.z, zz, v), k)
        self.half, self.depth = g(half, 8), g(depth, 8)
        thorax = np.interp(self.z, [zt("L2"), zt("T11"), zt("T3"), zt("C7")], [0, 1, 1, 0.3])
        self.thorax = gaussian_filter1d(thorax, 8)
        sx = gaussian_filter1d(self.spine_x, 14)
        self.cx = gaussian_filter1d(sx * np.interp(self.z, zz[[0, 3, 7, -1]], [0.2, 0.6, 0.55, 1]), 10)
        hump = np.interp(self.z, [zt("L4"), zt("T12"), zt("T6"), zt("T2"), zt("C7")], [42, 38, 36, 34, 42]) * s
        self.cy = gaussian_filter1d(self.spine_y, 10) - gaussian_filter1d(hump, 8) + self.depth / 2
        pel = gaussian_filter1d(np.interp(self.z, [zt("S1"), zt("L3")], [0, 1]), 10)
        self.cy = self.cy * pel + (1 - pel) * (self.depth / 2 - 60 * s)
        self.psi = 0.55 * self.turn * self.thorax
        self.skin = (11 + 8 * child["fat"]) * np.interp(self.z, zz[[0, 4, 8, 9, -1]], [1.6, 1.5, 1.0, 0.5, 0.2])

    def col(self, name, z):
        return np.interp(z, self.z, getattr(self, name))

    def ring(self, z, phi, inset=0.0):
        """Cage point at height z and angle phi (degrees from the back's midline, + toward the right)."""
        a, d = self.col("half", z) - inset, self.col("depth", z) / 2 - inset
        p = np.radians(phi)
        c, s = np.cos(p), np.sin(p)
        x, y = a * np.sign(s) * abs(s) ** 0.85, -d * np.sign(c) * abs(c) ** 0.85
        g = np.radians(self.col("psi", z))
        return np.stack([x * np.cos(g) - y * np.sin(g) + self.col("cx", z),
                         x * np.sin(g) + y * np.cos(g) + self.col("cy", z), z + 0 * x], -1)


def rib_path(child, sp, trunk, i, side):
    """Centre line of one rib, from its head to its bony front end; None where the child has none."""
    name = sp.names[i]
    num, s = int(name[1:]), child["scale"]
    last = max(int(n[1:]) for n in sp.names if n[0] == "T")
    from_last = last - num
    if name in child["no_ribs"]:
        return None
    end = {0: 44, 1: 84, 2: 112}.get(from_last, np.interp(num, [1, 2, 4, 7, 9], [150, 146, 140, 142, 130]))
    if child["anomaly"] == "short T12 ribs" and name == "T12":
        end = 30
    drop = np.interp(num, [1, 2, 4, 7, 10, 12], [38, 58, 88, 105, 95, 90]) * s * child["rib_slope"]
    b = sp.bodies[i]
    alpha = np.degrees(np.arctan2(sp.rot[i][2, 0], np.hypot(*sp.rot[i][:2, 0])))
    phis = np.linspace(24, end, 12)
    pts = []
    for k, phi in enumerate(phis):
        z = sp.centre[i, 2] + 4 * s - drop * (1 - np.cos(np.radians(phi))) / 1.75
        p = trunk.ring(z, side * phi, inset=4 * s)
        dx = p[0] - sp.centre[i, 0]
        p[2] += 45 * s * np.tanh(dx / (45 * s)) * np.tan(np.radians(0.62 * alpha))
        pts.append(p)
    pts = np.array(pts)
    out = {0: 5, 1: 8, 2: 11}.get(from_last, 15) * s
    head = sp.at(i, (side * b.a * 0.93, -0.62 * b.b, 0.30 * b.h))
    neck = sp.at(i, (side * (b.a + 0.55 * out), -b.b - 8 * s, 0.18 * b.h))
    tub = sp.at(i, (side * (b.a + out), -b.b - 14 * s, 0.12 * b.h))
    lateral = np.abs(pts[:, 0] - tub[0])
    keep = side * (pts[:, 0] - tub[0]) > 8 * s
    keep[6:] = True
    pts = pts[keep]
    for k in range(min(3, len(pts))):           # the back of the rib follows its vertebra
        w = (0.45, 0.25, 0.1)[k]
        pts[k] = pts[k] * (1 - w) + w * (tub + side * sp.rot[i][:, 0] * abs(pts[k][0] - tub[0])
                                         - sp.rot[i][:, 2] * 0.22 * lateral.min() * (k + 1))
    return smooth_path(np.vstack([head, neck, tub, pts]), 46)


def add_ribs(scene, child, sp, trunk, mu):
    """Bony ribs of every thoracic level (and of an extra level with small ribs)."""
    s = child["scale"]
    for i, n in enumerate(sp.names):
        if n[0] != "T":
            continue
        for side in (1, -1):
            p = rib_path(child, sp, trunk, i, side)
            if p is None:
                continue
            r = np.interp(np.linspace(0, 1, len(p)), [0, 0.08, 0.2, 0.8, 1], [4.2, 3.4, 5.2, 6.2, 7.0]) * s
            k = 0.8 if n in ("T12", "T13") else 1.0
            scene.bone_tube(p, 3.0 * s, r * k, 0.65, mu, "half", n=12)


def add_sternum(scene, child, sp, trunk, mu):
    """Manubrium and body of the sternum as one flattened tube in front of the cage."""
    z1, z2 = sp.centre[sp.index("T3"), 2], sp.centre[sp.index("T9"), 2]
    z = np.linspace(z1, z2, 9)
    p = np.array([trunk.ring(k, 180, 4) for k in z])
    w = np.interp(np.linspace(0, 1, 9), [0, 0.2, 0.35, 1], [24, 20, 12, 15]) * child["scale"]
    scene.bone_tube(p, w, 5.0 * child["scale"], 0.6, (mu[0] * 0.6, mu[1] * 0.6), "half", ref=(0, 1, 0), n=14)


def add_vessels(scene, child, sp, trunk, rng, mu=0.012):
    """Branching lung vessels fanning from each hilum; mu above lung, 1/mm."""
    s = child["scale"]
    zh = sp.centre[sp.index("T6"), 2]
    for side in (1, -1):
        hil = np.array([trunk.col("cx", zh) + side * 28 * s, trunk.col("cy", zh) + 8 * s, zh])
        for _ in range(34):
            root = hil + rng.normal(0, 1, 3) * [4 * s, 8 * s, 13 * s]
            z = zh + rng.uniform(-85, 75) * s
            phi = side * rng.uniform(35, 150)
            tip = trunk.ring(z, phi, inset=rng.uniform(18, 40) * s)
            mid = root + (tip - root) * rng.uniform(0.4, 0.6) + rng.normal(0, 6, 3) * s
            p = smooth_path([root, mid, tip], 9)
            r = np.linspace(rng.uniform(1.6, 3.4), 0.4, 9) * s
            scene.add(tube(p, r, n=6), mu, "half")
            for _ in range(2):
                k = rng.integers(3, 7)
                q = p[k] + (tip - p[k]) * 0.8 + rng.normal(0, 14, 3) * s
                scene.add(tube(smooth_path([p[k], (p[k] + q) / 2 + rng.normal(0, 3, 3), q], 6),
                               np.linspace(r[k] * 0.7, 0.3, 6), n=6), mu, "half")
