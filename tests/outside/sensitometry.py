"""Every figure of a characteristic curve with numpy and scipy, from the curve point by point or from the raw readings.

Written from the definitions that the program prints beside its figures, not from its code. A figure that a curve does not
have is missing from the answer.
"""

import numpy as np
from scipy import stats
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

STOP = np.log10(2)
# The stretch that the program calls one stop when it averages gradients.
STOP_WIDTH = 0.30


def first_root(f, places):
    """The first root of f between neighbouring places of different sign."""
    values = f(places)
    changes = np.flatnonzero((values[:-1] < 0) != (values[1:] < 0))
    return brentq(f, places[changes[0]], places[changes[0] + 1], (), 1e-12) if changes.size else None


def delta_x(gain):
    return 0.83 - 0.86 * gain + 0.24 * gain**2


class Curve:
    """A curve with its slope, and a grid on which to look for what it does."""

    def __init__(self, log_h, density, places):
        self.value = PchipInterpolator(log_h, density)
        self.slope = self.value.derivative()
        self.low, self.high = log_h[0], log_h[-1]
        self.grid = np.linspace(self.low, self.high, places)

    def where(self, density):
        """The lowest log exposure at which that density is reached."""
        return first_root(lambda x: self.value(x) - density, self.grid)

    def mean_slope(self, start, width):
        return (self.value(start + width) - self.value(start)) / width


def from_speed_point(curve, base, gradient_range):
    """What is taken over a range above the point 0.10 over base+fog."""
    point = curve.where(base + 0.10)
    if point is None:
        return {}
    found = {
        "speed_point": point,
        "iso_speed": 0.80 / 10**point,
        "fixed_density_speed": 0.80 / 10**point,
        "speed_point_gradient": float(curve.slope(point)),
    }
    for key, width in (("130", 1.30), ("150", 1.50), ("", gradient_range)):
        if point + width <= curve.high:
            found["average_gradient" + (key and "_" + key)] = float(curve.mean_slope(point, width))
    if point + 1.30 <= curve.high:
        gain = 1.30 * found["average_gradient_130"]
        found["iso_contrast"] = gain
        found["delta_x_point"] = point - delta_x(gain)
        found["delta_x_speed"] = 0.80 / 10 ** (found["delta_x_point"] + delta_x(0.80))
    return found


def contrast_index(curve, base):
    """The ray from the base+fog line that meets the curve 0.2 and 2.2 away from its start, by Cartesian distances."""
    def crossing(start, radius):
        """Height over run where the curve is that far from (start, base); it rises, so it gets there once."""
        beyond = lambda x: np.hypot(x - start, curve.value(x) - base) - radius
        low, high = max(start, curve.low), min(start + radius, curve.high)
        if low >= high or beyond(low) >= 0 or beyond(high) < 0:
            return None
        x = brentq(beyond, low, high, (), 1e-12)
        return float(curve.value(x) - base) / (x - start)

    def difference(start):
        near, far = crossing(start, 0.2), crossing(start, 2.2)
        return None if near is None or far is None else near - far

    before = None
    for start in np.arange(curve.low, curve.high, 0.03):
        here = difference(start)
        if before is not None and here is not None and before < 0 <= here:
            start = brentq(difference, start - 0.03, start, (), 1e-10)
            return {"contrast_index": crossing(start, 2.2)}
        before = here
    return {}


def fractional_gradient(curve):
    """Where the slope has come up to 0.3 of the mean slope over the next 1.5."""
    places = curve.grid[curve.grid <= curve.high - 1.5]
    if len(places) < 2:
        return {}
    excess = lambda x: curve.slope(x) - 0.3 * curve.mean_slope(x, 1.5)
    point = first_root(excess, places) if excess(places[0]) < 0 else None
    if point is None:
        return {}
    # A speed of 0.80 / H at the speed point of a film that gains 0.80: there the two points are delta_x(0.80) apart.
    return {"fractional_gradient_point": point, "fractional_gradient_speed": 0.80 / 10 ** (point + delta_x(0.80))}


def shape(curve, usable_toe, usable_shoulder):
    """The steepest stop, and where the slope rises to it and falls from it."""
    starts = np.linspace(curve.low, curve.high - STOP_WIDTH, len(curve.grid))
    means = curve.mean_slope(starts, STOP_WIDTH)
    steepest, middle = float(means.max()), starts[means.argmax()] + STOP_WIDTH / 2
    found = {"maximum_gradient": steepest}
    level = lambda share: (lambda x: curve.slope(x) - share * steepest)
    below = curve.grid[curve.grid < middle]
    above = curve.grid[curve.grid > middle]

    toe_end = first_root(level(0.9), below)
    if toe_end is not None:
        foot = last_root(level(0.1), below[below < toe_end])
        if foot is not None:
            found["toe_length"] = (toe_end - foot) / STOP
    shoulder_begin = last_root(level(0.9), above)
    if shoulder_begin is not None:
        head = first_root(level(0.1), above[above > shoulder_begin])
        if head is not None:
            found["shoulder_length"] = (head - shoulder_begin) / STOP
    rise = (curve.slope(curve.grid + STOP_WIDTH) - curve.slope(curve.grid)) / STOP_WIDTH
    inside = curve.grid + STOP_WIDTH <= curve.high
    found["toe_curvature"] = float(rise[inside & (curve.grid < middle)].max())
    falls = -rise[inside & (curve.grid >= middle)]
    if falls.size:
        found["shoulder_curvature"] = float(falls.max())

    usable_from = last_root(lambda x: curve.slope(x) - usable_toe, below)
    usable_to = first_root(lambda x: curve.slope(x) - usable_shoulder, above)
    if usable_from is not None:
        found["usable_from"] = usable_from
    if usable_to is not None:
        found["usable_to"] = usable_to
    if usable_from is not None and usable_to is not None:
        found["usable_range"] = (usable_to - usable_from) / STOP
    return found


def last_root(f, places):
    """The last root of f between neighbouring places of different sign."""
    return first_root(f, places[::-1])


def straight_line(curve):
    """About the steepest 0.60 in log H as far as the curve stays within 0.02 of its own regression line; 0.45 at least."""
    x = np.arange(curve.low, curve.high, 0.001)
    y = curve.value(x)
    if x[-1] - x[0] < 0.60:
        return {}
    first = int(np.argmax(y[600:] - y[:-600]))
    start, end = x[first], x[first + 600]
    middle = first + 300
    for _ in range(1000):
        places = np.linspace(start, end, 2001)
        slope, offset = np.polyfit(places, curve.value(places), 1)
        away = np.abs(y - offset - slope * x) - 0.02

        def crossing(inner, outer):
            return x[inner] + (x[outer] - x[inner]) * away[inner] / (away[inner] - away[outer])

        low, high = np.flatnonzero(away[:middle] > 0), np.flatnonzero(away[middle:] > 0)
        start = crossing(low[-1] + 1, low[-1]) if low.size else x[0]
        end = crossing(middle + high[0] - 1, middle + high[0]) if high.size else x[-1]
    if end - start < 0.45:
        return {}
    departures = curve.value(places) - offset - slope * places
    turns = np.flatnonzero(np.diff(departures)[1:] * np.diff(departures)[:-1] <= 0) + 1
    found = {
        "gamma": float(slope),
        "straight_from": float(start),
        "straight_to": float(end),
        "straight_length": float(end - start) / STOP,
    }
    if turns.size:
        found["straight_departure"] = float(max(departures[turns], key=abs))
    return found


def foot(curve):
    """Base+fog where density over the best of some powers of exposure begins, over the lowest 0.08 of density."""
    end = curve.where(float(curve.value(curve.low)) + 0.08)
    x = np.linspace(curve.low, end, max(4, int(np.ceil((end - curve.low) / 0.0375))) + 1)
    fits = []
    for steepness in (1.0, 1.2, 1.5, 2.0, 3.0):
        columns = np.stack([np.ones_like(x), 10 ** (steepness * (x - end))], axis=1)
        (begins, _), squares, *_ = np.linalg.lstsq(columns, curve.value(x), rcond=None)
        fits.append((float(squares[0]), float(begins)))
    return min(fits)[1]


def all_figures(log_h, density, base, gradient_range, usable, straight=False, places=6001):
    """Every figure of a curve, by its key. Without `base` the low end of the curve must tell it."""
    curve = Curve(np.asarray(log_h), np.asarray(density), places)
    found = {"d_max": float(density[-1]), "tested_range": curve.high - curve.low}
    if base is None:
        gained = float(curve.value(curve.low + STOP_WIDTH) - density[0])
        base = foot(curve) if gained <= 0.02 else None
    if base is not None:
        found["base_fog"] = base
        found.update(from_speed_point(curve, base, gradient_range))
        found.update(contrast_index(curve, base))
    found.update(fractional_gradient(curve))
    found.update(shape(curve, *usable))
    if straight:
        found.update(straight_line(curve))
        if "straight_to" in found and "speed_point" in found:
            found["headroom"] = (found["straight_to"] - found["speed_point"]) / STOP
    return found


def resampled_figures(films, resamplings, seed):
    """Standard deviations of all figures of many films, each resampled within its errors."""
    chance = np.random.default_rng(seed)
    spreads = []
    for film in films:
        x, y = np.asarray(film["log_h"]), np.asarray(film["density"])
        draws = []
        for _ in range(resamplings):
            drawn = np.maximum.accumulate(y + chance.normal(0, film["u"], y.size))
            base = film["base"] + chance.normal(0, film["u"])
            draws.append(all_figures(x, drawn, base, 1.5, (0.2, 0.2), straight=True, places=301))
        keys = set().union(*draws)
        spreads.append({key: float(np.std([draw[key] for draw in draws if key in draw])) for key in keys})
    return spreads
