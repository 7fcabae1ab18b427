"""Synthetic spinal radiographs with known truth:  python other_films.py OUT --children 12 --seed 1

Per film: image, NAME.own.csv, NAME.shadow.csv (landmark tables, film pixels) and NAME.json.
"""
import argparse
import json
import os
import time

for _v in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):    # small systems only: threads cost more than they give
    os.environ.setdefault(_v, "1")

from otherfilms.make import make_film, prepare

STAGES, VIEWS = ("before", "traction", "fused"), ("pa", "lateral")


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("out")
    ap.add_argument("--children", type=int, default=12)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--only", help="child[-stage[-view]], for example k03-before-pa")
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    rows = []
    for k in range(a.children):
        child, bodies = prepare(k, a.children, a.seed)
        for stage in STAGES:
            for view in VIEWS:
                name = f"{child['id']}-{stage}-{view}"
                if a.only and not name.startswith(a.only):
                    continue
                t = time.time()
                info = make_film(child, bodies, k, stage, view, a.seed, os.path.join(a.out, name), name)
                with open(os.path.join(a.out, name + ".json"), "w", encoding="utf-8") as f:
                    json.dump(info, f, indent=1)
                rows.append(info)
                print(f"{name} {info['file']} {info['columns']}x{info['rows']} {time.time() - t:.1f} s", flush=True)


if __name__ == "__main__":
    main()
