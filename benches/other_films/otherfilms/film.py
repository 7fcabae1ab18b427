"""From ray sums to a film file: attenuation, scatter, blur, noise, display, markers."""
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from .raster import enlarge


def broad(img, sigma, clip=None):
    """Wide Gaussian blur (sigma in pixels) on a thinned grid."""
    f = max(1, int(sigma / 4))
    r, c = -(-img.shape[0] // f), -(-img.shape[1] // f)
    pad = np.pad(img, ((0, r * f - img.shape[0]), (0, c * f - img.shape[1])), mode="edge")
    small = pad.reshape(r, f, c, f).mean((1, 3))
    return enlarge(gaussian_filter(small, sigma / f).astype(np.float32), f, img.shape)


def fast_blur(img, sigma):
    """Narrow Gaussian blur, sigma in pixels."""
    if sigma < 0.15:
        return img
    out = gaussian_filter1d(img, sigma, axis=0, truncate=3, mode="nearest")
    return gaussian_filter1d(out, sigma, axis=1, truncate=3, mode="nearest")


def bone_texture(shape, spacing, rng):
    """Zero-mean unit pattern with grain of about 0.5-2 mm, streaked along the rows of trabeculae (columns)."""
    f = max(1, int(0.4 / spacing))
    n = rng.standard_normal((shape[0] // f + 2, shape[1] // f + 2)).astype(np.float32)
    k = 1 / (f * spacing)
    t = gaussian_filter(n, (1.2 * k, 0.5 * k)) * 2.5 + gaussian_filter(n, 2.5 * k) * 4
    return enlarge((t / t.std()).astype(np.float32), f, shape)


def expose(soft, bone, metal, st, spacing, magnification, rng):
    """Log exposure image (bigger = more attenuated, natural log), and photons per mm2 behind the patient.

    soft, bone, metal: ray sums (dimensionless).  Returns dict with `log`, `photons` (primary plus scatter)
    and `spr` (scatter over primary).
    """
    shape = soft.shape
    bone = bone * (1 + st["texture"] * bone_texture(shape, spacing, rng))
    total = soft + bone
    heel = 1 + 0.12 * np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None] * (1 if rng.random() < 0.5 else -1)
    prim = np.exp(-total) * heel
    inside = soft > 0.8
    level = float(np.median(prim[inside])) if inside.any() else float(prim.mean())
    edge = st["collimation"] != "none"
    mask = collimator(shape, st, spacing, rng) if edge else None
    src = prim if mask is None else prim * mask
    scat = broad(np.minimum(src, 6 * level), 38 / spacing)
    scat *= st["scatter_to_primary"] * level / max(float(np.median(scat[inside])), 1e-12)
    prim = prim * np.exp(-metal)
    if mask is not None:
        prim = prim * (0.004 + 0.996 * mask)
        scat = scat * (0.25 + 0.75 * mask)
    blur_mm = np.hypot(st["focal_spot_mm"] * max(magnification - 1, 0.02) * 0.42, st["detector_sigma_px"] * spacing)
    prim = fast_blur(prim, blur_mm / spacing)
    scale = st["photons_per_mm2"] / level
    expect = (prim + scat) * scale
    n = expect * spacing ** 2
    if st["grid_lines"]:
        n = n * (1 + st["grid_depth"] * np.cos(2 * np.pi * np.arange(shape[1]) / st["grid_period_px"])).astype(np.float32)
    noise = rng.standard_normal(shape, dtype=np.float32)
    c = st["noise_colour"]
    if c > 0.15:
        noise = fast_blur(noise, c)
        noise /= noise[::7, ::7].std() / (1 - 0.35 * c)
    n = n + noise * np.sqrt(n + 4.0) + np.float32(0.002) * n * gaussian_noise(shape, rng)
    n = np.maximum(n, 0.35)
    return {"log": -np.log(n / (spacing ** 2 * scale * level)), "photons": expect, "spr": scat / np.maximum(prim, 1e-9),
            "inside": inside, "mask": mask}


def gaussian_noise(shape, rng):
    """Low-frequency detector mottle, unit variance."""
    f = 6
    return enlarge(rng.standard_normal((shape[0] // f + 2, shape[1] // f + 2)).astype(np.float32) * 1.4, f, shape)


def collimator(shape, st, spacing, rng):
    """1 inside, 0 outside, soft edge of about 1 mm; borders in st['collimation_mm'] (left, right, top, bottom)."""
    l, r, t, b = (v / spacing for v in st["collimation_mm"])
    skew = rng.normal(0, 0.004)
    y, x = np.arange(shape[0], dtype=np.float32), np.arange(shape[1], dtype=np.float32)
    w = 0.8 / spacing
    px = np.minimum((x - l)[None, :] + skew * y[:, None], (shape[1] - r - x)[None, :] - skew * y[:, None])
    py = np.minimum((y - t)[:, None] - skew * x[None, :], (shape[0] - b - y)[:, None] + skew * x[None, :])
    return np.clip(0.5 + np.minimum(px, py) / (2 * w), 0, 1)


def display(ex, st, spacing):
    """Grey 0..1 with dense parts bright, by the film's display curve."""
    g = ex["log"].astype(np.float32)
    ok = ex["inside"] if ex["mask"] is None else ex["inside"] & (ex["mask"] > 0.99)
    if st["curve"] == "cr":
        low = broad(np.clip(g, -2.5, 4), 22 / spacing)
        g = g - st["compress"] * low
    if st["edge_boost"] > 0.05 and st["curve"] in ("cr", "log"):
        g = g + st["edge_boost"] * (g - broad(g, 2.2 / spacing))
    sample = g[::9, ::9][ok[::9, ::9]]
    lo, hi = np.percentile(sample, [1.0, 99.3])
    if st["contrast"] == "low":
        m, h = (lo + hi) / 2, (hi - lo) / 2
        lo, hi = m - 1.9 * h, m + 1.9 * h
    if st["curve"] == "film":                   # sigmoid of an emulsion, middle grey at the body's median
        mid = float(np.median(sample))
        v = 1 / (1 + np.exp(-(g - mid) * (4.6 if st["contrast"] == "normal" else 2.4) / (hi - lo)))
    else:
        v = np.clip((g - lo) / (hi - lo) * 0.9 + 0.05, 0, 1)
        if st["curve"] == "gamma":
            v = v ** st["gamma"]
    if st["collimation"] == "shutter-black":
        v = v * (ex["mask"] > 0.5)
    return v


def annotate(v, st, child_id, stage, beam_right_letter, spacing):
    """Lead marker letters and burnt-in text."""
    h, w = v.shape
    if st["marker"]:
        size = int(14 / spacing)
        pad = Image.new("L", (size * 2, size * 2))
        ImageDraw.Draw(pad).text((size // 3, size // 4), beam_right_letter, fill=255, font=ImageFont.load_default(size))
        m = np.asarray(pad, np.float32) / 255
        y, x = int(0.055 * h + 24 / spacing), int(w - 2 * size - 26 / spacing)
        y, x = min(y, h - 2 * size), max(x, 0)
        v[y:y + 2 * size, x:x + 2 * size] = np.maximum(v[y:y + 2 * size, x:x + 2 * size], 0.97 * m)
    if st["text"]:
        size = max(14, int(h * 0.011))
        pad = Image.new("L", (size * 16, size * 4))
        ImageDraw.Draw(pad).multiline_text((4, 2), f"{child_id} {st['beam']}\nSID {st['sid_mm']:.0f} {stage.upper()}", fill=255,
                                           font=ImageFont.load_default(size))
        m = np.asarray(pad, np.float32)[:, :w] / 255
        v[-m.shape[0] - 8:-8, :m.shape[1]] = np.maximum(v[-m.shape[0] - 8:-8, :m.shape[1]], m)
    return v


def write(v, st, path):
    """Writes PNG 8/16 bit or JPEG; returns the file name written."""
    if st["inverted"]:
        v = 1 - v
    name = f"{path}.{'jpg' if st['format'] == 'jpeg' else 'png'}"
    if st["format"] == "png16":
        Image.fromarray((v * 65535 + 0.5).astype(np.uint16)).save(name, compress_level=1)
    else:
        im = Image.fromarray((v * 255 + 0.5).astype(np.uint8))
        im.save(name, quality=st["jpeg_quality"]) if st["format"] == "jpeg" else im.save(name, compress_level=1)
    return name
