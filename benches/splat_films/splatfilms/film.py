"""One radiograph: from a child's solids to line integrals, exposure, display and file (mm, pixels)."""
import os

import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter, gaussian_filter1d, map_coordinates, zoom

from .cage import other_bones
from .camera import BONE_CELLS, Camera, splat_nearest, splat_shared
from .levels import C7
from .primitives import F4
from .trunk import STEP, soft_cloud
from .truth import write_truth

VIEWS = ("pa", "lateral")
COARSE = 1.0        # mm per pixel of the soft tissues' film
MARGIN = 8          # of its pixels


def make_film(child, stage, view, folder):
    """Renders one film and writes its image and truth; returns the facts written to its JSON."""
    late, lateral = stage != "before", view != "pa"
    rng = np.random.default_rng(child.number * 1000 + late * 10 + lateral * 3 + 77)
    pose = child.poses[stage]
    left_on, anterior_on, flip = facing(view, rng)
    camera = Camera(view, pose.centre, child.size, flip, rng)
    bone, soft = line_integrals(child, pose, camera, rng)
    exposure = expose(bone + soft, camera, rng)
    grey = display(exposure, soft, pose, child.size, camera, rng)
    dark = (child.number * 4 + late * 2 + lateral + child.number // 3) % 3 == 1
    pixels = collimated(grey * rng.uniform(225, 246) + 8, dark, camera, rng)
    image = Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))
    letter = "R" if left_on == "image-right" else "L"
    add_marker(image, letter, 0 if dark else 255, camera, rng)
    name = f"{child.name}-{stage}-{view}"
    facts = {"film": name, "child": child.name, "stage": stage, "view": view, "file": save(image, folder, name, rng),
             "bone": "dark" if dark else "bright", "left_on": left_on, "anterior_on": anterior_on}
    return write_truth(child, pose, camera, facts, folder)


def facing(view, rng):
    """Where the patient's left (pa) or front (lateral) is on the film, and the camera's `flip`."""
    if view == "pa":
        left_on = str(rng.choice(["image-left", "image-left", "image-right"]))
        return left_on, None, 1 if left_on == "image-left" else -1
    anterior_on = str(rng.choice(["image-left", "image-right"]))
    return None, anterior_on, 1 if anterior_on == "image-right" else -1


def line_integrals(child, pose, camera, rng):
    """Line integrals (no unit) of bone, with the focal spot's blur, and of soft tissue."""
    shape = (camera.rows, camera.columns)
    fine = np.zeros((shape[0] * BONE_CELLS, shape[1] * BONE_CELLS), F4)
    for level, (points, weights) in enumerate(child.solids):
        splat_nearest(camera, (pose.place_cloud(level, points), weights), fine)
    for cloud in other_bones(child, pose, camera.view):
        splat_nearest(camera, cloud, fine)
    bone = fine.reshape(shape[0], BONE_CELLS, shape[1], BONE_CELLS).mean((1, 3))
    bone = gaussian_filter(bone, rng.uniform(0.20, 0.32) / camera.spacing)
    return bone, soft_integrals(child, pose, camera)


def soft_integrals(child, pose, camera):
    """Line integrals of soft tissue, from a coarse film that is blurred until its cells do not show."""
    coarse = camera.coarse(COARSE, MARGIN)
    film = np.zeros((coarse.rows, coarse.columns), F4)
    splat_shared(coarse, soft_cloud(child, pose, camera.view), film)
    film = gaussian_filter(film, 0.62 * STEP * camera.magnification / COARSE)
    v = on_coarse(camera.rows, coarse.rows, camera.spacing)
    u = on_coarse(camera.columns, coarse.columns, camera.spacing)
    return map_coordinates(film, np.meshgrid(v, u, indexing="ij"), order=1, mode="nearest").astype(F4)


def on_coarse(count, coarse_count, spacing):
    """Places of a film's `count` pixels along one side on the coarse film (its first pixel's middle is 0)."""
    return (np.arange(count) + 0.5 - count / 2) * spacing / COARSE + coarse_count / 2 - 0.5


def fitted(image, shape):
    """An image cut, or continued by its border, to a shape."""
    missing = [(0, max(0, wanted - have)) for wanted, have in zip(shape, image.shape)]
    return np.pad(image, missing, mode="edge")[:shape[0], :shape[1]]


def enlarged(image, shape):
    """A small image brought to a shape."""
    return fitted(zoom(image, (shape[0] / image.shape[0], shape[1] / image.shape[1]), order=1), shape)


def expose(attenuation, camera, rng):
    """What the detector reads, about 1 where the film is medium: primary, scatter, noise, at times lines."""
    shape, spacing = attenuation.shape, camera.spacing
    lateral = camera.view == "lateral"
    signal = np.exp(-attenuation)
    thinned = zoom(signal, 0.1, order=1)
    scatter = enlarged(gaussian_filter(thinned, 30 / spacing * 0.1, mode="nearest"), shape)
    scatter_share = rng.uniform(0.15, 0.5) if lateral else rng.uniform(0.12, 0.45)
    signal = signal + scatter_share * np.minimum(scatter, np.percentile(signal, 60))
    photons = 10 ** rng.uniform(2.9, 3.8) * (spacing / 0.25) ** 2 * (0.8 if lateral else 1)      # per pixel
    expected = signal / np.median(signal) * photons
    noise = rng.standard_normal(shape, dtype=F4)
    noise = gaussian_filter(noise, rng.uniform(0.45, 0.9))
    noise /= noise.std()
    read = expected + np.sqrt(expected) * noise * rng.uniform(0.8, 1.2)
    read = np.maximum(read, expected * 0.05) / photons
    if rng.random() < 0.25:     # rows of uneven gain
        read *= 1 + 0.006 * gaussian_filter1d(rng.standard_normal((shape[0], 1)), 0.5, axis=0)
    return read


def display(exposure, soft, pose, size, camera, rng):
    """Grey values 0 to 1, bone bright, with the contrast taken from a strip about the spine."""
    curve = rng.choice(["log", "log", "gamma"])
    grey = -exposure ** rng.uniform(0.25, 0.45) if curve == "gamma" else -np.log(exposure)
    grey = even_out(grey, camera, rng)
    strip = spine_strip(pose, soft, rng.uniform(45, 80) * size, camera)
    limits = [rng.uniform(0.3, 2.5), rng.uniform(99.3, 99.95)]
    low, high = np.percentile(grey[strip][::7], limits)
    low -= rng.uniform(0, 0.15) * (high - low)
    grey = np.clip((grey - low) / (high - low), 0, 1) ** rng.uniform(0.75, 1.3)
    if rng.random() < 0.5:      # steeper in the middle
        grey = grey + rng.uniform(0, 0.25) * (0.5 - 0.5 * np.cos(np.pi * grey) - grey)
    return grey


def even_out(grey, camera, rng):
    """Takes away most of the coarse contrast and at times raises edges."""
    sigma = rng.uniform(12, 32) / camera.spacing
    every = int(max(1, sigma / 6))
    coarse = enlarged(gaussian_filter(grey[::every, ::every], sigma / every), grey.shape)
    share = rng.uniform(0.5, 0.88) if camera.view == "pa" else rng.uniform(0.65, 0.92)
    grey = grey - share * coarse
    if rng.random() < 0.5:
        grey = grey + rng.uniform(0.3, 1.0) * (grey - gaussian_filter(grey, 1.2 / camera.spacing))
    return grey


def spine_strip(pose, soft, half_width, camera):
    """True on the pixels within half_width (mm on the film) of the spine and behind enough of the body."""
    column, row, _ = camera.project(pose.centre[:C7 + 2])
    order = np.argsort(row)
    middle = np.interp(np.arange(camera.rows), row[order], column[order])
    strip = np.abs(np.arange(camera.columns)[None] - middle[:, None]) < half_width / camera.spacing
    strip[:int(max(0, row.min()))] = False
    strip[int(min(camera.rows, row.max() + 20)):] = False
    return strip & (soft > 0.9)


def collimated(pixels, dark, camera, rng):
    """Pixels 0 to 255 as shown: inverted where bone is dark, at times with a collimator's border."""
    if dark:
        pixels = 255 - pixels
    if rng.random() < 0.35:
        aside = int(rng.uniform(3, 10) / camera.spacing)
        above = int(rng.uniform(3, 10) / camera.spacing)
        border = np.ones(pixels.shape, bool)
        border[above:camera.rows - above, aside:camera.columns - aside] = False
        pixels[border] = 255 if dark and rng.random() < 0.5 else 0
    return pixels


def add_marker(image, letter, fill, camera, rng):
    """On most films, the letter of the side at image-left (on lateral ones always L)."""
    if rng.random() < 0.7:
        font = ImageFont.load_default(int(12 / camera.spacing))
        place = (int(camera.columns * 0.05), int(camera.rows * rng.uniform(0.05, 0.25)))
        ImageDraw.Draw(image).text(place, letter, fill=fill, font=font)


def save(image, folder, name, rng):
    """Writes the image as JPEG or PNG; returns the file's name."""
    if rng.random() < 0.4:
        file = name + ".jpg"
        image.save(os.path.join(folder, file), quality=int(rng.integers(78, 95)))
    else:
        file = name + ".png"
        image.save(os.path.join(folder, file))
    return file
