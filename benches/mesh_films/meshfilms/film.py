"""From path lengths to a displayed film: beam, scatter, blur, noise, display."""
import numpy as np
from scipy import ndimage as nd
from PIL import Image, ImageDraw, ImageFont
from .raster import Beam, tube

ENERGY = ((.0240, .083), (.0206, .042), (.0184, .024))   # per mm: water, extra of cortex
SPONGY = .235                                            # spongy extra / cortical extra


def setup(r, view, slot, torso, hard):
    """Beam and film size for this exposure."""
    p, ch = torso.p, torso.ch
    s, mid = ch.wide, p["c"].mean(0)
    pa = view == "pa"
    px = float(np.round(r.choice([.254, .2, .18, .22]) if slot else r.choice([.14, .16, .175, .2, .2, .25]), 4))
    if pa:
        sup = -1 if (not slot and p["stage"] == "traction" and r.random() < .5) else 1
        d = np.array([0, 1.0 * sup, 0])               # lying in traction: shot from in front
        left_on = "image-left" if r.random() < .5 else "image-right"
        across = np.array([-1.0 if left_on == "image-left" else 1.0, 0, 0])
        dist = 150 * s + r.uniform(10, 60) if sup > 0 else 75 * s + r.uniform(20, 60)
        side = {"left_on": left_on, "anterior_on": None}
    else:
        ant = "image-left" if r.random() < .5 else "image-right"
        d = np.array([r.choice([-1.0, 1.0]), 0, 0])
        across = np.array([0, -1.0 if ant == "image-left" else 1.0, 0])
        dist, side = 170 * s + r.uniform(20, 90), {"left_on": None, "anterior_on": ant}
    sdd = r.choice([1500, 1800, 1830, 2000, 2500, 3000])
    if slot:
        sdd, dist = 1300, 313 + r.normal(0, 15)
    mag = sdd / (sdd - dist)
    top = torso.zc + r.choice([r.uniform(22, 60), r.uniform(60, 130)])
    bot = -r.uniform(105, 190) * s
    rows = int(min(890, (top - bot) * mag) / px)
    cols = int(min(430, max(350, r.uniform(330, 450))) / px)
    c = torso.p["c"]
    h = c @ across
    look = np.median(h) * .4 + (h.max() + h.min()) * .3 + r.normal(0, 8) + (0 if pa else 22 * s * across[1])
    src = d * (mid @ d - (sdd - dist)) + across * (look + r.normal(0, 20)) \
        + np.array([0, 0, (top + bot) / 2 + r.normal(0, 40)])
    centre = (cols / 2 - (look - src @ across) * mag / px, (top - src[2]) * mag / px)
    return Beam(across, d, src, sdd, px, centre, mag if slot else None), rows, cols, mag, side


def grain(r, rows, cols, px, upright):
    """Cancellous texture: a tile of filtered noise, struts mostly upright."""
    n = 768
    w = r.normal(size=(n, n)).astype(np.float32)
    a = nd.gaussian_filter(w, (upright * .45 / px, .22 / px), mode="wrap")
    b = nd.gaussian_filter(r.normal(size=(n, n)).astype(np.float32), (1.3 / px, 1.0 / px), mode="wrap")
    t = a / a.std() + .8 * b / b.std()
    return np.tile(t / t.std(), (rows // n + 1, cols // n + 1))[:rows, :cols]


def soften(img, sigma):
    """Wide blur on a small copy."""
    k = max(1, int(sigma / 4))
    rows, cols = img.shape
    pad = np.pad(img, ((0, -rows % k), (0, -cols % k)), "edge")
    small = pad.reshape(pad.shape[0] // k, k, -1, k).mean((1, 3))
    small = nd.gaussian_filter(small, sigma / k, mode="nearest")
    big = grow(small, k)[:rows, :cols]
    return nd.uniform_filter(big, k) if k > 3 else big       # no facets


def grow(small, k):
    return small if k == 1 else nd.zoom(small, k, order=1, mode="nearest", grid_mode=True)


def wires(r, scene, torso, hard):
    """Leads, a rope, buttons: things lying on the skin."""
    for _ in range(r.choice([0, 0, 1, 2]) if not hard else r.integers(0, 4)):
        z = np.sort(r.uniform(-.2, 1.05, 5) * torso.zc)
        a = np.cumsum(r.normal(0, .35, 5)) + r.choice([np.pi / 2, np.pi * .4, -np.pi / 2, 0, np.pi])
        p = torso.wall(z, a, -22 * torso.ch.wide)
        scene.add(tube(np.c_[p, np.full((5, 2), r.uniform(.4, .8))], (.2, .3, 1), 70, 6), "cortex", r.uniform(1, 4))


def expose(r, scene, beam, rows, cols, slot, hard, child, lateral):
    px = beam.px
    k = max(2, int(round(.8 / px)))
    rs, cs = -(-rows // k), -(-cols // k)
    soft = np.maximum(scene.render("soft", beam, rs, cs, px * k), 0)
    soft = nd.gaussian_filter(soft, .7)
    for sd, amp in ((2.5, .004), (7, .009), (30, .02)):     # fat planes, muscle, bowel content
        g = nd.gaussian_filter(r.normal(size=soft.shape), (sd, sd * r.uniform(.6, 1.6)))
        soft *= 1 + r.uniform(.3, 1.2) * amp * g / g.std()
    body = grow(soft > 60, k)[:rows, :cols]
    soft = grow(soft, k)[:rows, :cols]
    bone = scene.render("spongy", beam, rows, cols)
    bone *= 1 + r.uniform(.08, .22) * grain(r, rows, cols, px, r.uniform(1.2, 3))
    rest = scene.render("rest", beam, rows, cols)
    rest *= 1 + r.uniform(.06, .16) * grain(r, rows, cols, px, 1.1)
    bone += rest
    del rest
    bone *= SPONGY
    bone += scene.render("cortex", beam, rows, cols)
    np.maximum(bone, 0, out=bone)
    kv = r.normal(0, .25) + (.2 if lateral else 0)
    w = np.array([.3, .4, .3]) * np.exp(kv * np.array([-1, 0, 1]))
    prim = sum(wi * np.exp(-(a * soft + b * bone)) for wi, (a, b) in zip(w / w.sum(), ENERGY))
    # scatter: almost none between slots, much without a grid
    spr = r.uniform(.03, .12) if slot else r.choice([r.uniform(.15, .5), r.uniform(.5, 1.6)], p=[.7, .3])
    prim = prim.astype(np.float32)
    if spr > .02:
        prim += spr * (1.6 if lateral else 1) * soften(prim * np.clip(soft / 120, 0, 1), r.uniform(25, 45) / px)
    blur = np.hypot(r.uniform(.08, .2) * (1.6 if hard else 1), .1) / px
    prim = nd.gaussian_filter(prim, blur)
    dose = 10 ** r.uniform(4.0, 5.1) * (px / .2) ** 2 * (.5 if hard else 1)
    dose *= (4 if lateral else 1) * (1.2 - .4 * child.g)
    noise = r.standard_normal(prim.shape, dtype=np.float32)
    img = prim + np.sqrt(prim / dose) * noise
    glow = r.uniform(.35, .8)
    img = nd.gaussian_filter(img, glow)
    if slot:                                        # tube flicker from line to line
        img *= (1 + r.uniform(0, .006) * nd.gaussian_filter1d(r.normal(size=rows), .8))[:, None].astype(np.float32)
    dens = -np.log(np.maximum(img, 2e-6))
    if not slot and r.random() < .3:                # stitched from two or three shots
        for q in sorted(r.uniform(.3, .72, r.integers(1, 3))):
            dens[int(q * rows):] += r.normal(0, .06)
    return dens, body


def display(r, dens, body, px, hard, lateral):
    """Detail gain, dynamic range compression, window and curve -> 0..1, bone bright."""
    fine, middle = soften(dens, .7 / px), soften(dens, 4 / px)
    floor = np.percentile(dens[::7, ::7][body[::7, ::7]], 12)   # no halo along the skin
    wide = soften(np.maximum(dens, floor), r.uniform(18, 45) / px)
    g = r.uniform(0, 1.3) if not hard else r.uniform(0, .7)
    m = r.uniform(.1, 1.3)
    keep = r.uniform(.25, .8) if not hard else r.uniform(.5, 1)
    keep *= .65 if lateral else 1
    out = keep * wide + (middle - wide) * (1 + .5 * m) + (fine - middle) * (1 + m) + (dens - fine) * (1 + g)
    ref = out[::7, ::7][body[::7, ::7]]
    lo, hi = np.percentile(ref, [r.uniform(.2, 6), r.uniform(97.5, 99.9)])
    if hard:
        lo, hi = lo - r.uniform(0, .3) * (hi - lo), hi + r.uniform(0, .25) * (hi - lo)
    x = (out - lo) / (hi - lo)
    if r.random() < .6:
        k = r.uniform(3, 5.5)
        e = 1 / (1 + np.exp(-k * (x - r.uniform(.42, .58))))
        a, b = 1 / (1 + np.exp(k * .5)), 1 / (1 + np.exp(-k * .5))
        x = (e - a) / (b - a)
    x = np.clip(x, 0, 1)
    return x ** r.uniform(.75, 1.35)


def dress(r, x, px, side, invert):
    """Collimator, letter, tone."""
    rows, cols = x.shape
    if invert:
        x = 1 - x
    lim = [0, rows, 0, cols]
    if r.random() < .55:
        lim = [int(r.uniform(0, 10) / px), rows - int(r.uniform(0, 12) / px),
               int(r.uniform(0, 38) / px), cols - int(r.uniform(0, 38) / px)]
        tone = float(r.choice([0, 0, 1, .06]))
        m = np.zeros_like(x)
        m[lim[0]:lim[1], lim[2]:lim[3]] = 1
        m = nd.gaussian_filter(m, r.uniform(.3, 6))
        x = x * m + tone * (1 - m)
    if r.random() < .8:
        size = int(r.uniform(11, 24) / px)
        on = side["left_on"]
        right = r.random() < .5
        text = r.choice(["L", "R"])
        if on:                                         # the letter stands on its own side
            right = (text == "L") == (on == "image-right")
        im = Image.new("L", (size * 2, size * 2))
        ImageDraw.Draw(im).text((size // 2, size // 3), str(text), font=ImageFont.load_default(size), fill=255)
        a = np.asarray(im, np.float32) / 255
        y = int(r.uniform(.03, .3) * rows)
        xx = lim[3] - a.shape[1] - int(4 / px) if right else lim[2] + int(4 / px)
        part = x[y:y + a.shape[0], xx:xx + a.shape[1]]
        a = a[:part.shape[0], :part.shape[1]] * r.uniform(.7, 1)
        part[:] = part * (1 - a) + (0 if invert else 1) * a
    return x


def save(r, x, path):
    kind = r.choice(["png8", "png16", "jpg"], p=[.35, .25, .4])
    if kind == "png16":
        depth = r.choice([4095, 65535])
        Image.fromarray((x * depth).astype(np.uint16)).save(f"{path}.png", compress_level=1)
        return ".png"
    im = Image.fromarray((x * 255 + .5).astype(np.uint8))
    if kind == "jpg":
        im.save(f"{path}.jpg", quality=int(r.integers(40, 91)))
        return ".jpg"
    im.save(f"{path}.png", compress_level=3)
    return ".png"
