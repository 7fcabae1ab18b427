"""Trains the overview for one view, shows what it does to films kept apart, and writes its weights.

python overview.py pa|lateral MINUTES WEIGHTS --films FOLDER=SHARE… --apart FOLDER… [--start STATE | --from WEIGHTS]
[--keep STATE] [--rate RATE]

The network sees a whole film at 2 mm a pixel and tells of every 4 mm: whether the spine's middle runs there (a logit),
the level there (C7 is 0, S1 18; whole numbers in the middles of bodies, halves in discs) with the logarithm of its
spread, and cosine and sine of its phase. src/locate/overview.rs computes the same.
"""
import glob
import os
import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
from given import given, learned
from plates import seen_from_the_side

COARSE, CELL = 2.0, 4.0  # mm
LEVELS = ["C7", *(f"T{k}" for k in range(1, 14)), *(f"L{k}" for k in range(1, 7)), "S1"]
NARROW, BROAD = 8, 40  # half sides of the squares by which films are levelled, pixels
CLOSE, SURE = 5.0, 12.0  # mm: spread of the middle; how far from it level and phase are asked for
BATCH, RATE = 4, 3e-3
WINDOW = (256, 160)  # rows and columns of a part of a film that is learned from


class Unit(nn.Module):
    """A convolution, normalised and cut off at nought; added to what came in where nothing changes size."""

    def __init__(self, before, many, size=3, stride=1, wide=1):
        super().__init__()
        self.adds = before == many and stride == 1
        self.conv = nn.Conv2d(before, many, size, stride, wide * (size // 2), wide)
        self.norm = nn.BatchNorm2d(many)

    def forward(self, x):
        out = F.relu(self.norm(self.conv(x)))
        return x + out if self.adds else out


class Overview(nn.Module):
    def __init__(self):
        super().__init__()
        self.first = nn.ModuleList([Unit(2, 12, 5, 2), Unit(12, 24)])
        self.second = nn.ModuleList([Unit(24, 32, 3, 2), *(Unit(32, 32, wide=w) for w in (1, 2, 4))])
        self.third = nn.ModuleList([Unit(32, 48, 3, 2), *(Unit(48, 48, wide=w) for w in (1, 2, 4, 1))])
        self.up = nn.ModuleList([nn.Conv2d(48, 32, 1), nn.Conv2d(32, 24, 1)])
        self.back = nn.ModuleList([Unit(32, 32), Unit(24, 24)])
        self.out = nn.Conv2d(24, 5, 1)

    def forward(self, x):
        kept = []
        for part in (self.first, self.second, self.third):
            for unit in part:
                x = unit(x)
            kept.append(x)
        for up, back, before in zip(self.up, self.back, (kept[1], kept[0])):
            x = up(x).repeat_interleave(2, 2).repeat_interleave(2, 3)
            x = back(before + x[:, :, :before.shape[2], :before.shape[3]])
        return self.out(x)

    def layers(self):
        """All layers in the order the program reads them, each with its normalisation or none."""
        out = [(unit.conv, unit.norm) for unit in (*self.first, *self.second, *self.third)]
        for up, back in zip(self.up, self.back):
            out += [(up, None), (back.conv, back.norm)]
        return out + [(self.out, None)]


class Film:
    """A film at 2 mm a pixel and its spine: places (mm) and levels, from the head down."""

    def __init__(self, path):
        columns, rows, _, self.kind = open(path).read().split()
        self.name, self.lateral = path[:-4], seen_from_the_side(path)
        grey = np.fromfile(path[:-4] + ".bin", np.uint16).reshape(int(rows), int(columns)).astype(np.float32)
        rows, columns = int(rows) // 4, int(columns) // 4
        grey = grey[:rows * 4, :columns * 4].reshape(rows, 4, columns, 4).mean((1, 3))
        low, high = np.percentile(grey, [0.5, 99.5])
        self.grey = torch.from_numpy(((grey - low) / (high - low + 1e-6)).clip(-0.3, 1.3).astype(np.float32))
        table = [line.split(",") for line in open(path[:-4] + ".csv").read().split("\n") if line]
        own = [row for row in table if row[0] == table[0][0]]
        self.places = np.array([[float(x) for x in row[3:7]] for row in own]).reshape(-1, 2, 2).mean(1)
        names = [n for n in LEVELS if n in {row[1] for row in own}]
        first = LEVELS.index(names[0]) - (LEVELS.index(names[0]) > 13) - (LEVELS.index(names[0]) > 19)
        at = {name: first + k for k, name in enumerate(names)}
        self.levels = np.array([at[row[1]] + (-0.4 if row[2] == "Upper" else 0.4) for row in own])


def load(folder, lateral):
    every = sorted(glob.glob(os.path.join(folder, "*.txt")))
    films = [Film(p) for p in every if seen_from_the_side(p) == lateral]
    return [f for f in films if len(f.places) > 5]


def mean_about(x, reach):
    """Mean of a square about each place; beyond the picture is what its edge is."""
    x = F.pad(x, (reach + 1, reach, reach + 1, reach), mode="replicate").double()
    for d in (2, 3):
        c, n = torch.cumsum(x, d), x.shape[d] - 2 * reach - 1
        x = (c.narrow(d, 2 * reach + 1, n) - c.narrow(d, 0, n)) / (2 * reach + 1)
    return x.float()


def levelled(x, reach):
    """A film less the mean of a square about each place, in the SD of that."""
    off = x - mean_about(x, reach)
    squares = off ** 2
    floor = 0.1 * squares.mean((2, 3), keepdim=True).sqrt()
    return (off / (mean_about(squares, reach).sqrt() + floor + 1e-9)).clamp(-3, 3)


def shown_to(x):
    return torch.cat([levelled(x, NARROW), levelled(x, BROAD)], 1)


def asked(places, levels, rows, columns):
    """What is to be told of each cell: target, level, how much target and level count."""
    at = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))])
    s = np.arange(0, at[-1], 1.5)
    line = np.stack([np.interp(s, at, places[:, k]) for k in (0, 1)], 1).astype(np.float32)
    level = np.interp(s, at, levels).astype(np.float32)
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float32)
    cells = np.stack([(x.ravel() + 0.5) * CELL, (y.ravel() + 0.5) * CELL], 1)
    square = (cells ** 2).sum(1)[:, None] + (line ** 2).sum(1)[None] - 2 * cells @ line.T
    near = square.argmin(1)
    off = np.sqrt(square[np.arange(len(cells)), near].clip(0))
    # Of what lies beyond the marked ends nothing is known.
    beyond = ((near == 0) | (near == len(s) - 1)) & (off > 3) & (off < 80)
    target = np.exp(-0.5 * (off / CLOSE) ** 2)
    shape = (rows, columns)
    out = target, level[near], np.where(beyond, 0, 1), (off < SURE) & ~beyond
    return [torch.from_numpy(v.reshape(shape).astype(np.float32)) for v in out]


def painted(x, rng, places):
    """Greys, sharpness, noise, shadows, edges and metal otherwise: what differs between films."""
    h, w = x.shape[2:]
    x = x.clamp(0, 1) ** float(np.exp(0.45 * rng.normal()))
    fine, middle, broad = [mean_about(x, k) for k in (1, 3, 12)]
    g = np.exp(0.6 * rng.normal(size=4))
    if rng.random() < 0.3:
        g[0] = 0
    x = g[0] * (x - fine) + g[1] * (fine - middle) + g[2] * (middle - broad) + g[3] * broad
    scale = float((x - mean_about(x, 12)).std()) + 1e-3
    if rng.random() < 0.6:
        noise, k = torch.randn(x.shape), int(rng.integers(0, 3))
        if k:
            noise = mean_about(noise, k) * (2 * k + 1)
        x = x + float(rng.uniform(0, 0.6)) * scale * noise
    for _ in range(int(rng.integers(0, 5))):
        # Shadows, bright or dark, soft or hard.
        cx, cy, a, b, t = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(4, 40), rng.uniform(4, 40), rng.uniform(0, np.pi)
        yy, xx = torch.meshgrid(torch.arange(h) - cy, torch.arange(w) - cx, indexing="ij")
        u, v = (xx * np.cos(t) + yy * np.sin(t)) / a, (yy * np.cos(t) - xx * np.sin(t)) / b
        r = 1 - torch.sqrt(u * u + v * v)
        x = x + float(rng.normal()) * 2 * scale * torch.sigmoid(r * float(np.exp(rng.uniform(0.5, 4)))).float()
    if rng.random() < 0.15:
        # Rods beside the line and screws across it.
        p = places[int(rng.integers(0, len(places) // 2)):]
        p = p[:int(rng.integers(4, len(p) + 1))] / COARSE
        side = float(rng.uniform(2, 7))
        for s in (-side, side):
            pts = np.stack([np.interp(np.linspace(0, len(p) - 1, 400), np.arange(len(p)), p[:, k]) for k in (0, 1)], 1)
            i, j = (pts[:, 1]).astype(int), (pts[:, 0] + s).astype(int)
            ok = (i >= 0) & (i < h) & (j >= 0) & (j < w - 1)
            x[0, 0, i[ok], j[ok]] += 5 * scale
            if rng.random() < 0.5:
                x[0, 0, i[ok], j[ok] + 1] += 5 * scale
        for q in p:
            i, j, many = int(q[1]), int(q[0]), int(rng.integers(2, 8))
            if 0 <= i < h and rng.random() < 0.6:
                x[0, 0, i, max(0, j - many):max(0, min(w, j + many))] += 5 * scale
    if rng.random() < 0.4:
        # The beam's edges.
        value = float(rng.choice([float(x.min()), float(x.max()), float(x.mean())]))
        top, left = [int(rng.integers(0, 25)) if rng.random() < 0.5 else 0 for _ in range(2)]
        low, right = [int(rng.integers(1, 25)) if rng.random() < 0.5 else 0 for _ in range(2)]
        x[:, :, :top], x[:, :, :, :left] = value, value
        if low:
            x[:, :, -low:] = value
        if right:
            x[:, :, :, -right:] = value
    return x


def example(film, rng):
    """A part of a film, turned, stretched, mirrored and painted, with what is asked of it."""
    turn, size, wide = np.radians(10 * rng.normal()), np.exp(0.2 * rng.normal()), np.exp(0.07 * rng.normal())
    flip = -1.0 if rng.random() < 0.5 else 1.0
    rows, columns = WINDOW
    about = film.places[rng.integers(len(film.places))] + rng.normal(size=2) * [45, 80]
    c, s = np.cos(turn), np.sin(turn)
    # From the part's mm to the film's.
    by = np.array([[c, -s], [s, c]]) @ np.diag([flip * size * wide, size / wide])
    middle = np.array([columns, rows]) * COARSE / 2
    h, w = film.grey.shape
    theta = np.zeros((2, 3), np.float32)
    theta[:, :2] = by * np.array([[columns / w, rows / w], [columns / h, rows / h]])
    theta[:, 2] = about / COARSE / np.array([w, h]) * 2 - 1
    grid = F.affine_grid(torch.from_numpy(theta)[None], [1, 1, rows, columns], align_corners=False)
    x = F.grid_sample(film.grey[None, None], grid, align_corners=False, padding_mode="border")
    places = (film.places - about) @ np.linalg.inv(by).T + middle
    answers = asked(places, film.levels, rows // 2, columns // 2)
    return shown_to(painted(x, rng, places)), answers


def loss(out, target, level, counts, sure):
    near = F.binary_cross_entropy_with_logits(out[:, 0], target, reduction="none")
    near = (near * counts * (1 + 4 * target)).sum() / counts.sum()
    spread = out[:, 2].clamp(-4, 2)
    z = (out[:, 1] - (level - 9) / 3) / torch.exp(spread)
    many = sure.sum() + 1
    levels = ((2.5 * torch.log1p(z * z / 4) + spread) * sure).sum() / many
    phase = 2 * np.pi * level
    phases = (((out[:, 3] - torch.cos(phase)) ** 2 + (out[:, 4] - torch.sin(phase)) ** 2) * sure).sum() / many
    return near * 4, levels, phases


def shown(network, apart):
    """By folder and kind: mean probability on the middle and off it, RMS of the level, share of cells on the middle whose phase
    is right to a fifth of a level, share of rows whose most probable place lies within 10 mm."""
    network.eval()
    for folder, films in apart.items():
        groups = {}
        for film in films:
            with torch.no_grad():
                out = network(shown_to(film.grey[None, None]))[0].numpy()
            target, level, counts, sure = [v.numpy() for v in asked(film.places, film.levels, *out.shape[1:])]
            p = 1 / (1 + np.exp(-out[0]))
            on, off = (target > 0.9) & (counts > 0), (target < 1e-4) & (counts > 0)
            d = 9 + 3 * out[1] - level
            ph = (np.arctan2(out[4], out[3]) / (2 * np.pi) - level + 0.5) % 1 - 0.5
            best = []
            for y in range(out.shape[1]):
                if (target[y] > 0.7).any():
                    best.append(abs(p[y].argmax() - target[y].argmax()) * CELL)
            groups.setdefault(film.kind, []).append((p[on].mean(), p[off].mean(), np.sqrt((d[on] ** 2).mean()),
                                                     (abs(ph[on]) < 0.2).mean(), (np.array(best) < 10).mean()))
        for kind, v in groups.items():
            v = np.array(v).mean(0)
            print(f"  {folder} {kind}: on {v[0]:.2f}, off {v[1]:.4f}, level off {v[2]:.2f}, phase right {v[3]:.2f}, "
                  f"row right {v[4]:.2f}", flush=True)
    network.train()


def main():
    words, _, sets, shares, apart = given(load, ("--rate", float))
    rate = words.rate or RATE
    rng = np.random.default_rng(1)
    torch.manual_seed(1)
    torch.set_num_threads(1)
    network = Overview()

    def draw():
        own = sets[rng.choice(len(sets), p=shares)]
        return example(own[rng.integers(len(own))], rng)

    def losses():
        batch = [draw() for _ in range(BATCH)]
        x = torch.cat([b[0] for b in batch]).to(memory_format=torch.channels_last)
        answers = [torch.stack([b[1][k] for b in batch]) for k in range(4)]
        parts = loss(network(x), *answers)
        return sum(parts), [p.item() for p in parts]

    learned(network, words, rate, losses, lambda: shown(network, apart))


if __name__ == "__main__":
    main()
