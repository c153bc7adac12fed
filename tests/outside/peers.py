"""The same questions answered with numpy, scipy, scikit-image and OpenCV.

    python peers.py TASK < question.json > answer.json

Every task is a function of this file that takes the question's values and returns the answer. The tests compare answers,
the benchmarks compare the seconds that a task measures around its own work (files are read and tables looked up before,
where the task is not about reading).
"""

import json
import os
import resource
import sys
import time

# Registration here asks nothing of a screen; without this some builds look for one.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENCV_LOG_LEVEL", "ERROR")

import numpy as np


# ---- numbers ---------------------------------------------------------------------------------------------------------


def pchip(x, y, at):
    """Values and slopes of scipy's monotone interpolant."""
    from scipy.interpolate import PchipInterpolator

    curve = PchipInterpolator(x, y)
    return {"value": curve(at).tolist(), "slope": curve.derivative()(at).tolist()}


def quantiles(p, degrees, second):
    """Quantiles of chi-square, t and F."""
    from scipy import stats

    return {
        "chi_square": stats.chi2.ppf(p, degrees).tolist(),
        "student_t": stats.t.ppf(p, degrees).tolist(),
        "f_ratio": stats.f.ppf(p, degrees, second).tolist(),
    }


def toe_line_shoulder(log_h, density, u, start):
    """Least squares of toe, straight line and shoulder: parameters, covariance and chi-square."""
    from scipy.optimize import curve_fit

    x, d, u = np.array(log_h), np.array(density), np.array(u)

    def soft(t):
        return np.logaddexp(0.0, t * np.log(10.0)) / np.log(10.0)

    def model(x, d_min, gamma, x0, toe, height, shoulder):
        y = gamma / toe * soft(toe * (x - x0))
        k = shoulder / gamma
        return d_min + y - np.log10(1.0 + (10.0 ** (k * y) - 1.0) / 10.0 ** (k * height)) / k

    found, covariance = curve_fit(model, x, d, p0=start, sigma=u, absolute_sigma=True, ftol=1e-14, gtol=1e-14)
    residuals = (d - model(x, *found)) / u
    return {
        "parameters": found.tolist(),
        "u": np.sqrt(np.diag(covariance)).tolist(),
        "chi_square": float(residuals @ residuals),
    }


def chi_square_tail(value, degrees):
    """Probability of a larger chi-square."""
    from scipy import stats

    return {"p": float(stats.chi2.sf(value, degrees))}


def figures(log_h, density, base, gradient_range, usable):
    """Every figure of a curve that is given point by point, close together, or of raw readings."""
    from sensitometry import all_figures

    return all_figures(log_h, density, base, gradient_range, usable, straight=True)


def kinetics(minutes, gradient, u, limit, rate):
    """The first-order law of development by scipy's least squares."""
    from scipy.optimize import curve_fit

    law = lambda t, limit, rate: limit * (1 - np.exp(-rate * t))
    best, covariance = curve_fit(law, minutes, gradient, p0=[limit, rate], sigma=u, absolute_sigma=True, ftol=1e-13, gtol=1e-13)
    residuals = (np.asarray(gradient) - law(np.asarray(minutes), *best)) / np.asarray(u)
    return {"best": best.tolist(), "covariance": covariance.tolist(), "chi_square": float(residuals @ residuals)}


# ---- grain -----------------------------------------------------------------------------------------------------------


def disc(diameter_um, pitch_um, fine=64):
    """Weights of pixels under a circle, summing to 1: from the share of each that it covers, counted on a fine grid, in full
    from two thirds on and not at all up to one third; its radius such that on independent pixels it has the area of the
    aperture, (sum w)^2 / sum w^2."""
    stated = diameter_um / 2 / pitch_um
    reach = int(np.ceil(stated + 0.5))
    side = 2 * reach + 1
    points = (np.arange(side * fine) + 0.5) / fine - reach - 0.5
    distance = points[:, None] ** 2 + points[None, :] ** 2

    def weights(radius):
        share = (distance <= radius**2).reshape(side, fine, side, fine).mean(axis=(1, 3))
        return np.clip(3 * share - 1, 0, 1)

    low, high = 0.5 * stated, stated + 0.5
    for _ in range(20):
        middle = (low + high) / 2
        w = weights(middle)
        low, high = (low, middle) if w.sum() ** 2 / (w**2).sum() > np.pi * stated**2 else (middle, high)
    w = weights(high)
    return w / w.sum()


def light_of(path, table, area=None):
    """The light of a grey scan by a table over its codes."""
    import tifffile

    codes = tifffile.imread(path)
    if area:
        codes = codes[area[1] : area[3], area[0] : area[2]]
    return np.asarray(table)[codes]


def granularity(path, table, area, pitch_um, aperture_um):
    """1000 sigma(D) through a circular aperture; apertures that touch dust are left out, slow shading is a quadratic."""
    from scipy import ndimage, signal

    light = light_of(path, table, area)
    local = ndimage.median_filter(light, 15)
    departure = light / local - 1
    spread = 1.4826 * np.median(np.abs(departure))
    smooth = ndimage.uniform_filter(departure, 3)
    smooth_spread = 1.4826 * np.median(np.abs(smooth))
    dust = (np.abs(departure) > 7 * spread) | (np.abs(smooth) > 6 * smooth_spread)
    dust = ndimage.binary_dilation(dust, iterations=3)

    weights = disc(aperture_um, pitch_um)
    through = signal.oaconvolve(light, weights, mode="valid")
    touched = signal.oaconvolve(dust.astype(float), (weights > 0).astype(float), mode="valid") > 0.5
    density = -np.log10(through)
    y, x = np.mgrid[-1 : 1 : density.shape[0] * 1j, -1 : 1 : density.shape[1] * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    fit = np.linalg.lstsq(terms[~touched], density[~touched], rcond=None)[0]
    rest = (density - terms @ fit)[~touched]
    return {
        "rms": 1000 * float(rest.std()),
        "mean_density": float(-np.log10(light[~dust].mean())),
        "left_out": float(dust.mean()),
    }


def noise_power(path, table, area, pitch_um, side):
    """The noise power spectrum of an area: Hann blocks half overlapped, a quadratic taken out of the density of light.

    Rings are one cell of the transform wide. Blocks that a median filter finds dust in are left out.
    """
    from scipy import ndimage, signal

    light = light_of(path, table, area)
    local = ndimage.median_filter(light, 15)
    departure = light / local - 1
    smooth = ndimage.uniform_filter(departure, 3)
    dust = np.abs(smooth) > 7 * 1.4826 * np.median(np.abs(smooth))
    y, x = np.mgrid[-1 : 1 : light.shape[0] * 1j, -1 : 1 : light.shape[1] * 1j]
    terms = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
    fit = np.linalg.lstsq(terms[~dust], light[~dust], rcond=None)[0]
    value = (1 - light / (terms @ fit)) / np.log(10)

    window = signal.windows.hann(side, sym=False)
    window = np.outer(window, window)
    half = side // 2
    top, left = (value.shape[0] % half) // 2, (value.shape[1] % half) // 2
    total, used, variance = np.zeros((side, side)), 0, 0.0
    for row in range(value.shape[0] // half - 1):
        for column in range(value.shape[1] // half - 1):
            block = np.s_[top + row * half : top + row * half + side, left + column * half : left + column * half + side]
            if dust[block].any():
                continue
            total += np.abs(np.fft.fft2(value[block] * window)) ** 2
            variance += value[block].var()
            used += 1
    power = pitch_um**2 * total / used / (window**2).sum()
    cells = np.fft.fftfreq(side, 1 / side)
    ring = np.rint(np.hypot(*np.meshgrid(cells, cells))).astype(int)
    rings = [float(power[ring == k].mean()) for k in range(3, half + 1)]
    correlation = np.fft.ifft2(power).real
    return {
        "rings": rings,
        "used": used,
        "variance": variance / used,
        "sum": float(power.sum() / (side * pitch_um) ** 2),
        # Mean over the pixels whose distance rounds to one: beside, below and aslant.
        "next": float((correlation[0, 1] + correlation[1, 0] + (correlation[1, 1] + correlation[1, -1]) / 2) / 3 / correlation[0, 0]),
    }


# ---- coherence -------------------------------------------------------------------------------------------------------


def coherence(paths, side):
    """Coherence of two prints on one grid, within their borders."""
    import detail

    return detail.coherence(paths, side)


def resampled_coherence(paths, side):
    """Coherence of two prints of which the second is resampled first."""
    import detail

    return detail.resampled_coherence(paths, side)


def detail_pairs(folder):
    """Prints of photographs with known spectra."""
    import detail

    return detail.detail_pairs(folder)


# ---- registration ----------------------------------------------------------------------------------------------------


def register(first, second, first_table, second_table):
    """The affine map from the first print to the second by enhanced correlation, in pixels whose corner is (0, 0)."""
    import cv2

    def levels(path, table):
        tone = -np.log10(light_of(path, table)).astype(np.float32)
        flat = tone - cv2.GaussianBlur(tone, (0, 0), 40)
        return [cv2.GaussianBlur(flat, (0, 0), s)[::k, ::k].copy() for k, s in ((4, 4.0), (2, 2.0), (1, 1.2))]

    warp = np.eye(2, 3, dtype=np.float32)
    scale = None
    for a, b, k in zip(levels(first, first_table), levels(second, second_table), (4, 2, 1)):
        if scale:
            warp[:, 2] *= scale / k
        scale = k
        stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 400, 1e-7)
        _, warp = cv2.findTransformECC(a, b, warp, cv2.MOTION_AFFINE, stop)
    # OpenCV counts from pixel centres: x' + 0.5 = A (x + 0.5) + shift.
    linear = warp[:, :2].astype(float)
    shift = warp[:, 2] + 0.5 - linear @ [0.5, 0.5]
    return {"linear": linear.tolist(), "shift": shift.tolist()}


def photographs(folder, each):
    """Pairs of prints made of real photographs."""
    import registration

    return registration.photographs(folder, each)


def register_pairs(pairs, method):
    """Those pairs registered by one method."""
    import registration

    return registration.register_pairs(pairs, method)


# ---- benchmarks ------------------------------------------------------------------------------------------------------


def strips(**question):
    """Scans of tablets, simulated."""
    import scans

    return scans.strips(**question)


def strip_densities(**question):
    """Densities of these by one method."""
    import scans

    return scans.strip_densities(**question)


def shifted(**question):
    """Photographs moved by fractions of a pixel."""
    import scans

    return scans.shifted(**question)


def find_shifts(**question):
    """Their shifts by one method."""
    import scans

    return scans.find_shifts(**question)


def halve(path):
    """Reads a scan and halves it until it fits 256 pixels."""
    import cv2

    start = time.perf_counter()
    picture = cv2.imread(path, cv2.IMREAD_UNCHANGED)
    levels = 1
    while max(picture.shape) > 256:
        size = (max(1, picture.shape[1] // 2), max(1, picture.shape[0] // 2))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        levels += 1
    return {"seconds": time.perf_counter() - start, "answer": levels}


def aperture_filter(path, table, pitch_um, aperture_um):
    """Granularity by OpenCV's filter2D and a standard deviation."""
    import cv2

    light = light_of(path, np.asarray(table, dtype=np.float32))
    weights = disc(aperture_um, pitch_um).astype(np.float32)
    edge = weights.shape[0] // 2
    start = time.perf_counter()
    through = cv2.filter2D(light, cv2.CV_32F, weights)[edge:-edge, edge:-edge]
    answer = 1000 * float(np.log10(through).std())
    return {"seconds": time.perf_counter() - start, "answer": answer}


def aperture_overlap_add(path, table, pitch_um, aperture_um):
    """Granularity by scipy's overlap-add convolution and a standard deviation."""
    from scipy import signal

    light = light_of(path, table)
    weights = disc(aperture_um, pitch_um)
    start = time.perf_counter()
    through = signal.oaconvolve(light, weights, mode="valid")
    answer = 1000 * float(np.log10(through).std())
    return {"seconds": time.perf_counter() - start, "answer": answer}


def noise_power_blocks(path, table, pitch_um, side):
    """The spectrum of a whole scan by numpy: the same window and the same blocks, half overlapped."""
    light = light_of(path, table)
    window = np.sin(np.pi * (np.arange(side) + 0.5) / side) ** 2
    window = np.outer(window, window)
    half = side // 2
    start = time.perf_counter()
    value = (1 - light / light.mean()) / np.log(10)
    total, used = np.zeros((side, side // 2 + 1)), 0
    for row in range(value.shape[0] // half - 1):
        for column in range(value.shape[1] // half - 1):
            block = value[row * half : row * half + side, column * half : column * half + side]
            found = np.fft.rfft2(block * window)
            total += found.real**2 + found.imag**2
            used += 1
    answer = pitch_um**2 * total / used / (window**2).sum()
    return {"seconds": time.perf_counter() - start, "answer": float(answer[3, 3])}


def slanted_edge(path, table, area, across, flat_px, end_px):
    """Modulation of an edge in light: a blurred step is fitted to all pixels for its place and angle (scipy), the pixels are
    put into quarter-pixel bins of their distance from it, and the steps of ISO 12233 follow: difference, a window that is flat
    up to `flat_px` and falls to zero at `end_px` by a half cosine, Fourier transform, modulus, correction of the difference."""
    from scipy import optimize, special

    light = light_of(path, table, area)
    if across:
        light = light.T
    height, width = light.shape
    y, x = np.mgrid[0:height, 0:width] + 0.5
    y = y - height / 2
    means = light[:, : width // 8].mean(), light[:, -(width // 8) :].mean()
    # From several slopes, for a fit far from the edge finds nothing.
    fits = []
    for slope in (-0.1, 0.0, 0.1):
        guess = [width / 2, slope, 4.0, *means]

        def residual(p):
            d = (x - p[0] - p[1] * y) / np.hypot(1, p[1])
            return ((p[3] + (p[4] - p[3]) * special.ndtr(d / abs(p[2]))) - light)[::3].ravel()

        fits.append(optimize.least_squares(residual, guess, loss="linear"))
    p = min(fits, key=lambda fit: fit.cost).x
    d = (x - p[0] - p[1] * y) / np.hypot(1, p[1])
    half = int(end_px * 4) + 8
    place = np.floor(d * 4 + half).astype(int)
    inside = (place >= 0) & (place < 2 * half)
    count = np.bincount(place[inside], minlength=2 * half)
    spread = np.bincount(place[inside], light[inside], minlength=2 * half) / count
    line = np.convolve(spread, [0.5, 0, -0.5], "valid")
    f = np.arange(0, 0.6, 0.002)
    at = (np.arange(len(line)) + 1.5 - half) / 4
    beyond = np.clip((np.abs(at) - flat_px) / (end_px - flat_px), 0, 1)
    line = line * (0.5 + 0.5 * np.cos(np.pi * beyond))
    modulus = np.abs(np.exp(-2j * np.pi * f[:, None] * at) @ line)
    modulus = modulus / modulus[0]
    modulus[1:] /= np.sinc(2 * f[1:] / 4)
    below = int(np.argmax(modulus < 0.5))
    share = (modulus[below - 1] - 0.5) / (modulus[below - 1] - modulus[below])
    return {"angle": float(np.degrees(np.arctan(abs(p[1])))), "mtf50": float(f[below - 1] + share * 0.002)}


def curves(films, resamplings, seed):
    """All figures of many films, each resampled within its errors, by scipy's interpolant and root finder."""
    from sensitometry import resampled_figures

    start = time.perf_counter()
    answer = resampled_figures(films, resamplings, seed)
    return {"seconds": time.perf_counter() - start, "answer": answer}


# ---- greys -----------------------------------------------------------------------------------------------------------


def nonnegative(**question):
    """Non-negative least squares."""
    import greys

    return greys.nonnegative(**question)


def visual_densities(**question):
    """Visual densities of transmittances."""
    import greys

    return greys.visual_densities(**question)


def colours(**question):
    """Colours, daylights and Munsell values."""
    import greys

    return greys.colours(**question)


# ---- paper -----------------------------------------------------------------------------------------------------------


def structure(**question):
    """What a PDF says of itself and how it is put together."""
    import paper

    return paper.structure(**question)


def accessible(**question):
    """Rules of PDF/UA-1."""
    import paper

    return paper.accessible(**question)


def measured(**question):
    """Lines of a PDF in millimetres."""
    import paper

    return paper.measured(**question)


def drawn(**question):
    """A picture of a page beside PDFium's."""
    import paper

    return paper.drawn(**question)


# ---- browser ---------------------------------------------------------------------------------------------------------


def browser(path):
    """What a browser makes of an HTML report."""
    import browser as chromium

    return chromium.report(path)


TASKS = (
    browser,
    pchip,
    toe_line_shoulder,
    chi_square_tail,
    quantiles,
    figures,
    kinetics,
    granularity,
    noise_power,
    slanted_edge,
    register,
    photographs,
    register_pairs,
    coherence,
    resampled_coherence,
    detail_pairs,
    strips,
    strip_densities,
    shifted,
    find_shifts,
    halve,
    aperture_filter,
    aperture_overlap_add,
    noise_power_blocks,
    curves,
    nonnegative,
    colours,
    visual_densities,
    structure,
    accessible,
    measured,
    drawn,
)


def main():
    tasks = {task.__name__: task for task in TASKS}
    if len(sys.argv) != 2 or sys.argv[1] not in tasks:
        sys.exit(f"usage: python peers.py {'|'.join(tasks)} < question.json")
    answer = tasks[sys.argv[1]](**json.load(sys.stdin))
    answer["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main()
