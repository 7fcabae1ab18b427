"""One vertebra in its own frame (u right, v anterior, w up; mm, origin at the centre of the body)."""
import numpy as np
from .meshes import rings, moved

# full-grown sizes in mm, from memory (round figures): width, depth, height, disc below
SIZES = {"C3": (22, 15, 13, 5), "C5": (24, 16, 12.5, 5), "C7": (28, 17, 14, 5), "T1": (30, 18, 16, 4.5),
         "T3": (27, 20, 17, 4), "T6": (27, 24, 18.5, 4.5), "T9": (30, 27, 20, 5), "T12": (37, 29, 23, 7),
         "L1": (39, 30, 24.5, 8), "L3": (43, 33, 26, 10.5), "L5": (48, 34, 26, 10), "S1": (49, 33, 27, 2)}


def sizes(name):
    """Width, depth, height, disc below (mm, full grown), interpolated between the tabled levels."""
    def pos(n):
        k = int(n[1:])
        return {"C": k, "T": 7 + k, "L": 19 + k, "S": 24 + k}[n[0]]
    p = {"T13": 19.5, "L6": 24.4}.get(name, pos(name))
    keys = sorted(SIZES, key=pos)
    return np.array([np.interp(p, [pos(k) for k in keys], [SIZES[k][c] for k in keys]) for c in range(4)])


def outline(n=44):
    """Unit rim, ellipse in front, flattened behind; n even so that all four extremes are points of it."""
    t = np.arange(n) * 2 * np.pi / n
    c, s = np.cos(t), np.sin(t)
    e = np.where(s < -1e-12, 0.72, 1.0)
    return np.sign(c) * abs(c) ** e, np.where(abs(s) < 1e-12, 0, np.sign(s) * abs(s) ** e)


class Body:
    """Shape of one vertebral body; fixed per child and the same at every stage.

    a, b half-width and half-depth of the upper plate; h central height; wc, ws coronal and sagittal wedge
    (degrees, upper minus lower plate tilt); conc concavity; rim height of the raised rim; waist fraction.
    """

    def __init__(self, name, a, b, h, conc, rim, waist, flare):
        self.name, self.a, self.b, self.h = name, a, b, h
        self.conc, self.rim, self.waist, self.flare = conc, rim, waist, flare
        self.wc = self.ws = 0.0

    def plate(self, which, rho=1.0, inset=0.0, te=0.0):
        """Points (n,3) of the plate at relative radius rho."""
        x, y = outline()
        up = which == "upper"
        k = 1.0 if up else self.flare
        u, v = (self.a * k - inset) * rho * x, (self.b * k - inset) * rho * y
        c = self.conc * (0.8 if up else 1.1)
        z = self.h / 2 - c * (1 - rho ** 2.2) + self.rim * (np.exp(-((rho - 0.94) / 0.07) ** 2) - 1) - te
        z = z + u * np.tan(np.radians(self.wc / 2)) + v * np.tan(np.radians(self.ws / 2))
        return np.stack([u, v, z if up else -z], -1)

    def rim_points(self, which):
        """The rim as truth uses it: the outer edge of the plate, closed curve (44,3), starts at u max."""
        return self.plate(which, 1.0)

    def mesh(self, inset=0.0, te=0.0):
        """Closed surface, shrunk sideways by inset and at both plates by te (mm)."""
        rho = np.array([0.04, 0.25, 0.5, 0.7, 0.82, 0.89, 0.94, 0.98, 1.0])
        low = [self.plate("lower", r, inset, te) for r in rho]
        top = [self.plate("upper", r, inset, te) for r in rho[::-1]]
        side = []
        for t in (0.04, 0.12, 0.25, 0.4, 0.55, 0.7, 0.82, 0.91, 0.97):
            p = low[-1] * (1 - t) + top[0] * t
            f = 1 - self.waist * np.sin(np.pi * t) ** 0.9
            back = np.clip(-p[:, 1] / self.b, 0, 1)[:, None]
            p[:, :2] *= f - 0.03 * back * np.sin(np.pi * t) * (abs(p[:, :1]) < 0.4 * self.a)
            side.append(p)
        return rings(np.array(low + side + top))


def arch_parts(body, s):
    """Posterior elements: list of (path, ra, rb, ref, cortex mm) tubes in the vertebra's frame; s = size scale."""
    a, b, h, name = body.a, body.b, body.h, body.name
    lumbar, cerv = name[0] in "LS", name[0] == "C"
    num = int(name[1:])
    low_t = name[0] == "T" and num >= 10
    pw = s * (5.2 + 0.8 * (num - 1) if lumbar else 2.6 if cerv else 2.4 + 0.22 * abs(num - 5)) * 0.85
    ph = s * (7.0 if lumbar else 3.5 if cerv else 5.5)
    px, pz, back = a * (0.66 if lumbar else 0.62), 0.16 * h, -b - (12 if lumbar else 10) * s
    parts = []
    for k in (1, -1):
        parts.append(([(k * px * 0.96, -0.72 * b, pz), (k * px, -b - 2 * s, pz), (k * px * 1.03, back, pz)],
                      pw, ph, (0, 0, 1), 0.75 * s))
        fx = k * px * (1.25 if lumbar else 1.05)
        parts.append(([(fx, back + 1, 0.2 * h), (fx * 1.02, back, 0.72 * h)], 4.2 * s, 3 * s, (0, 1, 0), 0.6))
        parts.append(([(fx * 0.95, back - 1, 0), (fx * 0.8, back - 3 * s, -0.75 * h)], 4 * s, 3 * s, (0, 1, 0), 0.6))
        parts.append(([(k * px, back, 0.02 * h), (k * px * 0.5, back - 5 * s, -0.12 * h), (0, back - 9 * s, -0.2 * h)],
                      2.4 * s, 0.36 * h, (0, 0, 1), 0.6))
        if lumbar:
            tip = (k * (a + 20 * s), back + 1 * s, 0.12 * h)
            r = (3.0 * s, 4.2 * s)
        elif cerv:
            tip, r = (k * (a + 7 * s), -b - 4 * s, -0.1 * h), (2.5 * s, 3 * s)
        else:
            out = (15 if not low_t else 15 - 4.0 * (num - 9)) * s
            tip, r = (k * (a + max(out, 2.5)), back - 8 * s, 0.12 * h), (3.2 * s, 3.8 * s)
        parts.append(([(k * px, back, 0.1 * h), tip], r[0], r[1], (0, 0, 1), 0.55))
    tilt = np.radians({"C": 15, "L": 6, "S": 20}.get(name[0], 25 + 32 * np.exp(-((num - 6.5) / 3.2) ** 2)))
    ln = s * {"C": 24, "L": 23, "S": 8}.get(name[0], 30)
    p0 = np.array([0, back - 8 * s, -0.2 * h])
    p1 = p0 + ln * np.array([0, -np.cos(tilt), -np.sin(tilt)])
    hb = (0.36 if lumbar else 0.24) * h
    parts.append(([p0, (p0 + p1) / 2, p1], 2.3 * s, hb, (0, 0, 1), 0.6))
    return parts


def add_vertebra(scene, body, rot, centre, s, mu, arch=True):
    """Adds a vertebra to the scene; mu = (cortex, trabecular) above soft tissue, 1/mm."""
    def put(mesh):
        return moved(mesh, rot, centre)
    te, tc = 0.75 * s ** 0.5, 0.5 * s ** 0.5
    scene.add(put(body.mesh()), mu[0], "fine")
    scene.add(put(body.mesh(tc, te)), mu[1] - mu[0], "fine")
    if not arch:
        return
    for path, ra, rb, ref, th in arch_parts(body, s):
        ref = np.asarray(rot) @ np.asarray(ref, float)
        w = np.asarray(path, float) @ np.asarray(rot).T + centre
        if len(w) == 3:
            w = np.array([w[0], (w[0] + w[1]) / 2, w[1], (w[1] + w[2]) / 2, w[2]])
        scene.bone_tube(w, ra, rb, th, (mu[0] * 0.62, mu[1] * 0.6), "fine", ref=ref, n=14)
