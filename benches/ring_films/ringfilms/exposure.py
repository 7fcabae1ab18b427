"""From path lengths to what the detector reads: three energies, focal spot, scatter, noise."""
import numpy as np
from scipy.ndimage import gaussian_filter

from .primitives import F4

# Share of the beam; attenuation of water and of what dense bone adds (1/cm).
ENERGIES = ((0.3, 0.245, 0.50), (0.45, 0.209, 0.30), (0.25, 0.186, 0.20))


def blurred(image, sigma):
    """Gaussian blur (pixels); a wide one is done on a thinned image."""
    if sigma < 3:
        return gaussian_filter(image, sigma)
    factor = int(sigma // 2)
    rows, columns = image.shape
    padded = np.pad(image, ((0, -rows % factor), (0, -columns % factor)), mode="edge")
    small = padded.reshape(padded.shape[0] // factor, factor, padded.shape[1] // factor, factor).mean((1, 3))
    small = gaussian_filter(small, sigma / factor)
    below, share = between(rows, small.shape[0], factor)
    small = small[below] * (1 - share)[:, None] + small[below + 1] * share[:, None]
    below, share = between(columns, small.shape[1], factor)
    return small[:, below] * (1 - share) + small[:, below + 1] * share


def between(count, small_count, factor):
    """For `count` pixels the thinned pixel before each, and the share of the next one."""
    place = (np.arange(count) + 0.5) / factor - 0.5
    below = np.clip(np.floor(place).astype(int), 0, small_count - 2)
    return below, np.clip(place - below, 0, 1).astype(F4)


def expose(bone, soft, camera, rng):
    """Negative logarithm of the signal, from path lengths (cm) in bone and soft tissue."""
    spacing, lateral = camera.spacing, camera.view == "lateral"
    focus = rng.uniform(0.10, 0.34) * (0.6 if spacing < 0.2 else 1) + 0.02      # mm
    hardness = rng.uniform(-0.06, 0.06)
    primary = sum(share * np.exp(-water * (1 - hardness) * soft - dense * bone) for share, water, dense in ENERGIES)
    primary = blurred(primary, max(0.35, focus / spacing))
    scatter_share = rng.uniform(0.08, 0.30) * (1.3 if lateral else 1)
    scatter = blurred(primary, 32 / spacing) * 0.7 + blurred(primary, 90 / spacing) * 0.3
    signal = primary * (1 - scatter_share) + scatter_share * np.minimum(scatter, 4 * primary + 0.02)
    photons = np.exp(rng.uniform(np.log(2.5e4), np.log(3e5))) * (spacing / 0.2) ** 2 * (3.6 if lateral else 1.2)
    expected = np.maximum(signal * photons, 0)
    noise = [rng.standard_normal(signal.shape, dtype=F4) for _ in range(2)]
    read = expected + np.sqrt(np.maximum(expected, 1)) * noise[0] + 3 * noise[1]
    read = blurred(read, rng.uniform(0.3, 0.6))
    return np.maximum(-np.log(np.maximum(read, 2) / photons), 0.05).astype(F4)
