"""Checks a rendered set and prints its table of settings:  python check_films.py DIR

Checks: ray sums of a sphere against the chord formula; every landmark name once and inside the film; every plate has
both ends unless left out as outside; the main curve smaller in traction and after fusion than before. Ends with 1 when one fails.
"""
import csv
import glob
import json
import os
import sys

import numpy as np

from otherfilms.meshes import ellipsoid
from otherfilms.raster import Beam, ray_sums


def sphere_error():
    """Largest error (mm) of the path length through a sphere of 20 mm, and of its shadow's centre (pixels)."""
    beam = Beam((0, -1500, 0), (0, 1, 0), (1, 0, 0), (0, 0, -1), 1700)
    beam.spacing, beam.shape, beam.origin = 0.2, (400, 400), np.array([-40.0, -40.0])
    c = np.array([7.0, 0, -5.0])
    v, f = ellipsoid(c, np.full(3, 20.0), 96)
    img = ray_sums(beam, v[f], np.ones(len(f)))
    x, y = np.meshgrid(np.arange(400) + 0.5, np.arange(400) + 0.5)
    base, way = beam.ray(x, y)
    way = way / np.linalg.norm(way, axis=-1, keepdims=True)
    oc = base - c
    disc = (oc * way).sum(-1) ** 2 - (oc ** 2).sum(-1) + 400
    want = 2 * np.sqrt(np.maximum(disc, 0))
    img = img * np.linalg.norm(beam.ray(x, y)[1], axis=-1)
    cen = np.array([(x * img).sum(), (y * img).sum()]) / img.sum() - np.array([(x * want).sum(), (y * want).sum()]) / want.sum()
    return float(abs(img - want)[want > 8].max()), float(abs(cen).max())


def main(folder):
    path, centre = sphere_error()
    print(f"sphere: path error {path:.3f} mm, centre error {centre:.4f} px")
    # A sphere of facets is thinner than a round one by their sagitta, about 0.1 mm at each side.
    films, bad = [], int(path > 0.25) + int(centre > 0.02)
    for p in sorted(glob.glob(os.path.join(folder, "*.json"))):
        d = json.load(open(p, encoding="utf-8"))
        films.append(d)
        want = 4 * (len(d["levels"]) - 1) + 2
        for kind in ("own", "shadow"):
            rows = list(csv.DictReader(open(f"{p[:-5]}.{kind}.csv", encoding="utf-8")))
            names = [r["landmark"] for r in rows]
            ok = len(set(names)) == len(names) and len(names) + len(d["outside_film"][kind]) == want
            ok &= all(0 <= float(r["x"]) < d["columns"] and 0 <= float(r["y"]) < d["rows"] for r in rows)
            ok &= all(r["film"] == d["film"] and r["point"] == "0" for r in rows)
            ok &= os.path.exists(os.path.join(folder, d["file"]))
            if not ok:
                bad += 1
                print("BAD", p, kind, len(names), want)
    order = {"before": 0, "traction": 1, "fused": 2}
    films.sort(key=lambda d: (d["child"], order[d["stage"]], d["view"] != "pa"))
    curves = {(d["child"], d["stage"]): abs(d["angles"]["own"]["main_cobb"]) for d in films if d["view"] == "pa"}
    for (child, stage), curve in curves.items():
        if curve >= curves.get((child, "before"), np.inf) and stage != "before":
            bad += 1
            print("BAD", child, stage, f"curve {curve:.1f}, before {curves[child, 'before']:.1f}")
    print(f"{len(films)} films, {bad} failed checks")
    print("film | size | mm/px | M | beam/side | arms | turn | curve | bone | contrast | ph/mm2 | SPR | collim | grid | file | "
          "own | shadow | out | plates cnr<4")
    for d in films:
        s, a = d["settings"], d["angles"]
        if d["view"] == "pa":
            ang = [f"{a[k]['main_cobb']:.0f} {a[k]['main_levels']}" for k in ("own", "shadow")]
        else:
            ang = [f"K{a[k]['kyphosis_T5_last_T']:.0f} L{a[k]['lordosis_L1_S1']:.0f}" for k in ("own", "shadow")]
        faint = sum(abs(v["cnr"]) < 4 for v in d["visibility"].values())
        print(" | ".join(str(v) for v in (
            d["film"], f"{d['columns']}x{d['rows']}", f"{d['pixel_spacing_mm'][0]:.3f}", f"{d['magnification_at_spine']:.2f}",
            f"{'slot ' if s['slot_scan'] else ''}{s['beam']} {(s['left_on'] or s['anterior_on'])[6:]}", s["arms"], f"{s['turn_deg']:.1f}",
            s["curve"], d["bone"], s["contrast"], f"{s['photons_per_mm2']:.0f}", f"{s['scatter_to_primary']:.2f}", s["collimation"],
            "yes" if s["grid_lines"] else "-", s["format"] + (f" q{s['jpeg_quality']}" if s["format"] == "jpeg" else ""),
            *ang, len(d["outside_film"]["own"]), f"{faint}/{len(d['visibility'])}")))
    return bad


if __name__ == "__main__":
    sys.exit(1 if main(sys.argv[1]) else 0)
