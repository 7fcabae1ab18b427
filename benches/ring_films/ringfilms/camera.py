"""The beam, the film, and splatting of clouds on it."""
import numpy as np

FOCUS_DISTANCES = (1500, 1800, 1830, 2000, 2500)    # mm


class Camera:
    """A point source and a flat film.  On the film u grows to image-right and v upward (mm)."""

    def __init__(self, view, centre, size, spacing, rng):
        self.view, self.spacing = view, spacing
        self.depth_axis, self.across_axis = (1, 0) if view == "pa" else (0, 1)
        distance = float(rng.choice(FOCUS_DISTANCES))
        middle = np.array([centre[:18, 0].mean(), centre[:18, 1].mean(), centre[9, 2]])
        if view == "pa":        # source behind, film in front
            toward = 1
            behind = 120 * size + 40 + rng.uniform(0, 80)
        else:
            behind = 190 * size + 30 + rng.uniform(0, 60)
            toward = rng.choice([-1, 1])
        self.film = middle[self.depth_axis] + toward * behind
        self.source = middle
        self.source[self.depth_axis] = self.film - toward * distance
        self.source[2] += rng.normal() * 40 * size
        self.source[self.across_axis] += rng.normal() * 15
        usual = rng.random() < (0.8 if view == "pa" else 0.5)
        self.flipped = bool(usual)      # the patient's left (pa) or front (lateral) is on image-left
        self.left = self.top = 0.0      # u and v of the first pixel's outer corner
        self.columns = self.rows = 0

    def frame(self, left, right, bottom, top):
        """Cuts the film to these borders (mm)."""
        self.left, self.top = left, top
        self.columns, self.rows = int((right - left) / self.spacing), int((top - bottom) / self.spacing)

    def on_film(self, points):
        """u, v (mm) and magnification of points (n, 3)."""
        points = np.asarray(points)
        scale = (self.film - self.source[self.depth_axis]) / (points[:, self.depth_axis] - self.source[self.depth_axis])
        across = self.source[self.across_axis]
        u = across + (points[:, self.across_axis] - across) * scale
        v = self.source[2] + (points[:, 2] - self.source[2]) * scale
        return -u if self.flipped else u, v, scale

    def project(self, points):
        """Column and row (pixels, the first pixel's outer corner is 0) and magnification of points (n, 3)."""
        u, v, scale = self.on_film(np.asarray(points, float))
        return (u - self.left) / self.spacing, (self.top - v) / self.spacing, scale

    def plane(self, depth, u, v):
        """Where in the world rays to places u and v on the film cross a plane: across, and height."""
        source = self.source[self.depth_axis]
        part = (depth - source) / (self.film - source)
        across = self.source[self.across_axis]
        return across + ((-u if self.flipped else u) - across) * part, self.source[2] + (v - self.source[2]) * part

    def magnification(self, centre):
        """Of the spine on the film, on average."""
        source = self.source[self.depth_axis]
        return float(abs(self.film - source) / np.mean(abs(centre[:, self.depth_axis] - source)))


def splat(camera, cloud, film):
    """Adds a cloud to a film, every point shared among four pixels: the sums are density times path (cm)."""
    points, weights = cloud
    column, row, scale = camera.project(points)
    rows, columns = film.shape
    column, row = column - 0.5, row - 0.5
    kept = (column > 0) & (column < columns - 1.001) & (row > 0) & (row < rows - 1.001)
    if not kept.any():
        return
    column, row = column[kept], row[kept]
    value = weights[kept] * scale[kept] ** 2 * (0.1 / camera.spacing ** 2)
    u, v = column.astype(np.int32), row.astype(np.int32)
    right, down = column - u, row - v
    left, top = u.min(), v.min()
    wide, tall = u.max() + 2 - left, v.max() + 2 - top
    place = (v - top) * wide + (u - left)
    total = np.zeros(tall * wide)
    shares = ((0, (1 - right) * (1 - down)), (1, right * (1 - down)), (wide, (1 - right) * down),
              (wide + 1, right * down))
    for step, share in shares:
        total += np.bincount(place + step, weights=share * value, minlength=tall * wide)
    film[top:top + tall, left:left + wide] += total.reshape(tall, wide)
