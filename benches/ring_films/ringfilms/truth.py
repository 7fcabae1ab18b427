"""The truth of a film: table of landmarks (pixels) and JSON of facts."""
import json
import os

import numpy as np

from .levels import C7, LEVELS

ENDS = {"pa": ("left", "right"), "lateral": ("posterior", "anterior")}


def landmarks(pose, bodies, camera):
    """Pairs of landmark name and (column, row) for every plate end on the film, from C7 downward."""
    for level in range(C7, -1, -1):
        for plate in ("upper", "lower") if level else ("upper",):
            ends = bodies[level].ends(plate)
            for end in ENDS[camera.view]:
                column, row, _ = camera.project(pose.place(level, ends[end])[None])
                column, row = float(column[0]), float(row[0])
                if 0 <= column <= camera.columns and 0 <= row <= camera.rows:
                    yield f"{LEVELS[level]}.{plate}.{end}", (column, row)


def write_truth(child, pose, bodies, camera, facts, folder):
    """Writes NAME.own.csv and NAME.json; returns what is in the JSON."""
    film = facts["film"]
    marks = list(landmarks(pose, bodies, camera))
    rows = [f"{film},{name},0,{column:.2f},{row:.2f}\n" for name, (column, row) in marks]
    with open(os.path.join(folder, film + ".own.csv"), "w", encoding="utf-8") as out:
        out.write("film,landmark,point,x,y\n" + "".join(rows))
    levels = list(dict.fromkeys(name.split(".")[0] for name, _ in marks))
    written = all_facts(child, pose, camera, facts, levels)
    with open(os.path.join(folder, film + ".json"), "w", encoding="utf-8") as out:
        json.dump(written, out, indent=1)
    return written


def all_facts(child, pose, camera, facts, levels):
    """Everything in the JSON, in its order; levels from the top downward."""
    traits = child.traits
    left = 1 - child.relief if facts["stage"] != "before" else 1
    lower, upper, angle = traits.curves[0]
    near = "image-left" if camera.flipped else "image-right"
    pa = camera.view == "pa"
    return {
        "film": facts["film"],
        "child": facts["child"],
        "stage": facts["stage"],
        "view": facts["view"],
        "file": facts["file"],
        "columns": camera.columns,
        "rows": camera.rows,
        "pixel_spacing_mm": [camera.spacing, camera.spacing],
        "magnification_at_spine": round(camera.magnification(pose.centre[:C7 + 1]), 5),
        "bone": facts["bone"],
        "levels": levels,
        "implant": None,
        "under_metal": {},
        "settings": {"left_on": near if pa else None, "anterior_on": None if pa else near},
        "true_pose": {
            "kind": traits.pattern,
            "main_coronal_deg": round(abs(angle) * left, 1),
            "convex": "right" if angle > 0 else "left",
            "kyphosis_deg": round(traits.kyphosis, 1),
            "max_axial_rotation_deg": round(float(np.abs(pose.axial).max()), 1),
            "main_curve": [LEVELS[round(upper)], LEVELS[round(lower)]],
            "wedged": [LEVELS[level] for level in traits.wedges],
            "age": traits.age,
            "size": round(child.size, 3),
        },
    }
