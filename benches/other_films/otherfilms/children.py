"""Invents children, the three stages of each, and the settings of every film (all from memory)."""
import numpy as np
from .spine import level_names
from .vertebra import sizes

# coronal tilt at the turning points, in parts of the main coronal angle; convex right for a positive sign
TYPES = {
    "thoracic": {"C3": 0, "T1": 0.12, "T5": 0.48, "T12": -0.52, "L4": 0.10, "S1": 0},
    "double-major": {"C3": 0, "T1": 0.08, "T5": 0.45, "T11": -0.55, "L4": 0.32, "S1": 0.02},
    "thoracolumbar": {"C3": 0, "T4": -0.06, "T9": 0.50, "L3": -0.50, "S1": -0.04},
    "long-C": {"C3": 0.08, "T3": 0.42, "L3": -0.52, "S1": -0.24},
    "double-thoracic": {"C3": 0, "T1": -0.30, "T5": 0.46, "T12": -0.54, "L4": 0.06, "S1": 0},
    "short-angular": {"C3": 0, "T2": 0.10, "T6": 0.50, "T11": -0.50, "L3": 0.08, "S1": 0},
}
USUAL_SIDE = {"thoracolumbar": -1}


def invent(index, count, seed):
    """One child: anatomy, curve, anomaly.  Severities are spread evenly over the set."""
    deck = np.random.default_rng([seed, 77])
    cobb = 20 + 100 * (deck.permutation(count) + deck.random(count)) / count
    kyph = 10 + 100 * (deck.permutation(count) + deck.random(count)) / count
    kinds = [list(TYPES)[k % len(TYPES)] for k in deck.permutation(count)]
    odd = dict(zip(deck.permutation(count)[:4], ["no ribs on T12", "extra level", "absent level", "short T12 ribs"]))
    rng = np.random.default_rng([seed, index, 1])
    kind, anomaly = kinds[index], odd.get(index, "none")
    nt, nl = 12, 5
    if anomaly == "extra level":
        nt, nl = (13, 5) if rng.random() < 0.4 else (12, 6)
    if anomaly == "absent level":
        nt, nl = (11, 5) if rng.random() < 0.5 else (12, 4)
    names = level_names(nt, nl)
    age = float(np.round(rng.uniform(6, 17.9), 1))
    scale = float(np.interp(age, [6, 11, 14, 17], [0.68, 0.84, 0.95, 1.0]) * rng.normal(1, 0.03))
    sign = USUAL_SIDE.get(kind, 1) * (1 if rng.random() < 0.85 else -1)
    coronal = [(n, float(f * sign * cobb[index])) for n, f in TYPES[kind].items() if n in names]
    child = {
        "id": f"k{index + 1:02d}", "age": age, "scale": scale, "kind": kind, "anomaly": anomaly, "names": names,
        "main_cobb_drawn": float(cobb[index]), "kyphosis": float(kyph[index]), "coronal": coronal,
        "turn_ratio": float(rng.uniform(0.1, 0.4)), "wedge": float(rng.uniform(0.2, 0.6)),
        "sacral_slope": float(rng.uniform(25, 48)),
        "kyphosis_span": [("T4", "T12"), ("T3", "T11"), ("T5", "L1")][rng.integers(3)],
        "slim": float(rng.uniform(0.86, 1.02)), "fat": float(rng.uniform(0, 1.6)),
        "rib_slope": float(rng.uniform(0.8, 1.25)), "shoulder_tilt": float(rng.normal(0, 1)),
        "no_ribs": ["T12"] if anomaly == "no ribs on T12" else [],
        "bone": float(rng.uniform(0.75, 1.15)),
    }
    if "T11" not in names and "T11" in child["kyphosis_span"]:
        child["kyphosis_span"] = ("T3", "T10")
    child["discs"] = [float(sizes(n)[3] * scale * rng.normal(1.05, 0.06)) for n in names]
    low = {"thoracic": "L1", "double-major": "L3", "thoracolumbar": "L4", "long-C": "L5", "double-thoracic": "L2",
           "short-angular": "L1"}[kind]
    while low not in names:
        low = f"L{int(low[1:]) - 1}"
    child["fusion"] = [["T2", "T3", "T4"][rng.integers(3)], low]
    return child


def stages(child, seed, index):
    """Parameters of spine.build and posture for before, traction, fused."""
    rng = np.random.default_rng([seed, index, 2])
    pull, fix = rng.uniform(0.20, 0.45), rng.uniform(0.40, 0.60)
    lean = rng.normal(0, 18)
    return {
        "before": dict(keep=1.0, turn_keep=1.0, sag_keep=1.0, open_discs=1.0, balance=lean, sva=rng.normal(-5, 20)),
        "traction": dict(keep=1 - pull, turn_keep=(1 - pull) ** 0.6, sag_keep=1 - pull * rng.uniform(0.6, 1.1),
                         open_discs=1 + rng.uniform(0, 0.25), balance=rng.normal(0, 8), sva=rng.normal(-10, 10)),
        "fused": dict(keep=1 - fix, turn_keep=1 - fix * rng.uniform(0.2, 0.7), sag_keep=1 - fix * rng.uniform(0.6, 1.1),
                      open_discs=1 + rng.uniform(0, 0.1), balance=rng.normal(0, 12), sva=rng.normal(0, 18)),
    }


def film_settings(seed, index, stage, view):
    """Everything about beam, detector, processing and file; one independent draw per film."""
    rng = np.random.default_rng([seed, index, 3 + ["before", "traction", "fused"].index(stage), ["pa", "lateral"].index(view)])
    lat = view == "lateral"
    tract = stage == "traction"
    pick = lambda *a: a[rng.integers(len(a))]
    st = {
        "posture": pick("supine in traction", "hanging", "sitting in traction") if tract else "standing",
        "arms": (pick("forward", "clavicle", "clavicle", "up") if lat else pick("down", "down", "abducted")),
        "turn_deg": float(rng.normal(0, 3.5)), "roll_deg": float(rng.normal(0, 0.8)),
        "slot_scan": bool(rng.random() < 0.12), "sid_mm": float(rng.uniform(1450, 2000) if not tract else rng.uniform(1150, 1800)),
        "centre_to_detector_mm": float(rng.uniform(210, 330) if lat else rng.uniform(130, 230)),
        "beam": "AP" if (not lat and tract and rng.random() < 0.6) else ("LAT" if lat else "PA"),
        "left_on": None if lat else pick("image-left", "image-left", "image-right"),
        "anterior_on": pick("image-left", "image-right") if lat else None,
        "crop_top_mm": float(rng.uniform(25, 120)), "crop_bottom_mm": float(rng.uniform(55, 175)),
        "crop_half_width_mm": float(rng.uniform(130, 200)), "spacing_draw": float(rng.random()),
        "photons_per_mm2": float(np.exp(rng.uniform(np.log(2500), np.log(45000)))), "low_dose": bool(rng.random() < 0.2),
        "scatter_to_primary": float(rng.uniform(0.15, 0.9) * (1.4 if lat else 1.0)), "focal_spot_mm": float(rng.uniform(0.5, 1.4)),
        "detector_sigma_px": float(rng.uniform(0.35, 0.8)), "noise_colour": float(rng.uniform(0.0, 0.9)),
        "grid_lines": bool(rng.random() < 0.2), "grid_period_px": float(rng.uniform(2.3, 6.5)), "grid_depth": float(rng.uniform(0.004, 0.02)),
        "collimation": pick("none", "none", "bright", "bright", "shutter-black"), "collimation_mm": [float(v) for v in rng.uniform(2, 24, 4)],
        "curve": pick("log", "film", "cr", "cr", "gamma"), "compress": float(rng.uniform(0.35, 0.75)), "edge_boost": float(rng.uniform(0.0, 0.7)),
        "gamma": float(rng.uniform(0.75, 1.35)), "contrast": "low" if rng.random() < 0.2 else "normal",
        "inverted": bool(rng.random() < 0.2), "marker": bool(rng.random() < 0.7), "text": bool(rng.random() < 0.4),
        "format": pick("png8", "png16", "jpeg", "jpeg"), "jpeg_quality": int(rng.integers(75, 96)),
        "texture": float(rng.uniform(0.03, 0.10)),
    }
    if st["slot_scan"]:
        st["scatter_to_primary"] *= 0.25
    if st["low_dose"]:
        st["photons_per_mm2"] = float(rng.uniform(900, 2500))
    return st
