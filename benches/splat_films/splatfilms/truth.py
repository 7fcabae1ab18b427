"""The truth of a film: table of landmarks (pixels) and JSON of facts."""
import json
import os

import numpy as np

from .levels import INDEX, LEVELS, MARKED

ENDS = {"pa": ("left", "right"), "lateral": ("posterior", "anterior")}


def landmarks(child, pose, camera):
    """Pairs of landmark name and (column, row) for every plate end on the film, levels from S1 upward."""
    for name in MARKED:
        level = INDEX[name]
        for plate in ("upper",) if name == "S1" else ("upper", "lower"):
            rim = child.rim(level, plate)
            for end in ENDS[camera.view]:
                column, row, _ = camera.project(pose.place(level, rim[end])[None])
                column, row = float(column[0]), float(row[0])
                if 0 <= column < camera.columns and 0 <= row < camera.rows:
                    yield f"{name}.{plate}.{end}", (column, row)


def write_truth(child, pose, camera, facts, folder):
    """Writes NAME.own.csv and NAME.json; returns what is in the JSON."""
    film = facts["film"]
    marks = list(landmarks(child, pose, camera))
    rows = [f"{film},{name},0,{column:.2f},{row:.2f}\n" for name, (column, row) in marks]
    with open(os.path.join(folder, film + ".own.csv"), "w", encoding="utf-8") as out:
        out.write("film,landmark,point,x,y\n" + "".join(rows))
    seen = {name.split(".")[0] for name, _ in marks}
    levels = [name for name in reversed(MARKED) if name in seen]
    written = all_facts(child, pose, camera, facts, levels)
    with open(os.path.join(folder, film + ".json"), "w", encoding="utf-8") as out:
        json.dump(written, out, indent=1)
    return written


def all_facts(child, pose, camera, facts, levels):
    """Everything in the JSON, in its order; levels from the top downward."""
    relief = child.relief if facts["stage"] != "before" else 0
    turn = np.rad2deg(np.abs(pose.axial).max())
    return {
        "film": facts["film"],
        "child": facts["child"],
        "stage": facts["stage"],
        "view": facts["view"],
        "file": facts["file"],
        "columns": camera.columns,
        "rows": camera.rows,
        "pixel_spacing_mm": [camera.spacing, camera.spacing],
        "magnification_at_spine": round(float(camera.magnification), 4),
        "bone": facts["bone"],
        "levels": levels,
        "implant": None,
        "under_metal": {},
        "settings": {"left_on": facts["left_on"], "anterior_on": facts["anterior_on"]},
        "true_pose": {
            "kind": child.kind,
            "main_coronal_deg": round(child.curve * (1 - relief), 1),
            "kyphosis_deg": round(child.kyphosis, 1),
            "max_axial_rotation_deg": round(float(turn), 1),
            "main_curve": [LEVELS[child.upper], LEVELS[child.lower]],
            "size": round(child.size, 3),
        },
    }
