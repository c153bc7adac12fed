"""Prints of photographs whose spectra are known, and their coherence with numpy and scipy.

The photographs ship inside scikit-image under open licences, as its own documentation states them.
"""

import time
from pathlib import Path

import numpy as np

PHOTOGRAPHS = {"camera": "CC0", "grass": "CC0", "gravel": "CC0", "brick": "CC0"}
SIZE = 448
# Codes of 16 bits for densities from 0 to 2.
CODES = 65535 / 2


def block_view(picture, side):
    step = side // 2
    blocks = np.lib.stride_tricks.sliding_window_view(picture, (side, side))[::step, ::step]
    return blocks.reshape(-1, side, side)


def flattened(blocks):
    """Each block without its plane of least squares, under a Hann window of half-sample centre."""
    from scipy import signal

    n, side, _ = blocks.shape
    blocks = blocks - blocks.mean(axis=(1, 2), keepdims=True)
    t = np.arange(side) - (side - 1) / 2
    square = side * (t * t).sum()
    along = (blocks * t[None, None, :]).sum(axis=(1, 2)) / square
    down = (blocks * t[None, :, None]).sum(axis=(1, 2)) / square
    blocks = blocks - along[:, None, None] * t[None, None, :] - down[:, None, None] * t[None, :, None]
    window = signal.windows.hann(2 * side + 1)[1::2]
    return blocks * (window[:, None] * window[None, :])


def annuli(side):
    k = np.fft.fftfreq(side, 1 / side)
    return np.round(np.hypot(k[:, None], k[None, :])).astype(int)


def spectra(a, b, side):
    """Sums over annuli of both powers and the cross-spectrum."""
    from scipy import fft

    one, two = (fft.fft2(flattened(block_view(p, side)), workers=2) for p in (a, b))
    ring = annuli(side).ravel()
    count = side // 2
    total = lambda values: np.bincount(ring, values.sum(axis=0).ravel(), minlength=count)[:count]
    cross = one.conj() * two
    return total(np.abs(one) ** 2), total(np.abs(two) ** 2), total(cross.real) + 1j * total(cross.imag)


# Pixels along the edges that are left out, so that prints which lie askew can be sampled within.
BORDER = 32


def coherence(paths, side):
    """Magnitude-squared coherence of two files within their borders, annulus by annulus, blocks half overlapped."""
    import tifffile

    a, b = (tifffile.imread(path)[BORDER:-BORDER, BORDER:-BORDER].astype(float) / CODES for path in paths)
    start = time.perf_counter()
    one, two, cross = spectra(a, b, side)
    seconds = time.perf_counter() - start
    return {"coherence": (np.abs(cross) ** 2 / (one * two)).tolist(), "seconds": seconds}


def resampled_coherence(paths, side):
    """The same for two prints of which the second is first brought onto the first's pixels, as a script would do it."""
    import tifffile
    from scipy import ndimage

    a, b = (tifffile.imread(path).astype(np.float32) for path in paths)
    start = time.perf_counter()
    b = ndimage.affine_transform(b, np.eye(2), (0.2, 0.3), order=3, mode="nearest")
    one, two, cross = spectra(a, b, side)
    found = np.abs(cross) ** 2 / (one * two)
    return {"seconds": time.perf_counter() - start, "mean": float(found[2:].mean())}


def detail_pairs(folder):
    """Three films' prints of each photograph on one grid, the second also turned and enlarged; with the true ratios."""
    import tifffile
    from scipy import ndimage, signal
    from skimage import data

    folder = Path(folder)
    pairs = []
    for number, name in enumerate(PHOTOGRAPHS):
        rng = np.random.default_rng(400 + number)
        picture = getattr(data, name)().astype(float)[: SIZE + 64, : SIZE + 64] / 255
        scene = ndimage.gaussian_filter(1.6 - 1.2 * picture, 0.6)
        blurs, grains = (0.4, 0.9, 0.5), (0.03, 0.05, 0.02)
        images = [ndimage.gaussian_filter(scene, s, mode="mirror") for s in blurs]
        splines = [ndimage.spline_filter(image, order=5, mode="mirror") for image in images]
        y, x = np.mgrid[0:SIZE, 0:SIZE] + 32.0
        on_grid = [ndimage.map_coordinates(s, (y, x), order=5, mode="mirror", prefilter=False) for s in splines]
        # Content at p of the first lies at truth(p) of the second; both about the middle.
        angle, scale = np.radians(1.3), 1.011
        c, s = scale * np.cos(angle), scale * np.sin(angle)
        centre = SIZE / 2
        shift = (2.3, -1.6)
        truth = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
        truth[:2, 2] = centre - truth[:2, :2] @ (centre, centre) + shift
        back = np.linalg.inv(truth)
        v, u = np.mgrid[0:SIZE, 0:SIZE] + 0.5
        px, py = (back @ np.stack([u.ravel(), v.ravel(), np.ones(u.size)]))[:2]
        turned = ndimage.map_coordinates(
            splines[1], (py.reshape(u.shape) + 31.5, px.reshape(u.shape) + 31.5), order=5, mode="mirror", prefilter=False
        )
        paths = {}
        prints = dict(first=(on_grid[0], 0), second=(on_grid[1], 1), third=(on_grid[2], 2), turned=(turned, 1))
        for side, (image, film) in prints.items():
            path = folder / f"{name}-{side}.tif"
            grainy = image + grains[film] * rng.standard_normal(image.shape)
            tifffile.imwrite(path, np.round(CODES * np.clip(grainy, 0, 2)).astype(np.uint16))
            paths[side] = str(path)
        # The true ratios: powers of the images without grain over that of white noise under the same window.
        side = 64
        ring = annuli(side).ravel()
        hann = signal.windows.hann(2 * side + 1)[1::2]
        power = (hann**2).sum() ** 2
        inner = [image[BORDER:-BORDER, BORDER:-BORDER] for image in on_grid]
        blocks = len(block_view(inner[0], side))
        counts = np.bincount(ring, minlength=side // 2)[: side // 2]
        ratios = []
        for film in (0, 1):
            signal_power, _, _ = spectra(inner[film], inner[film], side)
            ratios.append((signal_power / (grains[film] ** 2 * power * blocks * counts)).tolist())
        pairs.append({"name": name, **paths, "truth": truth.tolist(), "ratios": ratios})
    return {"pairs": pairs}
