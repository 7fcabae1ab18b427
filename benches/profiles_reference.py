"""Milliseconds of scikit-image for the profiles of benches/profiles.rs, and the largest difference.

Arguments: film, ends, values (32-bit floats, little endian), columns, rows.
"""
import statistics, sys, time
import numpy as np
from skimage.measure import profile_line

width, height = int(sys.argv[4]), int(sys.argv[5])
film = np.fromfile(sys.argv[1], "<f4").reshape(height, width)
ends = np.fromfile(sys.argv[2], "<f4").astype(float).reshape(-1, 5)
values = np.fromfile(sys.argv[3], "<f4")


def run():
    out = []
    for ax, ay, bx, by, n in ends:
        # Pixel centres lie at whole numbers there, at halves here; a sample for each pixel of the line.
        out.append(profile_line(film, (ay - 0.5, ax - 0.5), (by - 0.5, bx - 0.5), order=1, mode="nearest"))
    return out


times = []
for _ in range(3):
    t = time.perf_counter()
    lines = run()
    times.append((time.perf_counter() - t) * 1e3)
samples = sum(len(line) for line in lines)
# Theirs has a sample a pixel: brought to the number of samples here by time, and compared at the ends.
scale = values.size / samples
off = 0.0
at = 0
for line, (_, _, _, _, n) in zip(lines, ends):
    off = max(off, abs(float(line[0]) - float(values[at])))
    at += int(n)
print(statistics.median(times) * scale, off / float(film.max() - film.min()))
