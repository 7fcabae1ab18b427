"""Films written by benches/training.rs, and what the network sees of their plates.

The views, their scaling and what is told besides are the same in src/locate/views.rs; change both.
"""
import glob
import os
import numpy as np
import torch
import torch.nn.functional as F

PIXEL = 0.5  # mm
NEAR = dict(columns=64, rows=96, reach=(1.5, 1.8))
WIDE = dict(columns=48, rows=64, reach=(3.3, 3.96))
SQUARE = 12


def seen_from_the_side(path):
    return open(path).read().split()[2] == "1"


class Film:
    """A film, and its chains: one for each start."""

    def __init__(self, path):
        columns, rows, _, self.kind = open(path).read().split()
        self.lateral = seen_from_the_side(path)
        grey = np.fromfile(path[:-4] + ".bin", np.uint16).reshape(int(rows), int(columns)).astype(np.float32)
        low, high = np.percentile(grey[::7, ::7], [0.5, 99.5])
        self.grey = torch.from_numpy(((grey - low) / (high - low + 1e-6)).clip(-0.3, 1.3).astype(np.float32))
        table = [line.split(",") for line in open(path[:-4] + ".csv").read().split("\n") if line]
        self.chains = []
        for start in sorted({row[0] for row in table}):
            own = [row for row in table if row[0] == start]
            v = np.array([[float(x) for x in row[3:]] for row in own])
            if len(own) > 5:
                self.chains.append(dict(upper=np.array([row[2] == "Upper" for row in own]), truth=v[:, :4].reshape(-1, 2, 2),
                                        found=v[:, 8:12].reshape(-1, 2, 2), quality=v[:, 12]))


def load(folder, lateral):
    return [Film(p) for p in sorted(glob.glob(os.path.join(folder, "*.txt"))) if seen_from_the_side(p) == lateral]


def frame(ends):
    """Middles, directions to the second ends and to the feet, half widths, and the hand of the chain."""
    middle, d = ends.mean(1), ends[:, 1] - ends[:, 0]
    half = np.linalg.norm(d, axis=1) / 2
    along = d / (2 * half[:, None] + 1e-9)
    across = np.stack([-along[:, 1], along[:, 0]], 1)
    down = np.sign((across * np.gradient(middle, axis=0)).sum())
    return middle, along, across * down, half, down


def sample(grey, middle, x, y, half, view):
    """The film about each plate, the body below: [plates, 1, rows, columns]."""
    h, w = grey.shape
    a = torch.linspace(-view["reach"][0], view["reach"][0], view["columns"])
    b = torch.linspace(-view["reach"][1], view["reach"][1], view["rows"])
    middle, x, y, half = [torch.as_tensor(v, dtype=torch.float32)[:, None, None] for v in (middle, x, y, half)]
    p = middle + half[..., None] * (a[None, None, :, None] * x + b[None, :, None, None] * y)
    grid = torch.stack([p[..., 0] / PIXEL / w * 2 - 1, p[..., 1] / PIXEL / h * 2 - 1], -1)
    n, rows, columns = grid.shape[:3]
    seen = F.grid_sample(grey[None, None], grid.reshape(1, n * rows, columns, 2), align_corners=False, padding_mode="border")
    return seen.reshape(n, 1, rows, columns)


def box(x, n, d):
    c = torch.cumsum(F.pad(x, (1, 0) if d == 3 else (0, 0, 1, 0)), d)
    return (c.narrow(d, n, c.shape[d] - n) - c.narrow(d, 0, c.shape[d] - n)) / n


def mean_about(x, k, mode):
    return box(box(F.pad(x, (k, k, k, k), mode=mode), 2 * k + 1, 2), 2 * k + 1, 3)


def standard(x):
    return ((x - x.mean((2, 3), keepdim=True)) / (x.std((2, 3), keepdim=True) + 1e-3)).clamp(-3, 3)


def local(x):
    d = x - mean_about(x, SQUARE, "reflect")
    return (d / (d.pow(2).mean((2, 3), keepdim=True).sqrt() + 1e-4)).clamp(-3, 3)


def randomised(x, rng):
    """Bands weighed anew, other plates shining through, noise, slopes, holes: what differs between films."""
    n, _, h, w = x.shape
    fine, middle, broad = [mean_about(x, k, "replicate") for k in (1, 3, 9)]
    g = np.exp(0.5 * rng.normal(size=(3, 1 if rng.random() < 0.5 else n)))
    g = torch.tensor(g, dtype=torch.float32)[..., None, None, None]
    out = g[0] * (x - fine) + g[1] * (fine - middle) + g[2] * (middle - broad) + broad
    if rng.random() < 0.5:
        other = torch.roll(out, int(rng.integers(1, n)), 0)
        other = torch.roll(other, (int(rng.integers(h)), int(rng.integers(w))), (2, 3))
        if rng.random() < 0.5:
            other = other.flip(3)
        out = out + float(rng.uniform(0, 0.6)) * (other - other.mean())
    if rng.random() < 0.6:
        noise, k = torch.from_numpy(rng.standard_normal(x.shape, np.float32)), int(rng.integers(0, 3))
        if k:
            noise = mean_about(noise, k, "replicate") * (2 * k + 1)
        out = out + float(rng.uniform(0, 0.5)) * (out - mean_about(out, 6, "replicate")).std() * noise
    if rng.random() < 0.4:
        across = torch.linspace(-1, 1, w)[None, None, None] * torch.from_numpy(rng.standard_normal((n, 1, 1, 1), np.float32))
        down = torch.linspace(-1, 1, h)[None, None, :, None] * torch.from_numpy(rng.standard_normal((n, 1, 1, 1), np.float32))
        out = out + 0.5 * out.std() * (across + down)
    if rng.random() < 0.5:
        for i in rng.integers(n, size=6):
            a, b = int(rng.integers(h - 20)), int(rng.integers(w - 16))
            out[i, 0, a:a + 20, b:b + 16] = out[i].mean()
    return out


def put_off(chain, rng):
    """The chain put off further: in training starts are of all sorts."""
    n = len(chain["found"])

    def smooth(sd, own):
        z = np.convolve(rng.normal(size=n + 8), np.ones(9) / 3, "valid")[:n]
        return sd * z + own * rng.normal(size=n)
    s = rng.choice([0, 0.5, 1.0, 2.0])
    t, o, a = np.radians(smooth(s, s)), smooth(0.4 * s, 0.4 * s), smooth(0.8 * s, 0.5 * s)
    return laid(chain, t, o, a, np.exp(0.05 * s * rng.normal(size=n)))


def laid(chain, turn, across_by, along_by, wider):
    """The chain with its plates turned (radians), moved across toward the feet and along (mm), and widened."""
    middle, along, across, half, _ = frame(chain["found"])
    middle = middle + across * across_by[:, None] + along * along_by[:, None]
    reach = (along * np.cos(turn)[:, None] + across * np.sin(turn)[:, None]) * (half * wider)[:, None]
    return dict(chain, found=np.stack([middle - reach, middle + reach], 1))


def corrected(chain, found, flip):
    """The chain as the network corrects it, by what it gave of the views that `seen` gave with this `flip`; as
    src/locate/trained.rs does it."""
    body = np.where(chain["upper"], 1.0, -1.0)
    sd = np.exp(found[:, 4:6].clip(-3, 3)) * (1, 0.4)
    turn, across = (found[:, :2].clip((-8, -3), (8, 3)) / (1 + (sd / (4, 1)) ** 4)).T
    return laid(chain, np.radians(turn) * body * flip, across * body, found[:, 2].clip(-3, 3) * flip,
                np.exp((found[:, 3] / 10).clip(-0.2, 0.2)))


def seen(film, chain, rng, training):
    """Near and wide views, what is told, and the answer: the turn (degrees), the place across (mm), both toward the
    body, the place along (mm), ten times the logarithm of the width; and -1 where the view was mirrored."""
    middle, along, across, half, down = frame(chain["found"])
    n, flip = len(half), 1.0
    if training and not film.lateral and rng.random() < 0.5:
        flip = -1.0
    body = np.where(chain["upper"], 1.0, -1.0)
    true_middle, true_along, _, true_half, _ = frame(chain["truth"])
    d = true_middle - middle
    turn = np.degrees(np.arctan2((true_along * across).sum(1), (true_along * along).sum(1))) * flip * body
    answer = np.stack([turn, (d * across).sum(1) * body, (d * along).sum(1) * flip, 10 * np.log(true_half / half)], 1)
    views = [sample(film.grey, middle, along * flip, across * body[:, None], half, v) for v in (NEAR, WIDE)]
    if training:
        low = float(min(v.min() for v in views))
        span, gamma = float(max(v.max() for v in views)) - low + 1e-6, float(np.exp(0.35 * rng.normal()))
        views = [randomised(((v - low) / span).clamp(0, 1) ** gamma, rng) for v in views]
    near = torch.cat([standard(views[0]), local(views[0])], 1)
    tilt, bends = np.degrees(np.arctan2(along[:, 1], along[:, 0])), []
    for k in (-2, -1, 1, 2):
        other = tilt[np.clip(np.arange(n) + k, 0, n - 1)]
        bends.append(((other - tilt + 540) % 360 - 180) * down * flip / 10)
    told = np.stack([*bends, body, half / 15, chain["quality"]], 1)
    return near, local(views[1]), torch.tensor(told, dtype=torch.float32), torch.tensor(answer, dtype=torch.float32), flip
