"""Level lists, curve shapes and the stacking of vertebrae into a spine (mm, degrees)."""
import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.spatial.transform import Rotation
from .meshes import cross
from .vertebra import Body, sizes


def level_names(thoracic=12, lumbar=5):
    """Top to bottom, C3 to S1."""
    return [f"C{k}" for k in range(3, 8)] + [f"T{k}" for k in range(1, thoracic + 1)] \
        + [f"L{k}" for k in range(1, lumbar + 1)] + ["S1"]


def frame(alpha, beta, gamma):
    """Rotation whose columns are u, v, w.  alpha: coronal tilt (right end up +), beta: sagittal tilt
    (anterior end up +), gamma: axial turn (anticlockwise from above +; front toward the left)."""
    a, b, g = np.radians([alpha, beta, gamma])
    ry = np.array([[np.cos(a), 0, -np.sin(a)], [0, 1, 0], [np.sin(a), 0, np.cos(a)]])
    rx = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    rz = np.array([[np.cos(g), -np.sin(g), 0], [np.sin(g), np.cos(g), 0], [0, 0, 1]])
    return ry @ rx @ rz


class Spine:
    """Placed vertebrae: names, bodies, rot (n,3,3), centre (n,3), gamma (axial turn), discs (mm)."""

    def index(self, name):
        """Index of a level; for one that the child does not have, its nearest neighbour above."""
        while name not in self.names:
            name = name[0] + str(int(name[1:]) - 1)
        return self.names.index(name)

    def rim(self, i, which):
        return self.bodies[i].rim_points(which) @ self.rot[i].T + self.centre[i]

    def at(self, i, p):
        """A point of vertebra i's frame in the world."""
        return self.rot[i] @ np.asarray(p, float) + self.centre[i]


def make_bodies(child, rng):
    """The child's vertebral bodies without wedge."""
    out = []
    for n in child["names"]:
        w, d, h, _ = sizes(n) * child["scale"]
        young = np.clip((child["age"] - 6) / 9, 0, 1)
        out.append(Body(n, w / 2 * rng.normal(1, 0.015), d / 2 * rng.normal(1, 0.015), h * rng.normal(1, 0.015),
                        conc=h * rng.uniform(0.05, 0.10) + 0.2, rim=(0.35 + 0.5 * young) * child["scale"],
                        waist=rng.uniform(0.09, 0.15), flare=rng.uniform(1.02, 1.06)))
    return out


def tilts(child, keep, turn_keep, sag_keep):
    """Per-level coronal tilt, sagittal tilt and axial turn (degrees); keep = fraction of the curve left."""
    names = child["names"]
    sp = Spine()
    sp.names = names
    idx = np.arange(len(names))
    nodes = [(sp.index(n), t) for n, t in child["coronal"]]
    k = np.array([n for n, _ in nodes], float)
    base = np.array([t for _, t in nodes], float)
    fixed = np.array([0.6 + 0.4 * keep if n == len(names) - 1 else keep for n, _ in nodes])
    alpha = PchipInterpolator(k, base * fixed)(idx)
    gamma = np.zeros(len(names))
    for j in range(len(k) - 1):                 # between two neighbouring extremes lies one curve
        size = base[j] - base[j + 1]            # > 0: convex right
        f = np.clip((idx - k[j]) / (k[j + 1] - k[j]), 0, 1)
        gamma += -child["turn_ratio"] * size * turn_keep * np.sin(np.pi * f) ** 1.3
    tk = child["kyphosis"] * sag_keep + (1 - sag_keep) * 30
    ss, ky = child["sacral_slope"], child["kyphosis_span"]
    low = 8 + 0.42 * (tk - 35)
    sn = {"C3": 4.0, "C7": -0.45 * tk + low * 0.3, ky[0]: low - tk, ky[1]: low, "L2": 0.4 * low + 2, "L4": -0.35 * ss,
          "S1": -ss}
    sn = sorted((sp.index(n), t) for n, t in sn.items())
    beta = PchipInterpolator([n for n, _ in sn], [t for _, t in sn])(idx)
    return alpha, beta, gamma


def _stack(child, bodies, rots, open_discs):
    """Centres of all levels from S1's upper plate (origin) upward."""
    n = len(bodies)
    centre = np.zeros((n, 3))
    discs = np.zeros(n)
    centre[-1] = -rots[-1] @ [0, 0, bodies[-1].h / 2]
    for i in range(n - 2, -1, -1):
        lo, hi = bodies[i + 1], bodies[i]
        nl = rots[i + 1] @ frame(lo.wc / 2, lo.ws / 2, 0) @ [0, 0, 1]
        nh = rots[i] @ frame(-hi.wc / 2, -hi.ws / 2, 0) @ [0, 0, 1]
        ang = np.arccos(np.clip(nl @ nh, -1, 1))
        axis = rots[i].T @ cross(nl, nh)
        r = hi.b + (hi.a - hi.b) * abs(axis[1]) / (np.hypot(axis[0], axis[1]) + 1e-9)
        d = max(child["discs"][i] * open_discs, 2 * r * np.tan(ang / 2) + 0.7)
        discs[i] = d
        mid = (nl + nh) / np.linalg.norm(nl + nh)
        centre[i] = centre[i + 1] + rots[i + 1] @ [0, 0, lo.h / 2] + d * mid + rots[i] @ [0, 0, hi.h / 2]
    return centre, discs


def build(child, bodies, keep=1.0, turn_keep=1.0, sag_keep=1.0, open_discs=1.0, balance=0.0, sva=0.0, wedge=False):
    """The spine at one stage.  balance: C7 to the right of S1 (mm); sva: C7 in front of S1 (mm).
    wedge=True (first stage only) also gives the bodies their fixed wedge."""
    alpha, beta, gamma = tilts(child, keep, turn_keep, sag_keep)
    n = len(alpha)
    sp = Spine()
    sp.names, sp.bodies = child["names"], bodies
    ramp = np.clip((n - 1 - np.arange(n)) / 4.0, 0, 1)
    c7 = sp.index("C7")
    da = db = 0.0
    for _ in range(6):                          # lean the spine until it is balanced as asked
        rots = np.array([frame(a + da * r, b + db * r, g) for a, b, g, r in zip(alpha, beta, gamma, ramp)])
        if wedge:
            for i in range(1, n - 1):
                q = rots[i].T @ rots[i - 1] @ rots[i + 1].T @ rots[i]
                rv = np.degrees(Rotation.from_matrix(q).as_rotvec()) / 2
                f = child["wedge"] * np.clip(np.hypot(rv[0], rv[1]) / 9.0, 0.25, 1)
                lim = np.degrees(np.arctan(0.55 * bodies[i].h / (2 * bodies[i].a))) * 2
                bodies[i].wc, bodies[i].ws = np.clip(-f * rv[1], -lim, lim), np.clip(f * rv[0], -lim, lim)
        centre, discs = _stack(child, bodies, rots, open_discs)
        length = max(centre[c7, 2], 50.0)
        da += np.degrees((centre[c7, 0] - balance) / length) * 0.9
        db += np.degrees((centre[c7, 1] - sva) / length) * 0.9
    sp.rot, sp.centre, sp.discs, sp.gamma = rots, centre, discs, gamma
    return sp
