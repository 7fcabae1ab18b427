"""Vertebrae as closed meshes: outer surface and an inner spongy one."""
import numpy as np
from .raster import close, tube, ellipsoid

# profile of one plate from its middle to the corner: (radius, part of dish, part of corner)
PLATE = [(.02, 1, 0), (.3, .95, 0), (.52, .75, 0), (.7, .4, 0), (.82, .12, 0), (.9, 0, .03),
         (.955, 0, .15), (.985, 0, .42), (1.0, 0, 1.0)]
RIM = 7                      # the ring called the outer rim


def outline(a, b, m=44):
    t = (np.arange(m) + .5) * 2 * np.pi / m
    e = .82
    x = a * np.sign(np.cos(t)) * np.abs(np.cos(t)) ** e
    y = b * np.sign(np.sin(t)) * np.abs(np.sin(t)) ** np.where(np.sin(t) < 0, .74, .95)
    return np.stack([x, y], 1)


def body(h, low, up, line, child, inset=(0, 0), dish=1.0):
    """Rings of a vertebral body in its own axes; inset = (wall, plate) thickness."""
    wall, plate = inset
    shrink = 1 - wall / np.abs(line).max()
    rings = []
    rc = child.round

    def ring(r, z_of):
        p = line * r * shrink
        rings.append(np.concatenate([p, z_of(p)[:, None]], 1))
    zl = lambda p: -h / 2 + p @ low
    zu = lambda p: h / 2 + p @ up
    for r, k, c in PLATE:
        ring(r, lambda p: zl(p) + k * dish + c * rc + plate)
    for f in (.22, .36, .5, .64, .78):
        narrow = 1 - child.waist * np.sin(np.pi * f) ** 1.3
        ring(narrow, lambda p: zl(p) * (1 - f) + zu(p) * f)
        q = rings[-1]                               # hollow back wall, not at the rim
        q[:, 1] += np.where(q[:, 1] < 0, .07 * np.ptp(line[:, 1]) * np.sin(np.pi * f)
                            * np.exp(-(q[:, 0] / (.2 * np.ptp(line[:, 0]))) ** 2), 0)
    for r, k, c in PLATE[::-1]:
        ring(r, lambda p: zu(p) - k * dish * .8 - c * rc - plate)
    return np.array(rings)


def rim_ends(rings, line):
    """Own-axes ends of both plates; `line` is the smooth outline that picks them."""
    out = {}
    for name, k in (("lower", RIM), ("upper", len(rings) - 1 - RIM)):
        p = rings[k]
        tip = lambda s, ax: p[s * line[:, ax] > (s * line[:, ax]).max() - .05].mean(0)
        out[name] = {"left": tip(1, 0), "right": tip(-1, 0),
                     "posterior": tip(-1, 1), "anterior": tip(1, 1)}
    return out


def ripple(r, size):
    """Smooth unevenness of a bone: a few random waves through space."""
    k = r.normal(size=(9, 3))
    k *= (2 * np.pi / r.uniform(7, 26, 9) / np.linalg.norm(k, axis=1))[:, None]
    a, ph = r.normal(0, size / 3, (9, 3)), r.uniform(0, 6.3, 9)
    return lambda p: p + np.sin(p @ k.T + ph) @ a


def place(mesh, axes, c):
    return mesh[0] @ axes.T + c, mesh[1]


def vertebra(scene, child, i, axes, c, layer="spongy", dens=1.0, h=None):
    """Draw level i (0 = C7); returns its plates' ends in space."""
    r = np.random.default_rng([int(child.main * 1e5), i])
    w, b, h = child.w[i], child.b[i], child.h[i] if h is None else h
    d = dens * child.marrow
    line = outline(w / 2, b / 2)
    low, up = child.low[i], child.up[i]
    rough = ripple(r, .42 * child.wide)
    thick = child.plate * r.uniform(.7, 1.35), child.dish * r.uniform(.5, 1.5)
    outer = rough(body(h, low, up, line, child, dish=thick[1]))
    inner = rough(body(h, low, up, line, child, (child.cortex, thick[0]), thick[1]))
    wavy = ripple(r, 1.0 * child.wide)
    put = lambda m: place((wavy(m[0]), m[1]), axes, c)
    scene.shell(place(close(outer), axes, c), place(close(inner), axes, c), layer, d)
    if child.ring:                                  # ring apophyses on the corners
        for k, s in ((RIM - 1, -1), (len(outer) - RIM, 1)):
            p = outer[k] * [1, 1, 1] + [0, 0, s * child.round * .25]
            tr = .55 + .25 * child.g
            p4 = np.concatenate([p, p[:1]])
            nodes = np.concatenate([p4, np.full((len(p4), 2), tr)], 1)
            scene.add(place(tube(nodes, [0, 0, 1], 46, 6, taper=False), axes, c), "cortex", d * .5)
    lum, s = i >= 13, child.wide
    bone = lambda nodes, flat, n=10, m=10, t=None, q=1.0: scene.shell(
        put(tube(nodes, flat, n, m)),
        put(tube(nodes, flat, n, m, less=t or child.cortex * .9)), layer, d * q)
    px = np.interp(i, [0, 1, 4, 10, 12, 13, 17], [10, 10.5, 9.5, 11, 12.5, 12, 17]) * s
    pw = np.interp(i, [0, 2, 5, 10, 12, 13, 15, 17], [3, 3, 2.4, 3.3, 3.8, 3.7, 4.6, 6.5]) * s
    ph = np.interp(i, [0, 5, 12, 17], [3.4, 5.2, 7.2, 6.8]) * min(s, h / 20)
    can = np.interp(i, [0, 4, 12, 17], [14, 14, 15, 16]) * (.88 + .12 * child.g)
    z0 = h * (.2 if not lum else .14)
    y0 = -b / 2
    back = y0 - can
    for sx in (-1, 1):
        k = r.normal(1, .06)
        bone([[sx * px * .96, y0 + 4, z0, pw * 1.25, ph * 1.1], [sx * px, y0 - 1, z0, pw * k, ph],
              [sx * px * 1.04, y0 - can * .42, z0, pw * 1.2, ph * 1.05]], [0, 0, 1], t=.8, q=1.05)
        # articular pillar with its facets
        fx = px * (1.05 if not lum else 1.2)
        tip = h * (.62 if not lum else .66)
        bone([[sx * fx, back + can * .5, tip, pw * .7, 3.2 * s],
              [sx * fx, back + can * .38, z0, pw * .9, 4.2 * s],
              [sx * fx * .92, back + can * .12, -h * .35, pw * .8, 4 * s],
              [sx * fx * .8, back + 1, -h * .72, pw * .6, 3.1 * s]], [1, 0, 0], 12, q=1.25)
        # lamina
        bone([[sx * fx * .9, back + can * .3, z0 - 1, 2 * s, h * .2],
              [sx * fx * .5, back + 1, -h * .04, 2 * s, h * .3],
              [sx * .8, back - 2 * s, -h * .16, 2.2 * s, h * .28]], [0, 0, 1], 10, q=1.35)
        # transverse process
        ln = np.interp(i, [0, 1, 6, 10, 12, 13, 15, 17], [14, 17, 15, 11, 5, 13, 21, 17]) * s
        rise = r.normal(.1, .1) * ln
        if lum:
            end = [sx * (fx + ln), back + can * .45 - 2, z0 + rise, 1.5 * s, 3 * s]
        else:
            end = [sx * (fx + ln), back + can * .2 - .45 * ln, z0 + ln * .2 + rise, 3.1 * s, 3.4 * s]
        bone([[sx * fx, back + can * .42, z0, 3 * s, 3.8 * s],
              [sx * (fx + ln * .5), (back + can * .42 + end[1]) / 2, z0 + .4 * rise, 2.4 * s, 3.3 * s],
              end], [0, 0, 1], 9)
    ln = np.interp(i, [0, 3, 7, 10, 12, 17], [28, 28, 30, 24, 20, 24]) * s * (.75 + .25 * child.g)
    dip = np.interp(i, [0, 2, 5, 8, 10, 12, 17], [.35, .6, 1.15, 1.15, .6, .25, .12])
    tall = np.interp(i, [0, 8, 11, 13, 17], [3.2, 3.6, 6, 9, 8]) * s
    dy, dz = ln / np.hypot(1, dip), ln * dip / np.hypot(1, dip)
    bone([[0, back, -h * .12, 2.2 * s, tall], [r.normal(0, .6), back - dy * .5, -h * .2 - dz * .5, 1.7 * s, tall],
          [r.normal(0, 1), back - dy, -h * .25 - dz, 2.4 * s, tall * .9]], [0, 0, 1], 11)
    return {f"{side}.{e}": axes @ p + c for side, es in rim_ends(outer, line).items() for e, p in es.items()}


def sacrum(scene, child, axes, c):
    """Bent wedge below L5 with its plate at c; ala and holes."""
    s, d = child.wide, child.marrow
    a, b = 25 * s, 16.5 * s
    line = outline(a, b)
    n, size = 18, child.size
    sets = []
    for less in (0, 1.1):
        rings = []
        for k in range(n + 3):
            if k < 3:
                f, z, y = (.3, .82, .985)[k], (-child.dish * .5, 0, 0)[k], 0
                z -= less
            else:
                q = (k - 3) / (n - 1)
                f = np.interp(q, [0, .05, .13, .22, .38, .6, .8, 1], [1, 1.15, 1.6, 1.95, 1.8, 1.25, .8, .35])
                fy = np.interp(q, [0, .1, .4, 1], [1, .92, .62, .28])
                z, y = -child.round - q * 92 * size - less * (1 - 2 * q), -np.sin(q * 2.1) * 30 * size
            p = line * [f, f if k < 3 else fy]
            p[:, 1] -= (.22 * b * np.maximum(np.abs(p[:, 0]) / a - 1, 0) if k > 3 else 0)
            p = p * (1 - less / a)
            rings.append(np.concatenate([p + [0, y], np.full((len(p), 1), z)], 1))
        sets.append(np.array(rings))
    scene.shell(place(close(sets[0]), axes, c), place(close(sets[1]), axes, c), "rest", d)
    for sx in (-1, 1):
        for k in range(4):                          # nerve holes
            q = (.2 + .2 * k)
            hole = ellipsoid([sx * (19 - 3.5 * k) * s, -np.sin(q * 2.1) * 30 * size, -q * 92 * size],
                             np.diag([4.2 * s, 8 * s, 4 * size]), 8, 12)
            scene.add(place(hole, axes, c), "rest", -.95 * d)
    for k in range(3):                              # crest
        q = .15 + .25 * k
        nodes = [[0, -14 * s - np.sin(q * 2.1) * 30 * size, -q * 92 * size, 2 * s, 7 * s],
                 [0, -26 * s - np.sin(q * 2.1) * 28 * size, -(q + .06) * 92 * size, 2.4 * s, 5 * s]]
        scene.add(place(tube(nodes, [0, 0, 1], 6, 8), axes, c), "rest", d * .6)
    rim = sets[0][2]
    tip = lambda sg, ax: rim[sg * rim[:, ax] > (sg * rim[:, ax]).max() - .05].mean(0)
    return {"upper.left": axes @ tip(1, 0) + c, "upper.right": axes @ tip(-1, 0) + c,
            "upper.posterior": axes @ tip(-1, 1) + c, "upper.anterior": axes @ tip(1, 1) + c}
