"""Rib cage, shoulder girdle, pelvis and head round one spine."""
import numpy as np
from .raster import tube, ellipsoid, sheet, smooth_path
from .spine import frame, LEVELS
from .bones import vertebra, sacrum
from .soft import SoftParts, size_at


class Torso(SoftParts):
    def __init__(self, child, pose, r, view):
        self.ch, self.p, self.r, self.view = child, pose, r, view
        self.zc = pose["c"][0, 2]
        c = np.concatenate([pose["s1"][None], pose["c"][::-1]])
        self.k_w, self.k_d = r0(child).normal(1, .05), r0(child, 5).normal(1, .06)
        self.column()
        c = np.concatenate([c, [q for q, _ in self.cerv], [self.neck + [0, 6, 95 * child.size]]])
        c[:, 2] = np.maximum.accumulate(c[:, 2] + np.arange(len(c)) * 1e-3)
        zz = np.linspace(c[0, 2], c[-1, 2], 72)
        ker = np.hanning(11) / np.hanning(11).sum()
        soft = lambda v: np.convolve(np.pad(v, 5, "edge"), ker, "valid")
        self.zz = zz
        self.sx = np.interp(zz, c[:, 2], c[:, 0])
        self.sy = np.interp(zz, c[:, 2], c[:, 1])
        self.mx, self.my = soft(self.sx), soft(self.sy)
        self.mx *= np.interp(zz / self.zc, [.8, 1.02], [.55, 1])
        turn = np.concatenate([[0], pose["turn"][::-1], np.zeros(5)])
        self.rot = soft(np.interp(zz, c[:, 2], turn)) * np.pi / 180 * .5

    def at(self, z, name):
        return np.interp(z, self.zz, getattr(self, name))

    def wall(self, z, ang, inset=0.0, power=.86):
        """Point(s) on the rib cage's outside (inset < 0: out in the soft tissue)."""
        z, ang = np.asarray(z, float), np.asarray(ang, float)
        t, s = z / self.zc, self.ch.wide
        w = size_at(t, 0) * s * self.k_w - inset
        d = size_at(t, 1) * s * self.k_d - inset
        x = w * np.sign(np.cos(ang)) * np.abs(np.cos(ang)) ** power
        y = d * np.sign(np.sin(ang)) * np.abs(np.sin(ang)) ** power
        y = y - np.where(y < 0, .12 * d * np.exp(-(x / (.25 * w)) ** 2) * -1, 0)
        rot = self.at(z, "rot")
        cx = self.at(z, "mx")
        cy = self.at(z, "my") + size_at(t, 2) * s
        return np.stack([cx + x * np.cos(rot) - y * np.sin(rot),
                         cy + x * np.sin(rot) + y * np.cos(rot), z + 0 * ang], -1)

    # ---------------------------------------------------------------- bones
    def bone(self, sc, nodes, flat=(0, 0, 1), n=14, m=10, t=1.2, q=1.0):
        q *= self.ch.marrow
        sc.shell(tube(nodes, flat, n, m), tube(nodes, flat, n, m, less=t), "rest", q)

    def spine(self, sc):
        ch, p, marks = self.ch, self.p, {}
        for i in range(18):
            for k, q in vertebra(sc, ch, i, p["axes"][i], p["c"][i]).items():
                marks[f"{LEVELS[i]}.{k}"] = q
        for k, q in sacrum(sc, ch, p["s1_axes"], p["s1"]).items():
            marks[f"S1.{k}"] = q
        for c, a in self.cerv:
            vertebra(sc, ch, 0, a, c, "rest", h=ch.h[0] * .92)
        return marks

    def column(self):
        """C6..C3: drawn, without marks."""
        ch, p = self.ch, self.p
        c, a = p["c"][0], p["axes"][0]
        lean = np.arctan2(a[1, 2], a[2, 2])
        tilt = np.arctan2(a[0, 2], a[2, 2])
        self.cerv = []
        for _ in range(4):
            tilt, lean = tilt * .7, lean * .72 - .02
            a = frame(tilt, lean, 0)
            c = c + a[:, 2] * (ch.h[0] * .95 + ch.disc[0])
            self.cerv.append((c, a))
        self.neck = c

    def ribs(self, sc):
        ch, s = self.ch, self.ch.wide
        far = np.radians([62, 66, 68, 68, 66, 64, 60, 52, 44, 34, 0, -32])
        drop = np.array([26, 50, 68, 82, 92, 98, 104, 106, 104, 96, 66, 42]) * ch.size
        for i in range(1, 13):
            a, c = self.p["axes"][i], self.p["c"][i]
            for sx in (-1, 1):
                w, b, h = ch.w[i], ch.b[i], ch.h[i]
                head = c + a @ [sx * w * .5, -b * .4, h * (.34 if i < 11 else .1)]
                neck = c + a @ [sx * (w * .5 + 11 * s), -b * .5 - 9 * s, h * .22]
                tub = c + a @ [sx * (w * .5 + 19 * s), -b * .5 - 16 * s, h * .12]
                j = i - 1
                ang = np.linspace(np.radians(-58), far[j] + self.r.normal(0, .04), 12 if i < 11 else 6)
                f = (ang + np.radians(58)) / np.radians(122)
                z = tub[2] - 3 - drop[j] * (f ** 1.05)
                out = self.wall(z, ang if sx > 0 else np.pi - ang, 4 * s)
                tip = .5 * np.clip(a[2, 0], -.6, .6) * (out[:, 0] - c[0])
                out = self.wall(z + tip, ang if sx > 0 else np.pi - ang, 4 * s)
                ra, rb = 2.7 * s, (5.2 if 0 < j < 10 else 4.2) * s
                th = np.concatenate([[[3, 3.6]], [[2.6, 3.2]], [[3.3, 4.2]],
                                     np.tile([[ra / s, rb / s]], (len(out), 1))]) * s
                th[:3] /= max(1, s)
                th[-1] *= .9
                nodes = np.concatenate([np.concatenate([[head, neck, tub], out]), th], 1)
                self.bone(sc, nodes, n=34, m=10, t=.95 * (.7 + .3 * ch.g), q=1.15)
        zt, zb = .86 * self.zc, .55 * self.zc
        st = self.wall(np.linspace(zt, zb, 5), np.full(5, np.pi / 2), 5 * s)
        wid = np.array([19, 15, 13, 15, 8])[:, None] * s
        self.bone(sc, np.concatenate([st, np.full((5, 1), 4 * s), wid], 1), (1, 0, 0), 16, 12, 1., .55)

    def girdle(self, sc):
        ch, s, r, zc = self.ch, self.ch.wide, self.r, self.zc
        up = r.normal(.01, .02)
        lat = self.view == "lateral"
        for sx in (-1, 1):
            m = lambda d: np.radians(d) if sx > 0 else np.pi - np.radians(d)
            swing = (28 if lat else 0) + r.normal(0, 4)     # arms forward pull them round
            u, v = np.meshgrid(np.linspace(0, 1, 12), np.linspace(0, 1, 9), indexing="ij")
            z = zc * (.95 + up - .29 * u + .03 * v)
            deg = -66 + swing + (46 - 40 * u) * v
            grid = self.wall(z, m(deg), -9 * s)
            edge = np.minimum(np.minimum(u, 1 - u), np.minimum(v, 1 - v))
            th = (1.3 + 4.5 * np.exp(-edge / .06)) * s
            sc.add(sheet(grid, th), "cortex", .6 * ch.marrow)
            sh = self.wall(zc * (.93 + up), m(-8 + swing), -34 * s)
            ridge = self.wall(zc * np.array([.88, .91, .95]) + zc * up, m(np.array([-62, -42, -22]) + swing), -18 * s)
            tip = sh + [sx * 2 * s, 0, 9 * s]
            self.bone(sc, np.c_[np.vstack([ridge, tip]), [[2, 4], [3, 6], [3.4, 7], [4, 8]] * np.array(s)], q=.6)
            self.bone(sc, np.c_[np.vstack([sh - [sx * 14 * s, 0, 4], sh - [sx * 9 * s, 0, 2]]),
                                [[11, 15], [10, 14]] * np.array(s)], n=6, q=.5)
            inner = self.wall(zc * .89, m(82), 2 * s)
            mid = (inner + tip) / 2 + [0, 14 * s, 6 * s]
            self.bone(sc, np.c_[np.vstack([inner, mid, tip]), [[6, 6], [4.6, 4.8], [4.5, 6]] * np.array(s)], t=1.1, q=.8)
            head = sh + [sx * 8 * s, 2, 0]
            if lat:
                end = head + np.array([sx * 10, 210 * s, r.uniform(-30, 120) * s])
            else:
                end = head + np.array([sx * r.uniform(25, 110) * s, r.normal(10, 20), -240 * s])
            way = lambda f: head + (end - head) * f
            sz = ch.wide
            self.bone(sc, np.c_[np.vstack([head, way(.12), way(.3), end]),
                                [[20, 20], [16, 16], [10, 10], [10, 10]] * np.array(sz)], (0, 1, .2), 16, 12, 2.2, .75)
            sc.add(tube(np.c_[np.vstack([sh - [sx * 22 * s, 22 * lat, 6], head, way(.5), way(1), way(1.9)]),
                              np.array([[17, 20], [32, 33], [34, 35], [28, 28], [22, 24]]) * s * (.85 + .12 * ch.fat)],
                        (0, 1, .2), 18, 16), "soft", .55 if lat else .85)

    def pelvis(self, sc):
        ch, s, q = self.ch, self.ch.wide, self.ch.marrow
        k = ch.size
        a = self.p["s1_axes"]
        f0 = frame(np.arctan2(a[0, 2], a[2, 2]), (np.arctan2(a[1, 2], a[2, 2]) - .6) * .5, 0)
        to = lambda p: self.p["s1"] + np.asarray(p, float) @ np.diag([s, s, k]) @ f0.T
        low = [[37, -44, -54], [54, -34, -70], [72, -8, -80], [92, 20, -80], [102, 46, -64]]
        mid = [[32, -56, -25], [58, -48, -26], [88, -14, -30], [108, 26, -32], [114, 60, -30]]
        top = [[40, -64, 4], [66, -54, 32], [98, -20, 50], [122, 24, 40], [127, 62, 6]]
        cv = np.linspace(0, 3, 19)
        rows = [smooth_path(g, 19) for g in (low, mid, top)]
        u = np.linspace(0, 4, 15)
        grid = np.stack([smooth_path([g[j] for g in rows], 15) for j in range(19)], 1)
        uu, vv = np.meshgrid(u / 4, cv / 3, indexing="ij")
        th = (4 + 8 * np.exp(-(1 - uu) / .1) + 11 * np.exp(-uu / .22) + 12 * np.exp(-vv / .16)
              + 4 * np.exp(-(1 - vv) / .1)) * s * np.clip(np.minimum(1 - uu, np.minimum(vv, 1 - vv)) * 14 + .35, 0, 1)
        for sx in (-1, 1):
            mir = np.array([sx, 1, 1])
            g = to(grid * mir)
            sc.shell(sheet(g, th), sheet(g, np.maximum(th - 2.4, .2) * .97), "rest", q * .95)
            hip = np.array([88, 24, -104])
            r0_ = 21 * (.55 + .45 * ch.g) 
            b = lambda nodes, **o: self.bone(sc, np.c_[to(np.array([n[:3] for n in nodes]) * mir),
                                                        np.array([n[3:] for n in nodes]) * s], **o)
            sp = to(hip * mir)
            sc.shell(ellipsoid(sp, np.eye(3) * (r0_ + 1), 14, 22), ellipsoid(sp, np.eye(3) * r0_, 14, 22), "rest", q * .8)
            b([[*hip, 11, 12], [106, 21, -111, 11, 13], [122, 17, -130, 14, 16], [127, 17, -165, 12, 12],
               [126, 18, -215, 11, 11], [122, 21, -320, 11, 11]], q=.8, t=2.4, n=26, flat=(0, 1, 0))
            b([[60, 0, -84, 9, 12], [66, 2, -118, 9, 12], [60, -14, -150, 11, 12], [48, 5, -162, 7, 8], [12, 48, -132, 5, 7]], q=.6, n=18, flat=(0, 1, 0))
            b([[78, 36, -86, 10, 10], [44, 58, -100, 6, 7], [8, 62, -116, 8, 12]], q=.6)
            b([[66, 6, -76, 7, 8], [84, 24, -76, 8, 7], [106, 38, -84, 6, 6]], q=.7)

    def head(self, sc):
        ch, k, n = self.ch, .8 + .2 * self.ch.g, self.neck
        c = n + np.array([0, 22, 92]) * k
        ax = np.diag([70, 88, 74]) * k
        sc.add(ellipsoid(c, ax, 16, 24), "cortex", .6)
        sc.add(ellipsoid(c, ax * .94, 16, 24), "cortex", -.6)
        sc.add(ellipsoid(c, ax * 1.06, 16, 24), "soft", .95)
        sc.add(ellipsoid(c + np.array([0, 40, -70]) * k, np.diag([50, 42, 48]) * k, 12, 18), "soft", .9)
        jaw = np.array([[-46, 20, -22], [-44, 28, -66], [-28, 66, -88], [0, 84, -94], [28, 66, -88], [44, 28, -66], [46, 20, -22]]) * k
        self.bone(sc, np.c_[c + jaw, np.tile([[5, 9]], (7, 1)) * k], n=26, t=2, q=1)
        base = np.array([[0, -55, -50], [0, 0, -52], [0, 35, -48]]) * k
        self.bone(sc, np.c_[c + base, np.array([[9, 40], [12, 44], [9, 34]]) * k], (1, 0, 0), q=.35)
        if self.p["stage"] == "traction" and r0(ch, 9).random() < .6:
            t = np.linspace(0, 2 * np.pi, 40)
            ring = c + np.stack([98 * k * np.cos(t), 112 * k * np.sin(t), 30 + 0 * t], 1)
            sc.add(tube(np.c_[ring, np.full((40, 2), 4.)], (0, 0, 1), 60, 8), "cortex", 5)

def r0(child, k=3):
    """The child's own dice: the same at both stages."""
    return np.random.default_rng([int(child.main * 1e5), k])


def build(scene, child, pose, r, view):
    t = Torso(child, pose, r, view)
    marks = t.spine(scene)
    for part in (t.ribs, t.girdle, t.pelvis, t.head, t.soft):
        part(scene)
    return marks, t
