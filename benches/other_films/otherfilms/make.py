"""One film from one child, stage and view."""
import os
import numpy as np
from . import cage, children, film, metal, skeleton, truth
from .meshes import Scene
from .raster import Beam, ray_sums, enlarge
from .soft import Soft
from .spine import build, make_bodies
from .vertebra import add_vertebra


def prepare(index, count, seed):
    """The child and its vertebral bodies, wedged by the first stage and fixed from then on."""
    child = children.invent(index, count, seed)
    bodies = make_bodies(child, np.random.default_rng([seed, index, 4]))
    build(child, bodies, wedge=True, **children.stages(child, seed, index)["before"])
    return child, bodies


def aim(child, sp, trunk, st, view, rng):
    """Beam and film frame for one exposure."""
    top, s1 = sp.centre[sp.index("C7")], sp.centre[-1]
    zc = (top[2] + s1[2]) / 2 + rng.uniform(-40, 40)
    mid = np.array([0.5 * (top[0] + s1[0]), float(trunk.col("cy", zc)), zc])
    t, r = np.radians(st["turn_deg"]), np.radians(st["roll_deg"])
    ex, ey = np.array([np.cos(t), np.sin(t), 0]), np.array([-np.sin(t), np.cos(t), 0])
    if view == "pa":
        fwd = -ey if st["beam"] == "AP" else ey
        right = ex if st["left_on"] == "image-left" else -ex
    else:
        fwd = ex * (1 if rng.random() < 0.5 else -1)
        right = -ey if st["anterior_on"] == "image-left" else ey
    down = np.array([0, 0, -1.0])
    right, down = right * np.cos(r) + down * np.sin(r), down * np.cos(r) - right * np.sin(r)
    sod = st["sid_mm"] - st["centre_to_detector_mm"]
    beam = Beam(mid - fwd * sod, fwd, right, down, st["sid_mm"], st["slot_scan"], sod)
    c, w, _ = beam.detector(sp.centre[sp.index("C7"):])
    m = beam.magnification(mid)
    s = child["scale"]
    half = st["crop_half_width_mm"] * s * m * (0.95 if view == "pa" else 0.85)
    ctr = (c.min() + c.max()) / 2
    if view == "pa":                            # between the middle of the spine and that of the trunk
        zs = np.linspace(s1[2], top[2], 9)
        tr = np.stack([trunk.col("cx", zs), trunk.col("cy", zs), zs], -1)
        ctr = 0.4 * ctr + 0.6 * float(beam.detector(tr)[0].mean())
    if view == "lateral":
        ctr += m * s * 30 * (-1 if st["anterior_on"] == "image-left" else 1)
    lo, hi = min(ctr - half, c.min() - 38 * s * m), max(ctr + half, c.max() + 38 * s * m)
    t0, t1 = w.min() - st["crop_top_mm"] * s * m, w.max() + st["crop_bottom_mm"] * s * m
    width, height = hi - lo, t1 - t0
    a = max(0.14, width / 2200, height / 5000)
    b = max(min(0.40, width / 1000, height / 2000), a + 1e-6)
    beam.spacing = round(a + (b - a) * st["spacing_draw"] ** 0.9, 4)
    beam.shape = (int(height / beam.spacing), int(width / beam.spacing))
    beam.origin = np.array([lo, t0])
    return beam, m


def anatomy(child, sp, trunk, st, rng, design):
    """The meshes of one child at one stage in one posture."""
    k = child["bone"] * (0.75 + 0.25 * np.clip((child["age"] - 6) / 10, 0, 1))
    mu = (0.040 * k, 0.0125 * k)
    sc = Scene()
    for i, b in enumerate(sp.bodies):
        add_vertebra(sc, b, sp.rot[i], sp.centre[i], child["scale"], mu)
    cage.add_ribs(sc, child, sp, trunk, (mu[0] * 0.85, mu[1]))
    cage.add_sternum(sc, child, sp, trunk, mu)
    cage.add_vessels(sc, child, sp, trunk, rng)
    skeleton.add_pelvis(sc, child, sp, (mu[0] * 0.9, mu[1]))
    skeleton.add_shoulders(sc, child, sp, trunk, st["arms"], (mu[0] * 0.9, mu[1]))
    skeleton.add_head(sc, child, sp, mu)
    if design:
        metal.add(sc, child, sp, design)
    return sc


def under_metal(tr, metal_img):
    """Of each level that metal crosses, the larger share of a plate's own line under it."""
    out = {}
    h, w = metal_img.shape
    for (name, which), v in tr.items():
        a, b = v["own"]
        p = (a + (b - a) * np.linspace(0, 1, 40)[:, None]).astype(int)
        ok = (p[:, 0] >= 0) & (p[:, 1] >= 0) & (p[:, 0] < w) & (p[:, 1] < h)
        if ok.any():
            out.setdefault(name, []).append(float((metal_img[p[ok, 1], p[ok, 0]] > 0.3).mean()))
    return {n: round(max(v), 3) for n, v in out.items() if max(v) > 0.02}


def make_film(child, bodies, index, stage, view, seed, path, name):
    """Renders and writes one film with its truth; returns the JSON record."""
    st = children.film_settings(seed, index, stage, view)
    rng = np.random.default_rng([seed, index, 90, ["before", "traction", "fused"].index(stage), ["pa", "lateral"].index(view)])
    sp = build(child, bodies, **children.stages(child, seed, index)[stage])
    trunk = cage.Trunk(child, sp)
    design = metal.plan(child, sp, np.random.default_rng([seed, index, 5])) if stage == "fused" else None
    beam, mag = aim(child, sp, trunk, st, view, rng)
    same = np.random.default_rng([seed, index, 6])          # vessels do not move between films
    sc = anatomy(child, sp, trunk, st, same, design)
    shape = beam.shape
    ends = beam.ray(np.array([0.0, shape[1]]), np.array([0.0, shape[0]]))
    zr = [float((b + w * (st["sid_mm"] - st["centre_to_detector_mm"]))[2]) for b, w in zip(*ends)]
    vol = Soft(child, sp, trunk, st["arms"], max(min(zr) - 60, -320), min(max(zr) + 60, sp.centre[0, 2] + 250), rng)
    f = max(1, int(2.5 / beam.spacing))
    soft = enlarge(vol.ray_sums(beam, f), f, shape)
    fh = max(1, int(round(0.36 / beam.spacing)))
    bone = ray_sums(beam, *sc.triangles("fine"))
    half = ray_sums(beam, *sc.triangles("half"), factor=fh)
    bone += enlarge(half, fh, shape) if fh > 1 else half
    met = ray_sums(beam, *sc.triangles("metal"))
    ex = film.expose(soft, bone, met, st, beam.spacing, mag, rng)
    grey = film.display(ex, st, beam.spacing)
    letter = "L" if (view == "pa" and st["left_on"] == "image-right") or view == "lateral" else "R"
    grey = film.annotate(grey, st, child["id"], stage, letter, beam.spacing)
    file = film.write(grey, st, path)
    tr = truth.plate_truth(beam, sp, view)
    mirrored = st["left_on"] == "image-right" or st["anterior_on"] == "image-left"
    lost = {k: truth.write_csv(f"{path}.{k}.csv", name, tr, k, view, shape) for k in ("own", "shadow")}
    return {
        "film": name, "child": child["id"], "stage": stage, "view": view, "file": os.path.basename(file),
        "columns": shape[1], "rows": shape[0], "pixel_spacing_mm": [beam.spacing, beam.spacing],
        "magnification_at_spine": round(mag, 4), "bone": "dark" if st["inverted"] else "bright",
        "age": child["age"], "kind": child["kind"], "anomaly": child["anomaly"],
        "levels": [n for n in child["names"] if n[0] != "C" or n == "C7"],
        "axial_rotation_deg": {n: round(float(g), 2) for n, g in zip(sp.names, sp.gamma)},
        "axial_rotation_sign": "+ turns the front of the vertebra toward the patient's left (anticlockwise from above)",
        "body_wedge_deg": {n: [round(float(b.wc), 2), round(float(b.ws), 2)] for n, b in zip(sp.names, sp.bodies)},
        "angles": {k: truth.angles(tr, child["names"], view, mirrored, k) for k in ("own", "shadow")},
        "implant": design, "under_metal": under_metal(tr, met),
        "shadow": {f"{n}.{w}": {"aspect": round(v["aspect"], 3), "turn_from_own_deg": round(v["turn"], 2)} for (n, w), v in tr.items()},
        "visibility": truth.visibility(tr, bone + met, ex["photons"], ex["spr"], beam.spacing, mag),
        "outside_film": lost, "seed": seed, "settings": st,
    }
