"""Soft solids of the trunk: skin, lungs, heart, airway, bowel gas; trunk measures."""
import numpy as np
from scipy.interpolate import PchipInterpolator
from .raster import close, tube, ellipsoid

# along the trunk, 0 = sacral plate, 1 = C7: half width and depth of the cage,
# and how far its middle lies in front of the bodies (grown up, mm)
T = [-.7, -.35, -.18, 0, .2, .42, .62, .8, .92, 1.0, 1.08, 1.2, 1.5]
HALF_W = [150, 158, 155, 142, 122, 128, 134, 122, 98, 74, 56, 50, 48]
HALF_D = [88, 92, 92, 84, 82, 90, 92, 76, 58, 46, 44, 46, 46]
FRONT = [30, 30, 34, 42, 48, 52, 52, 40, 26, 18, 14, 16, 30]
FINE = np.linspace(T[0], T[-1], 400)
TABLE = [PchipInterpolator(T, v)(FINE) for v in (HALF_W, HALF_D, FRONT)]


def size_at(t, k):
    return np.interp(t, FINE, TABLE[k])


class SoftParts:
    def soft(self, sc):
        ch, s, r, zc = self.ch, self.ch.wide, self.r, self.zc
        ang = np.arange(48) * 2 * np.pi / 48
        ts = np.linspace(-.7, 1.3, 60)
        wide = PchipInterpolator([-.7, .66, .84, .93, 1.03, 1.13, 1.3], [0, 0, 24, 31, 13, 1, 0])(ts) * s
        skin = np.interp(ts, [-.7, 0, .3, .8, 1.1, 1.3], [12, 14, 9, 11, 6, 4]) * s
        fat = np.interp(ts, [-.7, 0, .3, .8, 1.1], [9, 8, 6, 4, 2]) * s * ch.fat
        hump = 17 * s * np.clip(-np.sin(ang), 0, 1) ** 2    # room for the spinous processes
        for extra, wt in ((skin + fat + wide, .93), (skin * .6 + wide * .8, .11)):
            sc.add(close([self.wall(np.full(48, t * zc), ang, -e - hump, .8) for t, e in zip(ts, extra)]), "soft", wt)
        back = np.array([[self.at(z, "sx"), self.at(z, "sy") - 34 * s, z, 17 * s, 42 * s]
                         for z in np.linspace(0, .95 * zc, 9)])
        sc.add(tube(back, (1, 0, 0), 20, 14), "soft", .04)
        t0 = r.normal(.56, .02)
        heart = self.wall(t0 * zc, np.pi / 2, 62 * s) + np.array([14 * s, 0, 0])
        hax = np.array([50, 42, 52]) * s * r.uniform(.88, 1.12)
        for sx in (-1, 1):
            self.lung(sc, sx, heart, hax)
        sc.add(ellipsoid(heart, np.diag(hax)), "soft", .04)
        air = np.array([[self.at(z, "sx") * .75, self.at(z, "sy") + (26 + 10 * (1.1 - z / zc)) * s, z, 6.5 * s, 6 * s]
                        for z in np.linspace(1.18, .77, 6) * zc])
        sc.add(tube(air, (1, 0, 0), 16, 12), "soft", -.9)
        for sx in (-1, 1):
            e = air[-1, :3]
            n = np.r_[[air[-1]], [np.r_[e + [sx * 16 * s, -2, -18 * s], 5 * s, 5 * s]], [np.r_[e + [sx * 34 * s, -6, -34 * s], 3.5 * s, 3.5 * s]]]
            sc.add(tube(n, (0, 1, 0), 10, 10), "soft", -.7)
        bub = self.wall(.36 * zc, np.pi / 2, 60 * s) + [48 * s, 0, 0]
        if r.random() < .75:
            sc.add(ellipsoid(bub, np.diag(np.array([30, 24, 18]) * s * r.uniform(.6, 1.25))), "soft", -.9)
        for _ in range(int(r.choice([2, 6, 10, 16]))):      # gas-filled bowel loops with haustra
            z = r.uniform(-.25, .3) * zc
            p = self.wall(z, np.pi / 2, r.uniform(30, 100) * s) + [r.uniform(-85, 85) * s, 0, 0]
            n = r.integers(4, 9)
            step = np.cumsum(r.normal(0, .7, (n, 3)), 0) + r.normal(0, .5, 3)
            path = p + np.cumsum(step * [10, 4, 8], 0) * s
            path[:, 1] = np.maximum(path[:, 1], self.at(path[:, 2], "sy") + 30 * s)
            wd = r.uniform(4, 12) * s * r.uniform(.55, 1.25, n)
            sc.add(tube(np.c_[path, wd, wd], (0, 1, .1), 26, 12), "soft", -r.uniform(.25, .8))
        for _ in range(int(r.choice([4, 20, 50, 90]))):     # faecal mottling
            z = r.uniform(-.22, .34) * zc
            o = self.wall(z, r.uniform(0, 2 * np.pi), 0)
            mid = self.wall(z, np.pi / 2, 70 * s)
            p = mid + (o - mid) * r.uniform(0, .62)
            p[1] = max(p[1], self.at(z, "sy") + 28 * s)
            rot, _ = np.linalg.qr(r.normal(size=(3, 3)))
            ax = np.diag(r.gamma(2.2, 2.2, 3).clip(1.5, 13) * s) @ rot
            sc.add(ellipsoid(p, ax, 10, 16), "soft", -r.uniform(.2, .7))
        sc.add(ellipsoid(self.wall(.36 * zc, np.pi / 2, 80 * s) - [50 * s, 0, 0], np.diag([70, 60, 55]) * s), "soft", .05)

    def lung(self, sc, sx, heart, hax):
        ch, s, r, zc = self.ch, self.ch.wide, self.r, self.zc
        ang = np.arange(56) * 2 * np.pi / 56
        base = zc * (r.normal(.345, .02))
        dome = zc * (.13 if sx < 0 else .11) * r.uniform(.7, 1.2)
        inset = 10 * s

        def ring(z, f):
            left = self.wall(z, 0 if sx > 0 else np.pi, inset)
            med = np.array([self.at(z, "mx") + sx * 12 * s, left[1], 0])
            half = abs(left[0] - med[0]) / 2
            t = z / zc
            d = size_at(t, 1) * s * self.k_d - inset
            cx, cy = (left[0] + med[0]) / 2, self.at(z, "my") + size_at(t, 2) * s
            p = .72
            x = half * np.sign(np.cos(ang)) * np.abs(np.cos(ang)) ** p * f
            y = d * np.sign(np.sin(ang)) * np.abs(np.sin(ang)) ** p * f
            rot = self.at(z, "rot")
            y = y + (x + cx - self.at(z, "mx")) * np.sin(rot)
            return np.stack([cx + x, cy + y, np.full(56, z)], 1)
        rings = []
        for f in (.05, .25, .45, .62, .77, .89, .97):
            g = ring(base, f)
            g[:, 2] = base + dome * (1 - f ** 2.2) + (g[:, 1] - g[:, 1].mean()) * .25 * (1 - f)
            rings.append(g)
        for q in np.linspace(.02, 1, 24):
            z = base + (.955 * zc - base) * q
            rings.append(ring(z, np.sqrt(max(1 - max(0, (q - .72) / .285) ** 2, .001))))
        p = np.array(rings)
        # the recess is deepest behind and at the side
        low = np.clip(1 - (p[..., 2] - base) / (.2 * zc), 0, 1)
        side = sx * (p[..., 0] - self.at(base, "mx")) / (110 * s)
        rear = (self.at(base, "my") + 45 * s - p[..., 1]) / (80 * s)
        p[..., 2] -= low * (np.clip(side, 0, 1.2) * 14 + rear * 20 - 18) * s
        # keep to the own side of the spine's column and of the heart
        dy = p[..., 1] - self.at(p[..., 2], "sy") - 6 * s
        dy = np.where(dy < 0, dy * .45, dy * .75) / (29 * s)
        edge = self.at(p[..., 2], "sx") + sx * 29 * s * np.sqrt(np.clip(1 - dy ** 2, 0, 1))
        p[..., 0] = np.where(np.abs(dy) < 1, sx * np.maximum(sx * p[..., 0], sx * edge), p[..., 0])
        q = ((p[..., 1:] - heart[1:]) / hax[1:]) ** 2
        inside = 1 - q.sum(-1)
        edge = heart[0] + sx * hax[0] * np.sqrt(np.clip(inside, 0, 1))
        p[..., 0] = np.where(inside > 0, sx * np.maximum(sx * p[..., 0], sx * edge), p[..., 0])
        sc.add(close(p), "soft", -r.uniform(.5, .7))
        hil = np.array([self.at(.66 * zc, "mx") + sx * 26 * s, self.at(.66 * zc, "my") + 52 * s, .66 * zc])
        for _ in range(26):
            z = r.uniform(.42, .92) * zc
            end = self.wall(z, (r.uniform(-60, 60) if sx > 0 else 180 - r.uniform(-60, 60)) * np.pi / 180, 24 * s)
            root = hil + r.normal(0, 1, 3) * [5, 9, 16] * s
            mid = (root + end) / 2 + r.normal(0, 7, 3) * s
            w = np.array([[3, 3], [1.9, 1.9], [.8, .8]]) * s * r.uniform(.6, 1.2)
            sc.add(tube(np.c_[np.vstack([root, mid, end]), w], (.3, 1, .2), 10, 8), "soft", .62)
