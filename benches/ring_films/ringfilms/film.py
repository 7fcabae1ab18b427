"""One radiograph: framing, path lengths, exposure, display, file and truth."""
import os

import numpy as np
from PIL import Image

from .camera import Camera, splat
from .chest import Chest
from .display import add_marker, collimated, grey_values
from .exposure import expose
from .levels import T2
from .lungs import vessels
from .pose import STAGES, take_pose
from .primitives import F4
from .skeleton import VIEWS, draw_skeleton
from .trunk import SoftTissue
from .truth import write_truth

SPACINGS = (0.14, 0.15, 0.175, 0.1868, 0.2, 0.25, 0.28, 0.3)    # mm
DARK_SHARE = 0.25       # of the films show bone dark
CUT_SHARE = 1 / 9       # of the films are badly framed
JPEG_SHARE = 0.3


def make_film(child, stage, view, folder):
    """Renders one film and writes its image and truth; returns the facts written to its JSON."""
    which = STAGES.index(stage), VIEWS.index(view)
    rng = child.stream("film", *which)
    pose = take_pose(child, stage, rng.normal() * 3)
    chest = Chest(child, pose)
    spacing = SPACINGS[int(child.stream("pixel", *which).integers(len(SPACINGS)))]
    camera = Camera(view, pose.centre, child.size, spacing, rng)
    frame_spine(camera, pose, child.size, child.stream("framing", *which).random() < CUT_SHARE, rng)
    skeleton = draw_skeleton(child, pose, chest, stage, camera)
    soft = soft_lengths(child, pose, chest, skeleton, camera, rng)
    log_signal = expose(skeleton.film.astype(F4), soft, camera, rng)
    grey, white = grey_values(log_signal, soft, pose, child.size, camera, rng)
    grey = collimated(grey, white, camera, rng)
    dark = child.stream("polarity", *which).random() < DARK_SHARE
    image = Image.fromarray(np.clip(np.round(255 - grey if dark else grey), 0, 255).astype(np.uint8))
    add_marker(image, 0 if dark else 250, camera, rng)
    name = f"{child.name}-{stage}-{view}"
    facts = {"film": name, "child": child.name, "stage": stage, "view": view, "file": save(image, folder, name, rng),
             "bone": "dark" if dark else "bright"}
    return write_truth(child, pose, skeleton.bodies, camera, facts, folder)


def frame_spine(camera, pose, size, cut, rng):
    """Cuts the film about the spine; a badly framed film cuts one end short or lies aside."""
    u, v, _ = camera.on_film(pose.centre[:20])
    top = v.max() + rng.uniform(20, 70) * size
    bottom = v[0] - rng.uniform(70, 150) * size
    if camera.view == "pa":
        half = rng.uniform(165, 205) * size
        middle = 0.5 * u.mean() + 0.5 * u[0] + rng.normal() * 8
    else:
        half = rng.uniform(150, 190) * size
        middle = u.mean() + (-25 if camera.flipped else 25) * size + rng.normal() * 8
    left, right = min(middle - half, u.min() - 45 * size), max(middle + half, u.max() + 45 * size)
    if cut:
        kind = int(rng.integers(0, 4))
        if kind == 0:
            top = v[T2] + 6
        elif kind == 1:
            bottom = v[0] + 2
        else:
            shift = np.array([55, 40]) * size if kind == 2 else np.array([-40, -55]) * size
            left, right = left + shift[0], right + shift[1]
    camera.frame(left, right, bottom, top)


def soft_lengths(child, pose, chest, skeleton, camera, rng):
    """Path lengths in soft tissue (cm), with the vessels of the lungs."""
    tissue = SoftTissue(child, pose, chest, skeleton, camera.view, rng)
    lengths = tissue.path_lengths(camera)
    blood = np.zeros(lengths.shape)
    for cloud in vessels(child, chest, tissue.lungs, tissue.airway, child.stream("vessels")):
        splat(camera, cloud, blood)
    return (lengths + blood).astype(F4)


def save(image, folder, name, rng):
    """Writes the image as JPEG or PNG; returns the file's name."""
    if rng.random() < JPEG_SHARE:
        file, options = name + ".jpg", {"quality": int(rng.integers(85, 96))}
    else:
        file, options = name + ".png", {}
    image.save(os.path.join(folder, file), **options)
    return file
