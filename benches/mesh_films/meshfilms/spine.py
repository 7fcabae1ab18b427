"""One invented child: vertebral sizes, fixed bone shapes, and the pose at a stage.

Axes: x = patient's left, y = forward, z = up, millimetres."""
import numpy as np
from scipy.stats import gamma, norm

LEVELS = ["C7"] + [f"T{i}" for i in range(1, 13)] + [f"L{i}" for i in range(1, 6)]
# grown-up sizes from memory: body height, width, depth, height of the disc below
HEIGHT = [13.5, 15.5, 17, 17.5, 18, 18.5, 19, 19.5, 20, 20.5, 21.5, 22.5, 24, 26, 27, 27.5, 27.5, 27]
WIDTH = [28, 29, 28, 26.5, 26, 26.5, 27.5, 28.5, 30, 31.5, 33.5, 36, 39, 41, 43, 45, 47, 49]
DEPTH = [16.5, 17, 18, 20, 22, 24, 25.5, 27, 28, 29, 29.5, 30, 30.5, 31, 32, 33, 34, 34]
DISC = [5, 4, 3.6, 3.4, 3.4, 3.6, 4, 4.3, 4.6, 5, 5.6, 6.3, 7.2, 8.2, 9.2, 10, 11, 10]


def unit(v):
    return v / np.linalg.norm(v)


def frame(tilt, lean, twist):
    """Own axes (columns) from the projected coronal and sagittal tilt and the turn."""
    up = unit(np.array([np.tan(tilt), np.tan(lean), 1.0]))
    x = np.array([np.cos(tilt), 0, -np.sin(tilt)])
    x = unit(x - (x @ up) * up)
    y = np.cross(up, x)
    c, s = np.cos(twist), np.sin(twist)
    return np.stack([c * x + s * y, c * y - s * x, up], 1)


def window(mid, half):
    w = np.cos(np.clip((np.arange(18) - mid) / half, -1, 1) * np.pi / 2) ** 1.6
    return w / w.sum()


def most(bend):
    """The largest sum over neighbouring levels: the Cobb angle of the bends."""
    c = np.concatenate([[0], np.cumsum(bend)])
    return max(c[j] - c[i] for i in range(len(c)) for j in range(i + 1, len(c)))


class Child:
    def __init__(self, seed, number):
        r = self.rng = np.random.default_rng([seed, number, 77])
        self.seed, self.number = seed, number
        self.age = float(r.uniform(4, 17.5))
        g = min(1, (self.age - 4) / 11.5)
        self.size = s = r.normal(1, .045) * (.6 + .4 * g)
        self.wide = w = r.normal(1, .05) * (.68 + .32 * g)
        self.g, self.fat = g, float(r.choice([.5, 1, 1.7, 2.6], p=[.3, .4, .2, .1]))
        self.h = np.array(HEIGHT) * s * r.normal(1, .03, 18)
        self.w = np.array(WIDTH) * w * r.normal(1, .02, 18)
        self.b = np.array(DEPTH) * w * r.normal(1, .02, 18)
        self.disc = np.array(DISC) * (.45 * s + .5) * r.uniform(.8, 1.25)
        self.rad = np.pi / 180
        self.curves()
        self.bodies()
        self.marrow = float(r.uniform(.65, 1.15))      # bone mineral, child to child
        self.cortex = float(r.uniform(.45, .85)) * (.75 + .25 * g)
        self.plate = float(r.uniform(.6, 1.25)) * (.75 + .25 * g)
        self.round = float(r.uniform(.8, 1.5)) * (1.35 - .35 * g)
        self.dish = float(r.uniform(.6, 2.2)) * s
        self.waist = float(r.uniform(.03, .09))
        self.ring = 7.5 < self.age < 15.5 and r.random() < .7

    def curves(self):
        r = self.rng
        # every eight children spread over patterns, curve and kyphosis sizes
        deal = np.random.default_rng([self.seed, 5])
        kinds = ["thoracic"] * 3 + ["thoracolumbar"] * 2 + ["double"] * 2 + ["long-c"]
        slot = self.number % 8
        self.pattern = kinds[deal.permutation(8)[slot]]
        even = lambda: (deal.permutation(8)[slot] + r.random()) / 8
        a = float(np.clip(gamma.ppf(even(), 6, scale=11.5), 25, 120))
        side = 1 if r.random() < .7 else -1            # +1: convex to the right
        b = np.zeros(18)
        if self.pattern == "long-c":
            a = min(a, 100)
            b += a * window(r.uniform(9.5, 12), r.uniform(7, 8))
            low, high = r.uniform(.25, .5), r.uniform(.25, .45)
            self.obliq = -side * r.uniform(2, 16)
        else:
            mid = r.uniform(6.3, 8.7) if self.pattern != "thoracolumbar" else r.uniform(10.3, 12.7)
            b += a * window(mid, r.uniform(4.3, 5.6))
            high = r.uniform(.3, .5) if mid < 9 else r.uniform(.45, .6)
            low = r.uniform(.85, 1.0) - high
            self.obliq = r.normal(0, 2.5)
        mids = int(round(np.average(np.arange(18), weights=b)))
        if self.pattern == "double":
            low = r.uniform(.65, .9)
            high = max(.1, 1 - low + r.uniform(-.05, .2))
        b -= a * high * window(max(1.0, mids - 6), 3.2)
        b -= a * low * window(min(15.6, mids + (6 if mids < 10 else 4.8)), 3.4)
        b = b * min(1.7, a / most(b)) + r.normal(0, .6, 18)   # overlap of curves made good
        self.cor = side * b
        self.side, self.main = side, a
        self.kyph = k = float(np.clip(norm.ppf(even(), 55, 25), 20, 100))
        self.slope = float(r.uniform(22, 48))
        lord = np.clip(self.slope + k - r.uniform(12, 30), 20, 88)
        self.sag = k * window(r.uniform(6, 9.5), r.uniform(5.5, 7)) - lord * window(14.6, r.uniform(3.6, 4.6)) \
            + r.normal(0, .6, 18)
        self.sag *= min(1.6, k / most(self.sag[1:13]))
        # rotation follows the curve; the apex turns toward the convex side
        self.turn_part = float(r.uniform(.2, .45))
        smooth = np.convolve(np.pad(self.cor, 2, "edge"), [.15, .2, .3, .2, .15], "valid")
        top = np.abs(smooth).max()
        amp = min(self.turn_part * a, 45)
        self.turn = amp * smooth / top
        self.give = r.uniform(.15, .45)                # what traction takes away
        self.give_sag = r.uniform(.08, .35)
        self.stretch = r.uniform(1.08, 1.4)
        part = r.uniform(.3, .6)
        body = self.cor * part
        self.hemi = None
        if r.random() < .3:                            # congenital wedge
            i = int(np.clip(mids + r.integers(-2, 3), 2, 16))
            body[i] += np.sign(self.cor[i]) * r.uniform(10, 24)
            self.hemi = LEVELS[i]
        self.body_cor = body
        self.body_sag = self.sag * np.where(self.sag > 0, r.uniform(.45, .7), r.uniform(.15, .4))

    def bodies(self):
        """Plate slopes in the vertebra's own axes: fixed bone for both stages."""
        r, d = self.rng, np.pi / 180
        self.low, self.up = np.zeros((18, 2)), np.zeros((18, 2))
        for i in range(18):
            c, s = np.cos(self.turn[i] * d), np.sin(self.turn[i] * d)
            bx, by = self.body_cor[i], self.body_sag[i]
            half = np.array([c * bx + s * by, c * by - s * bx]) / 2
            self.up[i] = -np.tan((half + r.normal(0, 1.25, 2)) * d)
            self.low[i] = np.tan((half + r.normal(0, 1.25, 2)) * d)
            gap = np.abs(self.up[i] - self.low[i]) / 2 @ [self.w[i], self.b[i]]
            self.h[i] = max(self.h[i] * .92, gap * .8 + .42 * self.h[i])

    def pose(self, stage):
        """Centre and own axes of every vertebra (and S1) at this stage."""
        d = np.pi / 180
        pulled = stage == "traction"
        fc, fs = (1 - self.give, 1 - self.give_sag) if pulled else (1, 1)
        grow = self.stretch if pulled else 1
        cor, sag, turn = self.cor * fc, self.sag * fs, self.turn * fc ** .7
        tip, nod = 0.0, 0.0
        for _ in range(5):
            out = self.chain(cor, sag, turn * d, grow, self.obliq * fc + tip, self.slope + nod)
            span = out["c"][0] - out["s1"]
            goal = self.rng_goal(stage)
            tip -= .8 * np.degrees(np.arctan2(span[0] - goal[0], span[2]))
            nod -= .8 * np.degrees(np.arctan2(span[1] - goal[1], span[2]))
            tip = np.clip(tip, -13, 13)
        out["turn"], out["stage"] = turn, stage
        return out

    def rng_goal(self, stage):
        r = np.random.default_rng([int(self.main * 1e4), len(stage)])
        pull = .4 if stage == "traction" else 1
        return r.normal(0, 16) * pull, r.normal(5, 18) * pull

    def chain(self, cor, sag, turn, grow, tilt, lean):
        d = np.pi / 180
        r0 = frame(tilt * d, lean * d, 0)
        top, normal = np.zeros(3), r0[:, 2]
        c, axes = np.zeros((18, 3)), np.zeros((18, 3, 3))
        prev_cor = prev_sag = 0
        for i in range(17, -1, -1):
            tilt += (cor[i] + prev_cor) / 2
            lean += (sag[i] + prev_sag) / 2
            prev_cor, prev_sag = cor[i], sag[i]
            a = frame(np.clip(tilt, -72, 72) * d, np.clip(lean, -70, 70) * d, turn[i])
            nl = a @ unit(np.array([-self.low[i, 0], -self.low[i, 1], 1]))
            bend = np.arccos(np.clip(nl @ normal, -1, 1))
            gap = max(self.disc[i] * grow, .48 * self.w[i] * np.tan(bend) + .8)
            low = top + gap * unit(nl + normal)
            c[i], axes[i] = low + a[:, 2] * self.h[i] / 2, a
            top = low + a[:, 2] * self.h[i]
            normal = a @ unit(np.array([-self.up[i, 0], -self.up[i, 1], 1]))
        return {"c": c, "axes": axes, "s1": np.zeros(3), "s1_axes": r0}

    def tilts(self, pose):
        """Coronal tilt (deg) of upper and lower plates as seen from behind."""
        out = []
        for i in range(18):
            row = []
            for s in (self.up[i], self.low[i]):
                v = pose["axes"][i] @ np.array([1, 0, s[0]])
                row.append(np.degrees(np.arctan2(v[2], v[0])))
            out.append(row)
        return np.array(out)

    def cobb(self, pose):
        t = self.tilts(pose)
        diff = t[:, None, 0] - t[None, :, 1]
        diff[np.tril_indices(18)] = 0
        i, j = np.unravel_index(np.abs(diff).argmax(), diff.shape)
        a = pose["axes"][:, :, 2]
        lean = np.degrees(np.arctan2(a[:, 1], a[:, 2]))
        return {"main_coronal_deg": round(float(abs(diff[i, j])), 2),
                "end_levels": [LEVELS[i], LEVELS[j]],
                "kyphosis_deg": round(float(lean[1:13].max() - lean[1:13].min()), 2),
                "greatest_axial_rotation_deg": round(float(np.abs(pose["turn"]).max()), 2)}
