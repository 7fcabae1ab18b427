"""Invented full-spine films with known truth.  See README.md.

python mesh_films.py OUT --children 8 --seed 1 --first 1"""
import argparse
import csv
import json
import os
import time
import numpy as np
from meshfilms import film
from meshfilms.raster import Scene
from meshfilms.spine import Child, LEVELS
from meshfilms.torso import build


def one(out, child, number, seed, stage, view):
    a, b = stage == "traction", view == "lateral"
    r = np.random.default_rng([seed, number, 1 + 2 * a + b])
    shared = np.random.default_rng([seed, number, 50 + a])   # both views: one machine
    slot, hard = shared.random() < .45, r.random() < .25
    pose = child.pose(stage)
    scene = Scene()
    marks, torso = build(scene, child, pose, r, view)
    film.wires(r, scene, torso, hard)
    beam, rows, cols, mag, side = film.setup(r, view, slot, torso, hard)
    dens, body = film.expose(r, scene, beam, rows, cols, slot, hard, child, b)
    x = film.display(r, dens, body, beam.px, hard, b)
    dark = (seed + number) % 4             # one film in four, each kind in turn
    invert = bool(dark == 2 * a + b)
    name = f"k{number:02d}-{stage}-{view}"
    ext = film.save(r, film.dress(r, x, beam.px, side, invert), os.path.join(out, name))
    ends = ("posterior", "anterior") if b else ("left", "right")
    lines, seen = [], []
    for level in LEVELS + ["S1"]:
        for plate in ("upper", "lower"):
            for e in ends:
                q = marks.get(f"{level}.{plate}.{e}")
                if q is None:
                    continue
                u, v, _ = beam.project(q[None])
                if 0 <= u[0] <= cols and 0 <= v[0] <= rows:
                    lines.append([name, f"{level}.{plate}.{e}", 0, f"{u[0]:.2f}", f"{v[0]:.2f}"])
                    seen.append(level)
    with open(os.path.join(out, name + ".own.csv"), "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["film", "landmark", "point", "x", "y"])
        w.writerows(lines)
    true = {"pattern": child.pattern, "convex_to": "right" if child.side > 0 else "left",
            "age": round(child.age, 1), "congenital_wedge": child.hemi,
            "machine": "slot" if slot else "plate", "hard": bool(hard), **child.cobb(pose)}
    info = {"film": name, "child": f"k{number:02d}", "stage": stage, "view": view,
            "file": name + ext, "columns": cols, "rows": rows,
            "pixel_spacing_mm": [beam.px, beam.px], "magnification_at_spine": round(float(mag), 5),
            "bone": "dark" if invert else "bright",
            "levels": [k for k in LEVELS + ["S1"] if k in seen], "implant": None,
            "under_metal": {}, "settings": side, "true_pose": true}
    with open(os.path.join(out, name + ".json"), "w") as f:
        json.dump(info, f, indent=1)
    return name, true


def main():
    p = argparse.ArgumentParser()
    p.add_argument("out")
    p.add_argument("--children", type=int, default=8)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--first", type=int, default=1)
    o = p.parse_args()
    os.makedirs(o.out, exist_ok=True)
    for n in range(o.first, o.first + o.children):
        child = Child(o.seed, n)
        for stage in ("before", "traction"):
            for view in ("pa", "lateral"):
                t = time.time()
                name, true = one(o.out, child, n, o.seed, stage, view)
                print(name, f"{time.time() - t:.1f}s", true, flush=True)


if __name__ == "__main__":
    main()
