"""True end-plate ends in film pixels, written as landmark tables; true angles of the film plane."""
import numpy as np
from .meshes import cross


def plates(names):
    """(level, plate) pairs of the truth: C7 to the last lumbar level, and S1's upper plate."""
    first = names.index("C7")
    return [(n, p) for n in names[first:] for p in (("upper",) if n == "S1" else ("upper", "lower"))]


def plate_truth(beam, spine, view):
    """Per plate: own ends, shadow ends (2,2) in pixels [left, right] or [posterior, anterior], and the shadow's form.

    own: the rim points with the smallest and largest u (coronal) or v (lateral) in the vertebra's own frame.
    shadow: the major axis of the filled projected rim (second moments), cut at the rim's outermost points along it.
    """
    out = {}
    axis = 0 if view == "pa" else 1
    for name, which in plates(spine.names):
        i = spine.index(name)
        local = spine.bodies[i].rim_points(which)
        rim = beam.pixels(spine.rim(i, which))
        own = rim[[np.argmin(local[:, axis]), np.argmax(local[:, axis])]]
        seg = np.linalg.norm(np.roll(local, -1, 0) - np.roll(local, 1, 0), axis=1)
        mid = (rim * seg[:, None]).sum(0) / seg.sum()
        a = cross(local - local.mean(0), np.roll(local, -1, 0) - local.mean(0))[:, 2]      # sector weights
        d = (rim + np.roll(rim, -1, 0)) / 2 - mid
        vec = np.linalg.eigh(np.einsum("i,ij,ik->jk", abs(a), d, d))[1]
        long, short = vec[:, 1], vec[:, 0]
        if long @ (own[1] - own[0]) < 0:
            long = -long
        t, q = (rim - mid) @ long, (rim - mid) @ short
        shadow = np.stack([mid + long * t.min(), mid + long * t.max()])
        o = own[1] - own[0]
        turn = np.degrees(np.arctan2(o[0] * long[1] - o[1] * long[0], o @ long))
        out[name, which] = {"own": own, "shadow": shadow, "aspect": float(np.ptp(q) / np.ptp(t)), "turn": float(turn)}
    return out


def tilt(ends, mirrored):
    """Tilt (degrees) in the film plane of ends [left, right] or [posterior, anterior] given in pixels."""
    d = ends[1] - ends[0]
    return float(np.degrees(np.arctan2(-d[1], -d[0] if mirrored else d[0])))


def wrap(a):
    return (a + 180) % 360 - 180


def angles(truth, names, view, mirrored, key):
    """Main coronal curve (largest difference of tilts), or kyphosis T5-T12 and lordosis L1-S1, degrees."""
    t = {k: tilt(v[key], mirrored) for k, v in truth.items()}
    if view == "pa":
        lv = [n for n in names[names.index("C7"):] if n != "S1"]
        best = max(((wrap(t[u, "upper"] - t[l, "lower"]), u, l) for a, u in enumerate(lv) for l in lv[a + 1:]),
                   key=lambda k: abs(k[0]))
        return {"main_cobb": best[0], "main_levels": f"{best[1]}-{best[2]}"}
    last = [n for n in names if n[0] == "T"][-1]
    return {"kyphosis_T5_last_T": wrap(t[last, "lower"] - t["T5", "upper"]),
            "lordosis_L1_S1": wrap(t["S1", "upper"] - t["L1", "upper"])}


def write_csv(path, film, truth, key, view, shape):
    """Landmark table in film pixels; ends that fall outside the film are left out.  Returns the names left out."""
    ends = ("left", "right") if view == "pa" else ("posterior", "anterior")
    lost = []
    with open(path, "w", encoding="utf-8", newline="\n") as f:
        f.write("film,landmark,point,x,y\n")
        for (name, which), v in truth.items():
            for e, (x, y) in zip(ends, v[key]):
                mark = f"{name}.{which}.{e}"
                if 0 <= x < shape[1] and 0 <= y < shape[0]:
                    f.write(f"{film},{mark},0,{x:.3f},{y:.3f}\n")
                else:
                    lost.append(mark)
    return lost


def visibility(truth, bone, photons, spr, spacing, magnification):
    """Rough visibility of each plate along its shadow's long axis: {plate: {contrast, cnr}}.

    contrast: how much darker or brighter (log units, scatter included) a 1 mm line on the shadow is than lines
    2.5 mm to both sides; cnr: that over the quantum noise of an area 1 mm by the plate's length.
    """
    h, w = bone.shape
    out = {}
    for (name, which), v in truth.items():
        a, b = v["shadow"]
        n = np.array([-(b - a)[1], (b - a)[0]]) / max(np.linalg.norm(b - a), 1e-6)
        p = a + (b - a) * np.linspace(0.12, 0.88, 25)[:, None]

        def line(off):
            q = (p + n * off * magnification / spacing).astype(int)
            ok = (q[:, 0] >= 0) & (q[:, 1] >= 0) & (q[:, 0] < w) & (q[:, 1] < h)
            return q[ok, 1], q[ok, 0]
        mid = [line(o) for o in (-0.7, -0.35, 0.0, 0.35, 0.7)]
        if not len(mid[2][0]):
            continue
        mean = lambda ls, im: np.mean([im[l].mean() for l in ls if len(l[0])])
        c = mean(mid, bone) - mean([line(-2.5), line(2.5)], bone)
        c /= 1 + mean(mid, spr)
        area = np.linalg.norm(b - a) * spacing * 1.0
        out[f"{name}.{which}"] = {"contrast": round(float(c), 4), "cnr": round(float(c * np.sqrt(max(mean(mid, photons), 0) * area)), 2)}
    return out
