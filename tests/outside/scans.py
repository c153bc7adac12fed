"""Scans of step tablets and shifted prints, and what OpenCV, scikit-image and numpy read of them.

The scans are simulated here, apart from the program; each method then reads the same files.
"""

import time
from pathlib import Path

import numpy as np


def srgb(light):
    """Codes 0..1 of light by the curve of sRGB (IEC 61966-2-1), and back."""
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def linear(code):
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def strips(folder, count):
    """Writes scans of tablets: turned, with grain, noise, dust, hairs and scratches; where they lie and what they read."""
    import tifffile
    from scipy import ndimage

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    made = []
    for number in range(count):
        rng = np.random.default_rng(7000 + number)
        steps, width = int(rng.integers(9, 16)), rng.uniform(46, 60)
        length, height = steps * width, rng.uniform(90, 150)
        w, h = 1000, 340
        angle = np.radians(rng.uniform(-6, 6))
        c, s = np.cos(angle), np.sin(angle)
        middle = np.array([w / 2 + rng.uniform(-15, 15), h / 2 + rng.uniform(-15, 15)])
        # At four places of each pixel: edges are as soft as a scanner's.
        light = np.zeros((h, w))
        densities = 0.05 + np.arange(steps) * rng.uniform(0.11, 0.16)
        for dx, dy in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)):
            y, x = np.mgrid[0:h, 0:w]
            x, y = x + dx - middle[0], y + dy - middle[1]
            u, v = c * x + s * y + length / 2, -s * x + c * y + height / 2
            step = np.clip((u / width).astype(int), 0, steps - 1)
            inside = (u >= 0) & (u < length) & (v >= 0) & (v < height)
            light += np.where(inside, 10 ** -densities[step], 0.97) / 4
        grain = rng.uniform(0.005, 0.03)
        field = ndimage.gaussian_filter(rng.standard_normal((h, w)), 0.8)
        light = light * 10 ** (-grain * field / field.std())
        light = ndimage.gaussian_filter(light, 0.6)
        light = light + np.sqrt(2e-6 * light + 1e-9) * rng.standard_normal((h, w))
        for _ in range(int(rng.integers(10, 60))):
            cx, cy, r = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(1, 3.5)
            yy, xx = np.mgrid[0:h, 0:w]
            light[(xx - cx) ** 2 + (yy - cy) ** 2 < r * r] *= 0.15
        for _ in range(int(rng.integers(0, 4))):
            x0, slope, thick = rng.uniform(100, w - 100), rng.uniform(-0.6, 0.6), rng.uniform(0.6, 1.6)
            yy, xx = np.mgrid[0:h, 0:w]
            light[np.abs(xx - x0 - slope * (yy - h / 2)) < thick] = 0.9 if rng.random() < 0.5 else 0.02
        corner = lambda a, b: [float(middle[0] + c * a - s * b), float(middle[1] + s * a + c * b)]
        corners = [
            corner(-length / 2, -height / 2),
            corner(length / 2, -height / 2),
            corner(length / 2, height / 2),
            corner(-length / 2, height / 2),
        ]
        path = folder / f"strip-{number}.tif"
        tifffile.imwrite(path, np.round(65535 * srgb(light)).astype(np.uint16))
        # A densitometer averages light: that of grain lies above its mean density's.
        truth = densities - np.log(10) / 2 * grain**2
        made.append({"path": str(path), "steps": steps, "corners": corners, "densities": truth.tolist()})
    return {"strips": made}


def upright(strip, picture, side=64):
    """The strip by its true corners, `side` pixels a step, as OpenCV brings it upright."""
    import cv2

    w, h = strip["steps"] * side, 2 * side
    source = np.float32(strip["corners"]) - 0.5
    target = np.float32([[0, 0], [w, 0], [w, h], [0, h]]) - 0.5
    return cv2.warpPerspective(picture, cv2.getPerspectiveTransform(source, target), (w, h), flags=cv2.INTER_LINEAR)


def middles(strip, whole, read):
    side = whole.shape[1] // strip["steps"]
    cut, high = side // 5, whole.shape[0] // 5
    areas = (whole[high:-high, k * side + cut : (k + 1) * side - cut] for k in range(strip["steps"]))
    return [float(-np.log10(read(area))) for area in areas]


def opencv_median(strip, picture):
    """The strip upright, medians over 5 x 5 pixels, the mean light of each step's middle."""
    import cv2

    return middles(strip, cv2.medianBlur(upright(strip, picture.astype(np.float32)), 5), np.mean)


def opencv_bilateral(strip, picture):
    import cv2

    whole = upright(strip, picture.astype(np.float32))
    return middles(strip, cv2.bilateralFilter(whole, 9, 0.1, 3), np.mean)


def skimage_median(strip, picture):
    from skimage import filters, morphology, transform

    side = 64
    w, h = strip["steps"] * side, 2 * side
    # scikit-image maps from the result to the picture; pixel centres are at whole numbers.
    found = transform.ProjectiveTransform.from_estimate(
        np.array([[0, 0], [w, 0], [w, h], [0, h]]) - 0.5, np.array(strip["corners"]) - 0.5
    )
    whole = transform.warp(picture, found, output_shape=(h, w), order=1, mode="edge")
    whole = filters.median(whole, morphology.disk(2))
    return middles(strip, whole, np.mean)


def numpy_trimmed(strip, picture):
    from scipy import stats

    whole = upright(strip, picture.astype(np.float32))
    return middles(strip, whole, lambda area: stats.trim_mean(area.ravel(), 0.2))


def opencv_mean(strip, picture):
    return middles(strip, upright(strip, picture.astype(np.float32)), np.mean)


STRIPS = {
    "OpenCV, warp and mean": opencv_mean,
    "OpenCV, warp, median blur, mean": opencv_median,
    "OpenCV, warp, bilateral, mean": opencv_bilateral,
    "scikit-image, warp, median, mean": skimage_median,
    "OpenCV, warp; scipy, trimmed mean": numpy_trimmed,
}


def strip_densities(strips, method):
    """What one method reads of each strip, its true corners given; seconds of each."""
    import tifffile

    answers, seconds = [], []
    for strip in strips:
        start = time.perf_counter()
        light = linear(tifffile.imread(strip["path"]) / 65535.0)
        answers.append(STRIPS[method](strip, light))
        seconds.append(time.perf_counter() - start)
    return {"densities": answers, "each": seconds}


def shifted(folder, each):
    """Pairs of photographs as prints, the second moved by a fraction of a pixel and printed otherwise."""
    import tifffile
    from registration import PHOTOGRAPHS, scene, shown

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    pairs = []
    for number, name in enumerate(PHOTOGRAPHS):
        coefficients = scene(name)
        for k in range(each):
            rng = np.random.default_rng(9000 + 10 * number + k)
            corner = np.array([[1, 0, 40.0], [0, 1, 40.0], [0, 0, 1]])
            shift = rng.uniform(-9, 9, 2)
            truth = np.array([[1, 0, shift[0]], [0, 1, shift[1]], [0, 0, 1]])
            size = (440, 400)
            paths = [str(folder / f"{name}-{k}-{side}.tif") for side in ("still", "moved")]
            tifffile.imwrite(paths[0], shown(coefficients, corner, size, rng))
            tifffile.imwrite(paths[1], shown(coefficients, corner @ np.linalg.inv(truth), size, rng))
            pairs.append({"name": f"{name} {k}", "first": paths[0], "second": paths[1], "shift": shift.tolist()})
    return {"pairs": pairs}


def skimage_phase(a, b):
    from skimage import registration

    back, _, _ = registration.phase_cross_correlation(a, b, upsample_factor=50)
    return -back[1], -back[0]


def skimage_cross(a, b):
    from skimage import registration

    back, _, _ = registration.phase_cross_correlation(a - a.mean(), b - b.mean(), upsample_factor=50, normalization=None)
    return -back[1], -back[0]


def opencv_phase(a, b):
    import cv2

    window = cv2.createHanningWindow(a.shape[::-1], cv2.CV_32F)
    (x, y), _ = cv2.phaseCorrelate(a, b, window)
    return x, y


SHIFTS = {
    "scikit-image, phase correlation": skimage_phase,
    "scikit-image, cross-correlation": skimage_cross,
    "OpenCV, phase correlation": opencv_phase,
}


def find_shifts(pairs, method):
    """The shift from the first to the second of each pair by one method; seconds of each."""
    import tifffile

    answers, seconds = [], []
    for pair in pairs:
        a, b = (tifffile.imread(pair[side]).astype(np.float32) / 65535 for side in ("first", "second"))
        start = time.perf_counter()
        answers.append([float(v) for v in SHIFTS[method](a, b)])
        seconds.append(time.perf_counter() - start)
    return {"shifts": answers, "each": seconds}
