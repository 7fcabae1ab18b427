"""Refining, carrying and proposing by the command line on films of other_films.py, against their truth.

python evaluate.py FILMS CURVEBENCH [--modes refine,carry2,carry0,propose] [--only TEXT] [--truth own|shadow]

Starts of refining are 2 mm off (SD, each coordinate), marks of the film before 1 mm, hints 2 mm; carry2 has
two hints, carry0 none. Lengths are mm at the spine. It is repeatable: every film has its own seed. `rods` are the levels
of which metal crosses more than a twentieth of a plate; the case does not state them.
"""
import argparse
import concurrent.futures
import csv
import glob
import json
import math
import os
import subprocess
import tempfile
import zlib
import numpy as np


def film(path, truth):
    """A film's facts and its true marks."""
    facts = json.load(open(path))
    name = path[:-5]
    marks = {r["landmark"]: (float(r["x"]), float(r["y"])) for r in csv.DictReader(open(f"{name}.{truth}.csv"))}
    scale = facts["magnification_at_spine"]
    metal = [k for k, share in facts["under_metal"].items() if share > 0.05] if facts["stage"] == "fused" else []
    return dict(facts, path=os.path.join(os.path.dirname(path), facts["file"]), marks=marks, metal=metal,
                mm=[s / scale for s in facts["pixel_spacing_mm"]], lateral=facts["view"] == "lateral")


def plates(marks, lateral):
    """Complete end-plates: the mark of the first end and of the second."""
    first, second = ("posterior", "anterior") if lateral else ("left", "right")
    names = [k[: -len(first) - 1] for k in marks if k.endswith("." + first)]
    return {n: (marks[f"{n}.{first}"], marks[f"{n}.{second}"]) for n in names if f"{n}.{second}" in marks}


def run(program, *words):
    """What a command prints, or none where it refuses, and what it says."""
    done = subprocess.run([program, *map(str, words)], capture_output=True, text=True)
    return done.stdout if done.returncode == 0 else None, done.stderr.strip()


def prepare(program, *words):
    """A command that must succeed."""
    out, said = run(program, *words)
    if out is None:
        raise SystemExit(said)


def add(program, case, f, *more):
    side = "anterior_on" if f["lateral"] else "left_on"
    prepare(program, "add", case, f["path"], "--id", f["film"], "--view", "lateral" if f["lateral"] else "pa",
            "--spacing", "%g,%g" % tuple(f["pixel_spacing_mm"]), "--magnification", f["magnification_at_spine"],
            "--" + side.replace("_", "-"), f["settings"][side], *more)


def placed(path, f, sd, rng):
    """A table of the film's marks, each off by `sd` mm."""
    with open(path, "w") as out:
        out.write("film,landmark,point,x,y\n")
        for name, (x, y) in f["marks"].items():
            x, y = x + sd * rng.normal() / f["mm"][1], y + sd * rng.normal() / f["mm"][0]
            out.write(f"{f['film']},{name},0,{x:.4f},{y:.4f}\n")


def ends(f, rng):
    """The middles of the first and last plate, 2 mm off, as hints: both ends of a plate there."""
    every, words = plates(f["marks"], f["lateral"]), []
    for name in (list(every)[0], list(every)[-1]):
        a, b = every[name]
        x, y = [(a[k] + b[k]) / 2 + 2 * rng.normal() / f["mm"][1 - k] for k in (0, 1)]
        for end in ("posterior", "anterior") if f["lateral"] else ("left", "right"):
            words += ["--hint", f"{name}.{end}={x:.3f},{y:.3f}"]
    return words


def errors(out, f):
    """Of each plate found: level, tilt off (degrees), middle off (mm), quality."""
    rows = [r for r in csv.reader(out.splitlines()) if len(r) > 4]
    start = next(i for i, r in enumerate(rows) if r[0] == "film")
    table = [dict(zip(rows[start], r)) for r in rows[start + 1:]]
    found = plates({r["landmark"]: (float(r["x"]), float(r["y"]), float(r["quality"])) for r in table}, f["lateral"])
    true, (row, column) = plates(f["marks"], f["lateral"]), f["mm"]
    for name, (a, b) in found.items():
        if name in true:
            (c, d), angle = true[name], lambda p, q: math.degrees(math.atan2((q[1] - p[1]) * row, (q[0] - p[0]) * column))
            tilt = (angle(a, b) - angle(c, d) + 540) % 360 - 180
            off = math.hypot((a[0] + b[0] - c[0] - d[0]) / 2 * column, (a[1] + b[1] - c[1] - d[1]) / 2 * row)
            yield name.split(".")[0], tilt, off, a[2]


def tried(films, key, mode, program):
    """One film in one way: its errors, or why there are none."""
    child, stage, view = key
    f = films[key]
    rng = np.random.default_rng(zlib.crc32(" ".join(key).encode()))
    with tempfile.TemporaryDirectory() as folder:
        case, table = os.path.join(folder, "case"), os.path.join(folder, "marks.csv")
        prepare(program, "new", case, "--id", "X")
        phase = {"before": "presentation", "traction": "traction", "fused": "postop"}[stage]
        if mode == "refine":
            add(program, case, f, "--phase", phase)
            placed(table, f, 2.0, rng)
            out, said = run(program, "refine", case, "--film", f["film"], "--from", table)
        elif mode == "propose":
            add(program, case, f, "--phase", phase)
            out, said = run(program, "propose", case, "--film", f["film"], *ends(f, rng))
        else:
            before = films[(child, "before", view)]
            add(program, case, before, "--phase", "presentation", "--date", "2031-01-01")
            add(program, case, f, "--phase", phase, "--date", "2031-02-01")
            placed(table, before, 1.0, rng)
            prepare(program, "marks", case, "--import", table, "--reader", "R")
            hints = ends(f, rng) if mode == "carry2" else []
            out, said = run(program, "carry", case, "--from", before["film"], "--to", f["film"], *hints)
        return (mode, key, None, said) if out is None else (mode, key, list(errors(out, f)), said)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("films")
    parser.add_argument("curvebench")
    parser.add_argument("--modes", default="refine,carry2,carry0,propose")
    parser.add_argument("--only", default="")
    parser.add_argument("--truth", default="own", choices=["own", "shadow"])
    parser.add_argument("--each", action="store_true", help="a row for each film")
    given = parser.parse_args()
    every = [film(p, given.truth) for p in sorted(glob.glob(os.path.join(given.films, "*-*-*.json")))]
    films = {(f["child"], f["stage"], f["view"]): f for f in every}
    work = [(k, m) for m in given.modes.split(",") for k in films
            if given.only in "-".join(k) and not (m.startswith("carry") and k[1] == "before")]
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda w: tried(films, *w, given.curvebench), work))
    groups = {}
    for mode, key, found, said in results:
        if found is None:
            print("none:", mode, *key, said)
        for level, *rest in found or []:
            where = "rods" if level in films[key]["metal"] else "free"
            group = (mode, key[2], key[1], where)
            groups.setdefault((*group, key[0]) if given.each else group, []).append(rest)
    for group, v in sorted(groups.items()):
        tilt, off, quality = np.array(v).T
        sure = quality >= 0.1
        print("%-30s %4d plates, tilt %5.2f deg RMS, over 10 deg %4.1f %%, middle %5.2f mm RMS, within 2 mm and 3 deg %5.1f %%,"
              " within 5 mm %5.1f %%, gross above threshold %.2f %%" % (
                  " ".join(group), len(v), math.sqrt((tilt ** 2).mean()), 100 * (abs(tilt) > 10).mean(),
                  math.sqrt((off ** 2).mean()), 100 * ((abs(tilt) <= 3) & (off <= 2)).mean(), 100 * (off <= 5).mean(),
                  100 * (abs(tilt[sure]) > 10).mean() if sure.any() else 0))


if __name__ == "__main__":
    main()
