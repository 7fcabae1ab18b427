"""From the detector's reading to grey values: contrast by scale, window, collimator, side marker."""
import numpy as np
from PIL import ImageDraw, ImageFont

from .exposure import blurred
from .levels import C7
from .primitives import sigmoid


def grey_values(log_signal, soft, pose, size, camera, rng):
    """Grey values with bone bright, and the white end of their range (0 to 255)."""
    raised = raise_contrast(log_signal, camera.spacing, rng)
    low, high = window(raised, soft > 3 * size, pose, camera, rng)
    grey = np.clip((raised - low) / (high - low), -0.5, 1.5)
    steep, middle = 2 * rng.uniform(0.6, 3.0), rng.uniform(0.42, 0.6)
    dark_end, bright_end = sigmoid(-steep * middle), sigmoid(steep * (1 - middle))
    grey = (sigmoid(steep * (grey - middle)) - dark_end) / (bright_end - dark_end)
    grey = np.clip(grey, 0, 1) ** rng.uniform(0.75, 1.35)
    black, white = rng.uniform(0, 12), rng.uniform(225, 255)
    return black + (white - black) * grey, white


def raise_contrast(log_signal, spacing, rng):
    """Less of the coarse contrast, more of the fine."""
    latitude, gain = rng.uniform(0.18, 0.5), rng.uniform(1.3, 3.0)
    fine_gain, widest = rng.uniform(1.1, 2.6), rng.uniform(9, 24)

    def raised(detail, most, soft_limit):
        return detail * (1 + (most - 1) / (1 + np.abs(detail) / soft_limit))

    base, coarse, medium, fine = (blurred(log_signal, scale / spacing) for scale in (widest, 4, 1.1, 0.35))
    return (base * latitude + raised(coarse - base, 1 + 0.35 * (gain - 1), 0.5) + raised(medium - coarse, gain, 0.25)
            + raised(fine - medium, gain * 0.5 + fine_gain * 0.5, 0.12)
            + (log_signal - fine) * min(fine_gain, 1.5) * rng.uniform(0.45, 1))


def window(image, patient, pose, camera, rng):
    """Values shown black and white: by what lies in the patient, but never with the spine beyond white."""
    low, high = np.percentile(image[::6, ::6][patient[::6, ::6]], [rng.uniform(0.3, 4), rng.uniform(99.2, 99.95)])
    column, row, _ = camera.project(pose.centre[:C7 + 1])
    on_film = (column > 2) & (column < camera.columns - 2) & (row > 2) & (row < camera.rows - 2)
    spine = image[row[on_film].astype(int), column[on_film].astype(int)].max()
    wanted = 0.5 * high + 0.5 * (spine + 0.25 * (spine - low))
    return low, max(wanted, spine + rng.uniform(0.03, 0.2) * (spine - low))


def collimated(grey, white, camera, rng):
    """At times with a collimator's border, black or white."""
    if rng.random() >= 0.45:
        return grey
    top, bottom, left, right = (int(rng.uniform(2, 14) / camera.spacing) for _ in range(4))
    covered = np.ones(grey.shape, bool)
    covered[top:camera.rows - bottom, left:camera.columns - right] = False
    return np.where(covered, 0 if rng.random() < 0.6 else white * 0.97, grey)


def add_marker(image, fill, camera, rng):
    """On most films a letter: L on the patient's left (pa), either letter on a lateral one."""
    if rng.random() >= 0.7:
        return
    lateral = camera.view == "lateral"
    letter = rng.choice(["L", "R"]) if lateral else "L"
    place = camera.columns * (0.06 if lateral or camera.flipped else 0.88), camera.rows * rng.uniform(0.1, 0.3)
    font = ImageFont.load_default(size=int(9 / camera.spacing))
    ImageDraw.Draw(image).text(place, letter, fill=fill, font=font)
