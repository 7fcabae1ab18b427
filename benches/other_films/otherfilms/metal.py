"""Rods, pedicle screws, hooks and cross-links over a stated range of levels (mm)."""
import numpy as np
from .meshes import tube, smooth_path


def plan(child, sp, rng):
    """Which levels carry what.  Returns a dict for the JSON: range, per-level anchors, rod radius, alloy."""
    top, bottom = sp.index(child["fusion"][0]), sp.index(child["fusion"][1])
    style = rng.choice(["screws", "screws", "hybrid", "hooks"])
    anchors = []
    for i in range(top, bottom + 1):
        for side in (1, -1):
            must = i in (top, top + 1, bottom, bottom - 1)
            if not must and rng.random() < 0.35:
                continue
            lumbar = sp.names[i][0] in "LS"
            hook = style == "hooks" and not lumbar or style == "hybrid" and i < top + 3
            anchors.append({"level": sp.names[i], "side": "right" if side > 0 else "left",
                            "kind": "hook" if hook else "screw"})
    alloy = str(rng.choice(["titanium", "titanium", "cobalt-chrome", "steel"]))
    return {"range": [sp.names[top], sp.names[bottom]], "style": str(style), "alloy": alloy,
            "rod_radius_mm": float(rng.choice([2.25, 2.75, 3.0])), "anchors": anchors,
            "crosslinks": int(rng.integers(0, 3))}


MU = {"titanium": 0.33, "steel": 0.85, "cobalt-chrome": 0.95}     # 1/mm at about 65 keV, from memory


def add(scene, child, sp, design):
    """Adds the implant to the scene's `metal` class."""
    s, mu, rr = child["scale"], MU[design["alloy"]], design["rod_radius_mm"]
    heads = {1: {}, -1: {}}
    top, bottom = (sp.index(n) for n in design["range"])
    for i in range(top, bottom + 1):
        b = sp.bodies[i]
        for k in (1, -1):
            heads[k][i] = sp.at(i, (k * (b.a * 0.62 + 5 * s), -b.b - 21 * s, 0.14 * b.h))
    rods = {}
    for k in (1, -1):
        pts = [heads[k][i] for i in sorted(heads[k])]
        w = np.array(pts)
        for _ in range(2):                      # a rod is stiffer than the row of its screws
            w[1:-1] = 0.25 * w[:-2] + 0.5 * w[1:-1] + 0.25 * w[2:]
        ext = [w[0] + (w[0] - w[1]) * 0.5, *w, w[-1] + (w[-1] - w[-2]) * 0.4]
        rods[k] = smooth_path(ext, 90)
        scene.add(tube(rods[k], rr, n=14, cap=False), mu, "metal")
    for a in design["anchors"]:
        i, k = sp.index(a["level"]), 1 if a["side"] == "right" else -1
        b = sp.bodies[i]
        rod = rods[k][np.argmin(np.linalg.norm(rods[k] - heads[k][i], axis=1))]
        ax = sp.rot[i][:, 1]
        if a["kind"] == "screw":
            ent = sp.at(i, (k * (b.a * 0.62 + 2 * s), -b.b - 11 * s, 0.16 * b.h))
            tip = sp.at(i, (k * b.a * 0.30, b.b * 0.45, 0.12 * b.h))
            n = 60
            t = np.linspace(0, 1, n)[:, None]
            r = np.where(np.arange(n) % 4 < 2, 2.5, 2.0) * min(1, s * 1.1)
            scene.add(tube(ent * (1 - t) + tip * t, r, n=10), mu, "metal")
            scene.add(tube([rod - ax * 5.5, rod - ax * 1, rod + ax * 3, ent], [5.6, 5.6, 5.0, 3.2], n=12), mu * 0.75, "metal")
        else:
            up = sp.rot[i][:, 2] * (1 if i < (top + bottom) / 2 else -1)
            c = sp.at(i, (k * b.a * 0.6, -b.b - 8 * s, -0.1 * b.h))
            scene.add(tube(smooth_path([rod - ax * 4, rod + ax * 4, c - up * 7, c + ax * 3 - up * 5, c + ax * 4 + up * 6], 20),
                           4.2, 2.0, ref=sp.rot[i][:, 0], n=10), mu, "metal")
            scene.add(tube([rod - ax * 5, rod - ax * 1, rod + ax * 4], 5.2, n=12), mu * 0.75, "metal")
    for j in range(design["crosslinks"]):
        q = int(90 * (0.3 + 0.4 * j))
        a, b = rods[1][q], rods[-1][q]
        scene.add(tube([a, (2 * a + b) / 3 + [0, -3, 0], (a + 2 * b) / 3 + [0, -3, 0], b], 1.8, 3.2, n=10), mu, "metal")
